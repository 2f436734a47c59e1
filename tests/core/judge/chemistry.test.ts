/** Heat and product analyses against the built-in limits of tests/data/reference/chemistry-wire-grades.csv. */
import { describe, expect, test } from "vitest";
import { judge } from "../../../core/judge/index.ts";
import { productTolerance } from "../../../core/judge/product-tolerance.ts";
import type { Heat } from "../../../core/model.ts";
import { builtInLibrary } from "../../../core/spec/index.ts";
import { coil, ORDER } from "../../helpers/judge.ts";
import { readReference } from "../spec/reference.ts";

const heat = (analysis: Heat["analysis"], elements: Readonly<Record<string, string>>, name = "H1"): Heat => ({
  heat: name,
  analysis,
  source: "own",
  elements,
});

function chemistryOf(specification: string, grade: string, heats: readonly Heat[], nominal = "3.20") {
  const library = builtInLibrary();
  const { orders } = judge({
    orders: [
      {
        ...ORDER,
        specification,
        edition: library.find(specification)?.edition ?? "",
        grade,
        nominalDiameter: { text: nominal, unit: "mm" },
      },
    ],
    agreed: [],
    coils: [coil("C1"), coil("C2", { heat: "H2" })],
    heats,
    instruments: [],
    tests: [],
    unread: [],
    settlements: [],
    specifications: library,
    isAdopted: () => true,
    today: "2026-03-03",
    freeLengthTolerance: "0.01",
  });
  return (element: string, at = 0) => orders[0]?.coils[at]?.requirements.find((r) => r.property === `chemistry:${element}`);
}

describe("a heat analysis has no tolerance", () => {
  test.for([
    ["EN 10270-1", "SM", "C", "0.35", "conforms", undefined],
    ["EN 10270-1", "SM", "C", "0.34", "does-not-conform", "below-min"],
    ["EN 10270-1", "SM", "Mn", "1.21", "does-not-conform", "above-max"],
    ["EN 10270-1", "DM", "P", "0.020", "conforms", undefined],
    ["EN 10270-1", "DM", "P", "0.021", "does-not-conform", "above-max"],
    ["ASTM A232", "", "C", "0.54", "does-not-conform", "above-max"],
  ] as const)("%s %s: %s %s %% %s (limits: P6, P9, read)", ([specification, grade, element, value, verdict, reason]) => {
    const found = chemistryOf(specification, grade, [heat("heat", { [element]: value })])(element);
    expect([found?.verdict, found?.reason]).toEqual([verdict, reason]);
  });
});

describe("a product analysis may leave the range by the tolerance of its standard", () => {
  test.for([
    ["ASTM A232", "C", ["0.55"], "conforms", undefined, "0.53 + 0.02 (P6, read)"],
    ["ASTM A232", "C", ["0.56"], "does-not-conform", "above-max", "beyond 0.53 + 0.02 (P6, read)"],
    ["ASTM A232", "C", ["0.46"], "conforms", undefined, "0.48 - 0.02 (P6, read)"],
    ["ASTM A232", "C", ["0.45"], "does-not-conform", "below-min", "beyond 0.48 - 0.02 (P6, read)"],
    ["ASTM A232", "V", ["0.14"], "conforms", undefined, "0.15 - 0.01 (P6, read)"],
    ["ASTM A232", "P", ["0.025"], "conforms", undefined, "0.020 + 0.005 (P6, read)"],
    ["ASTM A232", "P", ["0.026"], "does-not-conform", "above-max", "beyond 0.020 + 0.005 (P6, read)"],
    ["ASTM A228", "C", ["1.04"], "conforms", undefined, "A510 over 0.55: 1.00 + 0.04 (memory, high)"],
    ["ASTM A228", "C", ["1.05"], "does-not-conform", "above-max", "A510 over 0.55 (memory, high)"],
    ["ASTM A228", "Mn", ["0.73"], "conforms", undefined, "A510 to 0.90: 0.70 + 0.03 (memory, high)"],
    ["ASTM A227", "Mn", ["1.36"], "conforms", undefined, "A510 over 0.90: 1.30 + 0.06 (memory, high)"],
    ["EN 10270-1", "C", ["1.01"], "undecided", "no-product-tolerance", "numbers of EN 10016 not visible (P25): a person decides"],
    ["EN 10270-1", "C", ["0.95"], "conforms", undefined, "inside the heat's range: nothing to tolerate"],
    ["ASTM A232", "C", ["0.54", "0.47"], "does-not-conform", "both-ways", "worked example W28: each within tolerance, the heat fails"],
    ["ASTM A232", "C", ["0.54", "0.54"], "conforms", undefined, "twice above is one way"],
    ["ASTM A232", "C", ["0.54", "0.48"], "conforms", undefined, "0.48 is inside the range"],
  ] as const)("%s %s %j: %s, %s (%s)", ([specification, element, values, verdict, reason]) => {
    const grade = specification === "ASTM A227" ? "I" : specification === "EN 10270-1" ? "SM" : "";
    const found = chemistryOf(
      specification,
      grade,
      values.map((value) => heat("product", { [element]: value })),
    )(element);
    expect([found?.verdict, found?.reason]).toEqual([verdict, reason]);
  });

  test("both ways is of one heat: another heat's analysis is its own", () => {
    const told = chemistryOf("ASTM A232", "", [heat("product", { C: "0.54" }), heat("product", { C: "0.47" }, "H2")]);
    expect([told("C", 0)?.verdict, told("C", 1)?.verdict]).toEqual(["conforms", "conforms"]);
  });

  test("a heat analysis outside its range does not make a product analysis both ways", () => {
    const told = chemistryOf("ASTM A232", "", [heat("heat", { C: "0.47" }), heat("product", { C: "0.54" })]);
    expect(told("C")?.results.map((r) => [r.position, r.outcome, r.reason])).toEqual([
      ["heat", "does-not-conform", "below-min"],
      ["product", "conforms", undefined],
    ]);
  });
});

describe("the tolerances held are those of the reference", () => {
  const rows = readReference("chemistry-product-analysis-tolerance").filter((r) => r["element"] !== "all");
  test.for(rows.map((r) => [r["standard"], r["element"], r["limit_or_range_pct"], r] as const))(
    "%s %s %s",
    ([standard, element, range, r]) => {
      const specification = standard === "ASTM A510" ? "ASTM A228" : (standard ?? "");
      const limit = /([\d.]+)$/.exec(range ?? "")?.[1];
      const over = /^over ([\d.]+)$/.exec(range ?? "")?.[1];
      const max = over === undefined ? (limit ?? "0.5") : (Number(over) + 0.01).toFixed(2);
      const found = productTolerance(specification, element ?? "", { max });
      expect([found?.over ?? "", found?.under ?? ""]).toEqual([r["over_max_pct"], r["under_min_pct"]]);
      expect(found?.provenance).toBe(r["provenance"]);
    },
  );
});
