/** The workbook in which a laboratory writes down its own specification. */
import type { SpecificationData } from "../../core/spec/index.ts";
import {
  type CellStyle,
  columnLetters,
  type DescribedCell,
  type DescribedSheet,
  type Validation,
  writeWorkbook,
} from "../../core/workbook/index.ts";
import { BASE_PREFIX, FORM_HEADER_ROW, FORM_SHEETS, type FormColumn, type FormSheet, LIST_SEPARATOR, RECORD_COLUMNS } from "./sheets.ts";

/** What a form starts with. */
export interface FormContent {
  /** What is filled in already; absent keys stay empty. */
  readonly filled?: Partial<SpecificationData>;
  /** The specification it extends, shown on sheets that are not read. */
  readonly base?: SpecificationData;
}

const STYLES: Readonly<Record<string, CellStyle>> = {
  title: { bold: true, size: 14 },
  instruction: { wrap: true },
  hint: { italic: true, color: "555555", wrap: true },
  header: { bold: true, fill: "E9E7E0", border: true, wrap: true },
  // Text, so that 0.020 keeps its last place and 2-3 does not turn into a date.
  input: { border: true, format: "@", unlocked: true },
  shown: { border: true, format: "@", color: "555555" },
};

type Cells = Map<number, DescribedCell>;
type Rows = Map<number, Cells>;

/**
 * The form as bytes; the same content gives the same bytes.
 * @throws RangeError where a text of a list holds the separator, so that it could not be read back
 */
export function specificationForm({ filled = {}, base }: FormContent = {}): Uint8Array {
  const sheets = FORM_SHEETS.map((sheet) => toSheet(sheet, recordsOf(sheet, filled), { name: sheet.name, reference: false }));
  const reference =
    base === undefined
      ? []
      : FORM_SHEETS.filter((sheet) => sheet.path !== "").flatMap((sheet) => {
          const records = recordsOf(sheet, base);
          return records.length === 0
            ? []
            : [toSheet(sheet, records, { name: `${BASE_PREFIX}${sheet.name.toLowerCase()}`, reference: true })];
        });
  return writeWorkbook({ styles: STYLES, sheets: [...sheets, ...reference] });
}

type FormRecord = Readonly<Record<string, unknown>>;

/** The records of a sheet; those of Tables and Limits carry the name of their table. */
function recordsOf(sheet: FormSheet, data: Partial<SpecificationData>): readonly FormRecord[] {
  const tables = (data.tables ?? []).map((table, index) => ({ table: String(index + 1), ...table }));
  switch (sheet.path) {
    case "":
      return [data];
    case "tables":
      return tables;
    case "limits":
      return tables.flatMap(({ table, rows }) => rows.map((row) => ({ table, ...row })));
    case "sampling":
    case "conduct": {
      const record = data[sheet.path];
      return record === undefined || Object.keys(record).length === 0 ? [] : [record];
    }
    default:
      return data[sheet.path] ?? [];
  }
}

interface SheetPurpose {
  readonly name: string;
  /** Shows a base and takes no input. */
  readonly reference: boolean;
}

function toSheet(sheet: FormSheet, records: readonly FormRecord[], { name, reference }: SheetPurpose): DescribedSheet {
  const record = sheet.shape === "record";
  const rows: Rows = new Map();
  rows.set(1, new Map([[1, { value: name, style: "title" }]]));
  const instruction = reference
    ? `For comparison only, never read. A row copied from here to the sheet ${sheet.name} becomes part of the new specification.`
    : sheet.instruction;
  rows.set(2, new Map([[1, { value: instruction, style: "instruction" }]]));
  const style = reference ? "shown" : "input";
  if (record) recordRows(sheet, records[0] ?? {}, style, rows);
  else listRows(sheet, records, { style, blank: reference ? 0 : sheet.blank }, rows);
  const columns = record ? 3 : Math.min(sheet.columns.length, 10);
  return {
    name,
    rows,
    widths: record
      ? { [RECORD_COLUMNS.label]: 34, [RECORD_COLUMNS.value]: 36, [RECORD_COLUMNS.hint]: 70 }
      : Object.fromEntries(sheet.columns.map((column, index) => [index + 1, column.width ?? 12])),
    heights: { 1: 22, 2: 44, ...(record ? {} : { 3: 78, [FORM_HEADER_ROW]: 44 }) },
    freezeRows: FORM_HEADER_ROW,
    freezeColumns: record ? 1 : 2,
    merges: [`A2:${columnLetters(columns)}2`],
    ...(reference ? { protect: true } : { validations: validationsOf(sheet, records.length) }),
    print: { paper: "A4", landscape: true, repeatRows: `$${FORM_HEADER_ROW}:$${FORM_HEADER_ROW}` },
  };
}

