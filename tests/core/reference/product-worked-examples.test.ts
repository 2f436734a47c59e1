/** All worked examples of product-requirements-worked-examples.csv: printed answers as the file holds them, sums by the project's own functions. */
import { describe, expect, test } from "vitest";
import { standardVolume, ZINC_PER_ML } from "../../../core/formulas/coating.ts";
import type { EntryRow, Heat } from "../../../core/model.ts";
import { row as entryRow } from "../../helpers/judge.ts";
import { ask, numberAt } from "../calc/answers.ts";
import { readReference } from "../spec/reference.ts";
import { figures, halfPlace, judgedProperty } from "./worked.ts";

const ROWS = readReference("product-requirements-worked-examples");
const printedOf = (id: string): readonly string[] => figures(ROWS.find((row) => row["id"] === id)?.["result"] ?? "");

const limits = (specification: string, grade: string | null, property: string, diameter: string): readonly number[] => {
  const { min, max } = ask("limits", { specification, grade, property, diameter });
  return [min, max].filter((limit) => limit !== undefined).map(Number);
};
const stripped = (constant: number): number =>
  numberAt(
    ask("coating-mass", { massBefore: "25.000 g", massAfter: "24.200 g", strippedDiameter: "3.00 mm", constant }),
    "coatingMass.value",
  );
const zincA = (diameter: string): number => limits("EN 10244-2", "A", "coating-mass", diameter)[0] ?? Number.NaN;
const converted = (quantity: string, to: string): number => numberAt(ask("convert", { quantity, to }), "quantity.value");
const strength = (force: string, diameter: string): number =>
  numberAt(ask("tensile-strength", { force, diameter }), "tensileStrength.value");
const HYDROGEN = { hydrogen: "55.0 ml", temperature: "20 degC", pressure: "1013 mbar", strippedDiameter: "2.00 mm", length: "300 mm" };

/** By id: which of the printed figures, counted from 0, and what the project answers to them. */
const SUMS: Readonly<Record<string, readonly [at: readonly number[], answers: () => readonly number[]]>> = {
  W1: [[0, 1], () => limits("ASTM A228", null, "tensile-strength", "0.0465 in")],
  W2: [[0, 1], () => limits("ASTM A227", "I", "tensile-strength", "0.100 in")],
  W3: [[0, 1], () => limits("ASTM A231", null, "tensile-strength", "3.20 mm")],
  W4: [[0, 1], () => limits("EN 10270-1", "SM", "tensile-strength", "3.50 mm")],
  W5: [[0, 1, 2, 3], () => ["2.00 mm", "2.01 mm"].flatMap((d) => limits("EN 10270-1", "SH", "tensile-strength", d))],
  W6: [[0, 1], () => limits("JIS G 3522", "SWP-B", "tensile-strength", "1.50 mm")],
  W7: [
    [0, 1],
    () => {
      const [min = Number.NaN] = limits("ASTM A641", "3", "coating-mass", "0.125 in");
      return [min, converted(`${min} oz/ft2`, "g/m2")];
    },
  ],
  W8: [[0, 1, 2], () => ["2.49 mm", "2.50 mm", "2.80 mm"].map(zincA)],
  W9: [[0], () => [stripped(1960)]],
  W10: [[0, 1], () => [stripped(1965), 100 * (stripped(1965) / stripped(1960) - 1)]],
  W11: [[0], () => [stripped(1962.5)]],
  W16: [
    [0, 1, 2],
    () => {
      const volume = standardVolume({ text: "55.0", unit: "ml" }, { text: "20", unit: "degC" }, { text: "1013", unit: "mbar" });
      return [volume, ZINC_PER_ML * volume, numberAt(ask("coating-mass-gas", HYDROGEN), "coatingMass.value")];
    },
  ],
  // In MPa as printed; the limit itself stays in the table's own unit.
  W19: [[2], () => [converted(`${limits("ASTM A229", "I", "tensile-strength", "10 mm")[0]} ksi`, "MPa")]],
  W21: [[0], () => [strength("6250 N", "2.00 mm")]],
  // "the EN 10270-1 table gives 0.030"
  W23: [[2], () => [(limits("EN 10270-1", "SM", "diameter", "3.50 mm")[1] ?? Number.NaN) - 3.5]],
  W25: [[0], () => [numberAt(ask("reduction-of-area", { original: "4.00 mm", final: "2.95 mm" }), "percent")]],
  W26: [[0], () => [numberAt(ask("elongation", { original: "24.00 in", final: "25.22 in" }), "percent")]],
  W27: [[0], () => [numberAt(ask("elongation", { original: "250.0 mm", final: "268.0 mm" }), "percent")]],
  // "(table 0.0808)"
  W30: [[1], () => [numberAt(ask("gauge", { system: "awg", number: "12" }), "diameter.value")]],
  // The force of one of seven wires.
  W31: [[0, 1], () => [converted("49.820 kN", "lbf"), strength(`${(49820 / 7).toFixed(9)} N`, "2.64 mm")]],
  // An area of 98.7 mm2 is a round wire of that area.
  W32: [[0], () => [strength("183.7 kN", `${(2 * Math.sqrt(98.7 / Math.PI)).toFixed(12)} mm`)]],
  W34: [[0], () => [converted("282 ksi", "MPa")]],
};

