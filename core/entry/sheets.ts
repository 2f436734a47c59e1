/** The entry sheets of a workbook: found by name, their header by its labels, their units by what the headers name. */
import { isIgnored, mappedSheet, openMapped } from "../map/open.ts";
import type { IntakeMap } from "../map/schema.ts";
import type { Finding, SheetRecord, UnitSystem, WorkbookRecord } from "../model.ts";
import { columnLetters } from "../workbook/xml.ts";
import { type Column, ENTRY_SHEETS, type EntrySheet, unitOf } from "./columns.ts";
import { findColumn, findSheet, foldLabel, LABEL_LANGUAGES, sheetNameOf } from "./labels.ts";
import { type OpenSheet, onSheet } from "./open-sheet.ts";

const HEADER_WITHIN = 20;
const OUR_SHEETS: ReadonlySet<string> = new Set(
  [
    "Start-here",
    "Set-up plan",
    "Overview",
    "Übersicht",
    "Cut list",
    "Limits",
    "Findings",
    "Cards",
    "Einrichtplan",
    "Schnittliste",
    "Grenzwerte",
    "Karten",
    "Befunde",
  ].map(foldLabel),
);

/**
 * Codes: unknown-sheet, sheet-name, hidden-data, no-header, and those of a header row.
 * @param map reads sheets that are not laid out as ours; all others are found as always
 */
export function openSheets(workbook: WorkbookRecord, findings: Finding[], map?: IntakeMap): OpenSheet[] {
  const opened: OpenSheet[] = [];
  for (const record of workbook.sheets) {
    if (record.rows.size === 0 || (map !== undefined && isIgnored(map, record.name))) continue;
    const mapped = map === undefined ? undefined : mappedSheet(map, record.name);
    if (map !== undefined && mapped !== undefined) {
      tellHidden(record, findings);
      opened.push(...openMapped(map, mapped, record, findings));
      continue;
    }
    const definition = findSheet(ENTRY_SHEETS, record.name);
    if (definition === undefined) {
      if (!isOurOwn(record.name))
        findings.push(
          onSheet(
            "unknown-sheet",
            "warning",
            record,
            "A1",
            `The sheet "${record.name}" is none of the entry workbook; it is kept and not read.`,
          ),
        );
      continue;
    }
    if (![definition.sheet, ...LABEL_LANGUAGES.map((language) => sheetNameOf(definition, language))].includes(record.name)) {
      const name = sheetNameOf(definition);
      findings.push(onSheet("sheet-name", "warning", record, "A1", `The sheet "${record.name}" was taken as "${name}".`, name));
    }
    tellHidden(record, findings);
    opened.push(findHeader(definition, record, findings) ?? withoutHeader(definition, record, findings));
  }
  return opened;
}

function tellHidden(record: SheetRecord, findings: Finding[]): void {
  if (!record.hidden && record.hiddenRows.size === 0 && record.hiddenColumns.size === 0) return;
  const said = `The sheet "${record.name}" has hidden rows or columns or is hidden; they were read like the others.`;
  findings.push(onSheet("hidden-data", "warning", record, "A1", said));
}

/** Sheets that a prepared or returned workbook carries beside the entry sheets. */
const isOurOwn = (name: string): boolean =>
  OUR_SHEETS.has(foldLabel(name)) || foldLabel(name).startsWith("card ") || foldLabel(name).startsWith("findings");

function withoutHeader(definition: EntrySheet, record: SheetRecord, findings: Finding[]): OpenSheet {
  const required = definition.columns.filter((c) => c.required).map((c) => c.field);
  findings.push(
    onSheet(
      "no-header",
      "error",
      record,
      "A1",
      `No header row was found in the first ${HEADER_WITHIN} rows of "${record.name}"; the sheet was not judged.`,
      required.join(", "),
    ),
  );
  return { definition, record, headerRow: 0, columns: new Map(), units: new Map(), judged: false };
}

/** The row with the most labels, two at least. Codes: unknown-column, doubled-column, missing-column. */
function findHeader(definition: EntrySheet, record: SheetRecord, findings: Finding[]): OpenSheet | undefined {
  const headerRow = headerRowOf(definition, record);
  if (headerRow === undefined) return undefined;
  const columns = new Map<number, Column>();
  const units = new Map<number, string>();
  const seen = new Map<string, string>();
  let judged = true;
  for (const cell of record.rows.get(headerRow) ?? []) {
    const found = cell.type === "text" ? findColumn(definition, cell.raw) : undefined;
    if (found === undefined) {
      if (foldLabel(cell.raw) !== "")
        findings.push({
          ...onSheet("unknown-column", "warning", record, cell.cell, `The column "${cell.raw}" is not known; it is kept and not read.`),
          actual: cell.raw,
        });
      continue;
    }
    const { field } = found.column;
    const earlier = seen.get(field);
    if (earlier !== undefined) {
      judged = false;
      const said = `The column ${field} stands in ${earlier} and in ${cell.cell}; the sheet was not judged.`;
      findings.push({ ...onSheet("doubled-column", "error", record, cell.cell, said, "each column once"), actual: cell.raw });
      continue;
    }
    seen.set(field, cell.cell);
    columns.set(cell.column, found.column);
    if (found.unit !== undefined) units.set(cell.column, found.unit);
  }
  for (const { field, required } of definition.columns) {
    if (!required || seen.has(field)) continue;
    judged = false;
    const said = `The column ${field} is missing in "${record.name}"; the sheet was not judged.`;
    findings.push(onSheet("missing-column", "error", record, `A${headerRow}`, said, field));
  }
  return { definition, record, headerRow, columns, units, judged };
}

function headerRowOf(definition: EntrySheet, record: SheetRecord): number | undefined {
  let best: { readonly row: number; readonly hits: number } | undefined;
  for (const [row, cells] of record.rows) {
    if (row > HEADER_WITHIN) break;
    const found = cells.flatMap((cell) => (cell.type === "text" ? (findColumn(definition, cell.raw)?.column.field ?? []) : []));
    const hits = new Set(found).size;
    if (found.length >= 2 && (best === undefined || hits > best.hits)) best = { row, hits };
  }
  return best?.row;
}

/** The system that more headers name; SI where none names a unit. */
export function systemOf(sheets: readonly OpenSheet[]): UnitSystem {
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

/** The sheet, not judged where a header names a unit other than the workbook's. Code: mixed-units. */
export function checkUnits(sheet: OpenSheet, system: UnitSystem, findings: Finding[]): OpenSheet {
  let judged = sheet.judged;
  for (const [column, written] of sheet.units) {
    const definition = sheet.columns.get(column);
    if (definition === undefined) continue;
    const unit = unitOf(definition, system);
    if (unit === undefined || sameUnitName(written, unit)) continue;
    judged = false;
    const cell = `${columnLetters(column)}${sheet.headerRow}`;
    const said = `The header of ${definition.field} names ${written}; this workbook is in ${system} units, so ${unit} is expected. The sheet was not judged.`;
    findings.push({ ...onSheet("mixed-units", "error", sheet.record, cell, said, unit), actual: written });
  }
  return judged === sheet.judged ? sheet : { ...sheet, judged };
}
