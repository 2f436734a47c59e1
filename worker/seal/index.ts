/** Seals what is issued. */
import type { SealKey } from "./keys.ts";
import { sealPdf } from "./seal-pdf.ts";
import { sealXlsx } from "./seal-xlsx.ts";
import type { Sealing } from "./statement.ts";

export { demandKey } from "./keys.ts";

/** The finished file with record and whole file signed. The same file, record and key give the same bytes. */
export const sealFile = (bytes: Uint8Array, format: "pdf" | "xlsx", sealing: Sealing, key: SealKey): Promise<Uint8Array> =>
  format === "pdf" ? sealPdf(bytes, sealing, key) : sealXlsx(bytes, sealing, key);
