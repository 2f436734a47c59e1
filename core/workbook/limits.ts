import type { Refusal } from "../model.ts";

const MEBIBYTE = 1024 * 1024;

/** What a package may hold at most. The counts of cells are far above what a laboratory types in a year. */
export const LIMITS = {
  fileBytes: 64 * MEBIBYTE,
  partBytes: 256 * MEBIBYTE,
  allBytes: 512 * MEBIBYTE,
  /** Counts from `ratioFromBytes` of content on; small parts may be as dense as they like. */
  ratio: 200,
  ratioFromBytes: MEBIBYTE,
  entries: 2000,
  /** Filled ones, of one sheet. */
  rows: 200_000,
  /** Filled ones, of one sheet. */
  cells: 2_000_000,
  /** Filled ones, of all sheets together: what fits the memory of one worker. */
  allCells: 4_000_000,
  /** Characters of all values, texts and formulas together, for the same reason. */
  allCharacters: 128 * MEBIBYTE,
  /** Cell formats and number formats; the format's own limit lies just below. */
  formats: 65_536,
  /** Of one list; a workbook has one a sheet and few more. */
  relationships: 10_000,
  /** Of one sheet. */
  mergedRanges: 200_000,
  /** @source ECMA-376 part 1 and the format's published limits: last row, last column (XFD), characters of a cell */
  lastRow: 1_048_576,
  lastColumn: 16_384,
  textLength: 32_767,
} as const;

/** What a spreadsheet program must do to make a file acceptable. */
export const SAVE_AS = "Open it in the spreadsheet program and save it as Excel workbook (.xlsx) without password and macros.";

/** Thrown inside this folder and turned into a returned refusal at its border. */
export class RefusedWorkbook extends Error {
  override name = "RefusedWorkbook";
  readonly refusal: Refusal;
  constructor(code: string, text: string) {
    super(text);
    this.refusal = { code, text };
  }
}

/** @throws RefusedWorkbook always */
export const refuse = (code: string, text: string): never => {
  throw new RefusedWorkbook(code, text);
};

/** A name out of a file, fit for a sentence: shortened, one line, no control or direction marks. */
export const shown = (name: string): string => {
  const safe = name.replaceAll(/[\u0000-\u001f\u007f-\u009f\u200b-\u200f\u2028-\u202e\u2066-\u2069\ufffd]/g, "?");
  return safe.length > 80 ? `${safe.slice(0, 80)}…` : safe;
};
