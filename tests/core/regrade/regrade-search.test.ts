/** The regrade search on invented specifications, and on the built-in ones where the reference holds the limit. */
import { describe, expect, test } from "vitest";
import type { EntryRow, OrderItem, Requirement, SpecificationView } from "../../../core/model.ts";
import { type RegradeInput, regradeSearch } from "../../../core/regrade/index.ts";
import { builtInLibrary } from "../../../core/spec/index.ts";
import { coil, ORDER, requirement, row, specification, TORSION, tensileRow, torsionRow, WRAP, wrapRow } from "../../helpers/judge.ts";

const strength = (min: string, max: string): Requirement => requirement("tensile-strength", { min, max });
const view = (id: string, grades: readonly string[], of: (grade: string) => readonly Requirement[]): SpecificationView => ({
  ...specification(),
  id,
  grades,
  requiredProperties: (grade) => of(grade).map((r) => r.property),
  requirement: (property, grade) => of(grade).find((r) => r.property === property) ?? { problem: "no-rule", text: "no rule" },
});

const SPEC_X = view("SPEC-X", ["G", "H"], (grade) => [grade === "G" ? strength("1900", "2200") : strength("1700", "1900"), TORSION]);
const SPEC_Y = view("SPEC-Y", [], () => [strength("1800", "2000")]);
const SPEC_Z = view("SPEC-Z", ["A"], () => [strength("1500", "2500"), WRAP]);
const COATING = view("SPEC-C", ["A"], () => [requirement("coating-mass", { min: "1", unit: "g/m2" })]);
const ALL = [SPEC_X, SPEC_Y, SPEC_Z, COATING];

const search = (tests: readonly EntryRow[], views: readonly SpecificationView[] = ALL, rest: Partial<RegradeInput> = {}) =>
  regradeSearch({
    order: ORDER,
    coil: coil("C1"),
    tests,
    unread: [],
    heats: [],
    instruments: [{ instrument: "M1", calibratedOn: "2026-01-01", dueOn: "2026-12-31" }],
    specifications: { find: () => undefined, list: () => views },
    isAdopted: () => false,
    today: "2026-03-03",
    freeLengthTolerance: "0.01",
    ...rest,
  });
const named = (tests: readonly EntryRow[]) => search(tests).map((c) => `${c.specification} ${c.grade}`.trim());

// 4 F / (pi 2.00^2): 5800 N is 1846.2 MPa, 5900 N is 1878.0 MPa, 5000 N is 1591.5 MPa.
const at = (force: string, testPiece = "T1", rest = {}) => tensileRow({ testPiece, maximumForce: force, ...rest });

describe("every other specification and grade that the coil meets", () => {
  test.for([
    ["1846 MPa, 24 turns: H and Y whole; Z wants a wrap that nobody made", [at("5800"), torsionRow()], ["SPEC-X H", "SPEC-Y", "SPEC-Z A"]],
    ["with a sound wrap Z is whole too", [at("5800"), torsionRow(), wrapRow()], ["SPEC-X H", "SPEC-Y", "SPEC-Z A"]],
    ["a cracked wrap rules Z out", [at("5800"), torsionRow(), wrapRow({ cracks: "visible" })], ["SPEC-X H", "SPEC-Y"]],
    ["12 turns rule H out", [at("5800"), torsionRow({ turns: "12" })], ["SPEC-Y", "SPEC-Z A"]],
    ["1592 MPa meets Z alone", [at("5000"), torsionRow()], ["SPEC-Z A"]],
    ["nothing tested meets nothing", [], []],
    ["a torsion alone judges only H", [torsionRow()], ["SPEC-X H"]],
    [
      "a first piece that failed is not undone by its retest",
      [torsionRow({ turns: "12" }), torsionRow({ testPiece: "T2", role: "retest", retestOf: "T1" }), at("5800")],
      ["SPEC-Y", "SPEC-Z A"],
    ],
    ["a void piece says nothing", [torsionRow({ turns: "12", breakAt: "grip" }), at("5800")], ["SPEC-Y", "SPEC-X H", "SPEC-Z A"]],
    ["a check wire says nothing", [at("5800"), at("100", "K1", { role: "check" })], ["SPEC-Y", "SPEC-X H", "SPEC-Z A"]],
  ] as const)("%s", ([, tests, expected]) => {
    expect(named(tests)).toEqual(expected);
    expect(named([...tests].reverse())).toEqual(expected);
  });

  test("the specification and grade as ordered is no regrade, whatever the dash", () => {
    const one: OrderItem = { ...ORDER, specification: "SPEC-Y", grade: "-" };
    expect(search([at("5800")], [SPEC_Y], { order: one })).toEqual([]);
  });

  test("a coating specification alone is no product", () => {
    expect(search([row("coating-mass", { method: "strip", strippedDiameter: "2", massBefore: "25", massAfter: "24" })], [COATING])).toEqual(
      [],
    );
  });
});

