/** Decision rules on measured quantities: ILAC-G8:09/2019 and JCGM 106:2012 (own wire examples of the reference, computed). */
import { describe, expect, test } from "vitest";
import type { InstrumentRange } from "../../../core/model.ts";
import {
  DIAMETER,
  firstCoil,
  judged,
  ORDER,
  OUT_OF_ROUND,
  requirement,
  row,
  TENSILE,
  TORSION,
  tensileRow,
  torsionRow,
} from "../../helpers/judge.ts";
import { readReference } from "../spec/reference.ts";

type Rule = "simple" | "guarded" | "guarded-open";
const inForce = (instrument: string, rest: Partial<InstrumentRange> = {}): InstrumentRange => ({
  instrument,
  calibratedOn: "2026-01-01",
  dueOn: "2026-12-31",
  ...rest,
});
const by = (decisionRule: Rule, instruments: readonly InstrumentRange[]) => ({ orders: [{ ...ORDER, decisionRule }], instruments });

describe("the examples of the reference: tests/data/reference/decision-rule-examples.csv", () => {
  const OUTCOME: Readonly<Record<string, string>> = {
    pass: "conforms",
    fail: "does-not-conform",
    "conditional pass": "undecided",
    "conditional fail": "undecided",
  };
  const wire = readReference("decision-rule-examples").filter((r) => r["case"]?.startsWith("diameter"));
  test.for(wire.map((r) => [r["y"] ?? "", r] as const))("diameter %s mm within 2.475 to 2.525, U 0.003", ([y, r]) => {
    const spec = { requirements: [{ ...DIAMETER, min: r["T_L"] ?? "", max: r["T_U"] ?? "" }], retest: null };
    const micrometer = [inForce("M1", { uncertainty: r["U_k2"] ?? "", uncertaintyUnit: "mm" })];
    const outcome = (rule: Rule) => {
      const found = firstCoil(judged([row("diameter", { largest: y, smallest: y })], spec, by(rule, micrometer))).requirements[0];
      return [found?.verdict, found?.conformanceProbability] as const;
    };
    expect(outcome("simple")).toEqual([OUTCOME[r["simple_acceptance"] ?? ""], undefined]);
    expect(outcome("guarded")[0]).toBe(OUTCOME[r["guard_band_w_U"] ?? ""]);
    expect(outcome("guarded-open")[0]).toBe(OUTCOME[r["non_binary_w_U"] ?? ""]);
    expect(outcome("guarded")[1]).toBeCloseTo(Number(r["p_conform"]), 4);
  });
});

describe("the uncertainty of a strength", () => {
  const spec = { requirements: [{ ...TENSILE, min: "1770", max: "2300" }], retest: null };
  const uncertainty = (fields: Readonly<Record<string, string>>, ...instruments: readonly InstrumentRange[]) =>
    firstCoil(judged([tensileRow({ maximumForce: "6000", ...fields })], spec, by("guarded", instruments))).requirements[0]?.results[0];
  // 6000 N on 2.00 mm is 1909.86 MPa, compared as 1910.
  test.for([
    ["1 % of the compared value", {}, [inForce("M1", { uncertainty: "1", uncertaintyUnit: "%" })], 19.1],
    ["in the limit's unit", {}, [inForce("M1", { uncertainty: "20", uncertaintyUnit: "MPa" })], 20],
    ["in newtons: 60 of 6000", {}, [inForce("M1", { uncertainty: "60", uncertaintyUnit: "N" })], 19.1],
    ["in kilonewtons", {}, [inForce("M1", { uncertainty: "0.06", uncertaintyUnit: "kN" })], 19.1],
    ["k = 1 is doubled", {}, [inForce("M1", { uncertainty: "30", uncertaintyUnit: "N", coverageFactor: "1" })], 19.1],
    [
      "with the micrometer: sqrt(1^2 + (2 x 0.2)^2) = 1.07703 %",
      { diameterInstrument: "M2" },
      [inForce("M1", { uncertainty: "1", uncertaintyUnit: "%" }), inForce("M2", { uncertainty: "0.004", uncertaintyUnit: "mm" })],
      20.5713,
    ],
    [
      "the micrometer in micrometres",
      { diameterInstrument: "M2" },
      [inForce("M1", { uncertainty: "1", uncertaintyUnit: "%" }), inForce("M2", { uncertainty: "4", uncertaintyUnit: "um" })],
      20.5713,
    ],
  ] as const)("%s (JCGM 100:2008, 5.1; WORKBOOK details)", ([, fields, instruments, expected]) => {
    expect(uncertainty(fields, ...instruments)?.uncertainty).toBeCloseTo(expected, 3);
  });

  test.for([
    ["the tester has none", {}, [inForce("M1")]],
    ["the micrometer has none", { diameterInstrument: "M2" }, [inForce("M1", { uncertainty: "1", uncertaintyUnit: "%" }), inForce("M2")]],
    ["in a unit of another kind", {}, [inForce("M1", { uncertainty: "1", uncertaintyUnit: "mm" })]],
    ["no instrument named", { instrument: "" }, [inForce("M1", { uncertainty: "1", uncertaintyUnit: "%" })]],
  ] as const)("%s: undecided, never a pass (DESIGN section 8)", ([, fields, instruments]) => {
    expect(uncertainty(fields, ...instruments)).toMatchObject({ outcome: "undecided", reason: "no-uncertainty" });
  });

  test("the row of the calibration in force on the day is taken", () => {
    const years = [
      inForce("M1", { calibratedOn: "2025-01-01", dueOn: "2025-12-31", uncertainty: "99", uncertaintyUnit: "MPa" }),
      inForce("M1", { uncertainty: "5", uncertaintyUnit: "MPa" }),
    ];
    expect(uncertainty({}, ...years)?.uncertainty).toBe(5);
  });
});

