/** The `limits` row of the contract: conditions, units, text of limits, between-sizes rules, errors in their order. */
import { describe, expect, test } from "vitest";
import { type LimitsAnswer, limitsFor } from "../../../core/spec/index.ts";
import type { LimitsQuestion } from "../../../core/spec/limits.ts";
import { PROPERTIES } from "../../../core/spec/properties.ts";

/** `"EN 10270-1|SM|torsion|2.00 mm"` as a question. */
function question(text: string): LimitsQuestion {
  const [specification = "", grade = "", property = "", size = ""] = text.split("|");
  const [number = "", ...unit] = size.split(" ");
  return {
    specification,
    ...(grade === "" ? {} : { grade }),
    property,
    ...(size === "" ? {} : { diameter: { text: number, unit: unit.join(" ") as "mm" } }),
  };
}
const ask = (text: string): LimitsAnswer => limitsFor(question(text));
const errorOf = (given: LimitsQuestion): unknown => {
  try {
    return limitsFor(given);
  } catch (error) {
    return (error as { code?: string }).code;
  }
};

describe("worked examples of the reference", () => {
  test.for([
    // question                                   min     max     unit      provenance  source
    ["ASTM A228||tensile-strength|0.0465 in", "307.5", "340.5", "ksi", "memory", "product-requirements W1 (table read, rule memory)"],
    [
      "ASTM A227|I|tensile-strength|0.100 in",
      "217.714285714286",
      "250.142857142857",
      "ksi",
      "memory",
      "W2: 217.714 / 250.143, at most 15 digits",
    ],
    ["ASTM A231||tensile-strength|3.20 mm", "1644", "1784", "MPa", "read", "W3 (table and rule read)"],
    ["EN 10270-1|SM|tensile-strength|3.50 mm", "1570", "1760", "MPa", "read", "W4: the band, not the supplier's interpolation"],
    ["EN 10270-1|SH|tensile-strength|2.00 mm", "1980", "2200", "MPa", "memory", "W5"],
    ["EN 10270-1|SH|tensile-strength|2.01 mm", "1970", "2180", "MPa", "memory", "W5"],
    ["JIS G 3522|SWP-B|tensile-strength|1.50 mm", "2110", "2300", "MPa", "read", "W6: next larger, 1.60"],
    ["ASTM A641|3|coating-mass|0.125 in", "0.85", undefined, "oz/ft2", "read", "W7: next smaller, 0.120"],
    ["EN 10244-2|A|coating-mass|2.49 mm", "230", undefined, "g/m2", "read", "W8: lower edge included"],
    ["EN 10244-2|A|coating-mass|2.50 mm", "245", undefined, "g/m2", "read", "W8"],
    ["EN 10244-2|A|coating-mass|2.80 mm", "255", undefined, "g/m2", "read", "W8"],
    ["JIS G 3522|SWP-A|torsion|0.70 mm", "25", undefined, "turns", "memory", "mechanical-tests M2; free length from memory"],
    ["JIS G 3522|SWP-B|torsion|2.00 mm", "25", undefined, "turns", "memory", "M3"],
    ["JIS G 3522|SWP-B|torsion|2.01 mm", "20", undefined, "turns", "memory", "M4"],
    ["JIS G 3522|SWP-A|torsion|3.51 mm", "15", undefined, "turns", "memory", "M6"],
    ["JIS G 3522|SWP-V|torsion|3.51 mm", "25", undefined, "turns", "memory", "M7"],
    ["EN 50189||torsion|2.25 mm", "18", undefined, "turns", "memory", "M9, before stranding"],
    ["EN 50189||torsion|2.26 mm", "16", undefined, "turns", "memory", "M10"],
    ["EN 50189|ST1A|torsion|3.01 mm", "14", undefined, "turns", "memory", "M12"],
  ] as const)("%s -> %s to %s %s, %s (%s)", ([text, min, max, unit, provenance]) => {
    const found = ask(text);
    expect([found.min, found.max, found.unit, found.provenance]).toEqual([min, max, unit, provenance]);
  });
});

