/** What a card says in worked-out figures. Equipment and orders are invented; the rules are those of the set-up plan's own tests. */
import { describe, expect, it } from "vitest";
import type { Tester } from "../../core/setup/index.ts";
import { type Card, toCard } from "../../templates/bench/cards.ts";
import { words } from "../../templates/wording.ts";
import { type Asked, m, plan, setUpOf } from "../core/setup/plans.ts";

const T152: Tester = {
  name: "T152",
  kind: "torsion",
  freeLengthMin: m("152 mm"),
  freeLengthMax: m("300 mm"),
  speedMax: "40",
  hanger: { name: "hanger", mass: m("0.5 kg") },
  weights: [{ name: "W2", mass: m("2 kg") }],
};
const linesOf = ({ lines }: Card): readonly string[] => lines.map(({ label, text }) => `${label}: ${text}`);
const card = (asked: Asked, property = "torsion", language = "en"): Card => toCard(setUpOf(property, asked), 1, undefined, words(language));

describe("a card", () => {
  it.each([
    {
      language: "en",
      said: "Free length: 152 mm between the jaws, the nearest to 100 mm; in proportion 24.32 turns, so at least 25 whole turns",
      count: "Count: whole turns; 25 and three quarters is 25",
    },
    {
      language: "de",
      said: "Freie Länge: 152 mm zwischen den Klemmen, am nächsten an 100 mm; im Verhältnis 24,32 Umdrehungen, also mindestens 25 ganze",
      count: "Zählen: ganze Umdrehungen; 25 und drei Viertel ist 25",
    },
  ])("shows the scaled requirement in $language", ({ language, said, count }) => {
    // 16 x 152 / 100 = 24.32 (worked by hand).
    const lines = linesOf(card({ specification: "SCALE 1", grade: "A", diameter: "1.00 mm", testers: [T152] }, "torsion", language));
    expect(lines).toContain(said);
    expect(lines).toContain(count);
  });

  it("names weights that stay below the band, and what the machine turns at most", () => {
    const lines = linesOf(card({ specification: "EN 10270-1", grade: "SH", diameter: "2.00 mm", testers: [T152] }));
    expect(lines).toContain("Weights: hanger + W2 = 2.5 kg, the nearest below the band of 6.34 kg to 12.7 kg");
    expect(lines).toContain("Speed: at most 60 r/min; this machine turns at most 40 r/min");
    expect(lines.some((line) => line.startsWith("Run: one direction, without a stop, to the break"))).toBe(true);
  });

  it.each([
    {
      conditions: "forwardTurns 3; reverseTurns 3; cycles 4",
      programme: "3 turns forward, then 3 back, 4 times",
      counter: "the counter adds both directions: 6 a cycle, 24 after the last",
      counts: "turns of both directions count",
    },
    {
      conditions: "forwardTurns 3; reverseTurns 2; counts cycles",
      programme: "3 turns forward, then 2 back, again and again to the break",
      counter: "the counter adds both directions: 5 a cycle",
      counts: "whole cycles count",
    },
    {
      conditions: "forwardTurns 10; counts reverse",
      programme: "10 turns forward, then back to the break",
      counts: "only the turns back count; note both",
    },
  ])("explains the programme $conditions", ({ conditions, programme, counter, counts }) => {
    const agreed = [{ property: "torsion", min: 4, conditions: `freeLength 200 mm; ${conditions}`, agreedIn: "letter" }];
    const setUp = plan({ specification: "EN 10270-1", grade: "SH", diameter: "2.00 mm", agreed }).find((s) => s.programme !== undefined);
    if (setUp === undefined) throw new Error("no set-up with a programme");
    const texts = toCard(setUp, 1, undefined, words("en")).lines.map(({ text }) => text);
    expect(texts).toContain(programme);
    expect(texts).toContain(counts);
    if (counter !== undefined) expect(texts).toContain(counter);
    // A programme is not run in one direction.
    expect(texts.join(" ")).not.toContain("one direction");
  });

  it("puts what cannot be done before everything else, with what would help", () => {
    const { lines, problems } = card({ specification: "EN 10270-1", grade: "SH", diameter: "1.00 mm", testers: [T152] });
    expect(lines.slice(0, 3).map(({ kind }) => kind)).toEqual(["problem", "problem", "problem"]);
    expect(problems).toEqual([
      "T152 ends at 152 mm between the jaws; 100 mm is required and may not be scaled. What would help: a tester that holds 100 mm between the jaws",
    ]);
  });

  it("gives every blank the code of its row", () => {
    const setUp = setUpOf("torsion", { specification: "EN 10270-1", grade: "SH", diameter: "2.00 mm", coils: 2 });
    const rows = { sheet: "Torsion", first: 5, last: 6, rowOf: (piece: string) => (piece === "K1-T1" ? 5 : 6) };
    const made = toCard(setUp, 1, rows, words("en"));
    expect(made.pieces).toEqual([
      { name: "K1-T1", code: "Torsion 5" },
      { name: "K2-T1", code: "Torsion 6" },
    ]);
    expect(linesOf(made)).toContain("Write into: sheet Torsion, rows 5 to 6 · P1-1-torsion");
  });
});