describe("what is said beside the verdict", () => {
  const micrometer = (uncertainty: string) => [inForce("M1", { uncertainty, uncertaintyUnit: "mm" })];
  const spec = { requirements: [{ ...DIAMETER, min: "1.980", max: "2.020" }] };
  const told = (y: string, rule: Rule, U: string) =>
    firstCoil(
      judged(
        [row("diameter", { largest: y, smallest: y })],
        { ...spec, retest: { pieces: 2, mustConform: "all", clause: "", provenance: "own" } },
        by(rule, micrometer(U)),
      ),
    ).requirements[0];
  test.for([
    ["2.010", "guarded", "0.005", "conforms", undefined],
    ["2.015", "guarded", "0.005", "conforms", undefined],
    ["2.016", "guarded", "0.005", "does-not-conform", "guard-band"],
    ["2.016", "guarded-open", "0.005", "undecided", "open-zone"],
    ["2.025", "guarded-open", "0.005", "undecided", "open-zone"],
    ["2.026", "guarded-open", "0.005", "retest-due", "retest-due"],
    ["2.021", "guarded", "0.005", "retest-due", "retest-due"],
    ["2.000", "guarded", "0.021", "does-not-conform", "empty-zone"],
    ["2.000", "guarded-open", "0.021", "undecided", "empty-zone"],
    ["2.000", "guarded", "0.020", "conforms", undefined],
  ] as const)(
    "%s mm, %s, U %s: %s, %s (acceptance edges included; a guard band is not retested: DESIGN section 8)",
    ([y, rule, U, verdict, reason]) => {
      const found = told(y, rule, U);
      expect([found?.verdict, found?.reason]).toEqual([verdict, reason]);
    },
  );

  test("an empty acceptance zone is said plainly", () => {
    expect(told("2.000", "guarded", "0.021")?.results[0]?.steps.join(" ")).toContain(
      "the guard bands leave no acceptance zone, nothing can conform",
    );
    expect(told("2.000", "guarded", "0.020")?.results[0]?.steps.join(" ")).not.toContain("no acceptance zone");
  });

  test("the unrounded value is guarded: 2.0154 mm rounds to 2.015 and lies beyond 2.020 - 0.005", () => {
    expect(told("2.0154", "guarded", "0.005")).toMatchObject({ verdict: "does-not-conform", reason: "guard-band" });
  });

  test("a wire without out of round has its uncertainty all the same", () => {
    const round = firstCoil(
      judged(
        [row("diameter", { largest: "2.000", smallest: "2.000" })],
        { requirements: [OUT_OF_ROUND], retest: null },
        by("guarded", micrometer("0.002")),
      ),
    ).requirements[0];
    expect(round).toMatchObject({ verdict: "conforms", results: [{ compared: "0.000", uncertainty: 0.002 }] });
  });

  test("counts and inspections are judged simply under every rule (DESIGN section 8)", () => {
    for (const rule of ["simple", "guarded", "guarded-open"] as const) {
      const found = firstCoil(judged([torsionRow({ turns: "20" })], { requirements: [TORSION] }, by(rule, [inForce("M1")])));
      expect(found.requirements[0]).toMatchObject({ verdict: "conforms" });
    }
  });
});

describe("a mean under a guarded rule takes the largest uncertainty of its pieces", () => {
  const three = requirement("tensile-strength", { min: "1770", max: "2010", evaluate: "mean", pieces: 2 });
  const rows = ["5600", "5700"].map((maximumForce, n) => tensileRow({ testPiece: `T${n + 1}`, maximumForce }));
  test.for([
    // 1782.5 and 1814.4: mean 1798.5, 28.5 above the minimum.
    ["28", "conforms", undefined],
    ["29", "does-not-conform", "guard-band"],
  ] as const)("U %s MPa: %s", ([uncertainty, verdict, reason]) => {
    const instruments = [inForce("M1", { uncertainty, uncertaintyUnit: "MPa" })];
    const found = firstCoil(judged(rows, { requirements: [three] }, by("guarded", instruments))).requirements[0];
    expect([found?.verdict, found?.reason]).toEqual([verdict, reason]);
  });
  test("of two instruments the less certain one guards the mean: 28.5 above the minimum", () => {
    const mixed = ["M1", "M2"].map((instrument, n) =>
      tensileRow({ testPiece: `T${n + 1}`, maximumForce: n === 0 ? "5600" : "5700", instrument }),
    );
    const instruments = [
      inForce("M1", { uncertainty: "5", uncertaintyUnit: "MPa" }),
      inForce("M2", { uncertainty: "29", uncertaintyUnit: "MPa" }),
    ];
    expect(firstCoil(judged(mixed, { requirements: [three] }, by("guarded", instruments))).verdict).toBe("does-not-conform");
  });

  test("one piece without an uncertainty: undecided", () => {
    const mixed = [rows[0], tensileRow({ testPiece: "T2", maximumForce: "5700", instrument: "M2" })].filter((r) => r !== undefined);
    const instruments = [inForce("M1", { uncertainty: "5", uncertaintyUnit: "MPa" }), inForce("M2")];
    expect(firstCoil(judged(mixed, { requirements: [three] }, by("guarded", instruments))).requirements[0]).toMatchObject({
      verdict: "undecided",
      reason: "no-uncertainty",
    });
  });
});
