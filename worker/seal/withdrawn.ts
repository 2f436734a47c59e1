/** Which documents were called back or replaced, as a list that anybody can check. */
import { writeJws } from "../../core/seal/jws.ts";
import { WITHDRAWN_TYPE, type WithdrawnDocument, type WithdrawnList } from "../../core/seal/trust.ts";
import type { LedgerReader } from "../ports/ledger.ts";
import type { SealKey } from "./keys.ts";

/** What a document's state says about its end. */
interface EndedDocument {
  readonly number?: string;
  readonly status: string;
  readonly withdrawnOn?: string;
  readonly replacedOn?: string;
  readonly replacedBy?: string;
}

/** By number. */
export async function withdrawnDocuments(reader: LedgerReader): Promise<readonly WithdrawnDocument[]> {
  const documents = (await reader.list<EndedDocument>("document")).map((state) => state.value);
  return documents
    .flatMap((document): readonly WithdrawnDocument[] => {
      const { number, status, withdrawnOn, replacedOn, replacedBy } = document;
      if (number === undefined || (status !== "withdrawn" && status !== "replaced")) return [];
      const on = (status === "withdrawn" ? withdrawnOn : replacedOn) ?? "";
      return [{ number, on, state: status, ...(replacedBy === undefined ? {} : { replacedBy }) }];
    })
    .sort((a, b) => (a.number < b.number ? -1 : 1));
}

/** The list as one signed line. */
export function signedList(documents: readonly WithdrawnDocument[], lab: string, at: Date, key: SealKey): Promise<string> {
  const list: WithdrawnList = { schema: "withdrawn/1", lab, at: at.toISOString(), documents };
  return writeJws(WITHDRAWN_TYPE, key.state.kid, list, key.signRecord);
}
