/** The cut list: end by end of each coil, with the places along the wire, what to take off and what to keep in reserve. */
import { HEADER_ROW } from "../../core/entry/index.ts";
import { cutList, type EndCuts, type SetUp } from "../../core/setup/index.ts";
import type { DescribedCell, DescribedSheet } from "../../core/workbook/index.ts";
import { measureText } from "../phrases.ts";
import { propertyWord, type Say } from "../wording.ts";
import { type BenchOrder, heightsOf, type Placement, type Rows, rowOfValues, testSheetName } from "./bench-order.ts";

const WIDTHS = { 1: 14, 2: 10, 3: 20, 4: 30, 5: 14, 6: 26, 7: 18, 8: 8 } as const;

export function cutSheet(setUps: readonly SetUp[], placed: Placement, bench: BenchOrder, say: Say): DescribedSheet {
  const columns = ["coil", "end", "piece", "test", "place", "length", "row", "done"] as const;
  const rows: Rows = new Map<number, Map<number, DescribedCell>>([
    [1, new Map([[1, { value: say("bench.cut.title"), style: "title" }]])],
    [2, new Map([[1, { value: `${say("bench.cut.intro")} ${say("caution.strap")}`, style: "note" }]])],
    [
      HEADER_ROW,
      rowOfValues(
        columns.map((name) => say(`bench.cut.${name}`)),
        "header",
      ),
    ],
  ]);
  const cardOf = new Map(setUps.map((setUp, i) => [setUp, i + 1]));
  let at = HEADER_ROW + 1;
  const add = (values: readonly (string | number)[], style: string): void => {
    rows.set(at, rowOfValues(values, style));
    at += 1;
  };
  for (const cuts of cutList(
    setUps,
    bench.coils.map((coil) => coil.coil),
  )) {
    const end = say(`bench.end.${cuts.end ?? "any"}`);
    for (const { setUp, piece, from } of cuts.cuts)
      add(
        [
          piece.coil,
          end,
          piece.testPiece,
          propertyWord(say, setUp.property),
          from === undefined ? "" : measureText(say, from),
          lengthText(setUp, cardOf.get(setUp) ?? 0, say),
          `${testSheetName(setUp.sheet, say)} ${placed.rowOf(setUp.sheet, piece.testPiece) ?? ""}`,
          "",
        ],
        setUp.problems.length > 0 ? "strong" : "text",
      );
    for (const { setUp, pieces } of cuts.spares) {
      const text = say("bench.cut.spare", { count: pieces, test: propertyWord(say, setUp.property) });
      add([cuts.coil, end, "", text, "", setUp.cutLength === undefined ? "" : measureText(say, setUp.cutLength), "", ""], "caution");
    }
    add([cuts.coil, end, totalText(cuts, say), "", "", "", "", ""], "label");
  }
  const name = say("bench.sheet.cut");
  return {
    name,
    rows,
    merges: [...rows].filter(([, cells]) => cells.get(3)?.style === "label").map(([row]) => `C${row}:H${row}`),
    widths: WIDTHS,
    heights: heightsOf(rows, WIDTHS),
    freezeRows: HEADER_ROW,
    print: { paper: bench.paper, repeatRows: `$${HEADER_ROW}:$${HEADER_ROW}`, footer: `${bench.labName} · ${name}` },
  };
}

function lengthText({ problems, sheet, cutLength }: SetUp, card: number, say: Say): string {
  if (problems.length > 0) return say("bench.cut.wait", { card });
  if (sheet === "diameter") return say("bench.cut.on-end");
  return cutLength === undefined ? say("bench.cut.by-machine") : measureText(say, cutLength);
}

function totalText({ takeOff, withSpares, withoutLength, spares }: EndCuts, say: Say): string {
  const length = measureText(say, takeOff);
  const text =
    spares.length === 0
      ? say("bench.cut.total-plain", { length })
      : say("bench.cut.total", { length, spare: measureText(say, withSpares) });
  return withoutLength === 0 ? text : say("bench.cut.plus", { text, count: withoutLength });
}
