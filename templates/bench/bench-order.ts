/** What a bench workbook is made from, and where its pieces stand. */
import { ENTRY_SHEETS, type EntrySheet, HEADER_ROW, type Registers, sheetNameOf } from "../../core/entry/index.ts";
import type { SpecificationLibrary, TestSheet, UnitSystem } from "../../core/model.ts";
import type { Piece, SetUp, Tester } from "../../core/setup/index.ts";
import type { DescribedCell } from "../../core/workbook/index.ts";
import type { Say } from "../wording.ts";

export interface BenchOrder extends Registers {
  readonly library: SpecificationLibrary;
  readonly units: UnitSystem;
  readonly language: string;
  readonly paper: "A4" | "Letter";
  readonly labName: string;
  readonly testers: readonly Tester[];
  /** The lab's day, `YYYY-MM-DD`. */
  readonly today: string;
  /** Share, "0.01". */
  readonly freeLengthTolerance: string;
  /** Lines of a first sheet for a newcomer. */
  readonly startHere?: readonly string[];
}

export type Rows = Map<number, Map<number, DescribedCell>>;

export interface PlacedPiece extends Piece {
  readonly row: number;
}

/** Rows without a piece behind the prepared ones, with the same live formulas, for repeats, retests and the next coils. */
export const SPARE_ROWS = 50;

export const TEST_SHEETS: readonly TestSheet[] = [
  "diameter",
  "tensile",
  "torsion",
  "wrap",
  "coiling",
  "reverse-bend",
  "coating-mass",
  "other",
];

export const isTest = (sheet: EntrySheet): boolean => (TEST_SHEETS as readonly string[]).includes(sheet.sheet);

/** Rows of the pieces by sheet and name. */
export class Placement {
  readonly sheets = new Map<TestSheet, PlacedPiece[]>();
  readonly #rows = new Map<string, number>();

  /** One row a piece and sheet, in the order of the set-ups: diameter and out of round share theirs, as do strength and elongation. */
  constructor(setUps: readonly SetUp[]) {
    for (const { sheet, pieces } of setUps) {
      const list = this.sheets.get(sheet) ?? [];
      this.sheets.set(sheet, list);
      for (const piece of pieces) {
        const key = `${sheet}\u0000${piece.testPiece}`;
        if (this.#rows.has(key)) continue;
        const row = HEADER_ROW + 1 + list.length;
        this.#rows.set(key, row);
        list.push({ ...piece, row });
      }
    }
  }

  rowOf(sheet: TestSheet, testPiece: string): number | undefined {
    return this.#rows.get(`${sheet}\u0000${testPiece}`);
  }

  /** First and last row of the pieces of a set-up; undefined where it has none. */
  rowsOf({ sheet, pieces }: SetUp): { first: number; last: number } | undefined {
    const rows = pieces.flatMap((piece) => this.rowOf(sheet, piece.testPiece) ?? []);
    return rows.length === 0 ? undefined : { first: rows.reduce((a, b) => Math.min(a, b)), last: rows.reduce((a, b) => Math.max(a, b)) };
  }
}

/** The name of a test sheet in the language. */
export const testSheetName = (sheet: TestSheet, say: Say): string =>
  sheetNameOf(ENTRY_SHEETS.find((s) => s.sheet === sheet) as EntrySheet, say.language);

export const rowOfValues = (values: readonly (string | number)[], style: string): Map<number, DescribedCell> =>
  new Map(values.map((value, i) => [i + 1, { value, style }]));

const LINE = 13.5;
/** Of the title in the first row of a sheet, points. */
export const TITLE_HEIGHT = 20;

/** Height in points of a row whose texts wrap: not every program grows a row by itself. Widths in characters, by column from 1. */
function rowHeight(cells: ReadonlyMap<number, DescribedCell>, widths: Readonly<Record<number, number>>): number {
  let lines = 1;
  for (const [column, { value }] of cells)
    if (typeof value === "string") lines = Math.max(lines, Math.ceil(value.length / Math.max(1, (widths[column] ?? 10) * WRAP_SHARE)));
  return LINE * lines + 1.5;
}
/** Words break before the end of a line. */
const WRAP_SHARE = 0.92;

/** Heights of the rows from the header on; a text that spans several columns (the others empty) has room enough. */
export function heightsOf(
  rows: ReadonlyMap<number, ReadonlyMap<number, DescribedCell>>,
  widths: Readonly<Record<number, number>>,
): Record<number, number> {
  const own = [...rows].filter(([row, cells]) => row >= HEADER_ROW && cells.get(3)?.style !== "label");
  return { 1: TITLE_HEIGHT, ...Object.fromEntries(own.map(([row, cells]) => [row, rowHeight(cells, widths)])) };
}
