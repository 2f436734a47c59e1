import fc from "fast-check";
import { describe, expect, test } from "vitest";
import { acceptByDeviation, acceptByRange, variablesAcceptanceProbability, variablesPlan } from "../../../core/statistics/index.ts";
import { readReference } from "../spec/reference.ts";

const ROWS = readReference("z19-variables-k-sd-method");

describe("plans by variables (z19-variables-k-sd-method.csv, ANSI/ASQC Z1.9 and MIL-STD-414 table B-1)", () => {
  test("168 cells of 14 letters", () => {
    expect(ROWS).toHaveLength(168);
    expect(ROWS.filter((row) => row["k"] === "")).toHaveLength(24);
  });
  test.for(ROWS)("letter $code_letter, AQL $aql_normal: k $k", (row) => {
    const { code_letter: letter = "", aql_normal: aql = "" } = row;
    // An empty cell sends to the first plan below it.
    const below = ROWS.slice(ROWS.indexOf(row)).find((each) => each["aql_normal"] === aql && each["k"] !== "");
    const plan = variablesPlan(letter, aql);
    expect([plan.letter, plan.n, Number(plan.k), plan.provenance]).toEqual([
      below?.["code_letter"],
      Number(below?.["n"]),
      Number(below?.["k"]),
      below?.["provenance"],
    ]);
  });
  test.for(ROWS.filter((row) => row["k"] !== ""))(
    "letter $code_letter, AQL $aql_normal accepts $P_accept_at_AQL_computed at its AQL (computed with scipy)",
    (row) => {
      const is = variablesAcceptanceProbability(Number(row["n"]), Number(row["k"]), Number(row["aql_normal"]) / 100);
      expect(Math.abs(is - Number(row["P_accept_at_AQL_computed"]))).toBeLessThan(0.000051);
    },
  );
  test("an AQL may be written otherwise; letters and AQLs that are not listed are refused", () => {
    expect(variablesPlan("D", "1")).toEqual({ letter: "D", n: 5, k: "1.53", provenance: "read" });
    expect(() => variablesPlan("D", "3.0")).toThrow(/aql 3.0 is not listed; listed are 0.065/);
    expect(() => variablesPlan("A", "1.00")).toThrow(/letter A is not listed; listed are B C/);
    expect(() => variablesPlan("O", "1.00")).toThrow(RangeError);
  });
  test("a sample of two has one (non-central t, computed with scipy)", () => {
    expect(variablesAcceptanceProbability(2, 1, 0.1)).toBeCloseTo(0.7120152402104124, 9);
  });
  test.for([
    [1, 0.01],
    [5, 0],
    [5, 1],
    [5, Number.NaN],
  ] as const)("n %d and a share of %d have no probability", ([n, share]) => {
    expect(() => variablesAcceptanceProbability(n, 1.5, share)).toThrow(RangeError);
  });
});

describe("standard deviation method", () => {
  const sample = ["197", "188", "184", "205", "201"];
  test.for([
    // values, limit, k, accept, index, source
    [sample, { upper: "209" }, "1.53", true, 1.590293, "MIL-STD-414 example B-1 (memory, recomputed)"],
    [sample, { upper: "209" }, "1.60", false, 1.590293, "the same with a larger k"],
    [sample, { lower: "181" }, "1.53", true, 1.590293, "mirrored: 195 - 181"],
    [sample, { lower: "182" }, "1.53", false, 1.4767, "13 / 8.8034"],
    [["1", "2", "3"], { upper: "4" }, "2", true, 2, "by hand: s is 1; an index of k is accepted"],
    [["1", "2", "3"], { upper: "4" }, "2.0000000001", false, 2, "just above it is not"],
    [["0.1", "0.2", "0.3"], { upper: "0.4" }, "2", true, 2, "in decimals: 0.2 / 0.1, below 2 in binary floats"],
    [["1", "2", "3"], { upper: "1" }, "0.5", false, -1, "the mean is beyond the limit"],
    [["1", "2", "3"], { upper: "2" }, "0", true, 0, "a constant of 0: the mean may lie on the limit"],
    [["1", "2", "3"], { upper: "1.9" }, "0", false, -0.1, "but not beyond"],
    [["1", "2", "3"], { upper: "1" }, "-1", true, -1, "a constant below zero lets the mean pass it"],
    [["1", "2", "3"], { upper: "1" }, "-0.9", false, -1, "but no further"],
    [["1", "2", "3"], { upper: "3" }, "-0.9", true, 1, "a mean inside passes every constant below zero"],
    [["1", "2", "3"], { upper: "1" }, "1", false, -1, "one s beyond is not one s inside"],
  ] as const)("%j %j, k %s: %s, index %d (%s)", ([values, limit, k, accept, index]) => {
    const decision = acceptByDeviation(values, limit, k);
    expect(decision.accept).toBe(accept);
    expect(decision.qualityIndex).toBeCloseTo(index, 4);
  });
  test.for([
    ["7", true],
    ["6.9", false],
  ] as const)("equal values of 7 have no index; at most %s decides by the mean: %s", ([upper, accept]) => {
    expect(acceptByDeviation(["7", "7.0"], { upper }, "1.5")).toEqual({ accept, mean: 7, spread: 0 });
    expect(acceptByRange(["7", "7.0"], { upper }, "0.5")).toEqual({ accept, mean: 7, spread: 0 });
  });
  test("one value is refused", () => {
    expect(() => acceptByDeviation(["1"], { upper: "2" }, "1")).toThrow(RangeError);
    expect(() => acceptByRange(["1"], { upper: "2" }, "1")).toThrow(RangeError);
  });
});

