/** What cannot be judged is named with its place, and the rest is judged. Built-in limits where a real table matters; else invented. */
import { describe, expect, test } from "vitest";
import { judge } from "../../../core/judge/index.ts";
import type { JudgementInput, OrderItem, Requirement, RequirementProblem } from "../../../core/model.ts";
import { builtInLibrary } from "../../../core/spec/index.ts";
import {
  CONDUCT,
  coil,
  firstCoil,
  judged,
  ORDER,
  row,
  specification,
  TENSILE,
  TORSION,
  torsionRow,
  WRAP,
  wrapRow,
} from "../../helpers/judge.ts";

const input = (orders: readonly OrderItem[], rest: Partial<JudgementInput> = {}): JudgementInput => ({
  orders,
  agreed: [],
  coils: orders.map((o) => coil(`C-${o.order}`, { order: o.order })),
  heats: [],
  instruments: [{ instrument: "M1", calibratedOn: "2026-01-01", dueOn: "2026-12-31" }],
  tests: [],
  unread: [],
  settlements: [],
  specifications: builtInLibrary(),
  isAdopted: () => true,
  today: "2026-03-03",
  freeLengthTolerance: "0.01",
  ...rest,
});
const item = (rest: Partial<OrderItem>): OrderItem => ({ ...ORDER, specification: "EN 10270-1", edition: "2011", grade: "SM", ...rest });

describe("an order that asks for what the tables do not hold", () => {
  test.for([
    ["an unknown grade", { grade: "SX" }, "unknown-grade", "SX", "SL, SM, SH, DM, DH", 'EN 10270-1 has no grade "SX"'],
    [
      "a grade where there is one only",
      { specification: "ASTM A228", edition: "unstated", grade: "I" },
      "unknown-grade",
      "I",
      "an empty cell",
      "one grade only",
    ],
    [
      "a diameter above the table",
      { nominalDiameter: { text: "25.00", unit: "mm" } },
      "outside-table",
      "25.00 mm",
      "a size for which EN 10270-1 limits",
      "25.00 mm lies outside the table",
    ],
    [
      "a diameter below the table",
      { specification: "EN 50189", edition: "2000", grade: "ST1A", nominalDiameter: { text: "1.00", unit: "mm" } },
      "outside-table",
      "1.00 mm",
      "EN 50189",
      "1.00 mm lies outside the table",
    ],
    [
      "a size the reference leaves open",
      { specification: "ASTM A231", edition: "1996", grade: "", nominalDiameter: { text: "3.80", unit: "mm" } },
      "no-limit",
      "3.80 mm",
      "limits reduction-of-area",
      "a person must",
    ],
    ["an unknown coating class", { coatingClass: "EN 10244-2 Z" }, "unknown-grade", "EN 10244-2 Z", "a coating class that is held", "Z"],
    [
      "an unknown coating specification",
      { coatingClass: "SPEC-Q A" },
      "unknown-grade",
      "SPEC-Q A",
      "a coating class that is held",
      "SPEC-Q A",
    ],
  ] as const)("%s: %s", ([, rest, code, actual, expected, text]) => {
    const judgement = judge(input([item(rest)]));
    const errors = judgement.findings.filter((f) => f.code === code);
    expect(errors.length).toBeGreaterThan(0);
    for (const error of errors) {
      expect(error).toMatchObject({ severity: "error", sheet: "Orders", actual });
      expect(error.expected).toContain(expected);
      expect(error.text).toMatch(/^Order O1 item 1: /);
      expect(error.text).toContain(text);
    }
    expect(judgement.orders[0]?.coils[0]?.requirements.filter((r) => r.verdict === "undecided").length).toBeGreaterThan(0);
    expect(judgement.orders[0]?.verdict).toBe("undecided");
  });

  test("a grade that is not held is named once, not once a property", () => {
    expect(judge(input([item({ grade: "SX" })])).findings).toHaveLength(1);
  });

  test("a specification that is not held leaves the other orders judged", () => {
    const orders = [item({ specification: "SPEC-Q" }), item({ order: "O2" })];
    const judgement = judge(input(orders));
    expect(judgement.findings.map((f) => [f.code, f.sheet])).toEqual([["unknown-specification", "Orders"]]);
    expect(judgement.orders.map((o) => [o.verdict, o.coils.length])).toEqual([
      ["undecided", 0],
      ["not-tested", 1],
    ]);
  });

  test("one property without a limit leaves the others judged", () => {
    const orders = [item({ coatingClass: "EN 10244-2 Z" })];
    const tests = [row("diameter", { coil: "C-O1", largest: "2.005", smallest: "1.995" })];
    const found = judge(input(orders, { tests })).orders[0]?.coils[0]?.requirements;
    expect(found?.find((r) => r.property === "diameter")?.verdict).toBe("conforms");
    expect(found?.find((r) => r.property === "coating-mass")).toMatchObject({
      verdict: "undecided",
      reason: "unknown-grade",
      next: [{ do: "inspect" }],
    });
  });
});

