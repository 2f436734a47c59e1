/** Worked sums of the reference (mechanical-tests-worked-examples.csv, product-requirements-worked-examples.csv), by their ids. */
import { describe, expect, test } from "vitest";
import { ask, numberAt } from "./answers.ts";

describe("numbers", () => {
  test.for([
    // name, input, where, figure, source
    ["torsion-scale", { turns: 25, from: "200 mm", to: "203.2 mm" }, "turns", 25.4, "T8; JIS C 3110:2019 8.1.4"],
    ["torsion-scale", { turns: "58", from: "8 in", to: "4 in" }, "turns", 29, "T9"],
    ["torsion-scale", { turns: 21, from: "300 mm", to: "0.35 m" }, "turns", 24.5, "T10"],
    ["torsion-strain", { diameter: "2.0 mm", turns: 25, length: "200 mm" }, "shearStrain", 0.785398, "T11"],
    ["torsion-strain", { diameter: "2.0 mm", turns: 25, length: "200 mm" }, "helixAngle", 38.146, "T11b"],
    ["torsion-strain", { diameter: "2.0 mm", turns: 25, length: "200 mm" }, "equivalentStrain", 0.45345, "T11c"],
    ["torsion-strain", { diameter: "3.5 mm", turns: 18, length: "300 mm" }, "shearStrain", 0.659734, "T12"],
    ["torsion-strain", { diameter: "3.5 mm", turns: 18, length: "300 mm" }, "helixAngle", 33.4142, "T12b"],
    ["torsion-strain", { diameter: "0.8 mm", turns: 50, length: "80 mm" }, "equivalentStrain", 0.9069, "T13c"],
    ["torsion-stress", { diameter: "2.0 mm", torque: "1500 N mm" }, "elastic.value", 954.9297, "T14"],
    ["torsion-stress", { diameter: "2.0 mm", torque: "1.5 N m" }, "plastic.value", 716.1972, "T14b"],
    ["torsion-stress", { diameter: "3.0 mm", torque: "4800 N mm" }, "elastic.value", 905.4148, "T15"],
    ["torsion-stress", { diameter: "1.0 mm", torque: "190 N mm" }, "plastic.value", 725.7465, "T16b"],
    ["torsion-tension", { standard: "ISO 7800", diameter: "2.0 mm", tensileStrength: "1770 MPa" }, "max.value", 111.2124, "T17"],
    ["torsion-tension", { standard: "ISO 7800:2012", diameter: "1.0 mm", tensileStrength: "1960 MPa" }, "max.value", 30.7876, "T18"],
    ["torsion-tension", { standard: "IEC 61232", diameter: "4.0 mm", tensileStrength: "1570 N/mm2" }, "max.value", 394.584, "T19"],
    ["wrap-strain", { diameter: "2 mm", mandrelDiameter: "2 mm" }, "strain", 0.5, "W12 geometry"],
    ["wrap-strain", { diameter: "2 mm", mandrelDiameter: "0.6 cm" }, "strain", 0.25, "W14 geometry"],
    ["wrap-strain", { diameter: "2 mm", mandrelDiameter: "10 mm" }, "strain", 0.166667, "W16 geometry"],
    ["bend-strain", { diameter: "1.0 mm", radius: "2.5 mm" }, "strain", 0.166667, "B8 geometry"],
    ["bend-strain", { diameter: "3.5 mm", radius: "10 mm" }, "strain", 0.148936, "B10 geometry"],
    [
      "coating-mass",
      { massBefore: "25.000 g", massAfter: "24.200 g", strippedDiameter: "3.00 mm" },
      "coatingMass.value",
      194.38,
      "product W9",
    ],
    [
      "coating-mass",
      { massBefore: "25.000 g", massAfter: "24.200 g", strippedDiameter: "3.00 mm", constant: 1965 },
      "coatingMass.value",
      194.876,
      "product W10, IS 6745 constant",
    ],
    [
      "coating-mass-gas",
      { hydrogen: "55.0 ml", temperature: "20 degC", pressure: "1013 mbar", strippedDiameter: "2.00 mm", length: "300 mm" },
      "coatingMass.value",
      79.3,
      "product W16",
    ],
    ["tensile-strength", { force: "6250 N", diameter: "2.00 mm" }, "tensileStrength.value", 1989.437, "product W21"],
    [
      "tensile-strength",
      { force: "1000 lbf", diameter: "0.1 in" },
      "tensileStrength.value",
      127.324,
      "by hand: 4 / (pi 0.01) psi, 1000 psi a ksi",
    ],
    ["torsion-stress", { diameter: "0.1 in", torque: "10 lbf in" }, "elastic.value", 50.9296, "by hand: 160 / (pi 0.001) psi"],
    [
      "torsion-tension",
      { standard: "ISO 7800", diameter: "0.1 in", tensileStrength: "250 ksi" },
      "max.value",
      39.27,
      "by hand: 0.02 x 250000 x pi 0.01 / 4 lbf",
    ],
    [
      "torsion-tension",
      { standard: "ISO 7800", diameter: "2.0 mm", tensileStrength: "1770 MPa" },
      "maxMass.value",
      11.3405,
      "T17 over 9.80665",
    ],
    ["reduction-of-area", { original: "4.00 mm", final: "2.95 mm" }, "percent", 45.609375, "product W25"],
    ["elongation", { original: "24.00 in", final: "25.22 in" }, "percent", 5.083333, "product W26"],
    ["elongation", { original: "250.0 mm", final: "268.0 mm" }, "percent", 7.2, "product W27"],
    ["convert", { quantity: "282 ksi", to: "MPa" }, "quantity.value", 1944.322, "product W34, 6.894757 a ksi"],
    ["convert", { quantity: "49.820 kN", to: "lbf" }, "quantity.value", 11199.98, "product W31"],
    ["convert", { quantity: "0.85 oz/ft2", to: "g/m2" }, "quantity.value", 259.379, "product W7"],
  ] as const)("%s %j: %s is %d (%s)", ([name, input, path, figure]) => {
    const places = String(figure).split(".")[1]?.length ?? 0;
    expect(Math.abs(numberAt(ask(name, input), path) - figure)).toBeLessThan(0.51 * 10 ** -places);
  });
});

