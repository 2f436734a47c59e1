/**
 * A workbook's cells to rows that are understood, with everything that is wrong in them.
 * Phases: sheets by name and header, units of the whole workbook, rows cell by cell, rows beside each other and their orders.
 */
import type { IntakeMap } from "../map/schema.ts";
import type { Entry, Finding, Measure, Refusal, UnfilledRow, UnreadRow, WorkbookRecord } from "../model.ts";
import { isTestSheet } from "./columns.ts";
import { refuseCaseTwins, refuseDoubledRegistrations, refuseDoubles } from "./doubles.ts";
import { findNearMatches, type Registered } from "./near-match.ts";
import type { OpenSheet } from "./open-sheet.ts";
import { checkRegistrations, checkRows } from "./row-checks.ts";
import { holdsRows, type ReadRow, readRows } from "./rows.ts";
import { checkUnits, openSheets, systemOf } from "./sheets.ts";
import { unreadRegistrations, unreadSheet, unreadTest } from "./unread.ts";

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
  /** The nominal diameter of a registered order item; undefined where the item is not registered. */
  readonly nominalDiameterOfItem: (order: string, item: string) => Measure | undefined;
  /** Registered coils of a heat. */
  readonly coilsOfHeat: (heat: string) => readonly string[];
  /** Properties of registered agreed requirements: what a row of the sheet Other may speak of. */
  readonly agreedProperties: readonly string[];
  /** How a workbook of the laboratory's own is read. */
  readonly map?: IntakeMap;
}

export type ParsedEntry =
  | { readonly ok: true; readonly entry: Entry }
  | { readonly ok: false; readonly refusal: Refusal; readonly findings: readonly Finding[] };

/** The entry a workbook holds. Refusals: no-orders, no-sheets. */
export function parseEntry(workbook: WorkbookRecord, options: EntryOptions): ParsedEntry {
  const findings: Finding[] = [...workbook.findings];
  const opened = openSheets(workbook, findings, options.map);
  const system = options.map?.units ?? systemOf(opened);
  const sheets = opened.map((sheet) => checkUnits(sheet, system, findings));
  const refusal = refusalOf(sheets, options.registered);
  if (refusal) return { ok: false, refusal, findings };

  const registers: ReadRow[] = [];
  const tests: ReadRow[] = [];
  const unfilled: UnfilledRow[] = [];
  for (const sheet of sheets) {
    if (!sheet.judged) continue;
    const read = readRows(sheet, { ...options, system, date1904: workbook.date1904 }, findings);
    const list = isTestSheet(sheet.definition.sheet) ? tests : registers;
    for (const row of read.rows) list.push(row);
    for (const row of read.unfilled) unfilled.push(row);
  }
  checkRegistrations(registers, findings);
  checkRows(tests, registers, options, findings);
  refuseDoubledRegistrations(registers, findings);
  refuseDoubles(tests, findings);
  refuseCaseTwins(tests, findings);
  findNearMatches(registers, tests, options.registered, findings);

  const readable = ({ errors }: ReadRow): boolean => errors.length === 0;
  return {
    ok: true,
    entry: {
      units: system,
      registers: registers.filter(readable).map(({ row }) => row),
      tests: tests.filter(readable).map(({ row }) => row),
      unread: heldBack(sheets, registers, tests, options),
      unfilled,
      findings: options.map === undefined ? findings : once(findings),
      sheets: sheets
        .filter((sheet) => isTestSheet(sheet.definition.sheet))
        .map((sheet) => ({
          sheet: sheet.definition.sheet,
          sheetName: sheet.record.name,
          headerRow: sheet.headerRow,
          columns: Object.fromEntries([...sheet.columns].map(([column, definition]) => [definition.field, column])),
        })),
      live: sheets.flatMap(liveVerdicts),
    },
  };
}

/** A sheet that holds several tests is read once for each, and what its shared cells hold is told once. */
function once(findings: readonly Finding[]): readonly Finding[] {
  const told = new Map(findings.map((f) => [`${f.code}\u0000${f.sheet}\u0000${f.cell}\u0000${f.text}`, f]));
  return [...told.values()];
}

function refusalOf(sheets: readonly OpenSheet[], registered: Registered): Refusal | undefined {
  const names = new Set(sheets.map((sheet) => sheet.definition.sheet));
  if (registered.orders.size === 0 && registered.coils.size === 0 && !names.has("orders") && !names.has("coils"))
    return {
      code: "no-orders",
      text: "The workbook has neither a sheet Orders nor a sheet Coils, and nothing is registered that its rows could belong to.",
    };
  if (sheets.length === 0)
    return {
      code: "no-sheets",
      text: "No sheet of the entry workbook was found. Use a workbook made by Coilbook, sheets with the names Orders, Coils, Torsion and so on, or an intake map.",
    };
  return undefined;
}

/** Everything that could not be read, with what it holds back. */
function heldBack(
  sheets: readonly OpenSheet[],
  registers: readonly ReadRow[],
  tests: readonly ReadRow[],
  options: EntryOptions,
): readonly UnreadRow[] {
  const named = [...registers, ...tests].filter(({ row }) => row.sheet === "agreed" || row.sheet === "other");
  const others = [...options.agreedProperties, ...named.flatMap(({ row }) => row.fields["property"]?.text ?? [])];
  const own = new Set(registers.flatMap(({ row }) => (row.sheet === "coils" ? (row.fields["coil"]?.text ?? []) : [])));
  const isCoil = (name: string): boolean => own.has(name) || options.registered.coils.has(name);
  const known = {
    isOrderItem: (order: string, item: string): boolean => options.nominalDiameterOfItem(order, item) !== undefined,
    isHeat: (heat: string): boolean => options.registered.heats.has(heat),
    coilsOfHeat: options.coilsOfHeat,
  };
  return [
    ...sheets.filter(holdsBack).flatMap((sheet) => unreadSheet(sheet, options.file, isCoil, others)),
    ...unreadRegistrations(registers, known, others),
    ...tests.filter(({ errors }) => errors.length > 0).map((read) => unreadTest(read, others)),
  ];
}

/** Of the registers only Agreed and Heats ask something of a coil; without the others a coil or its order is unknown, which is said. */
const holdsBack = (sheet: OpenSheet): boolean =>
  !sheet.judged &&
  (isTestSheet(sheet.definition.sheet) || sheet.definition.sheet === "agreed" || sheet.definition.sheet === "heats") &&
  holdsRows(sheet);

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
