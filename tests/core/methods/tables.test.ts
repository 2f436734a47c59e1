/** Every row of the reference's method tables, at and beside its edges. */
import { describe, expect, test } from "vitest";
import { ask, codeOf } from "../calc/answers.ts";
import { readReference } from "../spec/reference.ts";

const SYSTEMS: Readonly<Record<string, string>> = {
  "SWG (Washburn & Moen, US steel wire)": "us-steel",
  "Music wire gauge": "music",
  "AWG (Brown & Sharpe)": "awg",
  "BS SWG (Imperial)": "imperial",
  "BWG (Birmingham)": "birmingham",
};

describe("gauge", () => {
  test("every gauge of wire-gauges.csv; half gauges from ASTM A510 table 1", () => {
    const rows = readReference("wire-gauges").flatMap((row) => {
      const half = row["system"] === "SWG as printed in ASTM A510 table 1" && row["gauge"]?.includes(" 1/2");
      const system = half ? "us-steel" : SYSTEMS[row["system"] ?? ""];
      return system === undefined ? [] : [{ system, number: row["gauge"], diameter: Number(row["diameter_in"]) }];
    });
    expect(rows).toHaveLength(57 + 55 + 56 + 57 + 41 + 16);
    for (const { system, number, diameter } of rows)
      expect(ask("gauge", { system, number }), `${system} ${number}`).toEqual({ diameter: { value: diameter, unit: "in" } });
  });
  test.for([
    // system, number, code, source: contract
    ["us-steel", "9", "answered", "0.1483, not the 0.148 of A510"],
    ["us-steel", "7 1/2", "outside-scope", "A510 prints none"],
    ["us-steel", "51", "outside-scope", "a number not in the table"],
    ["music", "0", "outside-scope", "a number not in the table"],
    ["awg", "constructor", "wrong-input", "not a number"],
    ["awg", "", "wrong-input", "not a number"],
    ["awg", 12, "wrong-input", "number is text"],
    ["swg", "12", "wrong-input", "a word outside the list"],
  ] as const)("%s %j: %s (%s)", ([system, number, code]) => {
    expect(codeOf("gauge", { system, number })).toBe(code);
  });
});

describe("torsion-tension, API 9A (torsion-applied-tension.csv)", () => {
  test("every row in both unit systems, and the gap behind it", () => {
    const rows = readReference("torsion-applied-tension").filter((row) => row["standard"]?.startsWith("API") && row["d_min_in"] !== "");
    expect(rows).toHaveLength(13);
    for (const row of rows) {
      const [lbf, newton] = [Number(row["min_tension_lbf"]), Number(row["min_tension_N"])];
      for (const d of [`${row["d_min_in"]} in`, `${row["d_max_in"]} in`, `${row["d_max_in"]}4 in`])
        expect(ask("torsion-tension", { standard: "API 9A", diameter: d }), d).toEqual({
          min: { value: lbf, unit: "lbf" },
          max: { value: 2 * lbf, unit: "lbf" },
          minMass: { value: lbf, unit: "lb" },
          maxMass: { value: 2 * lbf, unit: "lb" },
          provenance: "read",
        });
      for (const d of [`${row["d_min_mm"]} mm`, `${row["d_max_mm"]} mm`, `${row["d_max_mm"]}4 mm`])
        expect(ask("torsion-tension", { standard: "API 9A", diameter: d }), d).toMatchObject({
          min: { value: newton, unit: "N" },
          max: { value: 2 * newton, unit: "N" },
          minMass: { value: newton / 9.80665, unit: "kg" },
        });
    }
  });
  test.for([
    ["API 9A", "0.010 in", undefined, "outside-scope", "below the first row"],
    ["API 9A", "3.32 mm", undefined, "outside-scope", "above the last row"],
    ["ISO 7800", "0.09 mm", "1770 MPa", "outside-scope", "scope 0.1 to 14 mm, [S23]"],
    ["ISO 7800", "14 mm", "1770 MPa", "answered", "scope 0.1 to 14 mm, [S23]"],
    ["ISO 7800", "2 mm", undefined, "wrong-input", "a share of the strength needs the strength"],
    ["ASTM A938", "2 mm", "1770 MPa", "no-rule", "its table 1 was not visible"],
    ["ASTM A227", "2 mm", "1770 MPa", "no-rule", "a product standard without a tension"],
    ["ISO 7777", "2 mm", "1770 MPa", "unknown-standard", "invented"],
  ] as const)("%s at %s, %s: %s (%s)", ([standard, diameter, tensileStrength, code]) => {
    expect(codeOf("torsion-tension", { standard, diameter, tensileStrength })).toBe(code);
  });
});

