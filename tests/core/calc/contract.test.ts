/** What the contract says of names, inputs, units and errors, whatever the calculation. */
import { describe, expect, test } from "vitest";
import { calculations, isCalculation, runCalculation } from "../../../core/calc/index.ts";
import { ask, codeOf, numberAt } from "./answers.ts";

const NAMES = (
  "round compare decide convert gauge tensile-strength elongation reduction-of-area torsion-length torsion-scale torsion-strain " +
  "torsion-stress torsion-tension counterweights wrap-mandrel wrap-strain bend-strain bend-radius coating-mass coating-mass-gas " +
  "limits samples-required describe individuals-chart capability grubbs tolerance-factor acceptance-plan tensile-uncertainty"
).split(" ");

describe("names", () => {
  test("every name of the table and no other", () => {
    expect(calculations.map((each) => each.name).sort()).toEqual([...NAMES].sort());
    expect(NAMES.every(isCalculation)).toBe(true);
    expect(isCalculation("constructor")).toBe(false);
    expect(() => runCalculation("torsion", {})).toThrow(RangeError);
  });
  test.for([...calculations])("$name: its example answers, with the schema first", ({ name, example }) => {
    const answer = runCalculation(name, JSON.parse(JSON.stringify(example)));
    expect(Object.keys(answer)[0]).toBe("schema");
    expect(answer).not.toHaveProperty("error");
  });
  test.for([...calculations])("$name: an unknown key, no object and each key left out", ({ name, example }) => {
    expect(codeOf(name, { ...example, surplus: 1 })).toBe("wrong-input");
    for (const input of [null, undefined, [], "text", 7, true]) expect(codeOf(name, input)).toBe("wrong-input");
    expect(codeOf(name, {})).toBe("wrong-input");
    for (const key of Object.keys(example)) {
      // A key of null is a missing key: both give the same answer.
      expect(runCalculation(name, { ...example, [key]: null }), key).toEqual(runCalculation(name, { ...example, [key]: undefined }));
      for (const odd of [{}, true, "", "x", "1 mm extra"])
        expect(codeOf(name, { ...example, [key]: odd }), `${key} ${odd}`).not.toBe("answered");
    }
  });
});

