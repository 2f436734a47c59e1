/**
 * A workbook's cells to rows that are understood, with everything that is wrong in them.
 * Phases: sheets by name, headers by label, units of the whole workbook, rows cell by cell, doubles.
 */
import type {
  CellRecord,
  Entry,
  EntryRow,
  FieldValue,
  Finding,
  Measure,
  Refusal,
  SheetRecord,
  UnfilledRow,
  UnitSystem,
  UnreadRow,
  WorkbookRecord,
} from "../model.ts";
import { columnLetters } from "../workbook/xml.ts";
import { type Column, ENTRY_SHEETS, type EntrySheet, IDENTIFYING, isTestSheet, unitOf } from "./columns.ts";
import { findColumn, findSheet, foldLabel, sheetNameOf } from "./labels.ts";
import { nearMatches, type Registered } from "./near-match.ts";
import { propertiesOf, rowChecks } from "./row-checks.ts";
import { readCell } from "./values.ts";

export interface EntryOptions {
  /** SHA-256 of the kept file, or "". */
  readonly file: string;
  /** The lab's day, `YYYY-MM-DD`. */
  readonly today: string;
  readonly decimalMark: "." | ",";
  /** Identifiers that are registered already. */
  readonly registered: Registered;
  /** The nominal diameter of a registered coil. */
  readonly nominalDiameterOf: (coil: string) => Measure | undefined;
}

export type ParsedEntry =
  | { readonly ok: true; readonly entry: Entry }
  | { readonly ok: false; readonly refusal: Refusal; readonly findings: readonly Finding[] };

const HEADER_WITHIN = 20;
const OUR_SHEETS: ReadonlySet<string> = new Set(
  [
    "Start-here",
    "Set-up plan",
    "Cut list",
    "Limits",
    "Findings",
    "Cards",
    "Einrichtplan",
    "Schnittliste",
    "Grenzwerte",
    "Karten",
    "Beanstandungen",
  ].map(foldLabel),
);

/** A sheet of the workbook with its header found. */
interface OpenSheet {
  readonly definition: EntrySheet;
  readonly record: SheetRecord;
  readonly headerRow: number;
  /** By column number. */
  readonly columns: ReadonlyMap<number, Column>;
  readonly units: ReadonlyMap<number, string>;
  /** False where the sheet cannot be judged; its filled rows are then unread. */
  readonly judged: boolean;
}

export function parseEntry(workbook: WorkbookRecord, options: EntryOptions): ParsedEntry {
  const findings: Finding[] = [...workbook.findings];
  const opened = openSheets(workbook, findings);
  const system = systemOf(opened);
  const sheets = opened.map((sheet) => checkUnits(sheet, system, findings));
  const names = new Set(sheets.map((sheet) => sheet.definition.sheet));
  const known = options.registered.orders.size > 0 && options.registered.coils.size > 0;
  if (sheets.length === 0 || (!known && !names.has("orders") && !names.has("coils")))
    return {
      ok: false,
      refusal: {
        code: "no-orders",
        text:
          sheets.length === 0
            ? "No sheet of the entry workbook was found. Use a workbook made by Coilbook, or sheets with the names Orders, Coils, Torsion and so on."
            : "The workbook has neither a sheet Orders nor a sheet Coils, and nothing is registered that its rows could belong to.",
      },
      findings,
    };
  const parsed: Sections = { registers: [], tests: [], unread: [], unfilled: [] };
  for (const sheet of sheets) readRows(sheet, system, workbook, options, parsed, findings);
  refuseDoubles(parsed, findings);
  const doubtful = nearMatches(parsed.registers, parsed.tests, options.registered, findings);
  // A doubtful name may mean any coil, so its row holds every coil of the workbook back.
  for (const row of parsed.tests)
    if (doubtful.has(row)) parsed.unread.push(toUnread({ ...row, fields: { ...row.fields, coil: undefined } }, [doubtful.get(row) ?? ""]));
  const unreadByFinding = rowChecks(parsed.tests, parsed.registers, options.nominalDiameterOf, findings);
  const unreadKeys = new Set(unreadByFinding.map((row) => key(row.sheetName, row.row)));
  return {
    ok: true,
    entry: {
      units: system,
      registers: parsed.registers.filter((row) => !doubtful.has(row)),
      tests: parsed.tests.filter(
        (row) =>
          !unreadKeys.has(key(row.sheetName, row.row)) && !parsed.unread.some((u) => u.sheetName === row.sheetName && u.row === row.row),
      ),
      unread: [...parsed.unread, ...unreadByFinding],
      unfilled: parsed.unfilled,
      findings,
      sheets: sheets
        .filter((sheet) => isTestSheet(sheet.definition.sheet))
        .map((sheet) => ({
          sheet: sheet.definition.sheet,
          sheetName: sheet.record.name,
          headerRow: sheet.headerRow,
          columns: Object.fromEntries([...sheet.columns].map(([column, definition]) => [definition.field, column])),
        })),
      live: sheets.flatMap((sheet) => liveVerdicts(sheet)),
    },
  };
}

