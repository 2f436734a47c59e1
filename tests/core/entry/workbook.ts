/** Entry workbooks made of hand-made cells. Names and figures are invented. */
import { ENTRY_SHEETS, type EntryOptions, NOTHING_REGISTERED, parseEntry } from "../../../core/entry/index.ts";
import { headerOf } from "../../../core/entry/labels.ts";
import type { CellRecord, Entry, Finding, SheetRecord, UnitSystem, WorkbookRecord } from "../../../core/model.ts";
import { columnLetters } from "../../../core/workbook/index.ts";

/** Text, a number, nothing, or a cell with whatever the format allows. */
export type Typed = string | number | undefined | Partial<CellRecord>;
export type TypedRow = Readonly<Record<string, Typed>>;

function cellOf(typed: Typed, row: number, column: number): CellRecord[] {
  if (typed === undefined) return [];
  const place = { cell: `${columnLetters(column)}${row}`, row, column };
  if (typeof typed === "number") return [{ ...place, type: "number", raw: String(typed) }];
  if (typeof typed === "string") return [{ ...place, type: "text", raw: typed }];
  return [{ type: "text", raw: "", ...typed, ...place }];
}

export interface SheetOptions {
  /** Header labels instead of the sheet's own, in the order of the columns. */
  readonly header?: readonly Typed[];
  readonly units?: UnitSystem;
  readonly without?: readonly string[];
  readonly record?: Partial<SheetRecord>;
}

const definitionOf = (name: string) => {
  const found = ENTRY_SHEETS.find((sheet) => sheet.name.toLowerCase() === name.trim().toLowerCase());
  if (found === undefined) throw new Error(`no sheet ${name}`);
  return found;
};

/** The header stands in row 1, so the first of `rows` is row 2; columns in the order of the layout. */
export function sheet(
  name: string,
  rows: readonly TypedRow[],
  { header, units = "SI", without = [], record = {} }: SheetOptions = {},
): SheetRecord {
  const columns = definitionOf(name).columns.filter((column) => !without.includes(column.field));
  const head = header ?? columns.map((column) => headerOf(column, units));
  const lines = [head, ...rows.map((row) => columns.map((column) => row[column.field]))];
  return rawSheet(name, lines, record);
}

/** A sheet as a grid from A1. */
export function rawSheet(name: string, lines: readonly (readonly Typed[])[], record: Partial<SheetRecord> = {}): SheetRecord {
  const filled = lines.map((line, r) => [r + 1, line.flatMap((typed, c) => cellOf(typed, r + 1, c + 1))] as const);
  return {
    name,
    hidden: false,
    hiddenRows: new Set(),
    hiddenColumns: new Set(),
    filtered: false,
    merged: [],
    rows: new Map(filled.filter(([, cells]) => cells.length > 0)),
    ...record,
  };
}

/** The cell of a field in a row of a sheet made by `sheet`. */
export const cellOfField = (name: string, field: string, row = 2): string =>
  `${columnLetters(definitionOf(name).columns.findIndex((column) => column.field === field) + 1)}${row}`;

export const ORDER_ROW: TypedRow = {
  order: "O1",
  item: "1",
  customer: "Example Springs",
  specification: "EN 10270-1",
  grade: "SH",
  nominalDiameter: 2,
};
export const COIL_ROW: TypedRow = { coil: "C1", order: "O1", item: "1", heat: "H1" };
export const TORSION_ROW: TypedRow = { testPiece: "T1", coil: "C1", diameter: 2, freeLength: 200, turns: 24, date: "2026-03-02" };
export const DIAMETER_ROW: TypedRow = { testPiece: "T1", coil: "C1", largest: 2.01, smallest: 2, date: "2026-03-02" };
export const TENSILE_ROW: TypedRow = { testPiece: "T1", coil: "C1", diameter: 2, maximumForce: 5800, date: "2026-03-02" };
export const WRAP_ROW: TypedRow = {
  testPiece: "T1",
  coil: "C1",
  purpose: "ductility",
  diameter: 2,
  mandrelDiameter: 2,
  wraps: 8,
  cracks: "none",
  date: "2026-03-02",
};
export const BEND_ROW: TypedRow = { testPiece: "T1", coil: "C1", diameter: 2, radius: 5, bends: 12, date: "2026-03-02" };
export const OTHER_ROW: TypedRow = { testPiece: "T1", coil: "C1", property: "cleanliness", word: "clean", date: "2026-03-02" };

export const TODAY = "2026-06-30";

export const OPTIONS: EntryOptions = {
  file: "",
  today: TODAY,
  decimalMark: ".",
  registered: NOTHING_REGISTERED,
  nominalDiameterOf: () => undefined,
  nominalDiameterOfItem: () => undefined,
  coilsOfHeat: () => [],
  agreedProperties: [],
};

export const workbook = (sheets: readonly SheetRecord[], rest: Partial<WorkbookRecord> = {}): WorkbookRecord => ({
  sheets,
  date1904: false,
  findings: [],
  ...rest,
});

/** The entry of a workbook that is not refused; with one order and one coil beside the sheets, unless they bring their own. */
export function entryOf(sheets: readonly SheetRecord[], options: Partial<EntryOptions> = {}, rest: Partial<WorkbookRecord> = {}): Entry {
  const has = (name: string): boolean => sheets.some((given) => given.name === name);
  const parsed = parseEntry(
    workbook(
      [...(has("Orders") ? [] : [sheet("Orders", [ORDER_ROW])]), ...(has("Coils") ? [] : [sheet("Coils", [COIL_ROW])]), ...sheets],
      rest,
    ),
    { ...OPTIONS, ...options },
  );
  if (!parsed.ok) throw new Error(`refused: ${parsed.refusal.code}`);
  return parsed.entry;
}

/** Findings as `Torsion!H2 implausible`, warnings with a question mark behind. */
export const said = (findings: readonly Finding[]): readonly string[] =>
  findings.map((f) => `${f.sheet}!${f.cell} ${f.code}${f.severity === "warning" ? "?" : ""}`);

/** Codes alone, warnings with a question mark behind. */
export const codes = (findings: readonly Finding[]): readonly string[] =>
  findings.map((f) => `${f.code}${f.severity === "warning" ? "?" : ""}`);