describe("range method", () => {
  const ten = ["1", "2", "3", "4", "6", "10", "10", "11", "12", "13"];
  test.for([
    // values, limit, k, accept, spread, index, source
    [["197", "188", "184", "205", "201"], { upper: "209" }, "0.498", true, 21, 0.6667, "MIL-STD-414 example C-1: 14 / 21 (memory)"],
    [["197", "188", "184", "205", "201"], { upper: "209" }, "0.67", false, 21, 0.6667, "the same with a larger k"],
    [ten, { upper: "15.2" }, "2", true, 4, 2, "by hand: ranges 5 and 3 of two groups of five; mean 7.2, 8 / 4"],
    [ten, { upper: "15.2" }, "2.001", false, 4, 2, "just above the index"],
    [["1", "2", "3", "4", "5", "6", "7"], { lower: "1" }, "0.5", true, 6, 0.5, "seven are one group: 3 / 6"],
  ] as const)("%j %j, k %s: %s, mean range %d, index %d (%s)", ([values, limit, k, accept, spread, index]) => {
    const decision = acceptByRange(values, limit, k);
    expect(decision).toMatchObject({ accept, spread });
    expect(decision.qualityIndex).toBeCloseTo(index, 4);
  });
  test("from ten on a number that is no multiple of five is refused; nine are one group", () => {
    const values = Array.from({ length: 12 }, (_, at) => String(at));
    expect(() => acceptByRange(values, { upper: "20" }, "1")).toThrow(/groups of five, got 12/);
    expect(acceptByRange(values.slice(0, 9), { upper: "20" }, "1").spread).toBe(8);
  });
});

describe("properties of both methods", () => {
  const values = fc.array(fc.integer({ min: 0, max: 999 }).map(String), { minLength: 5, maxLength: 5 });
  const constant = fc.integer({ min: 0, max: 300 });
  test("a tighter limit or a larger constant never turns a refusal into an acceptance", () => {
    fc.assert(
      fc.property(values, fc.integer({ min: 0, max: 1500 }), constant, constant, fc.nat(200), (sample, limit, k, more, tighter) => {
        for (const decide of [acceptByDeviation, acceptByRange]) {
          const strict = decide(sample, { upper: String(limit - tighter) }, String((k + more) / 100));
          const loose = decide(sample, { upper: String(limit) }, String(k / 100));
          expect(strict.accept && !loose.accept).toBe(false);
        }
      }),
    );
  });
  test("an upper limit on mirrored values is a lower limit", () => {
    fc.assert(
      fc.property(values, fc.integer({ min: 0, max: 1500 }), constant, (sample, limit, k) => {
        const mirrored = sample.map((value) => String(-Number(value) + 0));
        for (const decide of [acceptByDeviation, acceptByRange])
          expect(decide(mirrored, { lower: String(-limit + 0) }, String(k / 100)).accept).toBe(
            decide(sample, { upper: String(limit) }, String(k / 100)).accept,
          );
      }),
    );
  });
});