interface Sections {
  registers: EntryRow[];
  tests: EntryRow[];
  unread: UnreadRow[];
  unfilled: UnfilledRow[];
}

const key = (sheet: string, row: number): string => `${sheet}\u0000${row}`;

// ---- sheets and headers --------------------------------------------------------------------------------------

function openSheets(workbook: WorkbookRecord, findings: Finding[]): OpenSheet[] {
  const opened: OpenSheet[] = [];
  for (const record of workbook.sheets) {
    const definition = findSheet(ENTRY_SHEETS, record.name);
    if (definition === undefined) {
      if (!isOurOwn(record.name) && record.rows.size > 0)
        findings.push(
          onSheet(
            "unknown-sheet",
            "warning",
            record.name,
            "A1",
            `The sheet "${record.name}" is none of the entry workbook; it is kept and not read.`,
          ),
        );
      continue;
    }
    if (record.name !== sheetNameOf(definition) && foldLabel(record.name) === foldLabel(sheetNameOf(definition)))
      findings.push(
        onSheet(
          "sheet-name",
          "warning",
          record.name,
          "A1",
          `The sheet "${record.name}" was taken as "${sheetNameOf(definition)}".`,
          sheetNameOf(definition),
        ),
      );
    if (record.hidden || record.hiddenRows.size > 0 || record.hiddenColumns.size > 0 || (record.filtered && record.hiddenRows.size > 0)) {
      if (record.rows.size > 0)
        findings.push(
          onSheet(
            "hidden-data",
            "warning",
            record.name,
            "A1",
            `The sheet "${record.name}" has hidden rows or columns or is hidden; they were read like the others.`,
          ),
        );
    }
    if (record.rows.size === 0) continue;
    const header = findHeader(definition, record, findings);
    if (header) opened.push(header);
    else {
      findings.push(
        onSheet(
          "no-header",
          "error",
          record.name,
          "A1",
          `No header row was found in the first ${HEADER_WITHIN} rows of "${record.name}"; the sheet was not judged.`,
          definition.columns
            .filter((c) => c.required)
            .map((c) => c.field)
            .join(", "),
        ),
      );
      opened.push({ definition, record, headerRow: 0, columns: new Map(), units: new Map(), judged: false });
    }
  }
  return opened;
}

/** Sheets that a prepared or returned workbook carries beside the entry sheets. */
const isOurOwn = (name: string): boolean =>
  OUR_SHEETS.has(foldLabel(name)) || foldLabel(name).startsWith("card ") || foldLabel(name).startsWith("findings");

function findHeader(definition: EntrySheet, record: SheetRecord, findings: Finding[]): OpenSheet | undefined {
  let best: { row: number; hits: number } | undefined;
  for (const [row, cells] of record.rows) {
    if (row > HEADER_WITHIN) break;
    const hits = new Set(cells.filter((cell) => cell.type === "text").map((cell) => findColumn(definition, cell.raw)?.column.field)).size;
    const found = cells.filter((cell) => cell.type === "text" && findColumn(definition, cell.raw) !== undefined).length;
    if (found >= 2 && (best === undefined || hits > best.hits)) best = { row, hits };
  }
  if (best === undefined) return undefined;
  const columns = new Map<number, Column>();
  const units = new Map<number, string>();
  const seen = new Map<string, string>();
  let judged = true;
  for (const cell of record.rows.get(best.row) ?? []) {
    const found = cell.type === "text" ? findColumn(definition, cell.raw) : undefined;
    if (found === undefined) {
      findings.push({
        code: "unknown-column",
        severity: "warning",
        sheet: record.name,
        cell: cell.cell,
        actual: cell.raw,
        text: `The column "${cell.raw}" is not known; it is kept and not read.`,
      });
      continue;
    }
    const { field } = found.column;
    const earlier = seen.get(field);
    if (earlier !== undefined) {
      judged = false;
      findings.push({
        code: "doubled-column",
        severity: "error",
        sheet: record.name,
        cell: cell.cell,
        actual: cell.raw,
        expected: "each column once",
        text: `The column ${field} stands in ${earlier} and in ${cell.cell}; the sheet was not judged.`,
      });
      continue;
    }
    seen.set(field, cell.cell);
    columns.set(cell.column, found.column);
    if (found.unit !== undefined) units.set(cell.column, found.unit);
  }
  for (const column of definition.columns) {
    if (!column.required || seen.has(column.field)) continue;
    judged = false;
    findings.push(
      onSheet(
        "missing-column",
        "error",
        record.name,
        `A${best.row}`,
        `The column ${column.field} is missing in "${record.name}"; the sheet was not judged.`,
        column.field,
      ),
    );
  }
  return { definition, record, headerRow: best.row, columns, units, judged };
}