describe("bend-radius, ISO 7801:1984 (reverse-bend-radius.csv)", () => {
  test("every row at both edges", () => {
    const rows = readReference("reverse-bend-radius");
    expect(rows).toHaveLength(10);
    for (const row of rows) {
      const inside = [row["d_max_mm"], row["d_min_inclusive"] === "yes" ? row["d_min_mm"] : `${row["d_min_mm"]}001`];
      for (const d of inside)
        expect(ask("bend-radius", { diameter: `${d} mm` }), d).toEqual({
          radius: { value: Number(row["radius_mm"]), unit: "mm" },
          distance: { value: Number(row["distance_h_mm"]), unit: "mm" },
          provenance: "memory",
        });
    }
  });
  test.for([
    ["0.29 mm", "outside-scope"],
    ["10.01 mm", "outside-scope"],
    ["0.1 in", "answered"],
  ] as const)("%s: %s", ([diameter, code]) => {
    expect(codeOf("bend-radius", { diameter })).toBe(code);
  });
  test("an inch diameter is converted exactly and the answer keeps the table's mm (contract)", () => {
    expect(ask("bend-radius", { diameter: "0.0787 in" })).toMatchObject({ radius: { value: 5, unit: "mm" } });
  });
});

const mm = (value: number): object => ({ value, unit: "mm" });
const inch = (value: number): object => ({ value, unit: "in" });

describe("torsion-length (torsion-gauge-length.csv)", () => {
  test.for([
    // standard, diameter, length or code, source
    ["ISO 7800", "0.1 mm", mm(20), "200 d from 0.1 mm, memory"],
    ["ISO 7800", "0.999 mm", mm(199.8), "200 d below 1 mm"],
    ["ISO 7800", "1 mm", mm(100), "100 d from 1 mm"],
    ["ISO 7800", "4.99 mm", mm(499), "100 d below 5 mm"],
    ["ISO 7800", "5 mm", mm(250), "50 d from 5 mm"],
    ["ISO 7800", "10 mm", mm(500), "50 d up to 10 mm"],
    ["ISO 7800", "10.01 mm", mm(220.22), "22 d over 10 mm"],
    ["ISO 7800", "14.01 mm", "outside-scope", "scope [S23]"],
    ["ISO 7800", "0.080 in", inch(8), "lengths come as the diameter did (contract)"],
    ["ISO 7800:2003", "2 mm", "unknown-standard", "that edition is not held"],
    ["EN 10270-1", "0.30 mm", mm(30), "100 d, all sizes, [S1]"],
    ["EN 10270-1", "3.01 mm", mm(300), "at most 300 mm, [S1]"],
    ["EN 10270-1:2001", "2 mm", "unknown-standard", "that edition is not held"],
    ["ASTM A938", "2 mm", mm(203), "8 in (203 mm), [S2]; 203 mm for mm (contract)"],
    ["ASTM A938-97(2003)", "0.080 in", inch(8), "8 in for inch (contract)"],
    ["API 9A", "2 mm", mm(203), "8 in (203 mm), [S3]"],
    ["IEC 61232", "3.2 mm", mm(320), "100 d, [S4]"],
    ["ASTM B415", "3.2 mm", mm(320), "100 d, [S5]"],
    ["JIS C 3110:2019", "2.6 mm", mm(260), "100 d, [S6]"],
    ["GOST 1545-80", "0.25 mm", mm(50), "50 mm, 0.20 to 0.25 mm, [S7]"],
    ["GOST 1545-80", "0.26 mm", "no-rule", "the larger rows were not visible: a hole, never the neighbour"],
    ["GOST 1545-80", "10.1 mm", "outside-scope", "0.20 to 10 mm, [S7]"],
    ["EN 50189", "3.15 mm", mm(315), "100 d from memory, sizes of table 3, [S12]"],
    ["EN 50189", "1.24 mm", "outside-scope", "over 1.24 mm, [S12]"],
    ["EN 50189", "5.50 mm", mm(550), "up to 5.50 mm, [S12]"],
    ["ASTM A228", "2 mm", "no-rule", "a product standard without torsion"],
    ["ASTM A818", "2 mm", "no-rule", "held for sampling only"],
  ] as const)("%s, %s: %j (%s)", ([standard, diameter, expected]) => {
    const question = { standard, diameter };
    if (typeof expected === "string") expect(codeOf("torsion-length", question)).toBe(expected);
    else expect(ask("torsion-length", question)["freeLength"]).toEqual(expected);
  });

  test.for([
    // standard, tester, length and what it was scaled from, or code; source
    [
      "JIS C 3110",
      { testerMin: "50 mm", testerMax: "200 mm" },
      { freeLength: mm(200), scaledFrom: mm(260) },
      "other spacing allowed, [S6]",
    ],
    ["JIS C 3110", { testerMin: "30 cm" }, { freeLength: mm(300), scaledFrom: mm(260) }, "other spacing allowed, [S6]"],
    ["API 9A", { testerMax: "150 mm" }, { freeLength: mm(150), scaledFrom: mm(203) }, "shorter allowed, [S3]"],
    ["API 9A", { testerMin: "250 mm" }, "no-combination", "only shorter is allowed, [S3]"],
    ["JIS C 3110", { testerMin: "260 mm", testerMax: "260 mm" }, { freeLength: mm(260) }, "edges are within"],
    ["ISO 7800", { testerMax: "200 mm" }, "no-combination", "no scaling in the standard"],
    ["EN 10270-1", { testerMax: "200 mm" }, "no-combination", "no scaling in the standard"],
    ["ISO 7800", { testerMin: "300 mm", testerMax: "200 mm" }, "wrong-input", "min above max"],
  ] as const)("%s at 2.6 mm with tester %j: %j (%s)", ([standard, tester, expected]) => {
    const question = { standard, diameter: "2.6 mm", ...tester };
    if (typeof expected === "string") expect(codeOf("torsion-length", question)).toBe(expected);
    else {
      const { freeLength, scaledFrom } = ask("torsion-length", question);
      expect({ freeLength, ...(scaledFrom === undefined ? {} : { scaledFrom }) }).toEqual(expected);
    }
  });
});

