/** Sheets of a workbook as an intake map reads them. */
import { joinBlanks } from "../entry/cell.ts";
import { type Column, ENTRY_SHEETS, type EntrySheet } from "../entry/columns.ts";
import { findColumn, foldLabel } from "../entry/labels.ts";
import { type MappedRows, type OpenSheet, onSheet } from "../entry/open-sheet.ts";
import type { CellRecord, Finding, SheetRecord } from "../model.ts";
import type { AnyUnit } from "../quantity.ts";
import { columnLabels, givenUnit, type IntakeMap, labelsOf, type MappedRead, type MappedSheet } from "./schema.ts";

const HEADER_WITHIN = 40;

/** What the map says of the sheet; undefined where it does not speak of it. */
export const mappedSheet = (map: IntakeMap, name: string): MappedSheet | undefined =>
  map.sheets.find((sheet) => labelsOf(sheet.name).some((one) => foldLabel(one) === foldLabel(name)));

export const isIgnored = (map: IntakeMap, name: string): boolean => map.ignoreSheets.some((one) => foldLabel(one) === foldLabel(name));

/** True where every sheet that the map cannot do without is there, with its header. */
export function fits(map: IntakeMap, sheets: readonly SheetRecord[]): boolean {
  return map.sheets.every((one) => {
    const record = sheets.find((sheet) => mappedSheet(map, sheet.name) === one);
    return record === undefined ? one.optional : headerOf(one, record) !== undefined;
  });
}

interface Header {
  /** The last row of the header. */
  readonly row: number;
  /** Cells with their labels, joined over the rows of the header. */
  readonly labels: readonly { readonly cell: CellRecord; readonly texts: readonly string[] }[];
}

/** The header row the map names, or the row in which most of its labels stand, two at least. */
function headerOf(one: MappedSheet, record: SheetRecord): Header | undefined {
  const wanted = new Set(
    one.reads.flatMap((read) => Object.values(read.columns).flatMap((given) => columnLabels(given).labels.map(foldLabel))),
  );
  const hits = (header: Header): number => header.labels.filter(({ texts }) => texts.some((text) => wanted.has(text))).length;
  if (one.header.row !== undefined) {
    const header = headerAt(one, record, one.header.row);
    return hits(header) > 0 ? header : undefined;
  }
  let best: { readonly header: Header; readonly hits: number } | undefined;
  for (const [row] of record.rows) {
    if (row > HEADER_WITHIN) break;
    const header = headerAt(one, record, row);
    const found = hits(header);
    if (found >= Math.min(2, wanted.size) && found > (best?.hits ?? 0)) best = { header, hits: found };
  }
  return best?.header;
}

function headerAt(one: MappedSheet, record: SheetRecord, first: number): Header {
  const byColumn = new Map<number, { cell: CellRecord; parts: string[] }>();
  for (let row = first; row < first + one.header.rows; row += 1)
    for (const cell of record.rows.get(row) ?? []) {
      const label = foldLabel(cell.raw);
      if (label === "") continue;
      const known = byColumn.get(cell.column);
      byColumn.set(cell.column, { cell, parts: [...(known?.parts ?? []), label] });
    }
  return {
    row: first + one.header.rows - 1,
    // A group's title stands over its first column only; the others are known by what stands lowest.
    labels: [...byColumn.values()].map(({ cell, parts }) => ({ cell, texts: [parts.join(" "), parts.at(-1) as string] })),
  };
}

/** The sheet once for each sheet of the entry workbook that it holds. Codes: no-header, missing-column, doubled-column, unknown-column. */
export function openMapped(map: IntakeMap, one: MappedSheet, record: SheetRecord, findings: Finding[]): OpenSheet[] {
  const header = headerOf(one, record);
  const definitionOf = (read: MappedRead): EntrySheet => ENTRY_SHEETS.find((entry) => entry.sheet === read.as) as EntrySheet;
  if (header === undefined) {
    const expected = Object.values(one.reads[0]?.columns ?? {}).flatMap((given) => columnLabels(given).labels[0] ?? []);
    const said = `No header row with the labels of the intake map ${map.map} was found in "${record.name}"; the sheet was not judged.`;
    findings.push(onSheet("no-header", "error", record, "A1", said, expected.join(", ")));
    return one.reads.map((read) => ({
      definition: definitionOf(read),
      record,
      headerRow: 0,
      columns: new Map(),
      units: new Map(),
      judged: false,
    }));
  }
  const used = new Set<number>();
  const opened = one.reads.map((read) => openRead(map, read, definitionOf(read), record, header, used, findings));
  tellUnknown(map, one, record, header, used, findings);
  return opened;
}

