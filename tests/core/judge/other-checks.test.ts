import { describe, expect, test } from "vitest";
import {
  coil,
  DIAMETER,
  firstCoil,
  judged,
  ORDER,
  OUT_OF_ROUND,
  requirement,
  row,
  TENSILE,
  tensileRow,
  WRAP,
  wrapRow,
} from "../../helpers/judge.ts";

describe("tensile strength, invented 1770 to 2010 MPa", () => {
  // Forces are chosen so that 4 F / (pi 2.00^2) lies where the row says; worked by hand with pi/4 x 4 = 3.14159265 mm2.
  test.for([
    [{ maximumForce: "5800" }, true, undefined, "conforms", "1846", "5800 / 3.14159265 = 1846.2"],
    [{ maximumForce: "5559.0" }, true, undefined, "does-not-conform", "1769", "5559.0 / 3.14159265 = 1769.485: rounds down, ASTM E29"],
    [{ maximumForce: "5559.1" }, true, undefined, "conforms", "1770", "1769.517: rounds onto the limit, ASTM E29 rounding method"],
    [
      { maximumForce: "5000", breakAt: "grip" },
      false,
      "grip-break",
      undefined,
      "1592",
      "JIS G 3558 11.5 (read): low and at the grip is void",
    ],
    [{ maximumForce: "5800", breakAt: "grip" }, true, undefined, "conforms", "1846", "ASTM A1000 note 3 (read): only discarded if short"],
    [{ maximumForce: "6600", breakAt: "grip" }, true, undefined, "does-not-conform", "2101", "DESIGN default: never one above the maximum"],
    [
      { maximumForce: "5800", diameterInstrument: "M9" },
      false,
      "instrument-not-in-force",
      undefined,
      "1846",
      "ISO/IEC 17025 6.4 (memory): the micrometer counts too",
    ],
  ] as const)("%j: counts %s, void %s, %s, compared %s (%s)", ([fields, counts, voidReason, outcome, compared]) => {
    const result = firstCoil(judged([tensileRow(fields)], { requirements: [TENSILE] })).requirements[0]?.results[0];
    expect({ counts: result?.counts, voidReason: result?.voidReason, outcome: result?.outcome, compared: result?.compared }).toEqual({
      counts,
      voidReason,
      outcome,
      compared,
    });
  });

  test("an inch row against a limit in MPa converts the reading, never the limit (worked example W21: 6250 N on 2.00 mm is 1989.4 MPa)", () => {
    const inch = tensileRow({ maximumForce: "1" });
    const fields = {
      ...inch.fields,
      maximumForce: { text: "1405.05589", unit: "lbf" as const, cell: "E5", raw: "1405.05589" },
      diameter: { text: "0.0787401575", unit: "in" as const, cell: "D5", raw: "" },
    };
    expect(firstCoil(judged([{ ...inch, fields }], { requirements: [TENSILE] })).requirements[0]?.results[0]?.value).toBeCloseTo(1989.4, 1);
  });
});

describe("diameter and out of round", () => {
  const run = (largest: string, smallest: string) => {
    const verdict = firstCoil(judged([row("diameter", { largest, smallest })], { requirements: [DIAMETER, OUT_OF_ROUND], retest: null }));
    return verdict.requirements.map((r) => [r.verdict, r.results[0]?.compared]);
  };
  test.for([
    [
      "2.015",
      "1.990",
      ["conforms", "2.015"],
      ["conforms", "0.025"],
      "worked example W24: equal to the limit passes; binary floats would fail it",
    ],
    ["2.016", "1.990", ["conforms", "2.016"], ["does-not-conform", "0.026"], "one thousandth over"],
    ["2.026", "2.020", ["does-not-conform", "2.026"], ["conforms", "0.006"], "the largest is out"],
    ["1.990", "1.974", ["does-not-conform", "1.974"], ["conforms", "0.016"], "the smallest is out"],
    ["2.010", "1.980", ["conforms", "1.980"], ["does-not-conform", "0.030"], "the reading nearer to its limit stands for the row"],
    [
      "2.0255",
      "2.020",
      ["does-not-conform", "2.026"],
      ["conforms", "0.006"],
      "tie to even: 2.0255 is 2.026 (ASTM E29 6.4); 0.0055 is 0.006",
    ],
    ["2.0245", "2.020", ["conforms", "2.024"], ["conforms", "0.004"], "tie to even: 2.0245 is 2.024; 0.0045 is 0.004"],
  ] as const)("%s / %s (%s)", ([largest, smallest, diameter, outOfRound]) => {
    expect(run(largest, smallest)).toEqual([diameter, outOfRound]);
  });
});