describe("wrong input", () => {
  test.for([
    // name, input, why: all of the contract's list
    ["tensile-strength", { force: "6250N", diameter: "2 mm" }, "one blank between number and unit"],
    ["tensile-strength", { force: "6250  N", diameter: "2 mm" }, "one blank, not two"],
    ["tensile-strength", { force: "6,250 N", diameter: "2 mm" }, "no comma"],
    ["tensile-strength", { force: "+6250 N", diameter: "2 mm" }, "no plus"],
    ["tensile-strength", { force: "6.25e3 N", diameter: "2 mm" }, "no exponent"],
    ["tensile-strength", { force: ".5 N", diameter: "2 mm" }, "digits before the point"],
    ["tensile-strength", { force: "6250. N", diameter: "2 mm" }, "digits behind the point"],
    ["tensile-strength", { force: " 6250 N", diameter: "2 mm" }, "no blank around"],
    ["tensile-strength", { force: 6250, diameter: "2 mm" }, "a quantity has a unit"],
    ["tensile-strength", { force: "6250 n", diameter: "2 mm" }, "units as written"],
    ["tensile-strength", { force: "6250 MPa", diameter: "2 mm" }, "wrong dimension"],
    ["tensile-strength", { force: "6250 constructor", diameter: "2 mm" }, "no unit"],
    ["tensile-strength", { force: "6250 N", diameter: "0.00 mm" }, "zero where impossible"],
    ["tensile-strength", { force: "6250 N", diameter: "-2 mm" }, "negative where impossible"],
    ["tensile-strength", { force: `${"9".repeat(310)} N`, diameter: "2 mm" }, "non-finite"],
    ["round", { value: `0.${"0".repeat(500)}1`, step: 1, ties: "even" }, "more digits than a double holds"],
    ["tolerance-factor", { n: "10.00000000000000000001", coverage: 0.95, confidence: 0.95, sides: 2 }, "n is whole, in decimals"],
    ["round", { value: Number.POSITIVE_INFINITY, step: 1, ties: "even" }, "non-finite"],
    ["round", { value: Number.NaN, step: 1, ties: "even" }, "non-finite"],
    ["round", { value: 1, step: 0, ties: "even" }, "a step of zero"],
    ["round", { value: 1, step: 1, ties: "up" }, "a word outside the list"],
    ["round", { value: 1, step: 1 }, "missing key"],
    ["round", JSON.parse('{"value":1,"step":1,"ties":"even","__proto__":1}'), "unknown key"],
    ["compare", { value: 1, method: "round" }, "no limit at all"],
    ["compare", { value: 1, min: null, max: null, method: "round" }, "null is missing"],
    ["compare", { value: 1, min: "2.1", max: 2, method: "round" }, "min above max"],
    ["decide", { value: 1, min: 1, U: -1, rule: "simple" }, "negative where impossible"],
    ["convert", { quantity: "1 in", to: "kg" }, "wrong dimension"],
    ["convert", { quantity: "1 in", to: "inch" }, "no unit"],
    ["convert", { quantity: "-1 K", to: "degC" }, "below absolute zero"],
    ["elongation", { original: "250 mm", final: "249.9 mm" }, "shorter after the break"],
    ["elongation", { original: "10 in", final: "253.9 mm" }, "shorter after the break, in another unit"],
    ["reduction-of-area", { original: "4 mm", final: "4.01 mm" }, "thicker after the break"],
    ["torsion-scale", { turns: -1, from: "1 mm", to: "1 mm" }, "negative turns"],
    ["torsion-stress", { diameter: "2 mm", torque: "-1 N mm" }, "negative torque"],
    ["coating-mass", { massBefore: "24 g", massAfter: "0.0241 kg", strippedDiameter: "3 mm" }, "heavier after stripping"],
    [
      "coating-mass-gas",
      { hydrogen: "55 ml", temperature: "-273.15 degC", pressure: "1013 mbar", strippedDiameter: "2 mm", length: "300 mm" },
      "absolute zero",
    ],
    ["limits", { specification: "EN 10270-1", grade: "SM", property: "strength", diameter: "2 mm" }, "a property outside the list"],
    ["limits", { specification: "EN 10270-1", property: "wrap", diameter: "2 mm" }, "a grade is missing"],
    ["limits", { specification: "EN 10270-1:2011", edition: "2001", grade: "SM", property: "wrap", diameter: "2 mm" }, "two editions"],
    ["describe", { values: [] }, "no values"],
    ["describe", { values: [1, null] }, "null in a list"],
    ["describe", { values: "1 2 3" }, "values is a list"],
    ["individuals-chart", { values: [] }, "no values"],
    ["capability", { mean: 1, sd: 1 }, "no limit at all"],
    ["capability", { mean: 1, sd: 0, lower: 0 }, "zero where impossible"],
    ["capability", { mean: 1, sd: 1, lower: 2, upper: 1 }, "min above max"],
    ["grubbs", { values: [2, "2.0", 2], alpha: 0.05, sides: 1 }, "without spread (contract)"],
    ["grubbs", { values: [1, 2], alpha: 0.05, sides: 1 }, "too few to test"],
    ["grubbs", { values: [1, 2, 9], alpha: 5, sides: 1 }, "a fraction, never per cent"],
    ["grubbs", { values: [1, 2, 9], alpha: 0.05, sides: 3 }, "sides 1 or 2"],
    ["tolerance-factor", { n: 10, coverage: 95, confidence: 0.95, sides: 2 }, "a fraction, never per cent"],
    ["tolerance-factor", { n: 1, coverage: 0.95, confidence: 0.95, sides: 2 }, "one value has no spread"],
    ["tolerance-factor", { n: 9.5, coverage: 0.95, confidence: 0.95, sides: 2 }, "n is whole"],
    ["acceptance-plan", { lot: 100, level: "2", aql: 1 }, "a word outside the list"],
    ["acceptance-plan", { lot: 100, level: "II", aql: 0 }, "zero where impossible"],
    ["tensile-uncertainty", budget({ halfWidth: "1 N", sd: "1 N" }), "both of halfWidth and sd (contract)"],
    ["tensile-uncertainty", budget({}), "neither of halfWidth and sd (contract)"],
    ["tensile-uncertainty", budget({ halfWidth: "1 mm" }), "wrong dimension for a force"],
    ["tensile-uncertainty", budget({ sd: "1 N", note: "x" }), "unknown key inside"],
    ["tensile-uncertainty", budget({ sd: "1 N", distribution: "flat" }), "a word outside the list"],
    ["tensile-uncertainty", { force: "1 N", diameter: "1 mm", contributions: [] }, "no contribution"],
  ] as const)("%s %j (%s)", ([name, input]) => {
    expect(codeOf(name, input)).toBe("wrong-input");
  });

  test("it comes before everything the tables say; the text names key, found and accepted", () => {
    expect(codeOf("torsion-length", { standard: "unknown", diameter: "2 kg" })).toBe("wrong-input");
    expect(codeOf("limits", { specification: "unknown", property: "torsion", diameter: "2 mm", x: 1 })).toBe("wrong-input");
    expect(ask("tensile-strength", { force: "6250 MPa", diameter: "2 mm" })).toEqual({
      error: {
        code: "wrong-input",
        text: 'force: found "6250 MPa"; accepted is a number, one blank and a unit, such as "6250 N" (a force)',
      },
    });
  });
  test("numbers no double holds end as an error, never as null in JSON", () => {
    const huge = "9".repeat(300);
    expect(codeOf("torsion-stress", { diameter: `0.${"0".repeat(100)}1 mm`, torque: `${huge} N mm` })).toBe("wrong-input");
  });
});

