/** A form as a person fills it: cells by label, apart from the product's own list of columns. */
import { expect } from "vitest";
import { columnLetters, type DescribedCell, type DescribedSheet, readWorkbook, writeWorkbook } from "../../../core/workbook/index.ts";

export type Typed = string | number | boolean | DescribedCell;
/** Of a record sheet one line `[label, value]` a field, of a list sheet objects by label. */
export interface Filled {
  readonly [sheet: string]: Readonly<Record<string, Typed>> | readonly Readonly<Record<string, Typed>>[];
}

const STYLES = { plain: {}, day: { format: "yyyy-mm-dd" }, percent: { format: "0%" } };
const cell = (typed: Typed): DescribedCell => (typeof typed === "object" ? typed : { value: typed });

/** A workbook with these sheets only: fields of a record from row 5, labels of a list in row 4 and its rows below. */
export function filledForm(filled: Filled): Uint8Array {
  const sheets = Object.entries(filled).map(([name, content]): DescribedSheet => {
    const rows = new Map<number, Map<number, DescribedCell>>();
    if (Array.isArray(content)) {
      const labels = [...new Set(content.flatMap((row) => Object.keys(row)))];
      rows.set(4, new Map(labels.map((label, index) => [index + 1, { value: label }])));
      content.forEach((row, at) => {
        rows.set(5 + at, new Map(labels.flatMap((label, index) => (row[label] === undefined ? [] : [[index + 1, cell(row[label])]]))));
      });
    } else
      Object.entries(content).forEach(([label, value], at) => {
        rows.set(
          5 + at,
          new Map([
            [1, { value: label }],
            [2, cell(value)],
          ]),
        );
      });
    return { name, rows };
  });
  return writeWorkbook({ styles: STYLES, sheets });
}

/** The address of a label's value: beside it on a record sheet, below it on a list sheet. */
export function addressOf(book: Uint8Array, sheet: string, label: string, row?: number): string {
  const read = readWorkbook(book);
  if (!read.ok) throw new Error(read.refusal.text);
  const cells = [...(read.workbook.sheets.find((s) => s.name === sheet)?.rows.values() ?? [])].flat();
  const found = cells.find((candidate) => candidate.raw === label);
  expect(found, `${sheet}: no label ${label}`).toBeDefined();
  return row === undefined ? `B${found?.row}` : `${columnLetters(found?.column ?? 1)}${row}`;
}
