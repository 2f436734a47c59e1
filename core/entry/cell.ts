/** What the reading of one cell is given and gives; shared by the readers of numbers, days, words and identifiers. */
import type { CellRecord, FieldValue, Finding, UnitSystem } from "../model.ts";
import type { AnyUnit } from "../quantity.ts";
import type { Column } from "./columns.ts";
import type { EntryFindingCode } from "./finding-codes.ts";

export interface CellContext {
  readonly sheetName: string;
  readonly column: Column;
  readonly system: UnitSystem;
  readonly decimalMark: "." | ",";
  readonly date1904: boolean;
  /** The lab's day, `YYYY-MM-DD`. */
  readonly today: string;
  /** The unit the figures are written in, where an intake map names another than the workbook's. */
  readonly given?: AnyUnit;
}

/** A value; nothing, for an empty cell; or, where `failed`, no value and an error among the findings. */
export interface ReadCell {
  readonly value?: FieldValue;
  readonly findings: readonly Finding[];
  readonly failed: boolean;
}

/** Blanks of every kind that programs put round a text. The zero-width no-break space is none: nobody sees it. */
const BLANKS = /[\t\n\r \u00a0\u1680\u2000-\u200a\u2028\u2029\u202f\u205f\u3000]+/g;
const OUTER_BLANKS =
  /^[\t\n\r \u00a0\u1680\u2000-\u200a\u2028\u2029\u202f\u205f\u3000]+|[\t\n\r \u00a0\u1680\u2000-\u200a\u2028\u2029\u202f\u205f\u3000]+$/g;

/** The text without blanks around it; those inside stay. */
export const trimBlanks = (text: string): string =>
  isPlain(text.charCodeAt(0)) && isPlain(text.charCodeAt(text.length - 1)) ? text : text.replaceAll(OUTER_BLANKS, "");

/** A sign of ASCII that is no blank: most texts begin and end with one. */
const isPlain = (code: number): boolean => code > 0x20 && code < 0x7f;

/** The text without blanks around it, each run of blanks inside as one blank. */
export const joinBlanks = (text: string): string => trimBlanks(text).replaceAll(BLANKS, " ");

/** As much of a text as a sentence can carry. */
export const shorten = (text: string): string => (text.length > 60 ? `${text.slice(0, 59)}…` : text);

function finding(
  code: EntryFindingCode,
  severity: Finding["severity"],
  cell: CellRecord,
  { sheetName }: CellContext,
  expected: string,
  text: string,
): Finding {
  return { code, severity, sheet: sheetName, cell: cell.cell, actual: cell.raw.slice(0, 120), expected, text };
}

/** The cell gives no value. */
export const refuse = (cell: CellRecord, context: CellContext, code: EntryFindingCode, expected: string, text: string): ReadCell => ({
  findings: [finding(code, "error", cell, context, expected, text)],
  failed: true,
});

/** The cell was taken, and that is said. */
export const warning = (cell: CellRecord, context: CellContext, code: EntryFindingCode, expected: string, text: string): Finding =>
  finding(code, "warning", cell, context, expected, text);

/** The cell's value with where it stood and how it was typed. */
export function take(
  cell: CellRecord,
  text: string,
  findings: readonly Finding[] = NO_FINDINGS,
  unit?: AnyUnit,
  atLeast = false,
): ReadCell {
  // Built field by field: this runs for every cell of a day book.
  const value: { -readonly [K in keyof FieldValue]: FieldValue[K] } = { text, cell: cell.cell, raw: cell.raw };
  if (unit !== undefined) value.unit = unit;
  if (cell.formula !== undefined) value.formula = cell.formula;
  if (atLeast) value.atLeast = true;
  return { value, findings, failed: false };
}

const NO_FINDINGS: readonly Finding[] = [];
