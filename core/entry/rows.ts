import type { CellRecord, EntryRow, FieldValue, Finding, UnfilledRow, UnitSystem } from "../model.ts";
import { columnLetters } from "../workbook/xml.ts";
import { type CellContext, trimBlanks } from "./cell.ts";
import { IDENTIFYING, isTestSheet } from "./columns.ts";
import type { OpenSheet } from "./open-sheet.ts";
import { readCell } from "./values.ts";

/** A row as far as it could be read. */
export interface ReadRow {
  readonly row: EntryRow;
  /** Cells with errors; a row with one gives no result and registers nothing. */
  readonly errors: string[];
  /** Fields whose cell could not be read: empty among the row's fields, but not left empty. */
  readonly unreadable: ReadonlySet<string>;
  /** The coil's name may mean another coil. */
  doubtfulCoil: boolean;
}

export interface SheetRows {
  readonly rows: ReadRow[];
  readonly unfilled: UnfilledRow[];
}

export interface RowContext {
  readonly system: UnitSystem;
  readonly date1904: boolean;
  readonly decimalMark: "." | ",";
  readonly today: string;
  readonly file: string;
}

/** Every row below the header with content in a known column. Codes: those of cells, missing-value. */
export function readRows(sheet: OpenSheet, context: RowContext, findings: Finding[]): SheetRows {
  const read: SheetRows = { rows: [], unfilled: [] };
  const contexts = new Map<number, CellContext>();
  for (const [position, column] of sheet.columns)
    if (!column.computed) {
      const given = sheet.mapped?.given.get(position);
      contexts.set(position, { sheetName: sheet.record.name, column, ...context, ...(given === undefined ? {} : { given }) });
    }
  sheet.mapped?.fixed.forEach(({ column }, i) => {
    contexts.set(FIXED_FROM + i, { sheetName: sheet.record.name, column, ...context });
  });
  for (const [number, cells] of sheet.record.rows) {
    if (number <= sheet.headerRow) continue;
    const known = cells.filter((cell) => contexts.has(cell.column) && isFilled(cell));
    if (known.length > 0 && sheet.mapped?.admits(cells) !== false) readRow(sheet, number, known, contexts, context.file, read, findings);
  }
  return read;
}

/** Behind the last column of the format: where values stand that a map gives to every row. */
const FIXED_FROM = 20_000;

/** The row's own cells and those that a map adds, under the name of the row's first cell. */
function withFixed(sheet: OpenSheet, row: number, cells: readonly CellRecord[]): readonly CellRecord[] {
  const fixed = sheet.mapped?.fixed ?? [];
  if (fixed.length === 0) return cells;
  const made = fixed.map(({ column, value }, i): CellRecord => {
    const type = column.type === "number" || column.type === "whole" ? "number" : "text";
    return { cell: cells[0]?.cell ?? `A${row}`, row, column: FIXED_FROM + i, type, raw: value };
  });
  return [...cells, ...made];
}

const isFilled = (cell: CellRecord): boolean => cell.type !== "text" || trimBlanks(cell.raw) !== "";

/** True for a sheet that was not judged and holds more below its header than rows that are not filled yet. */
export function holdsRows(sheet: OpenSheet): boolean {
  for (const [number, cells] of sheet.record.rows) {
    if (number <= sheet.headerRow) continue;
    const filled = cells.some((cell) => {
      const column = sheet.columns.get(cell.column);
      return (
        isFilled(cell) &&
        (column === undefined || !(column.computed || (isTestSheet(sheet.definition.sheet) && IDENTIFYING.has(column.field))))
      );
    });
    if (filled) return true;
  }
  return false;
}

function readRow(
  sheet: OpenSheet,
  number: number,
  cells: readonly CellRecord[],
  contexts: ReadonlyMap<number, CellContext>,
  file: string,
  read: SheetRows,
  findings: Finding[],
): void {
  const { definition, record } = sheet;
  const fields: Record<string, FieldValue> = {};
  const own: Finding[] = [];
  let unreadable: Set<string> | undefined;
  let unfilled = isTestSheet(definition.sheet);
  for (const cell of withFixed(sheet, number, cells)) {
    const context = contexts.get(cell.column) as CellContext;
    const { field } = context.column;
    if (!IDENTIFYING.has(field) && cell.column < FIXED_FROM) unfilled = false;
    const read = readCell(cell, context);
    for (const finding of read.findings) own.push(finding);
    if (read.failed) unreadable = (unreadable ?? new Set()).add(field);
    if (read.value) fields[field] = read.value;
  }
  if (unfilled) {
    const [coil, testPiece] = [fields["coil"]?.text, fields["testPiece"]?.text];
    read.unfilled.push({
      sheet: definition.sheet as UnfilledRow["sheet"],
      sheetName: record.name,
      row: number,
      ...(coil ? { coil } : {}),
      ...(testPiece ? { testPiece } : {}),
    });
    return;
  }
  own.push(...missingValues(sheet, number, fields, unreadable ?? NONE));
  for (const finding of own) findings.push(finding);
  const row: EntryRow = { sheet: definition.sheet, sheetName: record.name, row: number, file, fields };
  const errors = own.length === 0 ? [] : [...new Set(own.filter((f) => f.severity === "error").map((f) => f.cell))];
  read.rows.push({ row, errors, unreadable: unreadable ?? NONE, doubtfulCoil: false });
}

const NONE: ReadonlySet<string> = new Set();

function missingValues(
  sheet: OpenSheet,
  number: number,
  fields: Readonly<Record<string, FieldValue>>,
  unreadable: ReadonlySet<string>,
): Finding[] {
  const missing: Finding[] = [];
  const say = (position: number, field: string): void => {
    const cell = `${columnLetters(position)}${number}`;
    const text = `${cell} is empty; ${field} is required.`;
    missing.push({ code: "missing-value", severity: "error", sheet: sheet.record.name, cell, actual: "", expected: field, text });
  };
  const there = (field: string): boolean => fields[field] !== undefined || unreadable.has(field);
  // An empty grade means the only one; whether there is only one is known with the specification.
  for (const [position, { field, required }] of sheet.columns) if (required && field !== "grade" && !there(field)) say(position, field);
  if (sheet.definition.sheet === "other" && !there("value") && !there("word")) {
    const place = (field: string): number | undefined => [...sheet.columns].find(([, column]) => column.field === field)?.[0];
    say(place("value") ?? place("word") ?? place("property") ?? 1, "value or word");
  }
  return missing;
}