function openRead(
  map: IntakeMap,
  read: MappedRead,
  definition: EntrySheet,
  record: SheetRecord,
  header: Header,
  used: Set<number>,
  findings: Finding[],
): OpenSheet {
  const columns = new Map<number, Column>();
  const given = new Map<number, AnyUnit>();
  let judged = true;
  for (const [field, written] of Object.entries(read.columns)) {
    const column = definition.columns.find((one) => one.field === field) as Column;
    const { labels, unit } = columnLabels(written);
    const wanted = labels.map(foldLabel);
    const found = header.labels.filter(({ texts }) => texts.some((text) => wanted.includes(text)));
    const [first, second] = found;
    for (const { cell } of found) used.add(cell.column);
    if (second !== undefined) {
      judged = false;
      const said = `The label for ${field} stands in ${first?.cell.cell} and in ${second.cell.cell}; the sheet was not judged.`;
      findings.push({ ...onSheet("doubled-column", "error", record, second.cell.cell, said, "each column once"), actual: second.cell.raw });
    } else if (first !== undefined) {
      columns.set(first.cell.column, column);
      const written = unit === undefined ? undefined : givenUnit(column, map.units, unit);
      if (written !== undefined) given.set(first.cell.column, written);
    } else if (column.required) {
      judged = false;
      const said = `The column for ${field} is missing in "${record.name}"; the sheet was not judged.`;
      findings.push(onSheet("missing-column", "error", record, `A${header.row}`, said, labels.join(" or ")));
    }
  }
  // Our own columns of an earlier time are found as in any workbook.
  for (const { cell, texts } of header.labels) {
    const own = columns.has(cell.column) ? undefined : findColumn(definition, texts[0] as string)?.column;
    if (own?.computed && ![...columns.values()].includes(own)) {
      columns.set(cell.column, own);
      used.add(cell.column);
    }
  }
  const fixed = Object.entries(read.fixed).map(([field, value]) => ({
    column: definition.columns.find((one) => one.field === field) as Column,
    value,
  }));
  return {
    definition,
    record,
    headerRow: header.row,
    columns,
    units: new Map(),
    judged,
    mapped: { given, fixed, admits: admission(read, columns, header, used) },
  };
}

/** Which rows belong to this test. */
function admission(read: MappedRead, columns: ReadonlyMap<number, Column>, header: Header, used: Set<number>): MappedRows["admits"] {
  const { rows } = read;
  if (rows === undefined) return () => true;
  if ("filled" in rows) {
    const places = new Set([...columns].filter(([, column]) => rows.filled.includes(column.field)).map(([place]) => place));
    return (cells) => cells.some((cell) => places.has(cell.column) && (cell.type !== "text" || joinBlanks(cell.raw) !== ""));
  }
  const place = header.labels.find(({ texts }) => texts.includes(foldLabel(rows.label)))?.cell.column;
  if (place !== undefined) used.add(place);
  const words = new Set(rows.is.map(foldLabel));
  return (cells) => cells.some((cell) => cell.column === place && words.has(foldLabel(cell.raw)));
}

function tellUnknown(
  map: IntakeMap,
  one: MappedSheet,
  record: SheetRecord,
  header: Header,
  used: ReadonlySet<number>,
  findings: Finding[],
): void {
  const ignored = new Set(one.ignore.map(foldLabel));
  for (const { cell, texts } of header.labels)
    if (!used.has(cell.column) && !texts.some((text) => ignored.has(text)))
      findings.push({
        ...onSheet(
          "unknown-column",
          "warning",
          record,
          cell.cell,
          `The column "${cell.raw}" is neither read nor passed over by the intake map ${map.map}; it is kept and not read.`,
        ),
        actual: cell.raw,
      });
}
