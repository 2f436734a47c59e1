/**
 * Decision rules and budgets of the reference (ILAC-G8, JCGM 106, GUM); the rows of decision-rule-examples.csv are run with the calculation.
 * Not run: global risks of the JCGM 106 resistors (a verdict is on one result, the spread of a production is no input) and k of few
 * degrees of freedom (coverage is k = 2 by the contract).
 */
import { describe, expect, test } from "vitest";
import { ask, numberAt } from "../calc/answers.ts";

describe("risk at the acceptance limit (ILAC-G8:09/2019, recomputed with U = 2 u, one-sided normal)", () => {
  test.for([
    // rule, guard band as a share of U, probability of a false acceptance, printed places
    ["6 sigma", 3, 1.0e-9, 10],
    ["3 sigma", 1.5, 0.00135, 5],
    ["1 U", 1, 0.0228, 4],
    ["ISO 14253-1:2017", 0.83, 0.0485, 4],
    ["simple acceptance", 0, 0.5, 6],
    ["uncritical", -1, 0.9772, 4],
  ] as const)("%s, w = %d U: %d", ([, r, risk, places]) => {
    const acceptanceMin = 1960 + r * 25;
    const given = { value: String(acceptanceMin), min: "1960", U: "25", rule: "guarded", r };
    const answer = ask("decide", given);
    expect(answer).toMatchObject({ outcome: "conforms", acceptanceMin: String(acceptanceMin) });
    expect(1 - numberAt(answer, "conformanceProbability")).toBeCloseTo(risk, places);
  });
});

describe("JCGM 106:2012 examples beside the table", () => {
  test("speed limit 100 km/h, u 2 km/h, 99.9 % wanted: w = 3.09 x 2 = 6.18, so a fine from 107 km/h on", () => {
    const at = (value: string) => ask("decide", { value, max: "100", U: "4", rule: "guarded", r: "-1.545" });
    expect(at("106")).toMatchObject({ outcome: "conforms", acceptanceMax: "106.18" });
    expect(at("107")["outcome"]).toBe("does-not-conform");
    expect(1 - numberAt(at("106.18"), "conformanceProbability")).toBeCloseTo(0.999, 5);
  });
  test("resistors 1500 ∓ 0.2 ohm, production sd 0.12: 0.9044 of them conform", () => {
    const answer = ask("decide", { value: "1500", min: "1499.8", max: "1500.2", U: "0.24", rule: "simple" });
    expect(numberAt(answer, "conformanceProbability")).toBeCloseTo(0.9044, 4);
  });
});

describe("tensile strength budget of the reference (C2, computed there; GUM)", () => {
  const budget = (d: string, force: string, halfWidth: string) =>
    ask("tensile-uncertainty", {
      force: `${force} N`,
      diameter: `${d} mm`,
      contributions: [
        { name: "force, class 1", of: "force", halfWidth: `${halfWidth} N`, distribution: "rectangular" },
        { name: "micrometer resolution", of: "diameter", halfWidth: "0.0005 mm", distribution: "rectangular" },
        { name: "micrometer error", of: "diameter", halfWidth: "0.004 mm", distribution: "rectangular" },
        { name: "repeatability", of: "diameter", sd: "0.002 mm", distribution: "normal" },
      ],
    });
  test.for([
    // diameter, U in per cent of the strength
    ["0.2", 6.24],
    ["0.5", 2.71],
    ["1.0", 1.69],
    ["2.5", 1.25],
    ["5.0", 1.18],
  ] as const)("the same budget at %s mm: U = %d per cent", ([d, percent]) => {
    const force = 1000;
    const answer = budget(d, String(force), String(force / 100));
    expect((100 * numberAt(answer, "U.value")) / numberAt(answer, "tensileStrength.value")).toBeCloseTo(percent, 2);
  });
  test("ISO 6892-1 annex (memory): force 0.70 %, area 1 % rectangular: 0.9074 %, expanded 1.815 %", () => {
    const answer = ask("tensile-uncertainty", {
      force: "10000 N",
      diameter: "2 mm",
      contributions: [
        { name: "force", of: "force", halfWidth: "140 N", distribution: "normal" },
        // 1 % of the area is half a per cent of the diameter.
        { name: "area", of: "diameter", halfWidth: "0.01 mm", distribution: "rectangular" },
      ],
    });
    const strength = numberAt(answer, "tensileStrength.value");
    expect((100 * numberAt(answer, "u.value")) / strength).toBeCloseTo(0.9074, 4);
    expect((100 * numberAt(answer, "U.value")) / strength).toBeCloseTo(1.815, 3);
  });
});