describe("conditions give a figure its meaning", () => {
  const mm = (value: number) => ({ value, unit: "mm" });
  test.for([
    ["EN 10270-1|SM|torsion|2.50 mm", { freeLength: mm(250) }, "mechanical-tests T5: 100 d"],
    ["EN 10270-1|SM|torsion|3.00 mm", { freeLength: mm(300) }, "T6"],
    ["EN 10270-1|SM|torsion|3.50 mm", { freeLength: mm(300) }, "T7: at most 300 mm"],
    ["EN 10270-1|SM|torsion|0.1 in", { freeLength: { value: 10, unit: "in" } }, "lengths come in the unit system of the diameter"],
    ["EN 10270-1|SM|torsion|0.25 cm", { freeLength: mm(250) }, "in mm, not in cm"],
    ["EN 50189||torsion|2.00 mm", { freeLength: mm(200) }, "100 d (memory)"],
    ["EN 10270-1|SL|coiling|0.25 mm", { mandrelDiameter: mm(1), mandrelDiameterMax: mm(1) }, "W6: 3 d to 3.5 d, at least 1.00 mm"],
    ["EN 10270-1|SL|coiling|0.34 mm", { mandrelDiameter: mm(1.02), mandrelDiameterMax: mm(1.19) }, "W7"],
    ["EN 10270-1|SL|coiling|0.6 mm", { mandrelDiameter: mm(1.8), mandrelDiameterMax: mm(2.1) }, "W8"],
    ["EN 10270-1|DH|wrap|2.00 mm", { mandrelDiameter: mm(2) }, "wrap-mandrel.csv, S1: 1 d"],
    ["EN 50189||wrap|3.15 mm", { mandrelDiameter: mm(3.15) }, "wrap-mandrel.csv, S12: 1 d"],
    ["EN 10270-1|SM|u-bend|6.50 mm", { mandrelDiameter: mm(13) }, "wrap-mandrel.csv, S1: 2 d"],
    ["EN 10270-1|SM|u-bend|7.00 mm", { mandrelDiameter: mm(21) }, "wrap-mandrel.csv: 3 d above 6.50 mm (memory)"],
    ["ASTM A228||diameter|0.080 in", {}, "none"],
  ] as const)("%s -> %o (%s)", ([text, conditions]) => {
    expect(ask(text).conditions).toEqual(conditions);
  });
});

describe("wrap answers its count as min; a rule in words answers a sentence", () => {
  test.for([
    ["EN 10270-1|SM|wrap|3.00 mm", { min: "8", unit: "wraps", provenance: "memory" }, "S1; the size limit from memory"],
    ["EN 50189||wrap|5.50 mm", { min: "8", unit: "wraps", provenance: "read" }, "S12"],
    [
      "ASTM A229|I|wrap|0.162 in",
      { requirement: expect.stringMatching(/without cracking/), conditions: { mandrelDiameter: { value: 0.162, unit: "in" } } },
      "memory, high",
    ],
    ["EN 10270-1|SM|coiling|2.00 mm", { requirement: expect.stringMatching(/even pitch/), provenance: "read" }, "S1"],
    ["JIS G 3522|SWP-A|fracture-appearance|2.00 mm", { requirement: expect.stringMatching(/square to the axis/) }, "S8"],
  ] as const)("%s -> %o (%s)", ([text, expected]) => {
    expect(ask(text)).toMatchObject(expected);
  });

  test("no answer holds both a number and a sentence, nor a unit without a number", () => {
    const worded = ask("EN 10270-1|SM|coiling|2.00 mm");
    expect(Object.keys(worded).sort()).toEqual(["conditions", "provenance", "requirement", "row", "rule"]);
    expect(Object.keys(ask("EN 10270-1|SM|wrap|2.00 mm")).sort()).toEqual(["conditions", "min", "provenance", "row", "rule", "unit"]);
  });
});