describe("wrap-mandrel (wrap-mandrel.csv, zinc-adherence.csv)", () => {
  test.for([
    // standard, grade, diameter, purpose, mandrel / wraps / provenance or code; source
    ["ASTM A877", "A", "4.00 mm", "ductility", { mandrelDiameter: mm(4), provenance: "read" }, "1 d up to 4.00 mm, [S13]"],
    ["ASTM A877", "A", "4.01 mm", "ductility", { mandrelDiameter: mm(8.02) }, "2 d to 8.00 mm"],
    ["ASTM A877", "A", "0.157 in", "ductility", { mandrelDiameter: inch(0.157) }, "printed 0.157 in for grade A"],
    ["ASTM A877", "A", "0.1575 in", "ductility", { mandrelDiameter: inch(0.315) }, "over 0.157 in: 2 d"],
    ["ASTM A877", "C", "0.1575 in", "ductility", { mandrelDiameter: inch(0.315) }, "up to 0.1575 in for grades B, C, D: 2 d"],
    ["ASTM A877", "C", "0.158 in", "ductility", { mandrelDiameter: inch(0.474) }, "3 d"],
    ["ASTM A877", undefined, "3.5 mm", "ductility", "wrong-input", "the grades differ and none is named"],
    ["ASTM A877", "E", "3.5 mm", "ductility", "unknown-grade", "grades A to D"],
    ["ASTM A877", "a", "3.5 mm", "ductility", "unknown-grade", "spelled as printed (contract)"],
    ["ASTM A877", "A", "3.5 mm", "adherence", "no-rule", "ductility only"],
    ["ASTM A877", undefined, "8.01 mm", "ductility", "outside-scope", "not applicable above, whatever the grade"],
    ["ASTM A818", undefined, "2 mm", "adherence", { mandrelDiameter: mm(2), provenance: "read" }, "1 d, [S14]"],
    ["ASTM A856", undefined, "2 mm", "adherence", "no-rule", "its table 3 was not visible, [S15]"],
    ["ASTM B498", undefined, "3 mm", "ductility", { mandrelDiameter: mm(3), wraps: 8, provenance: "memory" }, "1 d, 8 wraps"],
    ["ASTM B498", undefined, "3.55 mm", "adherence", { mandrelDiameter: mm(14.2) }, "4 d to 3.55 mm"],
    ["ASTM B498", "A", "0.1400 in", "adherence", { mandrelDiameter: inch(0.7) }, "5 d above 0.1399 in"],
    ["BS 443:1982", undefined, "3.8 mm", "adherence", { mandrelDiameter: mm(15.2), wraps: 6, provenance: "memory" }, "4 d, 6 wraps"],
    ["BS 443", undefined, "3.81 mm", "adherence", { mandrelDiameter: mm(19.05), wraps: 6 }, "5 d above"],
    ["EN 10223-3", undefined, "2.7 mm", "adherence", { mandrelDiameter: mm(10.8), wraps: 6, provenance: "read" }, "4 d, 6 wraps, [P24]"],
    ["EN 10244-2", "A", "2.7 mm", "adherence", "no-rule", "steps not confirmed: 4 to 5 d"],
    ["EN 10270-1", "SH", "3.00 mm", "ductility", { mandrelDiameter: mm(3), wraps: 8 }, "8 wraps on 1 d, [S1]"],
    ["EN 10270-1", undefined, "2.00 mm", "ductility", { mandrelDiameter: mm(2), wraps: 8 }, "one rule for all grades"],
    ["EN 10270-1", "SH", "3.01 mm", "ductility", "no-rule", "above 3 mm nothing is decided (contract)"],
    ["EN 50189", undefined, "1.25 mm", "ductility", { mandrelDiameter: mm(1.25), wraps: 8, provenance: "read" }, "8 turns on 1 d, [S12]"],
    ["EN 50189", undefined, "1.24 mm", "ductility", "outside-scope", "over 1.24 mm"],
    ["ASTM A229", "I", "4.00 mm", "ductility", { mandrelDiameter: mm(4), provenance: "memory" }, "1 d up to 4.00 mm"],
    ["ASTM A229", undefined, "0.163 in", "ductility", { mandrelDiameter: inch(0.326) }, "2 d over 0.162 in, both grades"],
    ["ASTM A227", "II", "5 mm", "ductility", { mandrelDiameter: mm(20) }, "4 d, memory low"],
    ["ASTM A227", "I", "8.01 mm", "ductility", "outside-scope", "not applicable above"],
    ["ISO 7802", undefined, "2 mm", "ductility", "no-rule", "as the product standard says, [S11]"],
    ["JIS G 3522", "SWP-A", "2 mm", "ductility", "no-rule", "no wrap rule held"],
  ] as const)("%s %s, %s, %s: %j (%s)", ([standard, grade, diameter, purpose, expected]) => {
    const question = { standard, grade, diameter, purpose };
    if (typeof expected === "string") expect(codeOf("wrap-mandrel", question)).toBe(expected);
    else expect(ask("wrap-mandrel", question)).toMatchObject(expected);
  });
});

