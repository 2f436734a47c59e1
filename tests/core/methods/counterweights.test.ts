/** Choosing weights: the contract's rules, and every choice counted out for small shelves. */
import fc from "fast-check";
import { describe, expect, test } from "vitest";
import { ask, codeOf } from "../calc/answers.ts";

const kg = (value: number): object => ({ value, unit: "kg" });

describe("counterweights (invented shelves)", () => {
  test.for([
    // input, answer, why
    [{ min: "6 kg", max: "7 kg", weights: ["5 kg", "2 kg", "1 kg"] }, { chosen: [kg(5), kg(1)], total: kg(6) }, "fewest, then least"],
    [{ max: "10 kg", weights: ["5 kg", "2 kg"] }, { chosen: [kg(5)], total: kg(5) }, "without min half of max, edge included"],
    [{ max: "9 kg", weights: ["5 kg", "2 kg"], hanger: "500 g" }, { chosen: [kg(5)], total: kg(5.5) }, "the hanger counts"],
    [{ max: "1 kg", weights: [], hanger: "600 g" }, { chosen: [], total: kg(0.6) }, "the hanger alone is enough"],
    [{ min: "20 kg", max: "21 kg", weights: ["2 kg", "1 kg"], ratio: 10 }, { chosen: [kg(2)], total: kg(2) }, "the ratio acts on the wire"],
    [{ min: "3 kg", max: "3 kg", weights: ["1 kg", "1 kg", "1 kg"] }, { chosen: [kg(1), kg(1), kg(1)], total: kg(3) }, "two alike are two"],
    [{ min: "0.3 kg", max: "0.3 kg", weights: ["0.1 kg", "0.2 kg"] }, { chosen: [kg(0.1), kg(0.2)], total: kg(0.3) }, "exact sums"],
    [
      { min: "1 lb", max: "2 lb", weights: ["100 g", "450 g"], ratio: "2" },
      { chosen: [{ value: 450, unit: "g" }] },
      "units mix; chosen weights keep theirs",
    ],
  ] as const)("%j gives %j (%s)", ([input, answer]) => {
    expect(ask("counterweights", input)).toMatchObject(answer);
  });

  test.for([
    [{ min: "3 kg", max: "3.5 kg", weights: ["2 kg"] }, "no-combination", "each weight is used once"],
    [{ max: "1 kg", weights: ["1 kg"], hanger: "2 kg" }, "no-combination", "the hanger is too heavy"],
    [{ min: "3 kg", max: "2 kg", weights: ["2 kg"] }, "wrong-input", "min above max"],
    [{ min: "1 kg", weights: ["2 kg"] }, "wrong-input", "max is missing"],
    [{ max: "2 kg", weights: ["0 kg"] }, "wrong-input", "a weight of zero"],
    [{ max: "2 kg", weights: "1 kg" }, "wrong-input", "weights is a list"],
    [{ max: "2 kg", weights: ["1 kg"], ratio: 0 }, "wrong-input", "a ratio of zero"],
  ] as const)("%j: %s (%s)", ([input, code]) => {
    expect(codeOf("counterweights", input)).toBe(code);
  });

  test("as few, then as light, as any of all choices", () => {
    const mass = fc.integer({ min: 1, max: 60 });
    fc.assert(
      fc.property(
        fc.array(mass, { maxLength: 9 }),
        fc.nat(40),
        fc.nat(200),
        fc.integer({ min: 1, max: 40 }),
        (shelf, hanger, low, width) => {
          const [min, max] = [low, low + width];
          let best: readonly [number, number] | undefined;
          for (let choice = 0; choice < 2 ** shelf.length; choice += 1) {
            const used = shelf.filter((_, index) => (choice >> index) & 1);
            const total = used.reduce((sum, each) => sum + each, hanger);
            if (total < min || total > max) continue;
            if (best === undefined || used.length < best[0] || (used.length === best[0] && total < best[1])) best = [used.length, total];
          }
          const grams = (value: number): string => `${value} g`;
          const answer = ask("counterweights", { min: grams(min), max: grams(max), hanger: grams(hanger), weights: shelf.map(grams) });
          if (best === undefined) expect(answer).toMatchObject({ error: { code: "no-combination" } });
          else expect([(answer["chosen"] as unknown[]).length, answer["total"]]).toEqual([best[0], { value: best[1], unit: "g" }]);
        },
      ),
      { seed: 20_210, numRuns: 400 },
    );
  });

  test("shelves of many weights end: round ones without a choice, odd ones with few", () => {
    const round = Array.from({ length: 40 }, (_, index) => `${(index % 20) * 20 + 20} g`);
    expect(codeOf("counterweights", { min: "4001 g", max: "4019 g", weights: round })).toBe("no-combination");
    // 15 of these make at most 24600 g, so 16 and the small one are the fewest; no 16 of the round ones hit the band.
    const many = Array.from({ length: 40 }, (_, index) => `${1000 + 20 * index} g`);
    const answer = ask("counterweights", { min: "25001 g", max: "25019 g", weights: [...many, "5 g"] });
    expect(answer["chosen"]).toHaveLength(17);
    expect(answer["total"]).toEqual({ value: 25005, unit: "g" });
    const odd = Array.from({ length: 30 }, (_, index) => `${137 + ((index * 7919) % 5000)}.${1000 + index * 31} g`);
    expect(ask("counterweights", { max: "20 kg", weights: odd })["chosen"]).toHaveLength(3);
  });
});