function recordRows(sheet: FormSheet, record: FormRecord, style: string, rows: Rows): void {
  rows.set(FORM_HEADER_ROW, headerCells(["Field", "Value", "What to write"]));
  sheet.columns.forEach((column, index) => {
    const hint = column.words === undefined ? column.hint : `${column.words.join(", ")}. ${column.hint}`;
    rows.set(
      FORM_HEADER_ROW + 1 + index,
      new Map<number, DescribedCell>([
        [RECORD_COLUMNS.label, { value: column.label, style: "header" }],
        [RECORD_COLUMNS.value, cellOf(record, column, style)],
        [RECORD_COLUMNS.hint, { value: hint, style: "hint" }],
      ]),
    );
  });
}

function listRows(
  sheet: FormSheet,
  records: readonly FormRecord[],
  { style, blank }: { readonly style: string; readonly blank: number },
  rows: Rows,
): void {
  rows.set(3, new Map(sheet.columns.map((column, index) => [index + 1, { value: column.hint, style: "hint" }])));
  rows.set(FORM_HEADER_ROW, headerCells(sheet.columns.map((column) => column.label)));
  [...records, ...Array.from({ length: blank }, (): FormRecord => ({}))].forEach((record, at) => {
    rows.set(FORM_HEADER_ROW + 1 + at, new Map(sheet.columns.map((column, index) => [index + 1, cellOf(record, column, style)])));
  });
}

const headerCells = (labels: readonly string[]): Cells => new Map(labels.map((value, index) => [index + 1, { value, style: "header" }]));

const cellOf = (record: FormRecord, column: FormColumn, style: string): DescribedCell => {
  const value = cellText(record, column);
  return value === "" ? { style } : { value, style };
};

function cellText(record: FormRecord, column: FormColumn): string {
  const value = column.key.split(".").reduce<unknown>((inner, key) => (inner as FormRecord | undefined)?.[key], record);
  if (value === undefined) return "";
  switch (column.kind) {
    case "yes-no":
      return value === true ? "yes" : "no";
    case "list":
      return (value as readonly string[]).map(listItem).join(`${LIST_SEPARATOR} `);
    case "property":
      return splitProperty(String(value)).word;
    case "property-name":
      return splitProperty(String(value)).name;
    default:
      return String(value);
  }
}

function listItem(text: string): string {
  if (text.includes(LIST_SEPARATOR)) throw new RangeError(`"${text}" holds a semicolon, which separates the texts of a list in the form`);
  return text;
}

/** `chemistry:C` is the word `chemistry` and the name `C`. */
function splitProperty(property: string): { readonly word: string; readonly name: string } {
  const colon = property.indexOf(":");
  return colon < 0 ? { word: property, name: "" } : { word: property.slice(0, colon), name: property.slice(colon + 1) };
}

/** Drop-downs of a sheet, over the filled and the blank rows. */
function validationsOf(sheet: FormSheet, filled: number): readonly Validation[] {
  const record = sheet.shape === "record";
  const last = FORM_HEADER_ROW + Math.max(filled + sheet.blank, 1);
  return sheet.columns.flatMap((column, index): Validation[] => {
    const words = column.kind === "yes-no" ? ["yes", "no"] : column.words;
    if (words === undefined) return [];
    const [letter, first, end] = record
      ? [columnLetters(RECORD_COLUMNS.value), FORM_HEADER_ROW + 1 + index, FORM_HEADER_ROW + 1 + index]
      : [columnLetters(index + 1), FORM_HEADER_ROW + 1, last];
    return [
      { range: `${letter}${first}:${letter}${end}`, kind: "list", words, title: column.label, message: `Accepted: ${words.join(", ")}` },
    ];
  });
}
