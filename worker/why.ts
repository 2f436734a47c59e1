/** The whole path from the cell to the verdict and the documents, as it was known at a time. From facts alone. */
import type { OrderVerdict, Settlement } from "../core/model.ts";
import type { DocumentState } from "./documents/life.ts";
import type { KeptRow, KeptUnread } from "./judge-lab.ts";
import { itemKey } from "./judge-lab.ts";
import type { LedgerReader } from "./ports/ledger.ts";
import type { FileState } from "./process-file.ts";
import type { Concession, Hold, Shipment } from "./quality/standing.ts";

export interface WhyStep {
  /** ISO time of the fact. */
  readonly at: string;
  readonly by: string;
  readonly fact: number;
  readonly text: string;
}

export interface Why {
  readonly coil: string;
  readonly order: string;
  readonly item: string;
  readonly asOf?: string;
  readonly verdict?: string;
  readonly judgedAt?: string;
  readonly specificationContent?: string;
  readonly properties: readonly {
    readonly property: string;
    readonly verdict: string;
    readonly reason?: string;
    readonly rule: object;
    readonly limit: object;
    readonly row: string;
    readonly rounding: object;
    readonly results: readonly object[];
  }[];
  readonly documents: readonly object[];
  readonly history: readonly WhyStep[];
}

/** @param until ISO time: nothing recorded later is looked at */
export async function why(
  reader: LedgerReader,
  coil: string,
  property: string | undefined,
  until: string | undefined,
): Promise<Why | undefined> {
  const facts = await reader.facts(until === undefined ? {} : { until });
  const registered = facts.findLast((fact) => fact.kind === "coil-registered" && fact.key === coil)?.payload as
    | { order: string; item: string }
    | undefined;
  if (registered === undefined) return undefined;
  const key = itemKey(registered.order, registered.item);
  const judged = facts.findLast((fact) => fact.kind === "judged" && fact.key === key);
  const kept = judged?.payload as { verdict: OrderVerdict; content: string } | undefined;
  const own = kept?.verdict.coils.find((c) => c.coil === coil);
  const files = new Map(
    facts
      .filter((fact) => fact.kind === "file-received")
      .map((fact) => [(fact.payload as FileState).sha256, (fact.payload as FileState).name] as const),
  );
  const history: WhyStep[] = [];
  const documents = new Map<string, Partial<DocumentState>>();
  for (const fact of facts) {
    const told = tell(fact, coil, key, property, documents);
    if (told !== undefined) history.push({ at: fact.recordedAt, by: fact.recordedBy, fact: fact.seq, text: told });
  }
  return {
    coil,
    order: registered.order,
    item: registered.item,
    ...(until === undefined ? {} : { asOf: until }),
    ...(own === undefined ? {} : { verdict: own.verdict }),
    ...(judged === undefined ? {} : { judgedAt: judged.recordedAt }),
    ...(kept === undefined ? {} : { specificationContent: kept.content }),
    properties: (own?.requirements ?? [])
      .filter((r) => property === undefined || r.property === property)
      .map((r) => ({
        property: r.property,
        verdict: r.verdict,
        ...(r.reason === undefined ? {} : { reason: r.reason }),
        rule: r.requirement.rule,
        limit: {
          min: r.requirement.min,
          max: r.requirement.max,
          unit: r.requirement.unit,
          word: r.requirement.word,
          conditions: r.requirement.conditions,
        },
        row: [r.requirement.row, r.requirement.rowRule].filter((text) => text !== "").join("; "),
        rounding: r.requirement.rounding,
        results: r.results.map((result) => ({ ...result, fileName: files.get(result.file) ?? "" })),
      })),
    documents: [...documents.values()].map(({ id, number, kind, status, issuedOn, signedBy, written }) => ({
      id,
      kind,
      status,
      number,
      issuedOn,
      signedBy,
      written,
    })),
    history,
  };
}

