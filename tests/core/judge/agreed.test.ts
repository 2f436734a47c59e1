/** Extra requirements of one order: invented limits on an invented specification. Source: WORKBOOK.md, sheet Agreed; DESIGN section 8. */
import { describe, expect, test } from "vitest";
import type { AgreedRequirement } from "../../../core/model.ts";
import {
  coil,
  firstCoil,
  judged,
  ORDER,
  row,
  type SpecOptions,
  TENSILE,
  TORSION,
  tensileRow,
  torsionRow,
  WRAP,
  wrapRow,
} from "../../helpers/judge.ts";

const agreed = (property: string, rest: Partial<AgreedRequirement>): AgreedRequirement => ({
  order: "O1",
  item: "1",
  property,
  agreedIn: "invented letter of 2 March",
  ...rest,
});
type Rows = Parameters<typeof judged>[0];

function both(rows: Rows, extra: AgreedRequirement, spec: SpecOptions = {}) {
  const { coils } = judged(rows, { retest: null, ...spec }, { agreed: [extra] }).orders[0] ?? { coils: [] };
  const of = (own: boolean) =>
    coils[0]?.requirements.find((r) => r.property === extra.property && (r.requirement.agreedIn !== undefined) === own);
  return { specification: of(false), agreed: of(true), coil: coils[0]?.verdict };
}

