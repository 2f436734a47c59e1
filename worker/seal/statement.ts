import { base64url, utf8 } from "../../core/seal/bytes.ts";
import { canonicalJson } from "../../core/seal/canonical.ts";
import { writeJws } from "../../core/seal/jws.ts";
import { recordOf } from "../../core/seal/open-seal.ts";
import type { PdfContent } from "../../core/seal/pdf-content.ts";
import { hashOf, partsOf, SEAL_TYPE, type SealFile, type SealStatement } from "../../core/seal/statement.ts";
import type { XlsxContent } from "../../core/seal/xlsx-content.ts";
import type { SealKey } from "./keys.ts";
import { nodeCryptography } from "./node-cryptography.ts";

/** What is sealed: the record as it lies inside the document, and under what it was issued. */
export interface Sealing {
  readonly record: object;
  readonly number: string;
  /** `YYYY-MM-DD` */
  readonly issuedOn: string;
  /** ISO time of the signature; everything in the seal bears this time. */
  readonly issuedAt: string;
  readonly lab: string;
}

/** The record that a document carries already. @throws Error where it is none, or that of another document */
export function recordInside(bytes: Uint8Array, { number }: Sealing): object {
  const record = recordOf(bytes);
  const inside = (record?.["issue"] as { readonly number?: unknown } | undefined)?.number;
  if (record === undefined || inside !== number)
    throw new Error(`document ${number}: the record inside is ${record === undefined ? "none" : `that of ${JSON.stringify(inside)}`}`);
  return record;
}

/** The seal as a file. */
export async function sealText(
  format: "pdf" | "xlsx",
  sealing: Sealing,
  key: SealKey,
  content: PdfContent | XlsxContent,
  more: Pick<SealStatement, "certificate" | "base">,
): Promise<Uint8Array> {
  const { record, ...issued } = sealing;
  const statement: SealStatement = {
    schema: "seal/1",
    format,
    ...issued,
    record: await hashOf(record, nodeCryptography),
    parts: await partsOf(record, nodeCryptography),
    content: await hashOf(content, nodeCryptography),
    ...more,
  };
  const seal: SealFile = {
    schema: "seal-file/1",
    jws: await writeJws(SEAL_TYPE, key.state.kid, statement, key.signRecord),
    publicKey: base64url(key.publicKey),
    content,
  };
  return utf8(canonicalJson(seal));
}