describe("errors of limits, in the contract's order", () => {
  test.for([
    // input, code, source
    [{ specification: "EN 10270-9", property: "torsion", diameter: "2 mm", grade: "X" }, "unknown-standard", "invented"],
    [
      { specification: "EN 10270-1:1999", property: "torsion", diameter: "2 mm", grade: "SM" },
      "unknown-standard",
      "that edition is not held",
    ],
    [{ specification: "EN 10270-1", property: "reverse-bend", diameter: "99 mm", grade: "sm" }, "unknown-grade", "spelled as printed"],
    [{ specification: "EN 10270-1", property: "reverse-bend", diameter: "99 mm", grade: "SM" }, "no-rule", "no rule comes before the size"],
    [{ specification: "EN 10270-1", property: "other:hardness", diameter: "2 mm", grade: "SM" }, "no-rule", "a name of one's own"],
    [{ specification: "EN 10270-1", property: "torsion", diameter: "99 mm", grade: "SM" }, "outside-scope", "a rule, not for this size"],
    [{ specification: "EN 10270-1", property: "wrap", diameter: "3.01 mm", grade: "SM" }, "no-rule", "until a person decides"],
    [{ specification: "ASTM A231", property: "reduction-of-area", diameter: "3.60 mm" }, "no-rule", "until a person decides"],
    [
      { specification: "EN 10270-1:2011", edition: "2011", property: "wrap", diameter: "2 mm", grade: "SM" },
      "answered",
      "said twice alike",
    ],
    [{ specification: "ASTM A228", property: "chemistry:C" }, "answered", "chemistry needs no diameter"],
    [{ specification: "ASTM A228", property: "diameter" }, "wrong-input", "everything else does"],
  ] as const)("%j: %s (%s)", ([input, code]) => {
    expect(codeOf("limits", input)).toBe(code);
  });
});

