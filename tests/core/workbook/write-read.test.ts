import fc from "fast-check";
import { expect, test } from "vitest";
import { annotateWorkbook, columnLetters, type DescribedCell, writeWorkbook } from "../../../core/workbook/index.ts";
import { read } from "./small-book.ts";

/** What XML 1.0 or the cell cannot hold as it is: half pairs become a replacement mark, and so do both halves of nothing. */
const asStored = (text: string): string => Buffer.from(text, "utf8").toString("utf8");

const text = fc.oneof(
  fc.string({ unit: "binary", maxLength: 30 }),
  fc.string({ unit: "grapheme-composite", maxLength: 30 }),
  fc.constantFrom(
    "=1+1",
    "_x000D_",
    "_x005F_x0041_",
    "\r\n",
    "\t",
    " lead",
    "trail ",
    "]]>",
    "<a>&amp;",
    "\u0000",
    "\ufffe",
    "\ud800",
    "0012",
    "1e3",
  ),
);
const value = fc.oneof(text, fc.double({ noNaN: true, noDefaultInfinity: true }), fc.integer());
const position = fc.record({ row: fc.integer({ min: 1, max: 1_048_576 }), column: fc.integer({ min: 1, max: 16_384 }) });
const filled = fc.array(fc.tuple(position, value, fc.constantFrom(undefined, "a", "b")), { maxLength: 30 });

function described(cells: readonly (readonly [{ row: number; column: number }, string | number, string | undefined])[]) {
  const rows = new Map<number, Map<number, DescribedCell>>();
  for (const [{ row, column }, value, style] of cells) {
    const list = rows.get(row) ?? new Map<number, DescribedCell>();
    rows.set(row, list.set(column, { value, ...(style === undefined ? {} : { style }) }));
  }
  return rows;
}

const STYLES = { a: { format: "0.00" }, b: { format: '"<&" yyyy-mm-dd', bold: true } };

/** Reference, kind, text and format of every cell that holds something, in order. */
const expected = (rows: ReadonlyMap<number, ReadonlyMap<number, DescribedCell>>) =>
  [...rows]
    .sort(([a], [b]) => a - b)
    .flatMap(([row, cells]) =>
      [...cells]
        .sort(([a], [b]) => a - b)
        .filter(([, cell]) => cell.value !== "")
        .map(([column, { value, style }]) => ({
          cell: `${columnLetters(column)}${row}`,
          type: typeof value === "number" ? "number" : "text",
          raw: typeof value === "number" ? (Object.is(value, -0) ? "0" : String(value)) : asStored(String(value ?? "")),
          format: style === undefined ? undefined : STYLES[style as "a" | "b"].format,
        })),
    );

const found = (bytes: Uint8Array, sheet: number) =>
  [...(read(bytes).sheets[sheet]?.rows.values() ?? [])].flat().map(({ cell, type, raw, format }) => ({ cell, type, raw, format }));

test("what is written is read again: every cell, its text to the character, its number to the digit, its format", () => {
  fc.assert(
    fc.property(filled, filled, (one, two) => {
      const sheets = [described(one), described(two)];
      const bytes = writeWorkbook({ styles: STYLES, sheets: sheets.map((rows, i) => ({ name: `S<&'"${i}`, rows })) });
      expect(read(bytes).sheets.map((s) => s.name)).toEqual(["S<&'\"0", "S<&'\"1"]);
      sheets.forEach((rows, i) => {
        expect(found(bytes, i)).toEqual(expected(rows));
      });
    }),
    { numRuns: 400 },
  );
});

test("the same description gives the same bytes", () => {
  fc.assert(
    fc.property(filled, (cells) => {
      const book = { styles: STYLES, sheets: [{ name: "S", rows: described(cells) }] };
      expect(Buffer.from(writeWorkbook(book)).equals(Buffer.from(writeWorkbook(book)))).toBe(true);
    }),
    { numRuns: 30 },
  );
});

test("annotating changes no cell that was there, and a second time changes nothing at all", () => {
  const within = fc.record({ row: fc.integer({ min: 1, max: 40 }), column: fc.integer({ min: 1, max: 12 }) });
  const cells = fc.array(fc.tuple(within, value, fc.constantFrom(undefined, "a", "b")), { minLength: 1, maxLength: 30 });
  fc.assert(
    fc.property(cells, fc.dictionary(fc.integer({ min: 2, max: 40 }).map(String), text), (given, marks) => {
      const rows = described(given);
      rows.set(1, (rows.get(1) ?? new Map<number, DescribedCell>()).set(1, { value: "head" }));
      const bytes = writeWorkbook({ styles: STYLES, sheets: [{ name: "S", rows }] });
      const last = Math.max(...[...rows.values()].flatMap((r) => [...r.keys()]));
      const column = {
        header: "Verdict",
        width: 10,
        cells: new Map(Object.entries(marks).map(([row, mark]) => [Number(row), { text: mark, style: "plain" as const }])),
      };
      const findings = { name: "Findings", rows: [["Severity"]], widths: [10] };
      const once = annotateWorkbook(bytes, { sheets: [{ name: "S", headerRow: 1, columns: [column] }], findings });
      const isMark = (c: { cell: string }): boolean => c.cell.replace(/\d+/, "") === columnLetters(last + 1);
      const after = found(once, 0);
      expect(after.filter((c) => !isMark(c))).toEqual(expected(rows));
      const marked = after.filter(isMark);
      expect(marked.map((c) => c.raw)).toEqual([
        "Verdict",
        ...Object.entries(marks)
          .filter(([row, mark]) => rows.has(Number(row)) && mark !== "")
          .sort(([a], [b]) => Number(a) - Number(b))
          .map(([, mark]) => asStored(mark)),
      ]);
      const again = annotateWorkbook(once, { sheets: [{ name: "S", headerRow: 1, columns: [{ ...column, column: last + 1 }] }], findings });
      expect(Buffer.from(again).equals(Buffer.from(once))).toBe(true);
    }),
    { numRuns: 200 },
  );
});