describe("wrap, ductility: mandrel 2 mm, 8 wraps (invented)", () => {
  test.for([
    [{}, true, undefined, "conforms", undefined, "ISO 7802:2013: no visible crack (read)"],
    [{ cracks: "visible" }, true, undefined, "does-not-conform", undefined, "ISO 7802:2013 (read)"],
    [{ mandrelDiameter: "2.1" }, true, undefined, "conforms", undefined, "DESIGN: a mandrel within 5 % is as required"],
    [{ mandrelDiameter: "2.2" }, false, "mandrel", undefined, undefined, "larger is easier: a pass is void (outer-fibre strain d/(D+d))"],
    [
      { mandrelDiameter: "2.2", cracks: "broken" },
      true,
      undefined,
      "does-not-conform",
      "easier-mandrel",
      "larger is easier: a failure counts",
    ],
    [{ mandrelDiameter: "1.8" }, true, undefined, "conforms", "harder-mandrel", "smaller is harder: a pass counts"],
    [{ mandrelDiameter: "1.8", cracks: "visible" }, false, "mandrel", undefined, undefined, "smaller is harder: a failure is void"],
    [{ wraps: "6" }, false, "wraps", undefined, undefined, "too few wraps are easier"],
    [{ wraps: "6", cracks: "broken" }, true, undefined, "does-not-conform", "easier-wraps", "too few and still broken counts"],
    [{ wraps: "10" }, true, undefined, "conforms", "harder-wraps", "more wraps are harder"],
    [{ cracks: "visible", firstCrackTurn: "1" }, false, "starting-turn", undefined, undefined, "DESIGN default: void once"],
    [{ cracks: "visible", firstCrackTurn: "3" }, true, undefined, "does-not-conform", undefined, "a later turn fails"],
  ] as const)("%j: counts %s, void %s, %s, %s (%s)", ([fields, counts, voidReason, outcome, deviation]) => {
    const result = firstCoil(judged([wrapRow(fields)], { requirements: [WRAP] })).requirements[0]?.results[0];
    expect({ counts: result?.counts, voidReason: result?.voidReason, outcome: result?.outcome, deviation: result?.deviation }).toEqual({
      counts,
      voidReason,
      outcome,
      deviation,
    });
  });

  test("a second piece that cracks in its starting turn has failed (DESIGN default)", () => {
    const twice = [
      wrapRow({ cracks: "visible", firstCrackTurn: "1" }),
      wrapRow({ testPiece: "T2", role: "repeat", cracks: "visible", firstCrackTurn: "1" }),
    ];
    expect(firstCoil(judged(twice, { requirements: [WRAP] })).verdict).toBe("retest-due");
  });

  test("ASTM A370 A4.7 (read in a secondary page): cracks in the first complete turn are not counted", () => {
    const conduct = { wrapFirstTurn: "passes" as const };
    expect(firstCoil(judged([wrapRow({ cracks: "visible", firstCrackTurn: "1" })], { requirements: [WRAP], conduct })).verdict).toBe(
      "conforms",
    );
  });

  test("EN 50189, 11.5.3 (read): it must not break; visible cracks pass", () => {
    const conduct = { wrapFailsFrom: "broken" as const };
    expect(firstCoil(judged([wrapRow({ cracks: "visible" })], { requirements: [WRAP], conduct })).verdict).toBe("conforms");
    expect(firstCoil(judged([wrapRow({ cracks: "broken" })], { requirements: [WRAP], conduct, retest: null })).verdict).toBe(
      "does-not-conform",
    );
  });

  test.for([
    ["sound", undefined, "conforms"],
    ["comes-off", undefined, "does-not-conform"],
    ["dust-only", undefined, "undecided"],
    ["dust-only", "second person: dust", "conforms"],
    ["cracked-firm", undefined, "undecided"],
  ] as const)("adherence %s with second look %s is %s (ASTM A818 8.2, read; DESIGN section 8)", ([coating, secondLook, verdict]) => {
    const spec = { requirements: [{ ...WRAP, property: "adherence" }], retest: null };
    const fields = { purpose: "adherence", coating, ...(secondLook ? { secondLook } : {}) };
    expect(firstCoil(judged([wrapRow(fields)], spec)).verdict).toBe(verdict);
  });
});

describe("coiling (EN 10270-1, read in a paraphrase: mandrel 3 d to 3.5 d; invented figures 6 to 7 mm)", () => {
  const COILING = requirement("coiling", {
    unit: "",
    conditions: { mandrelDiameter: { text: "6", unit: "mm" }, mandrelDiameterMax: { text: "7", unit: "mm" } },
  });
  test.for([
    [{ mandrelDiameter: "6.5", evenPitch: "yes", cracks: "none" }, "conforms", undefined],
    [{ mandrelDiameter: "6.5", evenPitch: "no", cracks: "none" }, "retest-due", undefined],
    [{ mandrelDiameter: "8", evenPitch: "yes", cracks: "none" }, "not-tested", "mandrel"],
    [{ mandrelDiameter: "5", evenPitch: "yes", cracks: "none" }, "conforms", undefined],
    [{ mandrelDiameter: "6.5", cracks: "none" }, "undecided", undefined],
  ] as const)("%j is %s, void %s", ([fields, verdict, voidReason]) => {
    const found = firstCoil(judged([row("coiling", { diameter: "2.00", ...fields })], { requirements: [COILING] }));
    expect([found.verdict, found.requirements[0]?.results[0]?.voidReason]).toEqual([verdict, voidReason]);
  });
});