describe("a limit agreed in addition is judged beside the specification's own", () => {
  test.for([
    ["harder and met", "28", "30", "conforms", "conforms", "conforms"],
    ["harder and missed", "28", "24", "conforms", "does-not-conform", "does-not-conform"],
    ["softer: the specification's own stays", "15", "18", "does-not-conform", "conforms", "does-not-conform"],
    ["both missed", "28", "12", "does-not-conform", "does-not-conform", "does-not-conform"],
  ] as const)("%s: agreed at least %s, %s turns", ([, min, turns, own, extra, whole]) => {
    const told = both([torsionRow({ turns })], agreed("torsion", { min }));
    expect([told.specification?.verdict, told.agreed?.verdict, told.coil]).toEqual([own, extra, whole]);
  });

  test("conditions that are not named are the specification's: a longer free length is easier for both", () => {
    const told = both([torsionRow({ turns: "30", freeLength: "300" })], agreed("torsion", { min: "28" }));
    expect(told.agreed).toMatchObject({ verdict: "not-tested", results: [{ voidReason: "free-length" }] });
    expect(told.agreed?.requirement.conditions).toEqual({ freeLength: { text: "200", unit: "mm" } });
  });

  test.for([
    ["freeLength 150 mm", { turns: "30", freeLength: "150" }, "conforms", undefined, "as agreed; shorter than the specification's"],
    ["freeLength 150 mm", { turns: "30", freeLength: "200" }, "not-tested", "free-length", "longer than agreed: easier"],
    ["freeLength 75 d", { turns: "30", freeLength: "150" }, "conforms", undefined, "75 x 2.00 mm = 150 mm"],
    ["freeLength 5.9055 in", { turns: "30", freeLength: "150" }, "conforms", undefined, "150 mm / 25.4 = 5.9055 in"],
  ] as const)("%s, row %j: %s, void %s (%s)", ([conditions, fields, verdict, voidReason]) => {
    const told = both([torsionRow(fields)], agreed("torsion", { min: "28", conditions }));
    expect([told.agreed?.verdict, told.agreed?.results[0]?.voidReason]).toEqual([verdict, voidReason]);
  });

  test.for([
    [{ min: "8", conditions: "mandrelDiameter 4 d" }, { mandrelDiameter: "8" }, "conforms", undefined, "a larger mandrel agreed: softer"],
    [{ min: "8", conditions: "mandrelDiameter 4 d" }, { mandrelDiameter: "10" }, "not-tested", "mandrel", "larger still: easier"],
    [{ min: "10" }, { wraps: "8" }, "not-tested", "wraps", "a minimum of wraps is their number"],
    [{ conditions: "wraps 10" }, { wraps: "10" }, "conforms", undefined, "the same, as a condition"],
  ] as const)("wrap %j, row %j: %s, void %s (%s)", ([rest, fields, verdict, voidReason]) => {
    const told = both([wrapRow(fields)], agreed("wrap", rest), { requirements: [WRAP] });
    expect([told.agreed?.verdict, told.agreed?.results[0]?.voidReason]).toEqual([verdict, voidReason]);
  });

  test("the strength on the nominal diameter, if so agreed (5800 N: 1846.2 MPa on 2.00 mm, 1878.8 on 1.98 mm)", () => {
    const strength = agreed("tensile-strength", { min: "1860", unit: "MPa", conditions: "area nominal" });
    const told = both([tensileRow({ diameter: "1.98", maximumForce: "5800" })], strength, { requirements: [TENSILE] });
    expect([told.specification?.results[0]?.compared, told.agreed?.results[0]?.compared]).toEqual(["1884", "1846"]);
    expect(told.agreed?.verdict).toBe("does-not-conform");
  });

  test.for([
    ["psi", "260000", "267768", "1846.197 MPa x 145.0377 = 267768.3 psi"],
    ["ksi", "260", "268", "267.768 ksi"],
    ["N/mm2", "1800", "1846", "one N/mm2 is one MPa"],
    ["GPa", "1.8", "1.8", "1.846 GPa, to the place in which the limit is written"],
  ] as const)("a strength in %s: at least %s, compared %s (%s)", ([unit, min, compared]) => {
    const told = both([tensileRow({ maximumForce: "5800" })], agreed("tensile-strength", { min, unit }), { requirements: [TENSILE] });
    expect([told.agreed?.verdict, told.agreed?.results[0]?.compared]).toEqual(["conforms", compared]);
  });

  test("a property of the lab's own, by its name on the sheet Other, with or without other:", () => {
    const rows = [row("other", { property: "hardness", value: "412", unit: "HV" })];
    for (const property of ["hardness", "other:hardness"]) {
      const { orders } = judged(rows, { requirements: [] }, { agreed: [agreed(property, { min: "400", unit: "HV" })] });
      expect(orders[0]?.coils[0]?.requirements.map((r) => [r.property, r.verdict])).toEqual([["other:hardness", "conforms"]]);
    }
  });

  test("it carries where it was agreed, and needs no adoption", () => {
    const told = both([torsionRow()], agreed("torsion", { min: "20" }));
    expect(told.agreed?.requirement).toMatchObject({ agreedIn: "invented letter of 2 March", rule: { provenance: "own", adopted: true } });
  });
});

describe("pieces and retest of an agreed requirement", () => {
  const low = torsionRow({ turns: "12" });
  test("of a property that the specification asks for: its own retest, on the same pieces", () => {
    const extra = [agreed("torsion", { min: "22" })];
    const good = (piece: string) => torsionRow({ testPiece: piece, role: "retest", retestOf: "T1" });
    expect(firstCoil(judged([low], {}, { agreed: extra })).next.map((s) => [s.do, s.pieces])).toEqual([["retest", 2]]);
    expect(firstCoil(judged([low, good("T2"), good("T3")], {}, { agreed: extra })).verdict).toBe("conforms");
  });
  test("alone: one piece of every coil, and no retest", () => {
    const { orders } = judged(
      [low],
      { requirements: [WRAP] },
      { agreed: [agreed("torsion", { min: "22" })], coils: [coil("C1"), coil("C2")] },
    );
    expect(orders[0]?.coils.map((c) => c.requirements.find((r) => r.property === "torsion")?.verdict)).toEqual([
      "does-not-conform",
      "not-tested",
    ]);
  });
  test("of a sampled property: the samples of the specification answer for it", () => {
    const sampling = { kind: "per-coils", coils: 10, bothEnds: false, perHeat: false, clause: "", provenance: "own" } as const;
    const { orders } = judged(
      [torsionRow()],
      { sampling },
      { agreed: [agreed("torsion", { min: "22" })], coils: [coil("C1"), coil("C2")] },
    );
    expect(orders[0]?.coils.map((c) => [c.verdict, c.basis])).toEqual([
      ["conforms", "own-results"],
      ["conforms", "test-unit"],
    ]);
  });
  test("three pieces, judged by their mean", () => {
    const extra = agreed("tensile-strength", { min: "1780", unit: "MPa", conditions: "pieces 3; evaluate mean" });
    const rows = ["5500", "5600", "5700"].map((maximumForce, n) => tensileRow({ testPiece: `T${n + 1}`, maximumForce }));
    expect(both(rows.slice(0, 2), extra, { requirements: [TENSILE] }).agreed).toMatchObject({
      verdict: "not-tested",
      next: [{ do: "test", pieces: 1 }],
    });
    expect(both(rows, extra, { requirements: [TENSILE] }).agreed?.verdict).toBe("conforms");
  });
});