describe("a requirement that contradicts itself", () => {
  const broken: Requirement = { ...TENSILE, min: "2010", max: "1770" };
  test("is named with its specification and clause, and the rest is judged", () => {
    const judgement = judged([wrapRow()], { requirements: [broken, WRAP] });
    expect(judgement.findings).toMatchObject([
      {
        code: "contradictory-limits",
        severity: "error",
        sheet: "Orders",
        text: "Order O1 item 1: SPEC-X, 1: the minimum 2010 of tensile-strength is above the maximum 1770.",
      },
    ]);
    expect(firstCoil(judgement).requirements.map((r) => [r.property, r.verdict, r.reason])).toEqual([
      ["wrap", "conforms", undefined],
      ["tensile-strength", "undecided", "contradictory-limits"],
    ]);
  });
});

describe("rows that lack what their method needs", () => {
  const COATING = { ...TENSILE, property: "coating-mass", unit: "g/m2" as const, min: "200", max: "400" };
  test.for([
    [{ method: "strip", massBefore: "25" }, "massAfter"],
    [{ method: "strip" }, "massBefore, massAfter"],
    [{ method: "gas", hydrogen: "55", temperature: "20" }, "pressure, length"],
  ] as const)("%j: %s is missing, the requirement is held back and the cell named", ([fields, missing]) => {
    const judgement = judged([row("coating-mass", { strippedDiameter: "2.00", ...fields })], { requirements: [COATING] });
    expect(judgement.findings).toMatchObject([{ code: "missing-value", severity: "error", expected: missing, actual: fields.method }]);
    expect(firstCoil(judgement).requirements[0]).toMatchObject({
      verdict: "undecided",
      reason: "unread-row",
      results: [],
      next: [{ do: "mend" }],
    });
  });
});

describe("rows of coils that nobody knows", () => {
  test("are reported at their cell and judge nothing", () => {
    const judgement = judged([torsionRow({ coil: "C9" }), torsionRow()]);
    expect(judgement.findings).toMatchObject([{ code: "unknown-coil", severity: "error", sheet: "torsion", actual: "C9" }]);
    expect(firstCoil(judgement).verdict).toBe("conforms");
  });
});

describe("problems of a library are passed on, whatever they are", () => {
  test.for([
    ["unknown-grade", "unknown-grade"],
    ["no-rule", "no-limit"],
    ["outside-scope", "outside-table"],
  ] as const)("%s is finding %s", ([problem, code]) => {
    const view = { ...specification({ requirements: [TORSION] }), conduct: () => CONDUCT };
    const answer: RequirementProblem = { problem, text: "an invented problem" };
    const judgement = judge(input([ORDER], { specifications: { find: () => ({ ...view, requirement: () => answer }), list: () => [] } }));
    expect(judgement.findings).toMatchObject([{ code, text: "Order O1 item 1: an invented problem." }]);
    expect(judgement.orders[0]?.coils[0]?.requirements[0]).toMatchObject({ verdict: "undecided", reason: problem });
  });
});