describe("the unit of the diameter picks the table where there is one for each system", () => {
  test.for([
    ["ASTM A231||tensile-strength|0.162 in", "225", "245", "ksi", "P4 P5, inch table"],
    ["ASTM A231||tensile-strength|4.00 mm", "1580", "1720", "MPa", "P4, SI table: a requirement of its own"],
    ["ASTM A231||tensile-strength|0.0135 ft", "225", "245", "ksi", "0.0135 ft is 0.162 in exactly"],
    ["ASTM A232||tensile-strength|0.5 in", undefined, undefined, "outside-scope", "only SI is held: 12.7 mm is past 12.00"],
    ["ASTM A228||tensile-strength|2.54 mm", "271", "300", "ksi", "only inch is held: 2.54 mm is 0.100 in exactly"],
    ["EN 10270-1|SM|tensile-strength|0.1 in", "1670", "1880", "MPa", "P8: 2.54 mm, over 2.50 up to 2.60"],
    ["ASTM A231||reduction-of-area|0.092 in", "45", undefined, "%", "P4: not under 0.092 in"],
    ["ASTM A231||reduction-of-area|2.40 mm", undefined, undefined, "outside-scope", "P4: the SI column starts at 2.50 mm"],
    ["ASTM A228||diameter|2.00 mm", "0.0782401574803150", "0.0792401574803150", "in", "2 / 25.4 in, less and plus 0.0005, 15 digits"],
  ] as const)("%s -> %s to %s %s (%s)", ([text, min, max, unit]) => {
    if (min === undefined) expect(errorOf(question(text))).toBe(unit);
    else {
      const found = ask(text);
      expect([Number(found.min), found.max === undefined ? undefined : Number(found.max), found.unit]).toEqual([
        Number(min),
        max === undefined ? undefined : Number(max),
        unit,
      ]);
    }
  });

  test.for([
    // size    grade  mandrel            source: wrap-mandrel.csv, d_max_mm and the inch figure of its note (memory)
    ["4.00 mm", "I", { value: 4, unit: "mm" }],
    ["4.01 mm", "I", { value: 8.02, unit: "mm" }],
    ["8.00 mm", "I", { value: 16, unit: "mm" }],
    ["8.01 mm", "I", "outside-scope"],
    ["0.162 in", "I", { value: 0.162, unit: "in" }],
    ["0.163 in", "I", { value: 0.326, unit: "in" }],
    ["0.312 in", "II", { value: 1.248, unit: "in" }],
    ["0.313 in", "II", "outside-scope"],
    ["4.00 mm", "II", { value: 8, unit: "mm" }],
    ["4.01 mm", "II", { value: 16.04, unit: "mm" }],
  ] as const)("ASTM A227 wrap at %s, class %s -> %o", ([size, grade, expected]) => {
    const asked = question(`ASTM A227|${grade}|wrap|${size}`);
    if (typeof expected === "string") expect(errorOf(asked)).toBe(expected);
    else expect(limitsFor(asked).conditions["mandrelDiameter"]).toEqual(expected);
  });
});

describe("diameter and out-of-round", () => {
  test.for([
    ["EN 10270-1|SM|diameter|2.00 mm", "1.975", "2.025", "diameter-tolerance-en10270-1.csv (memory)"],
    ["EN 10270-1|SM|out-of-round|2.00 mm", undefined, "0.025", "half the field"],
    ["ASTM A228||diameter|0.0800 in", "0.0795", "0.0805", "P2, to 0.080"],
    ["ASTM A228||out-of-round|0.0801 in", undefined, "0.001", "P2, over 0.080"],
  ] as const)("%s -> %s to %s (%s)", ([text, min, max]) => {
    const found = ask(text);
    expect([found.min, found.max]).toEqual([min, max]);
  });
});

describe("row and rule say which figure was taken", () => {
  test.for([
    ["EN 10270-1|SM|tensile-strength|2.05 mm", "over 2.00 up to 2.10 mm", "the row of its size"],
    ["ASTM A228||tensile-strength|0.0465 in", "0.045 and 0.048 in", "linear between 0.045 and 0.048 in"],
    ["ASTM A228||tensile-strength|0.045 in", "0.045 in", "tabulated size"],
    ["JIS G 3522|SWP-B|tensile-strength|1.50 mm", "1.60 mm", "next larger tabulated diameter, 1.60 mm"],
    ["ASTM A641|A|coating-mass|0.125 in", "0.120 in", "next smaller tabulated diameter, 0.120 in"],
    ["EN 10244-2|A|coating-mass|2.49 mm", "from 2.15 below 2.50 mm", "the row of its size"],
    ["EN 10270-1|SM|coiling|2.00 mm", "all sizes", "the row of its size"],
    ["ASTM A228||chemistry:C|", "heat analysis", "heat analysis"],
  ] as const)("%s -> %s; %s", ([text, row, rule]) => {
    expect(ask(text)).toMatchObject({ row, rule });
  });
});

