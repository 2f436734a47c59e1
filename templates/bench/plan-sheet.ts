/** The set-up plan: one line a set-up, in the order that changes the machines least. */
import { HEADER_ROW } from "../../core/entry/index.ts";
import type { SetUp } from "../../core/setup/index.ts";
import type { DescribedCell, DescribedSheet } from "../../core/workbook/index.ts";
import { nominalText } from "../phrases.ts";
import { propertyWord, type Say } from "../wording.ts";
import { type BenchOrder, heightsOf, type Placement, type Rows, rowOfValues, testSheetName } from "./bench-order.ts";
import { type Card, requirementsText } from "./cards.ts";

const WIDTHS = { 1: 7, 2: 18, 3: 16, 4: 11, 5: 8, 6: 62, 7: 24, 8: 20 } as const;

export function planSheet(
  setUps: readonly SetUp[],
  cards: readonly Card[],
  placed: Placement,
  bench: BenchOrder,
  say: Say,
): DescribedSheet {
  const columns = ["card", "test", "item", "wire", "pieces", "setUp", "limit", "rows"] as const;
  const rows: Rows = new Map<number, Map<number, DescribedCell>>([
    [1, new Map([[1, { value: say("bench.plan.title"), style: "title" }]])],
    [2, new Map([[1, { value: say("bench.plan.intro"), style: "note" }]])],
    [
      HEADER_ROW,
      rowOfValues(
        columns.map((name) => say(`bench.plan.${name}`)),
        "header",
      ),
    ],
  ]);
  setUps.forEach((setUp, i) => {
    const at = placed.rowsOf(setUp);
    const card = cards[i];
    const impossible = card === undefined || card.problems.length === 0 ? "" : `✕ ${say("card.problem")}: ${card.problems.join("; ")}. `;
    const line = rowOfValues(
      [
        i + 1,
        propertyWord(say, setUp.property),
        `${setUp.order} / ${setUp.item}`,
        nominalText(say, setUp.nominal),
        new Set(setUp.pieces.map((piece) => piece.testPiece)).size,
        `${impossible}${card?.brief ?? ""}`,
        requirementsText(setUp, say),
        "",
      ],
      impossible === "" ? "text" : "strong",
    );
    if (at !== undefined) {
      const sheet = testSheetName(setUp.sheet, say);
      const shown = `${sheet} ${at.first === at.last ? at.first : `${at.first}–${at.last}`}`;
      line.set(8, { formula: `HYPERLINK("#'${sheet}'!A${at.first}","${shown}")`, value: shown, style: "text" });
    }
    rows.set(HEADER_ROW + 1 + i, line);
  });
  const name = say("bench.sheet.plan");
  return {
    name,
    rows,
    widths: WIDTHS,
    heights: heightsOf(rows, WIDTHS),
    freezeRows: HEADER_ROW,
    print: { paper: bench.paper, landscape: true, repeatRows: `$${HEADER_ROW}:$${HEADER_ROW}`, footer: `${bench.labName} · ${name}` },
  };
}
