/** The seal of documents: what is signed, and how a file is held against it. Pure; hashes and signatures come from outside. */
import type { Cryptography } from "./cryptography.ts";
import type { Trust } from "./trust.ts";
import { NOT_OURS, type Verification } from "./verification.ts";
import { verifyPdf } from "./verify-pdf.ts";
import { verifyXlsx } from "./verify-xlsx.ts";

/** What this file is: as issued, stored anew with the same content, changed (and where), or not one of ours. */
export async function verifyFile(bytes: Uint8Array, trust: Trust, cryptography: Cryptography): Promise<Verification> {
  const asPdf = await verifyPdf(bytes, trust, cryptography);
  return asPdf.status === "not-ours" ? verifyXlsx(bytes, trust, cryptography) : asPdf;
}

/** Larger files are none of ours. */
export const LARGEST_FILE = 64 * 1024 * 1024;
export { NOT_OURS };