const onSheet = (code: string, severity: Finding["severity"], sheet: string, cell: string, text: string, expected?: string): Finding => ({
  code,
  severity,
  sheet,
  cell,
  ...(expected === undefined ? {} : { expected }),
  text,
});

// ---- units ---------------------------------------------------------------------------------------------------

/** The system that more headers name; SI where none names a unit. */
function systemOf(sheets: readonly OpenSheet[]): UnitSystem {
  let [si, inch] = [0, 0];
  for (const sheet of sheets)
    for (const [column, unit] of sheet.units) {
      const definition = sheet.columns.get(column);
      if (definition === undefined) continue;
      const [a, b] = [unitOf(definition, "SI"), unitOf(definition, "inch-pound")];
      if (a === b) continue;
      if (sameUnitName(unit, a)) si += 1;
      else if (sameUnitName(unit, b)) inch += 1;
    }
  return inch > si ? "inch-pound" : "SI";
}

const sameUnitName = (written: string, unit: string | undefined): boolean =>
  unit !== undefined && foldLabel(written).replaceAll(" ", "") === unit.toLowerCase().replaceAll(" ", "");

function checkUnits(sheet: OpenSheet, system: UnitSystem, findings: Finding[]): OpenSheet {
  let judged = sheet.judged;
  for (const [column, written] of sheet.units) {
    const definition = sheet.columns.get(column);
    if (definition === undefined) continue;
    const unit = unitOf(definition, system);
    if (unit === undefined ? definition.kind === "plain" || definition.kind === undefined : sameUnitName(written, unit)) continue;
    judged = false;
    findings.push({
      code: "mixed-units",
      severity: "error",
      sheet: sheet.record.name,
      cell: `${columnLetters(column)}${sheet.headerRow}`,
      actual: written,
      expected: unit ?? "no unit",
      text: `The header of ${definition.field} names ${written}; this workbook is in ${system} units, so ${unit ?? "no unit"} is expected. The sheet was not judged.`,
    });
  }
  return judged === sheet.judged ? sheet : { ...sheet, judged };
}

// ---- rows ----------------------------------------------------------------------------------------------------

function readRows(
  sheet: OpenSheet,
  system: UnitSystem,
  workbook: WorkbookRecord,
  options: EntryOptions,
  parsed: Sections,
  findings: Finding[],
): void {
  const test = isTestSheet(sheet.definition.sheet);
  if (!sheet.judged) {
    // As if all its rows were unread: nothing of this sheet passes by being unreadable.
    if (test && [...sheet.record.rows.keys()].some((row) => row > sheet.headerRow && (sheet.headerRow > 0 || sheet.record.rows.size > 0)))
      parsed.unread.push({
        sheet: sheet.definition.sheet as UnreadRow["sheet"],
        sheetName: sheet.record.name,
        row: 0,
        file: options.file,
        properties: propertiesOf(sheet.definition.sheet as UnreadRow["sheet"], {}),
        cells: [],
      });
    return;
  }
  for (const [number, cells] of sheet.record.rows) {
    if (number <= sheet.headerRow) continue;
    const known = cells.filter((cell) => {
      const column = sheet.columns.get(cell.column);
      return column !== undefined && !column.computed && !(cell.type === "text" && cell.raw.trim() === "");
    });
    if (known.length === 0) continue;
    readRow(sheet, number, known, system, workbook, options, parsed, findings);
  }
}