function tell(
  fact: Awaited<ReturnType<LedgerReader["facts"]>>[number],
  coil: string,
  item: string,
  property: string | undefined,
  documents: Map<string, Partial<DocumentState>>,
): string | undefined {
  switch (fact.kind) {
    case "coil-registered":
      return fact.key === coil ? `coil ${coil} registered` : undefined;
    case "row-read": {
      const { row } = fact.payload as KeptRow;
      if ((fact.payload as KeptRow).coil !== coil) return undefined;
      const reason = row.fields["correctionReason"]?.text;
      return `row read: test piece ${row.fields["testPiece"]?.text ?? ""}, ${row.sheetName} row ${row.row} of kept/${row.file}.xlsx${fact.supersedes === null ? "" : ` (replaces fact ${fact.supersedes}${reason ? `: ${reason}` : ""})`}`;
    }
    case "row-unread": {
      const unread = fact.payload as KeptUnread;
      return unread.coil === coil && (property === undefined || unread.row.properties.includes(property))
        ? `row not read: ${unread.row.sheetName}!${unread.row.cells.join(", ")} of ${unread.fileName}`
        : undefined;
    }
    case "judged": {
      if (fact.key !== item) return undefined;
      const own = (fact.payload as { verdict: OrderVerdict }).verdict.coils.find((c) => c.coil === coil);
      const asked = property === undefined ? own?.verdict : own?.requirements.find((r) => r.property === property)?.verdict;
      return asked === undefined ? undefined : `judged: ${asked}`;
    }
    case "document-drafted": {
      const document = fact.payload as DocumentState;
      if (!document.coils.includes(coil)) return undefined;
      documents.set(fact.key, document);
      return `${document.kind} drafted (${document.id})`;
    }
    case "document-signed": {
      const before = documents.get(fact.key);
      if (before === undefined) return undefined;
      const signed = fact.payload as DocumentState;
      documents.set(fact.key, { ...before, ...signed });
      return `${before.kind} ${signed.number} ${signed.signedBy?.length ? `signed by ${signed.signedBy.join(", ")}` : "raised"}`;
    }
    case "document-written": {
      const before = documents.get(fact.key);
      if (before === undefined) return undefined;
      const { format, path, sha256 } = fact.payload as { format: string; path: string; sha256: string };
      documents.set(fact.key, { ...before, written: { ...before.written, [format]: { path, sha256 } } });
      return `documents/${path} written`;
    }
    case "document-questioned":
    case "document-confirmed":
    case "document-withdrawn":
    case "document-replaced": {
      const before = documents.get(fact.key);
      if (before === undefined) return undefined;
      const said = fact.payload as Partial<DocumentState> & { why?: string; by?: string };
      const status = said.status ?? "signed";
      documents.set(fact.key, { ...before, status });
      const how = { "in-question": "in question", withdrawn: "withdrawn", replaced: `replaced by ${said.replacedBy}` };
      return `${before.kind} ${before.number} ${how[status as keyof typeof how] ?? `confirmed by ${said.by}: ${said.why}`}`;
    }
    case "held":
    case "released": {
      const { scope, id, why: reason, by } = fact.payload as Hold;
      if ((scope !== "coil" || id !== coil) && (scope !== "order" || id !== item.split("/")[0])) return undefined;
      return `${scope} ${id} ${fact.kind} by ${by}: ${reason}`;
    }
    case "settled":
    case "conceded": {
      const decided = fact.payload as Settlement & Partial<Concession>;
      if (decided.coil !== coil || (property !== undefined && decided.property !== property)) return undefined;
      return fact.kind === "settled"
        ? `${decided.property} settled as ${decided.as} by ${decided.by}: ${decided.why}`
        : `${decided.property} accepted by concession ${decided.reference} (${decided.by}): ${decided.why}`;
    }
    case "shipped": {
      const { note, on, by } = fact.payload as Shipment;
      return fact.key === coil ? `left on note ${note}, ${on} (${by})` : undefined;
    }
    default:
      return undefined;
  }
}
