/** Counts stopped unbroken decide and enter no statistic; counts of different free lengths compare as turns per 100 d. */
import fc from "fast-check";
import { describe, expect, test } from "vitest";
import { compareExact, toNumber } from "../../../core/decimal.ts";
import type { Result } from "../../../core/model.ts";
import { summarizeTorsion, turnsPer100Diameters, usableValues } from "../../../core/statistics/index.ts";
import { firstCoil, judged, TORSION, torsionRow } from "../../helpers/judge.ts";

const mm = (text: string) => ({ text, unit: "mm" as const });
const inch = (text: string) => ({ text, unit: "in" as const });

describe("turns per 100 d", () => {
  test.for([
    // turns, diameter, free length, turns per 100 d, source
    ["25", mm("2.00"), mm("200"), "25", "a free length of 100 d is itself"],
    ["21", mm("3.5"), mm("300"), "24.5", "mechanical-tests-worked-examples.csv T10"],
    ["25", mm("2.032"), mm("200"), "25.4", "T8: 203.2 mm are 100 d of 2.032 mm"],
    ["58", inch("0.04"), inch("8"), "29", "T9: 4 in are 100 d of 0.04 in"],
    ["24.75", mm("2.00"), mm("100"), "49.5", "part turns stay: a mean is not a verdict"],
    ["20", inch("0.1"), mm("254"), "20", "units may differ: 0.1 in x 100 is 254 mm"],
    ["16", mm("2.00"), inch("8"), "15.748031496063", "by hand: 16 x 200 / 203.2"],
  ] as const)("%s turns, d %j, L %j: %s (%s)", ([turns, diameter, freeLength, expected]) => {
    expect(toNumber(turnsPer100Diameters({ turns, diameter, freeLength }))).toBeCloseTo(Number(expected), 12);
  });
  test("the same strain gives the same figure on any length", () => {
    const length = fc.integer({ min: 1, max: 3000 });
    fc.assert(
      fc.property(length, fc.integer({ min: 5, max: 2500 }), fc.integer({ min: 1, max: 500 }), (times, hundredths, turns) => {
        const diameter = mm(String(hundredths / 100));
        const on = (scale: number) => ({ turns: String(turns * scale), diameter, freeLength: mm(String(times * scale)) });
        expect(compareExact(turnsPer100Diameters(on(1)), turnsPer100Diameters(on(7)))).toBe(0);
      }),
    );
  });
  test("a free length of zero is refused", () => {
    expect(() => turnsPer100Diameters({ turns: "1", diameter: mm("2"), freeLength: mm("0") })).toThrow(RangeError);
  });
});

describe("summary of torsion counts", () => {
  const count = (turns: string, freeLength: string, atLeast = false) => ({
    turns,
    diameter: mm("2.00"),
    freeLength: mm(freeLength),
    atLeast,
  });
  test("28 turns on 200 mm, 13 on 100 mm and 81 on 600 mm are 28, 26 and 27 per 100 d (invented)", () => {
    expect(summarizeTorsion([count("28", "200"), count("13", "100"), count("81", "600")])).toEqual({
      values: ["28", "26", "27"],
      censored: 0,
      description: { n: 3, mean: 27, sd: 1, lag1: -0.5 },
    });
  });
  test("a piece stopped unbroken is counted apart and moves nothing", () => {
    const broken = [count("28", "200"), count("26", "200")];
    const { description } = summarizeTorsion(broken);
    expect(summarizeTorsion([count("20", "200", true), ...broken, count("90", "200", true)])).toEqual({
      values: ["28", "26"],
      censored: 2,
      description,
    });
  });
  test("of pieces that were all stopped nothing is said", () => {
    expect(summarizeTorsion([count("20", "200", true)])).toEqual({ values: [], censored: 1 });
    expect(summarizeTorsion([])).toEqual({ values: [], censored: 0 });
  });
});

describe("values of results", () => {
  /** Results of the judgement itself, so that what it marks as censored is what stays out. */
  const resultsOf = (rows: readonly Readonly<Record<string, string>>[]): readonly Result[] =>
    firstCoil(
      judged(
        rows.map((fields, at) => torsionRow({ testPiece: `T${at + 1}`, ...fields })),
        { requirements: [TORSION] },
      ),
    ).requirements[0]?.results ?? [];
  test.for([
    // rows, values, left out, source
    [[{ turns: "24" }, { turns: "22.5" }], ["24", "22.5"], {}, "unrounded, in order"],
    [[{ turns: "24" }, { turns: ">20", breakAt: "none" }], ["24"], { censored: 1 }, "stopped at the requirement: decides, never enters"],
    [[{ turns: "24" }, { turns: "20", breakAt: "none" }], ["24"], { censored: 1 }, "unbroken without the sign"],
    [[{ turns: "24" }, { turns: ">15", breakAt: "none" }], ["24"], { notCounting: 1 }, "stopped below the minimum is void"],
    [[{ turns: "24" }, { turns: "12", setAside: "kink" }], ["24"], { notCounting: 1 }, "void"],
    [[{ turns: "24" }, { turns: "23", role: "check" }], ["24"], { notCounting: 1 }, "a check wire says nothing of the coil"],
    [[], [], {}, "none"],
  ] as const)("%j: %j, left out %j (%s)", ([rows, values, leftOut]) => {
    expect(usableValues(resultsOf(rows))).toEqual({ values, leftOut: { censored: 0, notCounting: 0, words: 0, ...leftOut } });
  });
  test("words have no value, and a check wire has none of the coil", () => {
    const [result] = resultsOf([{ turns: "24" }]);
    if (result === undefined) throw new Error("no result");
    expect(usableValues([{ ...result, value: "none" }])).toEqual({ values: [], leftOut: { censored: 0, notCounting: 0, words: 1 } });
    // Whatever else a row of a check wire may claim.
    expect(usableValues([{ ...result, role: "check" }])).toEqual({ values: [], leftOut: { censored: 0, notCounting: 1, words: 0 } });
  });
  test("no censored result changes any statistic, whatever its count (property)", () => {
    const broken = resultsOf([{ turns: "24" }, { turns: "27" }, { turns: "22" }]);
    const [first] = broken;
    if (first === undefined) throw new Error("no result");
    fc.assert(
      fc.property(fc.array(fc.tuple(fc.nat(3), fc.integer({ min: 20, max: 999 }))), (stopped) => {
        const mixed = [...broken];
        for (const [at, value] of stopped) mixed.splice(at, 0, { ...first, value, censored: true });
        expect(usableValues(mixed).values).toEqual(["24", "27", "22"]);
        expect(usableValues(mixed).leftOut.censored).toBe(stopped.length);
      }),
    );
  });
});