function readRow(
  sheet: OpenSheet,
  number: number,
  cells: readonly CellRecord[],
  system: UnitSystem,
  workbook: WorkbookRecord,
  options: EntryOptions,
  parsed: Sections,
  findings: Finding[],
): void {
  const { definition, record } = sheet;
  const test = isTestSheet(definition.sheet);
  const filled = cells.filter((cell) => !IDENTIFYING.has(sheet.columns.get(cell.column)?.field ?? ""));
  const fields: Record<string, FieldValue> = {};
  const own: Finding[] = [];
  let failed = false;
  for (const cell of cells) {
    const column = sheet.columns.get(cell.column) as Column;
    const read = readCell(cell, {
      sheetName: record.name,
      column,
      system,
      decimalMark: options.decimalMark,
      date1904: workbook.date1904,
      today: options.today,
    });
    own.push(...read.findings);
    failed ||= read.failed;
    if (read.value) fields[column.field] = read.value;
  }
  if (test && filled.length === 0) {
    const [coil, testPiece] = [fields["coil"]?.text, fields["testPiece"]?.text];
    parsed.unfilled.push({
      sheet: definition.sheet as UnfilledRow["sheet"],
      sheetName: record.name,
      row: number,
      ...(coil ? { coil } : {}),
      ...(testPiece ? { testPiece } : {}),
    });
    return;
  }
  for (const [position, column] of sheet.columns) {
    if (
      !column.required ||
      fields[column.field] !== undefined ||
      own.some((f) => f.cell === `${columnLetters(position)}${number}` && f.severity === "error")
    )
      continue;
    if (column.field === "grade" || (column.field === "unit" && fields["word"] !== undefined)) continue;
    own.push({
      code: "missing-value",
      severity: "error",
      sheet: record.name,
      cell: `${columnLetters(position)}${number}`,
      actual: "",
      expected: column.field,
      text: `${columnLetters(position)}${number} is empty; ${column.field} is required.`,
    });
    failed = true;
  }
  findings.push(...own);
  const row: EntryRow = { sheet: definition.sheet, sheetName: record.name, row: number, file: options.file, fields };
  if (!test) {
    if (!failed) parsed.registers.push(row);
    return;
  }
  if (!failed) parsed.tests.push(row);
  else
    parsed.unread.push(
      toUnread(
        row,
        own.filter((f) => f.severity === "error").map((f) => f.cell),
      ),
    );
}

/** A test row that gave no result, with what it concerns as far as that could be read. */
export function toUnread(row: EntryRow, cells: readonly string[]): UnreadRow {
  const [coil, testPiece] = [row.fields["coil"]?.text, row.fields["testPiece"]?.text];
  return {
    sheet: row.sheet as UnreadRow["sheet"],
    sheetName: row.sheetName,
    row: row.row,
    file: row.file,
    ...(coil === undefined ? {} : { coil }),
    ...(testPiece === undefined ? {} : { testPiece }),
    properties: propertiesOf(row.sheet as UnreadRow["sheet"], row.fields),
    cells,
  };
}

// ---- doubles -------------------------------------------------------------------------------------------------

/** The same test piece and position twice in one sheet: both rows are unread, since nobody can say which is right. */
function refuseDoubles(parsed: Sections, findings: Finding[]): void {
  const first = new Map<string, EntryRow>();
  const doubled = new Set<EntryRow>();
  for (const row of parsed.tests) {
    const piece = row.fields["testPiece"]?.text ?? "";
    const identity = `${row.sheet}\u0000${piece}\u0000${row.fields["position"]?.text ?? ""}\u0000${row.sheet === "wrap" ? (row.fields["purpose"]?.text ?? "") : ""}\u0000${row.sheet === "other" ? (row.fields["property"]?.text ?? "") : ""}`;
    const earlier = first.get(identity);
    if (earlier === undefined) first.set(identity, row);
    else {
      doubled.add(earlier);
      doubled.add(row);
    }
  }
  for (const row of doubled) {
    const piece = row.fields["testPiece"];
    const cell = piece?.cell ?? `A${row.row}`;
    findings.push({
      code: "doubled-result",
      severity: "error",
      sheet: row.sheetName,
      cell,
      actual: piece?.raw ?? "",
      expected: "each test piece once",
      text: `Test piece ${piece?.text ?? ""} stands in this sheet more than once; none of its rows is judged.`,
    });
    parsed.unread.push(toUnread(row, [cell]));
  }
  caseTwins(parsed.tests, findings, parsed);
}

function caseTwins(tests: readonly EntryRow[], findings: Finding[], parsed: Sections): void {
  const spelled = new Map<string, string>();
  for (const row of tests) {
    const piece = row.fields["testPiece"];
    if (piece === undefined) continue;
    const folded = `${row.sheet}\u0000${piece.text.toLowerCase()}`;
    const earlier = spelled.get(folded);
    if (earlier === undefined) spelled.set(folded, piece.text);
    else if (earlier !== piece.text) {
      findings.push({
        code: "near-match",
        severity: "error",
        sheet: row.sheetName,
        cell: piece.cell,
        actual: piece.raw,
        expected: earlier,
        text: `Test piece ${piece.text} differs from ${earlier} only by case; which is meant?`,
      });
      parsed.unread.push(toUnread(row, [piece.cell]));
    }
  }
}

function liveVerdicts(sheet: OpenSheet): { sheetName: string; row: number; cell: string; text: string }[] {
  const column = [...sheet.columns].find(([, definition]) => definition.field === "verdict")?.[0];
  if (column === undefined) return [];
  return [...sheet.record.rows].flatMap(([row, cells]) => {
    const cell =
      row > sheet.headerRow
        ? cells.find((c) => c.column === column && c.formula !== undefined && c.type === "text" && c.raw !== "")
        : undefined;
    return cell === undefined ? [] : [{ sheetName: sheet.record.name, row, cell: cell.cell, text: cell.raw }];
  });
}