describe("units of the answers", () => {
  test.for([
    // name, input, where, unit; source: CALC.md "Answers" and "Input" (only the inch table of A228 is held, both of A231)
    ["tensile-strength", { force: "6250 N", diameter: "0.0787 in" }, "tensileStrength.unit", "ksi"],
    ["tensile-strength", { force: "1405 lbf", diameter: "2000 um" }, "tensileStrength.unit", "MPa"],
    ["torsion-stress", { diameter: "0.08 in", torque: "13 lbf in" }, "plastic.unit", "ksi"],
    ["torsion-tension", { standard: "ISO 7800", diameter: "0.08 in", tensileStrength: "1770 MPa" }, "max.unit", "lbf"],
    ["wrap-mandrel", { standard: "ASTM A818", diameter: "0.2 cm", purpose: "adherence" }, "mandrelDiameter.unit", "mm"],
    ["wrap-mandrel", { standard: "ASTM A818", diameter: "0.01 ft", purpose: "adherence" }, "mandrelDiameter.unit", "in"],
    ["limits", { specification: "ASTM A228", property: "tensile-strength", diameter: "0.080 in" }, "unit", "ksi"],
    ["limits", { specification: "ASTM A228", property: "tensile-strength", diameter: "2.00 mm" }, "unit", "ksi"],
    ["limits", { specification: "ASTM A231", property: "tensile-strength", diameter: "3.20 mm" }, "unit", "MPa"],
    ["limits", { specification: "ASTM A231", property: "tensile-strength", diameter: "0.135 in" }, "unit", "ksi"],
  ] as const)("%s %j: %s is %s", ([name, input, path, unit]) => {
    const found = path.split(".").reduce<unknown>((value, key) => (value as Record<string, unknown>)[key], ask(name, input));
    expect(found).toBe(unit);
  });
  test.for([
    // quantity, to, value, source
    ["1 in", "mm", 25.4, "defined"],
    ["1 lb", "kg", 0.45359237, "defined"],
    ["1 kgf", "N", 9.80665, "defined"],
    ["1 lbf", "N", 4.4482216152605, "defined: lb x g"],
    ["1 ft", "in", 12, "defined"],
    ["1 N m", "N mm", 1000, "defined"],
    ["1 GPa", "N/mm2", 1000, "defined"],
    ["1 l", "cm3", 1000, "defined"],
    ["1 kPa", "hPa", 10, "defined"],
    ["1 bar", "mbar", 1000, "defined"],
    ["212 degF", "degC", 100, "defined"],
    ["-40 degC", "degF", -40, "defined"],
    ["20 degC", "K", 293.15, "defined"],
    ["1 oz", "mg", 28349.523125, "defined: a sixteenth of a pound"],
    ["50 %", "%", 50, "the same"],
  ] as const)("%s is %s %d (%s)", ([quantity, to, value]) => {
    expect(ask("convert", { quantity, to })).toEqual({ quantity: { value, unit: to } });
  });
});

describe("tensile-uncertainty (statistics-and-documents.md C2, worked budget)", () => {
  const contributions = [
    { name: "force, class 1", of: "force", halfWidth: "98.2 N", distribution: "rectangular" },
    { name: "micrometer resolution", of: "diameter", halfWidth: "0.0005 mm", distribution: "rectangular" },
    { name: "micrometer error", of: "diameter", halfWidth: "4 um", distribution: "rectangular" },
    { name: "repeatability", of: "diameter", sd: "0.002 mm", distribution: "normal" },
  ];
  const answer = ask("tensile-uncertainty", { force: "9820 N", diameter: "2.500 mm", contributions });
  test.for([
    ["tensileStrength.value", 2000.514],
    ["u.value", 12.551],
    ["U.value", 25.1],
    ["contributions.0.u.value", 11.55],
    ["contributions.1.u.value", 0.462],
    ["contributions.2.u.value", 3.696],
    ["contributions.3.u.value", 3.201],
    ["contributions.0.share", (11.55 / 12.551) ** 2],
  ] as const)("%s is %d", ([path, figure]) => {
    expect(Math.abs(numberAt(answer, path) - figure)).toBeLessThan(0.0006 * (path === "U.value" ? 5 : 1));
  });
  test("names in input order, shares sum to 1, unit MPa", () => {
    const parts = answer["contributions"] as { name: string; share: number; u: { unit: string } }[];
    expect(parts.map((part) => part.name)).toEqual(contributions.map((each) => each.name));
    expect(parts.reduce((sum, part) => sum + part.share, 0)).toBeCloseTo(1, 12);
    expect(parts[0]?.u.unit).toBe("MPa");
  });
  test.for([
    // distribution, divisor of the half width, source
    ["rectangular", Math.sqrt(3), "C1"],
    ["triangular", Math.sqrt(6), "C1"],
    ["u-shaped", Math.sqrt(2), "C1"],
    ["normal", 2, "contract: halfWidth of normal is U (k = 2)"],
  ] as const)("%s divides by %d (%s)", ([distribution, divisor]) => {
    const u = numberAt(ask("tensile-uncertainty", budget({ halfWidth: "1 N", distribution })), "u.value");
    expect(u).toBeCloseTo(4 / Math.PI / divisor, 12);
  });
});

/** One contribution to the strength of a wire of 1 mm under 1 N. */
function budget(part: Record<string, string>): Record<string, unknown> {
  return { force: "1 N", diameter: "1 mm", contributions: [{ name: "one", of: "force", distribution: "rectangular", ...part }] };
}