/** W16 prints 79.30; its own 149.49 mg over pi x 2.00 mm x 300 mm are 79.307 g/m2, and unrounded 79.3066. */
const MISPRINTED: Readonly<Record<string, string>> = { "79.30": "79.31" };

/** Verdicts the examples come to, by the built-in specifications. */
const VERDICTS = ["W13", "W22", "W24", "W25", "W26", "W27", "W28"];

/** Examples, or parts of them, that nothing in the project works out. */
const NOT_EXPRESSED: Readonly<Record<string, string>> = {
  W12: "the inch constant 163 is not used: the constant of the calculation is in g/m2 a mm; only the two units are compared, below",
  W14: "a mass of coating is not turned into a thickness",
  W15: "the bare diameter is measured, never worked out of the coated one",
  W17: "strength formulas of handbooks are no requirement and are not held",
  W18: "as W17; the table's 282 ksi is run below",
  W20: "as W17",
  W29: "the spread of one lot (ASTM A764) is not held: that standard's tables could not be read",
  W33: "no calculation gives the mass of a metre",
};

describe("product-requirements-worked-examples.csv", () => {
  test("34 rows, each run or listed with the reason why not", () => {
    expect(ROWS).toHaveLength(34);
    const run = new Set([...Object.keys(SUMS), ...VERDICTS]);
    expect(ROWS.map((row) => row["id"] ?? "").filter((id) => !run.has(id))).toEqual(Object.keys(NOT_EXPRESSED));
    expect([...run].filter((id) => id in NOT_EXPRESSED || (printedOf(id).length === 0) !== (id === "W13" || id === "W28"))).toEqual([]);
  });

  test.for(ROWS.filter((row) => row["id"] !== undefined && row["id"] in SUMS))(
    "$id $topic, $input: $result ($source, $provenance)",
    (row) => {
      const [at, answers] = SUMS[row["id"] ?? ""] ?? [[], () => []];
      const printed = printedOf(row["id"] ?? "");
      const is = answers();
      expect(is).toHaveLength(at.length);
      at.forEach((place, index) => {
        const figure = MISPRINTED[printed[place] ?? ""] ?? printed[place] ?? "";
        expect(Math.abs((is[index] ?? Number.NaN) - Number(figure)), `${figure} against ${is[index]}`).toBeLessThan(halfPlace(figure));
      });
    },
  );

  test("W12: 0.6364 oz/ft2 is 194.21 g/m2, to the places of the first", () => {
    expect(Math.abs(converted("0.6364 oz/ft2", "g/m2") - 194.21)).toBeLessThan(0.00005 * 305.16);
  });
  test("W18, W34: the inch table gives 282 ksi at 0.080 in, and the metric size is no conversion of that limit", () => {
    expect(limits("ASTM A228", null, "tensile-strength", "0.080 in")[0]).toBe(282);
    expect(ask("limits", { specification: "ASTM A228", property: "tensile-strength", diameter: "2.032 mm" })).toMatchObject({
      min: "282",
      unit: "ksi",
    });
  });

  const strip = entryRow("coating-mass", { method: "strip", strippedDiameter: "3.00", massBefore: "25.000", massAfter: "24.200" });
  test.for([
    // class, verdict
    ["EN 10244-2 B", "conforms"],
    ["EN 10244-2 A", "retest-due"],
  ] as const)(
    "W13: 194.38 g/m2 against class %s: %s (passes B, fails A; a failure of coating allows a retest)",
    ([coatingClass, verdict]) => {
      const judged = judgedProperty("coating-mass", {
        specification: "EN 10270-1",
        grade: "SM",
        nominal: "3.00 mm",
        coatingClass,
        rows: [strip],
      });
      expect(judged).toMatchObject({
        verdict,
        results: [{ compared: "194", outcome: verdict === "conforms" ? "conforms" : "does-not-conform" }],
      });
    },
  );

  const W22 = { specification: "ASTM A227", grade: "II", nominal: "0.148 in" };
  const W24 = { specification: "EN 10270-1", grade: "SM", nominal: "2.00 mm" };
  test.for([
    // id, order, readings, property, value, source
    ["W22", W22, ["0.1492", "0.1475"], "diameter", 0.1492, "+0.0012 of 0.002"],
    ["W22", W22, ["0.1492", "0.1475"], "out-of-round", 0.0017, "0.0017 of 0.002"],
    ["W24", W24, ["2.015", "1.990"], "diameter", 2.015, "+0.015 of 0.025"],
    ["W24", W24, ["2.015", "1.990"], "out-of-round", 0.025, "at the limit, above it in binary floats"],
    ["W24", W24, ["2.010", "1.985"], "out-of-round", 0.025, "at the limit, below it in binary floats"],
  ] as const)("%s %j %j %s: %d conforms (%s)", ([, order, [largest, smallest], property, value]) => {
    const row = entryRow("diameter", { largest, smallest });
    const rows = [order === W22 ? inInches(row) : row];
    expect(judgedProperty(property, { ...order, rows })).toMatchObject({ verdict: "conforms", results: [{ value, outcome: "conforms" }] });
  });
  test("W25: 45.61 % against A231's 40 % at 4.00 mm: pass", () => {
    const rows = [entryRow("tensile", { diameter: "4.00", maximumForce: "20500", diameterAfter: "2.95" })];
    expect(judgedProperty("reduction-of-area", { specification: "ASTM A231", nominal: "4.00 mm", rows })).toMatchObject({
      verdict: "conforms",
      results: [{ compared: "46" }],
    });
  });
  test.for([
    // id, elongation, limit, outcome
    ["W26", { original: "24.00 in", final: "25.22 in" }, "5", "conforms"],
    ["W27", { original: "250.0 mm", final: "268.0 mm" }, "8", "does-not-conform"],
  ] as const)("%s %j against %s per cent: %s (the limit itself is of a standard not held)", ([, lengths, min, outcome]) => {
    const value = ask("elongation", lengths)["percent"];
    for (const method of ["absolute", "round"]) expect(ask("compare", { value, min, method, step: "0.5" })["outcome"]).toBe(outcome);
  });

  const product = (C: string): Heat => ({ heat: "H1", analysis: "product", source: "own", elements: { C } });
  const carbon = (heats: readonly Heat[]) => judgedProperty("chemistry:C", { specification: "ASTM A232", nominal: "4.00 mm", heats });
  test.for(["0.54", "0.47"])("W28: a product analysis of %s per cent C alone is inside 0.46 to 0.55", (C) => {
    expect(carbon([product(C)]).verdict).toBe("conforms");
  });
  test("W28: both on one heat fail: an element is not both above and below its range", () => {
    expect(carbon([product("0.54"), product("0.47")]).verdict).toBe("does-not-conform");
  });
});

function inInches(row: EntryRow): EntryRow {
  const fields = Object.entries(row.fields).map(([name, value]) => [name, value?.unit === "mm" ? { ...value, unit: "in" } : value]);
  return { ...row, fields: Object.fromEntries(fields) };
}