describe("one sample in ten coils of a test unit (ASTM A227, A228, A229; memory, medium)", () => {
  const sampling = { kind: "per-coils" as const, coils: 10, bothEnds: false, perHeat: false, clause: "", provenance: "memory" as const };
  const spec = { requirements: [TENSILE], sampling, retest: null };
  const coils = Array.from({ length: 12 }, (_, i) => coil(`C${i + 1}`));
  const piece = (name: string, force = "5800") => tensileRow({ coil: name, testPiece: `${name}-1`, maximumForce: force });
  const run = (rows: Parameters<typeof judged>[0]) => judged(rows, spec, { coils }).orders[0];

  test("twelve coils need two samples; the first two coils without a piece are named", () => {
    const order = run([]);
    expect(order?.verdict).toBe("not-tested");
    expect(order?.next.map((step) => [step.do, step.coil])).toEqual([
      ["test", "C1"],
      ["test", "C2"],
    ]);
  });
  test("one of two samples: still not tested, and one more coil is named", () => {
    const order = run([piece("C1")]);
    expect(order?.coils.map((c) => c.verdict)).toEqual(["conforms", ...Array(11).fill("not-tested")]);
    expect(order?.next.map((step) => step.coil)).toEqual(["C2"]);
  });
  test("complete and conforming: the others stand on their test unit", () => {
    const order = run([piece("C1"), piece("C7")]);
    expect(order?.verdict).toBe("conforms");
    expect(order?.coils.map((c) => c.basis).filter((b) => b === "own-results")).toHaveLength(2);
    expect(order?.coils.find((c) => c.coil === "C3")).toMatchObject({ verdict: "conforms", basis: "test-unit" });
  });
  test("a failing sample fails its unit", () => {
    const order = run([piece("C1"), piece("C2", "5000")]);
    expect(order?.testUnits).toEqual([{ testUnit: "O1/1", verdict: "does-not-conform", next: [] }]);
    expect(order?.coils.find((c) => c.coil === "C1")?.verdict).toBe("conforms");
    expect(order?.coils.find((c) => c.coil === "C9")?.verdict).toBe("does-not-conform");
  });
  test("two test units are sampled apart", () => {
    const apart = coils.map((c, i) => ({ ...c, testUnit: i < 6 ? "U1" : "U2" }));
    const order = judged([piece("C1")], spec, { coils: apart }).orders[0];
    expect(order?.testUnits.map((u) => [u.testUnit, u.verdict])).toEqual([
      ["U1", "conforms"],
      ["U2", "not-tested"],
    ]);
  });
});

describe("decision rules with uncertainty (ILAC-G8:09/2019; own wire example of the reference: Rm min 1960, U 25.4)", () => {
  const spec = { requirements: [{ ...TENSILE, min: "1960", max: "2300" }], retest: null };
  const instruments = [{ instrument: "M1", calibratedOn: "2026-01-01", dueOn: "2026-12-31", uncertainty: "25.4", uncertaintyUnit: "MPa" }];
  const run = (strength: number, decisionRule: "simple" | "guarded" | "guarded-open", known = instruments) =>
    firstCoil(
      judged([tensileRow({ maximumForce: (strength * Math.PI).toFixed(6) })], spec, {
        orders: [{ ...ORDER, decisionRule }],
        instruments: known,
      }),
    );
  test.for([
    [1970, "simple", "conforms"],
    [1970, "guarded", "does-not-conform"],
    [1970, "guarded-open", "undecided"],
    [1986, "guarded", "conforms"],
    [1985, "guarded", "does-not-conform"],
    [1940, "guarded-open", "undecided"],
    [1930, "guarded-open", "does-not-conform"],
  ] as const)("%d MPa by %s is %s", ([strength, rule, verdict]) => {
    expect(run(strength, rule).verdict).toBe(verdict);
  });
  test("no uncertainty known: undecided, never a pass (DESIGN section 8)", () => {
    const bare = [{ instrument: "M1", calibratedOn: "2026-01-01", dueOn: "2026-12-31" }];
    expect(run(1990, "guarded", bare as typeof instruments)).toMatchObject({
      verdict: "undecided",
      requirements: [{ reason: "no-uncertainty" }],
    });
  });
});
