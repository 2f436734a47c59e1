import { base64url, utf8 } from "../../core/seal/bytes.ts";
import { canonicalJson } from "../../core/seal/canonical.ts";
import { writeJws } from "../../core/seal/jws.ts";
import type { PdfContent } from "../../core/seal/pdf-content.ts";
import { hashOf, SEAL_TYPE, type SealFile, type SealStatement } from "../../core/seal/statement.ts";
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