describe("rows printed with gaps: the diameter is first rounded to two places (EN 10270-1 torsion, 0.99 / 1.00)", () => {
  test.for([
    ["0.994 mm", "40"],
    ["0.996 mm", "20"],
    ["0.995 mm", "20"], // the tie goes to the even hundredth, 1.00
    ["6.004 mm", "7"],
    ["6.006 mm", "4"],
    ["0.694 mm", "outside-scope"],
    ["0.696 mm", "40"],
    ["10.006 mm", "outside-scope"],
  ] as const)("SM %s -> %s", ([size, expected]) => {
    const asked = question(`EN 10270-1|SM|torsion|${size}`);
    expect(/^\d+$/.test(expected) ? limitsFor(asked).min : errorOf(asked)).toBe(expected);
  });
});

describe("what the reference does not decide, and what lies outside", () => {
  test.for([
    ["EN 10270-1|SM|wrap|3.00 mm", "8", "memory"],
    ["EN 10270-1|SM|wrap|3.001 mm", "no-rule", "CALC.md: not decided above 3 mm"],
    ["EN 10270-1|SL|wrap|12 mm", "no-rule", "CALC.md"],
    ["ASTM A231||reduction-of-area|3.50 mm", "45", "P4"],
    ["ASTM A231||reduction-of-area|3.51 mm", "no-rule", "CALC.md: not decided from 3.50 to 4.00 mm"],
    ["ASTM A231||reduction-of-area|3.99 mm", "no-rule", "CALC.md"],
    ["ASTM A231||reduction-of-area|4.00 mm", "40", "P4"],
    ["ASTM A231||reduction-of-area|0.150 in", "no-rule", "the same hole of the inch column"],
    ["ASTM A232||reduction-of-area|3.75 mm", "no-rule", "the same hole, P6"],
    ["ASTM A231||reduction-of-area|12.5 mm", "outside-scope", "past the table"],
    ["EN 10270-1|SL|torsion|2.00 mm", "no-rule", "mechanical-tests D: SM SH DM DH only"],
    ["EN 10270-1|SL|tensile-strength|0.95 mm", "outside-scope", "SL starts over 0.95 mm"],
    ["EN 10270-1|SM|tensile-strength|0.20 mm", "outside-scope", "only DH is listed there"],
    ["EN 10270-1|SM|reverse-bend|2.00 mm", "no-rule", "not in the reference"],
    ["EN 10244-2|A|adherence|2.00 mm", "no-rule", "steps not confirmed (memory, low)"],
    ["EN 10270-2|FDC|tensile-strength|0.52 mm", "no-rule", "the rule between sizes was not read"],
    ["EN 10270-2|FDC|tensile-strength|0.70 mm", "outside-scope", "the source ends at 0.65"],
    ["JIS G 3522|SWP-A|tensile-strength|0.10 mm", "no-rule", "0.09 to 0.45 were not seen for SWP-A: not 0.50"],
    ["JIS G 3522|SWP-V|tensile-strength|0.95 mm", "outside-scope", "SWP-V starts at 1.00"],
    ["ASTM A641|1|coating-mass|0.250 in", "no-rule", "class 1 at 0.207 is not legible: not 0.162"],
    ["EN 10270-1|SM|other:magnetism|2.00 mm", "no-rule", "a name of the order's own"],
  ] as const)("%s -> %s (%s)", ([text, expected]) => {
    const found = errorOf(question(text));
    expect(typeof found === "string" ? found : (found as LimitsAnswer).min).toBe(expected);
  });
});