describe("samples-required (sampling-retest-rules.csv)", () => {
  test.for([
    ["ASTM A818", 70, undefined, { samples: 7 }, "one per ten, [S14]"],
    ["ASTM A818", 71, undefined, { samples: 7 }, "at most seven, [S14]"],
    ["ASTM A1000", 12, 5, { samples: 5 }, "every heat is tested, [S20]"],
    ["ASTM A1000", 12, undefined, "wrong-input", "a rule per heat needs heats (contract)"],
    ["ASTM A1000", 12, 13, "wrong-input", "more heats than coils cannot be"],
    ["ASTM A877", 3, undefined, { samples: 6, bothEnds: true, provenance: "read" }, "both ends of each coil, [S13]"],
    ["ASTM A227", 21, undefined, { samples: 3, bothEnds: false, provenance: "memory" }, "one per ten or part"],
    ["ASTM A228", 20, undefined, { samples: 2 }, "one per ten or part"],
    ["ASTM A229", 1, undefined, { samples: 1 }, "one per ten or part"],
    ["EN 10270-1", 20, undefined, "no-rule", "none held"],
    ["ISO 7800", 20, undefined, "no-rule", "a method has none"],
    ["ASTM A818:1906", 20, undefined, "unknown-standard", "invented edition"],
    ["ASTM A818", 0, undefined, "wrong-input", "zero where impossible"],
    ["ASTM A818", 2.5, undefined, "wrong-input", "coils are whole"],
  ] as const)("%s, %d coils, %s heats: %j (%s)", ([standard, coils, heats, expected]) => {
    const question = { standard, coils, heats };
    if (typeof expected === "string") expect(codeOf("samples-required", question)).toBe(expected);
    else expect(ask("samples-required", question)).toMatchObject(expected);
  });
});