describe("whole answers", () => {
  test.for([
    // name, input, answer, source
    ["torsion-length", { standard: "ISO 7800:2012", diameter: "0.80 mm" }, { freeLength: mm(160), provenance: "memory" }, "T1"],
    ["torsion-length", { standard: "ISO 7800", diameter: "2.00 mm" }, { freeLength: mm(200), provenance: "memory" }, "T2"],
    ["torsion-length", { standard: "ISO 7800", diameter: "6.00 mm" }, { freeLength: mm(300) }, "T3"],
    ["torsion-length", { standard: "ISO 7800", diameter: "12.00 mm" }, { freeLength: mm(264) }, "T4"],
    ["torsion-length", { standard: "EN 10270-1:2011", diameter: "2.50 mm" }, { freeLength: mm(250), provenance: "read" }, "T5"],
    ["torsion-length", { standard: "EN 10270-1", diameter: "3.50 mm" }, { freeLength: mm(300) }, "T7"],
    [
      "torsion-tension",
      { standard: "API 9A", diameter: "1.60 mm" },
      { min: { value: 49, unit: "N" }, max: { value: 98, unit: "N" }, provenance: "read" },
      "T20",
    ],
    [
      "torsion-tension",
      { standard: "API 9A", diameter: "2.31 mm" },
      { min: { value: 85, unit: "N" }, max: { value: 170, unit: "N" } },
      "T21",
    ],
    ["wrap-mandrel", wrap("ASTM A877", "3.5 mm", "A"), { mandrelDiameter: mm(3.5), provenance: "read" }, "W1"],
    ["wrap-mandrel", wrap("ASTM A877", "3.5 mm", "B"), { mandrelDiameter: mm(7) }, "W2"],
    ["wrap-mandrel", wrap("ASTM A877-17", "6.0 mm", "A"), { mandrelDiameter: mm(12) }, "W3"],
    ["wrap-mandrel", wrap("ASTM A877", "6.0 mm", "D"), { mandrelDiameter: mm(18) }, "W4"],
    ["wrap-mandrel", wrap("ASTM A877", "8.5 mm", "A"), { error: { code: "outside-scope" } }, "W5 not applicable"],
    ["bend-radius", { diameter: "0.50 mm" }, { radius: mm(1.25), distance: mm(15), provenance: "memory" }, "B1"],
    ["bend-radius", { diameter: "0.51 mm" }, { radius: mm(1.75), distance: mm(15) }, "B2"],
    ["bend-radius", { diameter: "2.00 mm" }, { radius: mm(5), distance: mm(20) }, "B4"],
    ["bend-radius", { diameter: "2.01 mm" }, { radius: mm(7.5), distance: mm(25) }, "B5"],
    ["bend-radius", { diameter: "4.01 mm" }, { radius: mm(15), distance: mm(50) }, "B7"],
    ["samples-required", { standard: "ASTM A818", coils: 7 }, { samples: 1, bothEnds: false, provenance: "read" }, "S1"],
    ["samples-required", { standard: "ASTM A818", coils: 34 }, { samples: 4 }, "S2"],
    ["samples-required", { standard: "ASTM A818", coils: 120 }, { samples: 7 }, "S4"],
    ["samples-required", { standard: "ASTM A1000", coils: 4, heats: 1 }, { samples: 1 }, "S5"],
    ["samples-required", { standard: "ASTM A1000", coils: 23, heats: 1 }, { samples: 5 }, "S6"],
    ["samples-required", { standard: "ASTM A1000-11", coils: 50, heats: 1 }, { samples: 10 }, "S7"],
    [
      "limits",
      { specification: "ASTM A228", property: "tensile-strength", diameter: "0.0465 in" },
      { min: "307.5", max: "340.5", unit: "ksi", provenance: "memory", rule: "linear between 0.045 and 0.048 in" },
      "product W1",
    ],
    [
      "limits",
      { specification: "EN 10270-1", grade: "SM", property: "tensile-strength", diameter: "3.50 mm" },
      { min: "1570", max: "1760", unit: "MPa" },
      "product W4",
    ],
    [
      "limits",
      { specification: "EN 10244-2", grade: "A", property: "coating-mass", diameter: "2.50 mm" },
      { min: "245", unit: "g/m2" },
      "product W8",
    ],
    [
      "limits",
      { specification: "JIS G 3522", grade: "SWP-B", property: "torsion", diameter: "2.01 mm" },
      { min: "20", unit: "turns" },
      "M4",
    ],
    [
      "limits",
      { specification: "EN 50189", property: "torsion", diameter: "2.26 mm" },
      { min: "16", conditions: { freeLength: mm(226) } },
      "M10",
    ],
  ] as const)("%s %j gives %j (%s)", ([name, input, answer]) => {
    expect(ask(name, input)).toMatchObject(answer);
  });
});

function mm(value: number): { value: number; unit: "mm" } {
  return { value, unit: "mm" };
}

function wrap(standard: string, diameter: string, grade: string): Record<string, string> {
  return { standard, diameter, grade, purpose: "ductility" };
}