describe("limits that cannot be judged are named, and the rest is judged", () => {
  test.for([
    [
      "tensile-strength",
      { min: "1800" },
      "limit-without-unit",
      "tensile-strength: the limit 1800 has no unit; accepted is a unit such as MPa",
    ],
    ["tensile-strength", { min: "1800", unit: "mm" }, "limit-without-unit", 'has the unit "mm"; accepted is a unit such as MPa'],
    ["tensile-strength", { min: "1800", unit: "Mpa" }, "limit-without-unit", 'has the unit "Mpa"'],
    ["coating-mass", { min: "200" }, "limit-without-unit", "accepted is a unit such as g/m2"],
    ["diameter", { min: "1.99", max: "2.01", unit: "MPa" }, "limit-without-unit", "the limit 1.99 to 2.01"],
    ["torsion", { min: "20", unit: "mm" }, "limit-without-unit", "accepted is turns, or an empty cell"],
    ["torsion", { min: "30", max: "20" }, "contradictory-limits", "torsion: the minimum 30 is above the maximum 20"],
    ["tensile-strength", { min: "2000", max: "1800", unit: "MPa" }, "contradictory-limits", "the minimum 2000 is above the maximum 1800"],
  ] as const)("%s %j: %s", ([property, rest, code, text]) => {
    const judgement = judged([wrapRow()], { requirements: [WRAP] }, { agreed: [agreed(property, rest)] });
    expect(judgement.findings).toMatchObject([{ code, severity: "error", sheet: "Agreed", text: expect.stringContaining(text) }]);
    expect(judgement.findings[0]?.text).toContain("Order O1 item 1");
    const requirements = firstCoil(judgement).requirements;
    expect(requirements.map((r) => [r.property, r.verdict, r.reason])).toEqual([
      ["wrap", "conforms", undefined],
      [property, "undecided", code],
    ]);
    expect(requirements[1]?.next).toMatchObject([{ do: "inspect", who: "quality" }]);
  });

  test.for([
    ["elongation", { min: "8" }],
    ["torsion", { min: "20", unit: "turns" }],
    ["torsion", { min: "20", max: "20" }],
    ["other:hardness", { min: "400" }],
  ] as const)("%s %j needs no unit beside its name", ([property, rest]) => {
    expect(judged([], { requirements: [WRAP] }, { agreed: [agreed(property, rest)] }).findings).toEqual([]);
  });

  test("an agreed requirement of another order item concerns nobody else", () => {
    const extra = [{ ...agreed("torsion", { min: "28" }), item: "2" }];
    expect(firstCoil(judged([torsionRow()], {}, { agreed: extra, orders: [ORDER] })).requirements).toHaveLength(1);
    expect(TORSION.min).toBe("20");
  });
});
