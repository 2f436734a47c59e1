/** What a workbook shows, independent of how it is stored: the cells of its sheets, what is hidden, and things that lie over cells. */
import type { CellRecord, SheetRecord, WorkbookRecord } from "../model.ts";
import { columnNumber } from "../workbook/xml.ts";

/** Kind, text as stored, number format where it is not General. */
export type CellContent = readonly [kind: string, text: string, format?: string];

export interface SheetContent {
  readonly name: string;
  readonly cells: Readonly<Record<string, CellContent>>;
  readonly hiddenRows: readonly number[];
  readonly hiddenColumns: readonly number[];
}
export interface XlsxContent {
  readonly sheets: readonly SheetContent[];
  /** Pictures, drawings, remarks and other things that can cover a cell. */
  readonly objects: number;
}

const OBJECTS =
  /^xl\/(?:drawings|media|charts|embeddings|activex|ctrlprops|comments|threadedcomments|worksheets\/comments)[^/]*(?:\/|\d*\.)/i;

/** @param partNames of the package @param own sheets that carry record and seal, which are not shown */
export function xlsxContent(workbook: WorkbookRecord, partNames: readonly string[], own: readonly string[]): XlsxContent {
  return {
    sheets: workbook.sheets.filter((sheet) => !(sheet.hidden && own.includes(sheet.name))).map(sheetContent),
    objects: partNames.filter((name) => OBJECTS.test(name) && !name.endsWith(".rels")).length,
  };
}

function sheetContent(sheet: SheetRecord): SheetContent {
  const cells: Record<string, CellContent> = {};
  const [rows, columns] = [new Set<number>(), new Set<number>()];
  for (const row of sheet.rows.values())
    for (const cell of row) {
      if (cell.type === "empty") continue;
      cells[cell.cell] = cellContent(cell);
      rows.add(cell.row);
      columns.add(columnNumber(cell.cell.replace(/\d+$/, "")));
    }
  return {
    // A sheet that was hidden shows nothing any more.
    name: sheet.hidden ? `${sheet.name} (hidden)` : sheet.name,
    cells,
    hiddenRows: [...sheet.hiddenRows].filter((row) => rows.has(row)).sort((a, b) => a - b),
    hiddenColumns: [...sheet.hiddenColumns].filter((column) => columns.has(column)).sort((a, b) => a - b),
  };
}

function cellContent(cell: CellRecord): CellContent {
  const format = cell.format === undefined || cell.format === "General" ? [] : [cell.format.replaceAll("\\", "")];
  if (cell.formula !== undefined) return ["formula", `=${cell.formula}`, ...format] as unknown as CellContent;
  // Programs write the same number as 1875, 1875.0 or 1.875E3.
  if (cell.type === "number") return ["number", String(Number(cell.raw)), ...format] as unknown as CellContent;
  return [cell.type, cell.raw.normalize("NFC"), ...format] as unknown as CellContent;
}

/** The text of a sheet whose first column carries a long text in pieces. */
export function carriedText(workbook: WorkbookRecord, name: string): string | undefined {
  const sheet = workbook.sheets.find((s) => s.name === name && s.hidden);
  if (sheet === undefined) return undefined;
  return [...sheet.rows.keys()]
    .sort((a, b) => a - b)
    .map((row) => sheet.rows.get(row)?.find((cell) => cell.column === 1)?.raw ?? "")
    .join("");
}