describe("how near it comes", () => {
  test("the smallest margin of each property, of the piece that comes nearest", () => {
    const [candidate] = search(
      [at("5800"), at("5900", "T2"), torsionRow({ turns: "24.5" }), torsionRow({ testPiece: "T2", turns: "21" })],
      [SPEC_X],
    );
    expect(candidate).toMatchObject({
      grade: "H",
      adopted: false,
      margins: [
        { property: "tensile-strength", margin: "22", unit: "MPa", compared: "1878", testPiece: "T2" },
        { property: "torsion", margin: "1", unit: "turns", compared: "21", testPiece: "T2" },
      ],
      notJudgeable: [],
    });
  });
  test("at the limit the margin is nothing, and a word has none", () => {
    const limit = view("SPEC-L", [], () => [strength("1846", "1999"), WRAP]);
    expect(search([at("5800"), wrapRow()], [limit])[0]?.margins).toEqual([
      { property: "tensile-strength", margin: "0", unit: "MPa", compared: "1846", testPiece: "T1" },
      { property: "wrap", unit: "", compared: "none", testPiece: "T1" },
    ]);
  });
  test("a scaled minimum is the one that counts: 20 turns on 200 mm are 10 on 100 mm", () => {
    const scaling = {
      ...view("SPEC-S", [], () => [TORSION]),
      conduct: () => specification({ conduct: { torsionScalingAllowed: true } }).conduct(ORDER.nominalDiameter),
    };
    expect(search([torsionRow({ turns: "14", freeLength: "100" })], [scaling])[0]?.margins).toMatchObject([{ margin: "4" }]);
  });
});

describe("limits that nobody could judge are named with their reason", () => {
  test.for([
    ["not tested", [at("5800")], [{ property: "torsion", reason: "too-few-results" }]],
    ["void under the other's conditions", [at("5800"), torsionRow({ freeLength: "300" })], [{ property: "torsion", reason: "all-void" }]],
  ] as const)("%s", ([, tests, notJudgeable]) => {
    expect(search(tests, [SPEC_X])[0]?.notJudgeable).toEqual(notJudgeable);
  });
  test("an unread row, and what no sheet carries", () => {
    const listing = view("SPEC-U", [], () => [
      strength("1800", "2000"),
      requirement("u-bend", { unit: "", word: "no-cracks", listedOnly: true }),
    ]);
    const unread = [
      { sheet: "torsion" as const, sheetName: "Torsion", row: 9, file: "", coil: "C1", properties: ["torsion"], cells: ["H9"] },
    ];
    expect(search([at("5800")], [listing])[0]?.notJudgeable).toEqual([{ property: "u-bend", reason: "not-recorded" }]);
    expect(search([at("5800"), torsionRow()], [SPEC_X], { unread })[0]?.notJudgeable).toEqual([
      { property: "torsion", reason: "unread-row" },
    ]);
  });
});

describe("on the specifications held", () => {
  const order: OrderItem = { ...ORDER, specification: "EN 10270-1", edition: "2011", grade: "SH" };
  test("1846 MPa on 2.00 mm is SM and DM (1760 to 1970 MPa, P8/P9), not SH (1980 to 2200 MPa)", () => {
    const tests = [
      at("5800"),
      torsionRow({ turns: "24" }),
      wrapRow(),
      row("diameter", { largest: "2.005", smallest: "1.998" }),
      row("coiling", { diameter: "2.00", mandrelDiameter: "6.5", evenPitch: "yes", cracks: "none" }),
    ];
    const found = search(tests, builtInLibrary().list(), { order });
    const whole = found.filter((c) => c.notJudgeable.length === 0).map((c) => `${c.specification} ${c.grade}`.trim());
    expect(whole).toContain("EN 10270-1 SM");
    expect(whole).toContain("EN 10270-1 DM");
    expect(found.map((c) => `${c.specification} ${c.grade}`)).not.toContain("EN 10270-1 SL");
    expect(
      found.find((c) => c.specification === "EN 10270-1" && c.grade === "SM")?.margins.find((m) => m.property === "tensile-strength"),
    ).toMatchObject({
      compared: "1846",
      margin: "86",
    });
  });
});
