/** Entry workbooks out of plain records: for the example, the samples and the tests. Field names are those of `layout --json`. */
import { ENTRY_SHEETS, HEADER_ROW, headerOf, sheetNameOf } from "../../core/entry/index.ts";
import type { RegisterSheet, TestSheet, UnitSystem } from "../../core/model.ts";
import {
  type CellStyle,
  type DescribedCell,
  type DescribedSheet,
  dateToSerial,
  isIsoDay,
  writeWorkbook,
} from "../../core/workbook/index.ts";

/** Plain values take the column's own style; a described cell stands as it is. */
export type EntryCell = string | number | DescribedCell;
export type EntryRecord = Readonly<Record<string, EntryCell | undefined>>;

export interface EntryContent {
  readonly units: UnitSystem;
  readonly language?: string;
  readonly sheets: Partial<Record<TestSheet | RegisterSheet, readonly EntryRecord[]>>;
  /** Labels written instead of ours, by sheet and field. */
  readonly headers?: Partial<Record<TestSheet | RegisterSheet, Readonly<Record<string, string>>>>;
  /** Sheets that are not ours. */
  readonly others?: readonly DescribedSheet[];
  /** Rows (by sheet, from 1) that are hidden. */
  readonly hiddenRows?: Partial<Record<TestSheet | RegisterSheet, readonly number[]>>;
}

export const ENTRY_STYLES: Readonly<Record<string, CellStyle>> = {
  title: { bold: true, size: 14 },
  header: { bold: true, fill: "E9E7E0", border: true, wrap: true },
  cell: { border: true },
  day: { border: true, format: "yyyy-mm-dd" },
  percent: { border: true, format: "0%" },
  identifier: { border: true, format: "@" },
  note: { italic: true, color: "555555", wrap: true },
};

/** In characters, where it is not the usual width. */
const WIDTHS: Readonly<Record<string, number>> = {
  testPiece: 14,
  verdict: 22,
  why: 90,
  next: 70,
  customer: 22,
  product: 30,
  specification: 16,
};

/** Row number of the record at `index`. */
export const recordRow = (index: number): number => HEADER_ROW + 1 + index;

export function entryWorkbook(content: EntryContent): Uint8Array {
  const sheets = ENTRY_SHEETS.flatMap((sheet): DescribedSheet[] => {
    const records = content.sheets[sheet.sheet];
    if (records === undefined) return [];
    const name = sheetNameOf(sheet, content.language);
    const rows = new Map<number, Map<number, DescribedCell>>();
    rows.set(1, new Map([[1, { value: name, style: "title" }]]));
    rows.set(
      HEADER_ROW,
      new Map(
        sheet.columns.map((column, c) => [
          c + 1,
          { value: content.headers?.[sheet.sheet]?.[column.field] ?? headerOf(column, content.units, content.language), style: "header" },
        ]),
      ),
    );
    records.forEach((record, i) => {
      const cells = new Map<number, DescribedCell>();
      sheet.columns.forEach((column, c) => {
        cells.set(c + 1, cellOf(record[column.field], column.type));
      });
      rows.set(recordRow(i), cells);
    });
    return [
      {
        name,
        rows,
        widths: Object.fromEntries(sheet.columns.map((column, c) => [c + 1, WIDTHS[column.field] ?? 12])),
        heights: { [HEADER_ROW]: 30 },
        freezeRows: HEADER_ROW,
        freezeColumns: 2,
        print: { paper: "A4", landscape: true, repeatRows: `$${HEADER_ROW}:$${HEADER_ROW}` },
        ...(content.hiddenRows?.[sheet.sheet] === undefined ? {} : { hiddenRows: content.hiddenRows[sheet.sheet] ?? [] }),
      },
    ];
  });
  return writeWorkbook({ styles: ENTRY_STYLES, sheets: [...sheets, ...(content.others ?? [])] });
}

function cellOf(value: EntryCell | undefined, type: string): DescribedCell {
  const style = type === "date" ? "day" : type === "identifier" ? "identifier" : "cell";
  if (value === undefined) return { style };
  if (typeof value === "object") return { style: type === "date" ? "day" : "cell", ...value };
  if (type === "date" && typeof value === "string" && isIsoDay(value)) return { value: dateToSerial(value), style };
  return { value, style };
}
