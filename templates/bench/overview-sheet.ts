/** A provisional line a coil, from the live verdicts of the test sheets. */
import { ENTRY_SHEETS, HEADER_ROW } from "../../core/entry/index.ts";
import type { TestSheet } from "../../core/model.ts";
import { columnLetters, type DescribedCell, type DescribedSheet } from "../../core/workbook/index.ts";
import type { Say } from "../wording.ts";
import { type BenchOrder, type Placement, type Rows, rowOfValues, SPARE_ROWS, TITLE_HEIGHT, testSheetName } from "./bench-order.ts";

/** Coils times rows that a spreadsheet program still recalculates while somebody types. */
const MOST_COMPARISONS = 2_000_000;

export function overviewSheet(placed: Placement, bench: BenchOrder, say: Say): DescribedSheet {
  const tests = [...placed.sheets].filter(([sheet]) => sheet !== "other");
  const rows: Rows = new Map<number, Map<number, DescribedCell>>([
    [1, new Map([[1, { value: say("bench.overview.title"), style: "title" }]])],
    [2, new Map([[1, { value: say("bench.overview.intro"), style: "note" }]])],
  ]);
  const comparisons = tests.reduce((sum, [, pieces]) => sum + bench.coils.length * (pieces.length + SPARE_ROWS), 0);
  const name = say("bench.sheet.overview");
  const last = HEADER_ROW + bench.coils.length;
  if (comparisons > MOST_COMPARISONS) rows.set(3, new Map([[1, { value: say("bench.overview.left-out"), style: "note" }]]));
  else fill(rows, tests, bench, say);
  const letters = columnLetters(tests.length + 4);
  return {
    name,
    rows,
    widths: { 1: 16, 2: 18, ...Object.fromEntries(tests.map((_, i) => [i + 3, 18])), [tests.length + 3]: 18, [tests.length + 4]: 10 },
    heights: { 1: TITLE_HEIGHT, [HEADER_ROW]: 30 },
    freezeRows: HEADER_ROW,
    freezeColumns: 1,
    conditions: words(`C${HEADER_ROW + 1}:${columnLetters(tests.length + 3)}${Math.max(last, HEADER_ROW + 1)}`, say),
    protect: true,
    ...(comparisons > MOST_COMPARISONS ? {} : { filter: `A${HEADER_ROW}:${letters}${Math.max(last, HEADER_ROW + 1)}` }),
    print: { paper: bench.paper, landscape: true, repeatRows: `$${HEADER_ROW}:$${HEADER_ROW}`, footer: `${bench.labName} · ${name}` },
  };
}

function fill(
  rows: Rows,
  tests: readonly (readonly [TestSheet, readonly { readonly coil: string }[]])[],
  bench: BenchOrder,
  say: Say,
): void {
  const heads = [
    say("bench.overview.coil"),
    say("bench.overview.item"),
    ...tests.map(([sheet]) => testSheetName(sheet, say)),
    say("bench.overview.all"),
    say("bench.overview.open"),
  ];
  rows.set(HEADER_ROW, rowOfValues(heads, "header"));
  bench.coils.forEach((coil, i) => {
    const row = HEADER_ROW + 1 + i;
    const cells = rowOfValues([coil.coil, `${coil.order} / ${coil.item}`], "text");
    const open: string[] = [];
    tests.forEach(([sheet, pieces], t) => {
      const needed = pieces.filter((piece) => piece.coil === coil.coil).length;
      const count = counted(sheet, pieces.length + SPARE_ROWS, row, say);
      const [fails, passes, voids] = (["does-not-conform", "conforms", "void"] as const).map((code) => count(code)) as [
        string,
        string,
        string,
      ];
      const done = needed === 0 ? `${passes}>0` : `${passes}>=${needed}`;
      const formula = `IF(${fails}>0,"does-not-conform",IF(${done},"conforms",IF(${voids}>0,"void","")))`;
      cells.set(t + 3, { formula, value: "", style: "text" });
      if (needed > 0) open.push(`IF(${columnLetters(t + 3)}${row}="does-not-conform",0,MAX(0,${needed}-${passes}))`);
    });
    const range = `$C${row}:$${columnLetters(tests.length + 2)}${row}`;
    const openCell = `$${columnLetters(tests.length + 4)}${row}`;
    // Where the sampling rule asks nothing of a coil, its test unit answers for it, and that is not for a cell to say.
    const all = `IF(COUNTIF(${range},"does-not-conform")>0,"does-not-conform",IF(AND(${openCell}=0,COUNTIF(${range},"conforms")>0),"conforms",""))`;
    cells.set(tests.length + 3, { formula: tests.length === 0 ? '""' : all, value: "", style: "strong" });
    const asked = tests.reduce((sum, [, pieces]) => sum + pieces.filter((piece) => piece.coil === coil.coil).length, 0);
    cells.set(tests.length + 4, { formula: open.length === 0 ? "0" : open.join("+"), value: asked, style: "text" });
    rows.set(row, cells);
  });
}

/**
 * Rows of a sheet with the coil of this line and one preview. Names are compared as text, so that 0012 is not 12. A returned copy holds
 * words behind a mark instead of the codes; both are counted.
 */
function counted(sheet: TestSheet, count: number, row: number, say: Say): (code: "conforms" | "does-not-conform" | "void") => string {
  const columns = ENTRY_SHEETS.find((s) => s.sheet === sheet)?.columns ?? [];
  const [first, last] = [HEADER_ROW + 1, HEADER_ROW + count];
  const range = (field: string): string => {
    const letter = columnLetters(columns.findIndex((column) => column.field === field) + 1);
    return `'${testSheetName(sheet, say)}'!$${letter}$${first}:$${letter}$${last}`;
  };
  const marks = {
    conforms: `■ ${say("verdict.conforms")}`,
    "does-not-conform": `✕ ${say("verdict.does-not-conform")}`,
    void: `– ${say("row.void")}`,
  } as const;
  return (code) => {
    const verdict = range("verdict");
    return `SUMPRODUCT((${range("coil")}=$A${row})*((${verdict}="${code}")+(${verdict}="${marks[code]}")))`;
  };
}

function words(range: string, say: Say): NonNullable<DescribedSheet["conditions"]> {
  const corner = range.split(":")[0] ?? "A1";
  return [
    { range, formula: `${corner}="does-not-conform"`, style: "strong", show: `✕ ${say("verdict.does-not-conform")}` },
    { range, formula: `${corner}="void"`, style: "pale", show: `– ${say("row.void")}` },
    { range, formula: `${corner}="conforms"`, style: "none", show: `■ ${say("verdict.conforms")}` },
  ];
}