describe("wrong input comes first, then the standard, then the grade", () => {
  const good = question("EN 10270-1|SM|torsion|2.00 mm");
  test.for([
    ["a force", { ...good, diameter: { text: "2", unit: "N" } }, "wrong-input"],
    ["turns", { ...good, diameter: { text: "2", unit: "turns" } }, "wrong-input"],
    ["zero", { ...good, diameter: { text: "0.00", unit: "mm" } }, "wrong-input"],
    ["negative", { ...good, diameter: { text: "-2", unit: "mm" } }, "wrong-input"],
    ["no number", { ...good, diameter: { text: "2,0", unit: "mm" } }, "wrong-input"],
    ["no diameter", question("EN 10270-1|SM|torsion|"), "wrong-input"],
    ["negative where it may be left out", { ...good, property: "chemistry:C", diameter: { text: "-1", unit: "mm" } }, "wrong-input"],
    ["an unknown property", { ...good, property: "torsions" }, "wrong-input"],
    ["an empty property", { ...good, property: "" }, "wrong-input"],
    ["chemistry without an element", { ...good, property: "chemistry:" }, "wrong-input"],
    ["an element by its name", { ...good, property: "chemistry:carbon" }, "wrong-input"],
    ["other without a name", { ...good, property: "other:" }, "wrong-input"],
    ["an unknown property of an unknown standard", { ...good, specification: "EN 1", property: "x" }, "wrong-input"],
    ["a missing grade of several", question("EN 10270-1||torsion|2.00 mm"), "wrong-input"],
    ["an unknown standard", { ...good, specification: "EN 99999" }, "unknown-standard"],
    ["a method is no specification", { ...good, specification: "ISO 7800:2012" }, "unknown-standard"],
    ["an edition that is not held", { ...good, edition: "2001" }, "unknown-standard"],
    ["an edition in the designation that is not held", { ...good, specification: "EN 10270-1:2001" }, "unknown-standard"],
    ["an unknown grade at an unknown standard", { ...good, specification: "EN 1", grade: "ZZ" }, "unknown-standard"],
    ["a grade in small letters", { ...good, grade: "sm" }, "unknown-grade"],
    ["a grade of another kind of wire", { ...good, grade: "SL ", property: "reverse-bend" }, "unknown-grade"],
    ["a grade where there is none", { ...good, specification: "ASTM A228", grade: "I", property: "diameter" }, "unknown-grade"],
    ["no rule before outside the scope", { ...good, grade: "SL", diameter: { text: "99", unit: "mm" } }, "no-rule"],
  ] as const)("%s -> %s", ([, asked, code]) => {
    expect(errorOf(asked as LimitsQuestion)).toBe(code);
  });

  test("an error names what was found and what is accepted", () => {
    expect(() => limitsFor({ ...good, diameter: { text: "2", unit: "N" } })).toThrow('found "2 N"; accepted is a length');
    expect(() => limitsFor({ ...good, property: "torsions" })).toThrow(/found "torsions"; accepted is .*torsion, wrap/);
    expect(() => limitsFor({ ...good, grade: "sm" })).toThrow('no grade "sm"; held are SL, SM, SH, DM, DH');
  });

  test("every property name of the contract is known, so it is never wrong input", () => {
    for (const property of [...PROPERTIES, "chemistry:C", "other:bow"])
      expect([property, errorOf({ ...good, property })]).not.toEqual([property, "wrong-input"]);
  });
});

describe("designations and grades as printed", () => {
  test.for([
    ["EN 10270-1:2011", "SM"],
    ["EN 50189:2000", undefined],
    ["EN 50189", "ST1A"],
    ["JIS G 3522:2014", "SWP-A"],
  ] as const)("%s %s is found", ([specification, grade]) => {
    const asked = {
      specification,
      ...(grade === undefined ? {} : { grade }),
      property: "torsion",
      diameter: { text: "2.00", unit: "mm" as const },
    };
    expect(limitsFor(asked).unit).toBe("turns");
  });
  test("a dash or nothing stands for the only grade", () => {
    for (const grade of ["-", "", undefined])
      expect(limitsFor({ specification: "ASTM A228", grade, property: "diameter", diameter: { text: "0.080", unit: "in" } }).unit).toBe(
        "in",
      );
  });
});
