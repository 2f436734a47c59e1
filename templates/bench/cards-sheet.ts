/** The cards, a printed page each. */
import type { DescribedSheet } from "../../core/workbook/index.ts";
import type { Say } from "../wording.ts";
import type { BenchOrder, Rows } from "./bench-order.ts";
import type { Card, CardLine } from "./cards.ts";

/** Widths in characters: row code, piece, reading, break, tester, date. They fill the width of A4 and of Letter. */
const WIDTHS = [18, 18, 18, 14, 14, 13] as const;
const COLUMNS = WIDTHS.map((_, i) => i + 1);
/** Characters of the proportional type that fit a line of the text columns; on the safe side. */
const LINE_CHARACTERS = 76;
const LINE_HEIGHT = 13.5;
const BLANK_HEIGHT = 19;
/** Height of a card in points that still prints on one page of Letter, the shorter of the two papers. */
const PAGE_HEIGHT = 690;
const FEWEST_BLANKS = 3;
/** Lines for a card without a piece yet. */
const USUAL_BLANKS = 6;

export function cardsSheet(cards: readonly Card[], bench: BenchOrder, say: Say): DescribedSheet {
  const rows: Rows = new Map();
  const merges: string[] = [];
  const breaks: number[] = [];
  const heights: Record<number, number> = {};
  let at = 0;
  let used = 0;
  const add = (values: readonly string[], style: string | readonly string[], height: number): void => {
    at += 1;
    used += height;
    heights[at] = height;
    rows.set(
      at,
      new Map(COLUMNS.map((c) => [c, { value: values[c - 1] ?? "", style: typeof style === "string" ? style : (style[c - 1] ?? "box") }])),
    );
  };
  for (const card of cards) {
    used = 0;
    add([card.title], "cardTitle", 20);
    merges.push(`A${at}:F${at}`);
    let lastLabel = "";
    for (const line of card.lines) {
      const label = line.label === lastLabel ? "" : line.label;
      // A merged cell does not grow by itself, so its height is counted from the length of its text.
      const lines = Math.max(1, Math.ceil(line.text.length / LINE_CHARACTERS), Math.ceil(label.length / (WIDTHS[0] - 1)));
      add([label, line.text], ["label", ...COLUMNS.slice(1).map(() => STYLE_OF[line.kind])], LINE_HEIGHT * lines + 1.5);
      merges.push(`B${at}:F${at}`);
      lastLabel = line.label;
    }
    const room = Math.floor((PAGE_HEIGHT - used - 2 * 28) / BLANK_HEIGHT);
    const blanks = Math.max(FEWEST_BLANKS, Math.min(room, Math.max(USUAL_BLANKS, card.pieces.length)));
    const more = card.pieces.length - blanks;
    add([more > 0 ? say("card.blank.more", { more }) : say("card.blank")], "note", 15);
    add(
      ["row", "piece", "reading", "break", "tester", "date"].map((name) => say(`card.blank.${name}`)),
      "header",
      15,
    );
    for (let i = 0; i < blanks; i += 1) add([card.pieces[i]?.code ?? "", card.pieces[i]?.name ?? ""], "box", BLANK_HEIGHT);
    breaks.push(at);
  }
  const name = say("bench.sheet.cards");
  return {
    name,
    rows,
    merges,
    heights,
    widths: Object.fromEntries(WIDTHS.map((width, i) => [i + 1, width])),
    // A break behind the last card would print an empty page.
    print: { paper: bench.paper, footer: `${bench.labName} · ${name}`, breaks: breaks.slice(0, -1) },
  };
}

const STYLE_OF: Readonly<Record<CardLine["kind"], string>> = { fact: "text", caution: "caution", problem: "strong" };
