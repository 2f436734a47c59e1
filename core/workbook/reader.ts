import type { Finding, Refusal, WorkbookRecord } from "../model.ts";
import { type Codec, PORTABLE } from "./codec.ts";
import { RefusedWorkbook } from "./limits.ts";
import { readFormats, readSharedStrings } from "./lists.ts";
import { locateParts, PackageParts } from "./parts.ts";
import { type ReadingContext, readSheet } from "./sheet-reader.ts";

export type ReadWorkbook = { readonly ok: true; readonly workbook: WorkbookRecord } | { readonly ok: false; readonly refusal: Refusal };

/**
 * Every filled cell of every sheet, or why the file is refused. Never throws for what is in the file.
 * @param codec the machine's own means of unpacking, where it has faster ones
 */
export function readWorkbook(bytes: Uint8Array, codec: Codec = PORTABLE): ReadWorkbook {
  try {
    return { ok: true, workbook: readPackage(bytes, codec) };
  } catch (error) {
    if (error instanceof RefusedWorkbook) return { ok: false, refusal: error.refusal };
    throw error;
  }
}

function readPackage(bytes: Uint8Array, codec: Codec): WorkbookRecord {
  const parts = new PackageParts(bytes, codec);
  const located = locateParts(parts);
  const findings: Finding[] = [];
  const context: ReadingContext = {
    ...(located.sharedStrings === undefined ? { strings: [], characters: 0 } : readSharedStrings(parts, located.sharedStrings)),
    formats: located.styles === undefined ? [] : readFormats(parts, located.styles),
    findings,
    filledCells: 0,
  };
  const sheets = located.sheets.map((sheet) => readSheet(parts, sheet, context));
  parts.checkRest();
  if (parts.entries.some((entry) => entry.name.toLowerCase().startsWith("_xmlsignatures/")))
    findings.push(packageWarning("signature-dropped", "The workbook carries a digital signature; the returned copy cannot keep it."));
  if (located.externalLinks && !findings.some((f) => f.code === "external-link"))
    findings.push(packageWarning("external-link", "The workbook links to another workbook; the link is never followed."));
  return { sheets, date1904: located.date1904, findings };
}

const packageWarning = (code: string, text: string): Finding => ({ code, severity: "warning", sheet: "", cell: "", text });
