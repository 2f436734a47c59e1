/** Rounding and scaling hold for every number, not only for the worked ones. */
import fc from "fast-check";
import { describe, test } from "vitest";
import { scaleTurns } from "../../core/formulas/torsion.ts";
import { compareWithLimits, roundToStep, type Ties } from "../../core/rounding.ts";
import { absExact, compareExact, exact, subtractExact, toDecimalText } from "./exact-helpers.ts";

const decimal = fc
  .tuple(fc.integer({ min: -9_999_999, max: 9_999_999 }), fc.integer({ min: 0, max: 6 }))
  .map(([digits, places]) => toDecimalText({ numerator: BigInt(digits), denominator: 10n ** BigInt(places) }));
const step = fc.constantFrom("1", "10", "5", "0.5", "0.1", "0.05", "0.001", "0.0001", "0.25");
const ties = fc.constantFrom<Ties>("even", "away", "none");

describe("rounding (ASTM E29-22, 6.4; ISO 80000-1:2009, Annex B; from memory)", () => {
  test("rounding twice is rounding once", () => {
    fc.assert(
      fc.property(decimal, step, ties, (value, interval, rule) => {
        const once = roundToStep(exact(value), interval, rule);
        return roundToStep(exact(once), interval, rule) === once;
      }),
    );
  });

  test("a rounded value is a multiple of the step, at most half a step away (a whole one where ties go nowhere)", () => {
    fc.assert(
      fc.property(decimal, step, ties, (value, interval, rule) => {
        const rounded = exact(roundToStep(exact(value), interval, rule));
        const most = rule === "none" ? exact(interval) : { ...exact(interval), denominator: exact(interval).denominator * 2n };
        const isMultiple = (rounded.numerator * exact(interval).denominator) % (rounded.denominator * exact(interval).numerator) === 0n;
        return isMultiple && compareExact(absExact(subtractExact(rounded, exact(value))), most) <= 0;
      }),
    );
  });

  test("a larger value never rounds to a smaller one", () => {
    fc.assert(
      fc.property(decimal, decimal, step, ties, (a, b, interval, rule) => {
        const [low, high] = compareExact(exact(a), exact(b)) <= 0 ? [a, b] : [b, a];
        return compareExact(exact(roundToStep(exact(low), interval, rule)), exact(roundToStep(exact(high), interval, rule))) <= 0;
      }),
    );
  });

  test("a limit that is a multiple of the step conforms to itself", () => {
    fc.assert(
      fc.property(decimal, step, (value, interval) => {
        const limit = roundToStep(exact(value), interval, "even");
        const rounding = { method: "round", step: interval, ties: "even" } as const;
        return compareWithLimits(limit, { min: limit, max: limit }, rounding).outcome === "conforms";
      }),
    );
  });
});

describe("scaling a torsion count (JIS C 3110:2019, 8.1.4, read)", () => {
  // Lengths with no prime but 2 and 5, so that every quotient ends.
  const length = fc.constantFrom("50", "62.5", "80", "100", "125", "160", "200", "250", "256", "312.5", "400", "500");
  test("there and back is the identity", () => {
    fc.assert(
      fc.property(fc.integer({ min: 0, max: 400_000 }), length, length, (thousandths, from, to) => {
        const turns = toDecimalText({ numerator: BigInt(thousandths), denominator: 1000n });
        const [one, other] = [{ text: from, unit: "mm" } as const, { text: to, unit: "mm" } as const];
        const there = toDecimalText(scaleTurns(turns, one, other), 60);
        return compareExact(scaleTurns(there, other, one), exact(turns)) === 0;
      }),
    );
  });
  test("a longer free length never takes fewer turns", () => {
    fc.assert(
      fc.property(fc.integer({ min: 1, max: 400 }), length, length, length, (turns, from, a, b) => {
        const scaled = (to: string) => scaleTurns(String(turns), { text: from, unit: "mm" }, { text: to, unit: "mm" });
        const [short, long] = Number(a) <= Number(b) ? [a, b] : [b, a];
        return compareExact(scaled(short), scaled(long)) <= 0;
      }),
    );
  });
});
