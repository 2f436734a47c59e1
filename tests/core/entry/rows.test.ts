/** Rules of whole rows. Source: WORKBOOK.md, "Rules for cells" (doubles, unread rows) and "Details" (unfilled rows, turns that must fit). */
import { describe, expect, test } from "vitest";
import type { Entry } from "../../../core/model.ts";
import {
  BEND_ROW,
  COIL_ROW,
  cellOfField,
  codes,
  DIAMETER_ROW,
  entryOf,
  ORDER_ROW,
  OTHER_ROW,
  said,
  sheet,
  TENSILE_ROW,
  TORSION_ROW,
  type TypedRow,
  WRAP_ROW,
} from "./workbook.ts";

/** What is held back, one text an unread row: coil (`*` all of the workbook), test piece, properties. */
const held = (entry: Entry): readonly string[] =>
  entry.unread.map((row) => `${row.coil ?? "*"} ${row.testPiece ?? "?"} ${row.properties.join(",")}`);

const registered = (rest: Partial<Record<"orders" | "coils" | "heats" | "instruments", readonly string[]>>) => ({
  orders: new Set(rest.orders),
  coils: new Set(rest.coils),
  heats: new Set(rest.heats),
  instruments: new Set(rest.instruments),
});

describe("unread rows (WORKBOOK.md, rules for cells: unread rows)", () => {
  const TENSILE = "tensile-strength,proof-strength,breaking-force,elongation,reduction-of-area";
  test.for([
    ["Torsion", TORSION_ROW, { turns: "many" }, "C1 T1 torsion", "the property of the sheet"],
    ["Torsion", TORSION_ROW, { turns: undefined }, "C1 T1 torsion", "a required cell is empty"],
    ["Torsion", TORSION_ROW, { coil: { type: "boolean", raw: "1" } }, "* T1 torsion", "its coil cannot be read: every coil"],
    ["Torsion", TORSION_ROW, { coil: undefined }, "* T1 torsion", "no coil: every coil"],
    ["Torsion", TORSION_ROW, { testPiece: "T\u200b1" }, "C1 ? torsion", "the test piece cannot be read"],
    ["Torsion", TORSION_ROW, { tester: "A. Sample", instrument: { type: "boolean", raw: "1" } }, "C1 T1 torsion", "an error in any cell"],
    ["Diameter", DIAMETER_ROW, { largest: "thick" }, "C1 T1 diameter,out-of-round", "both properties of the sheet"],
    ["Tensile", TENSILE_ROW, { maximumForce: "5,800" }, `C1 T1 ${TENSILE}`, "every property of the sheet"],
    ["Wrap", WRAP_ROW, { wraps: "eight" }, "C1 T1 wrap", "purpose ductility"],
    ["Wrap", WRAP_ROW, { purpose: "adherence", cracks: "some" }, "C1 T1 adherence", "purpose adherence"],
    ["Wrap", WRAP_ROW, { purpose: "both" }, "C1 T1 wrap,adherence", "what the row is for cannot be read: both"],
    ["Other", OTHER_ROW, { word: undefined }, "C1 T1 other:cleanliness,cleanliness", "value or word: one is needed"],
    ["Other", OTHER_ROW, { property: "elongation", value: "1,5" }, "C1 T1 elongation,other:elongation", "a property of the contract"],
  ] as const)("%s %j with %j holds %s (%s)", ([name, good, change, expected]) => {
    const entry = entryOf([sheet(name, [{ ...(good as TypedRow), ...(change as TypedRow) }])]);
    expect(entry.tests).toEqual([]);
    expect(held(entry)).toEqual([expected]);
    expect(entry.findings.some((f) => f.severity === "error")).toBe(true);
  });

  test("an Other row whose property cannot be read holds everything it could mean, agreed names included", () => {
    const agreed = sheet("Agreed", [{ order: "O1", item: "1", property: "cleanliness", agreedIn: "letter" }]);
    const bad = sheet("Other", [{ ...OTHER_ROW, property: undefined }]);
    const [row] = entryOf([agreed, bad], { agreedProperties: ["straightness"] }).unread;
    for (const property of ["torsion", "tensile-strength", "u-bend", "chemistry:Mn", "other:cleanliness", "other:straightness"])
      expect(row?.properties).toContain(property);
  });

  test("the missing value or word is told at the value's cell", () => {
    const entry = entryOf([sheet("Other", [{ ...OTHER_ROW, word: undefined }])]);
    expect(said(entry.findings)).toEqual([`Other!${cellOfField("Other", "value")} missing-value`]);
  });

  test("an Other row needs no unit", () => {
    expect(codes(entryOf([sheet("Other", [{ ...OTHER_ROW, word: undefined, value: 3 }])]).findings)).toEqual([]);
  });

  test("cells with errors are listed once each", () => {
    const [row] = entryOf([sheet("Torsion", [{ ...TORSION_ROW, turns: "many", freeLength: undefined }])]).unread;
    expect(row?.cells).toEqual([cellOfField("Torsion", "turns"), cellOfField("Torsion", "freeLength")]);
  });
});

describe("unfilled rows (WORKBOOK.md, Details: unfilled rows)", () => {
  const identification = {
    testPiece: "T1",
    coil: "C1",
    end: "outer",
    role: "repeat",
    instrument: "TT-1",
    date: "2026-03-02",
    tester: "A. Sample",
  };
  test("a row with nothing but identification: no finding, no result, not unread", () => {
    const entry = entryOf([sheet("Torsion", [identification])]);
    expect([entry.findings, entry.tests, entry.unread]).toEqual([[], [], []]);
    expect(entry.unfilled).toMatchObject([{ sheet: "torsion", row: 2, coil: "C1", testPiece: "T1" }]);
  });
  test.for([
    [{ coil: "Sum", turns: 240 }, "a total"],
    [{ testPiece: "Test piece", coil: "Coil", turns: "Turns" }, "a repeated header"],
    [{ remark: "see page 2" }, "a remark is content"],
  ] as const)("every other row with content is a row: %j (%s)", ([row]) => {
    expect(entryOf([sheet("Torsion", [row])]).unread).toHaveLength(1);
  });
  test("blanks and our own columns are no content", () => {
    const entry = entryOf([sheet("Torsion", [{ testPiece: " ", remark: "\u00a0", verdict: "conforms", why: "x", next: "y" }])]);
    expect([entry.tests, entry.unread, entry.unfilled, entry.findings]).toEqual([[], [], [], []]);
  });
  test("nothing is filled down into the lower cells of a merged range: the coil is missing there", () => {
    const entry = entryOf([
      sheet("Torsion", [TORSION_ROW, { ...TORSION_ROW, testPiece: "T2", coil: undefined }], { record: { merged: ["B2:B3"] } }),
    ]);
    expect(held(entry)).toEqual(["* T2 torsion"]);
  });
});

describe("doubles (WORKBOOK.md, rules for cells: doubles; one result is keyed by property, testPiece and position)", () => {
  test.for([
    ["the same piece twice", "Torsion", [TORSION_ROW, TORSION_ROW], 2],
    ["the same piece twice, one row unread", "Torsion", [TORSION_ROW, { ...TORSION_ROW, turns: "many" }], 2],
    ["another piece", "Torsion", [TORSION_ROW, { ...TORSION_ROW, testPiece: "T2" }], 0],
    ["the same piece in another coil", "Torsion", [TORSION_ROW, { ...TORSION_ROW, coil: "C2" }], 2],
    [
      "two positions",
      "Diameter",
      [
        { ...DIAMETER_ROW, position: "a" },
        { ...DIAMETER_ROW, position: "b" },
      ],
      0,
    ],
    [
      "one position twice",
      "Diameter",
      [
        { ...DIAMETER_ROW, position: "a" },
        { ...DIAMETER_ROW, position: "a" },
      ],
      2,
    ],
    ["two purposes", "Wrap", [WRAP_ROW, { ...WRAP_ROW, purpose: "adherence", coating: "sound" }], 0],
    ["one purpose twice", "Wrap", [WRAP_ROW, WRAP_ROW], 2],
    ["two properties", "Other", [OTHER_ROW, { ...OTHER_ROW, property: "straightness" }], 0],
    ["one property under both its names", "Other", [OTHER_ROW, { ...OTHER_ROW, property: "other:cleanliness" }], 2],
  ] as const)("%s in %s", ([, name, rows, doubled]) => {
    const entry = entryOf([sheet(name, rows as readonly TypedRow[])]);
    const errors = entry.findings.filter((f) => f.code === "doubled-result");
    expect(errors).toHaveLength(doubled);
    expect(new Set(errors.map((f) => f.cell)).size).toBe(doubled);
    if (doubled > 0) expect([entry.tests.length, entry.unread.length]).toEqual([0, rows.length]);
  });

  test("a property of a sheet of its own is one with the same property on the sheet Other", () => {
    const other = { ...OTHER_ROW, property: "elongation", word: undefined, value: 7, unit: "%" };
    expect(codes(entryOf([sheet("Tensile", [{ ...TENSILE_ROW, elongation: 6 }]), sheet("Other", [other])]).findings)).toEqual([
      "doubled-result",
      "doubled-result",
    ]);
    expect(codes(entryOf([sheet("Tensile", [TENSILE_ROW]), sheet("Other", [other])]).findings)).toEqual([]);
  });

  test("test pieces of one sheet that differ only by case: near-match on all those rows, none is judged", () => {
    const rows = ["T1", "t1", "T1x", "T2"].map((testPiece) => ({ ...TORSION_ROW, testPiece }));
    const entry = entryOf([sheet("Torsion", rows)]);
    expect(said(entry.findings)).toEqual(["Torsion!A2 near-match", "Torsion!A3 near-match"]);
    expect(entry.tests.map((row) => row.row)).toEqual([4, 5]);
    expect(held(entry)).toEqual(["C1 T1 torsion", "C1 t1 torsion"]);
  });

  test("a case twin of a row that could not be read is found too, another sheet is another list", () => {
    const entry = entryOf([
      sheet("Torsion", [TORSION_ROW, { ...TORSION_ROW, testPiece: "t1", turns: "many" }]),
      sheet("Tensile", [{ ...TENSILE_ROW, testPiece: "t1" }]),
    ]);
    expect(codes(entry.findings)).toEqual(["not-a-number", "near-match", "near-match"]);
    expect(entry.tests.map((row) => row.sheet)).toEqual(["tensile"]);
  });

  test.for([
    ["Orders", ORDER_ROW, { ...ORDER_ROW, customer: "Example Ropes" }],
    ["Orders", ORDER_ROW, ORDER_ROW],
    ["Coils", COIL_ROW, { ...COIL_ROW, heat: "H2" }],
    ["Heats", { heat: "H1", C: 0.7 }, { heat: "H1", analysis: "heat", C: 0.8 }],
    ["Agreed", { order: "O1", item: "1", property: "torsion", min: 20 }, { order: "O1", item: "1", property: "torsion", min: 22 }],
  ] as const)("%s: the same key in two rows, %j and %j: error on both, neither registers", ([name, one, other]) => {
    const entry = entryOf([sheet(name, [one as TypedRow, other as TypedRow])]);
    expect(said(entry.findings)).toEqual([`${name}!A2 doubled-registration`, `${name}!A3 doubled-registration`]);
    expect(entry.registers.filter((row) => row.sheetName === name)).toEqual([]);
  });

  test.for([
    ["Heats", { heat: "H1", C: 0.7 }, { heat: "H1", analysis: "product", C: 0.8 }, "two analyses"],
    [
      "Instruments",
      { instrument: "TT-1", calibratedOn: "2025-01-05" },
      { instrument: "TT-1", calibratedOn: "2026-01-05" },
      "several rows an instrument",
    ],
    [
      "Agreed",
      { order: "O1", item: "1", property: "wrap", conditions: "wraps 8" },
      { order: "O1", item: "1", property: "wrap", conditions: "wraps 6" },
      "other conditions",
    ],
  ] as const)("%s: %j and %j are no doubles (%s)", ([name, one, other]) => {
    expect(codes(entryOf([sheet(name, [one as TypedRow, other as TypedRow])]).findings)).toEqual([]);
  });
});

describe("rows that contradict themselves (WORKBOOK.md, Details)", () => {
  test.for([
    ["Torsion", TORSION_ROW, { forwardTurns: 24 }, [], "their sum where there are no cycles"],
    ["Torsion", TORSION_ROW, { forwardTurns: 20, reverseTurns: 4 }, [], "20 + 4 = 24"],
    ["Torsion", TORSION_ROW, { forwardTurns: 20, reverseTurns: 5 }, ["contradicting-entry"], "20 + 5 is not 24"],
    ["Torsion", TORSION_ROW, { forwardTurns: 3, reverseTurns: 3, cycles: 4 }, [], "4 × 6 = 24 ≤ 24 < 30"],
    ["Torsion", TORSION_ROW, { forwardTurns: 3, reverseTurns: 3, cycles: 3, turns: 23.9 }, [], "18 ≤ 23.9 < 24"],
    ["Torsion", TORSION_ROW, { forwardTurns: 3, reverseTurns: 3, cycles: 3 }, ["contradicting-entry"], "24 is not below 4 × 6"],
    ["Torsion", TORSION_ROW, { forwardTurns: 3, reverseTurns: 3, cycles: 5 }, ["contradicting-entry"], "5 × 6 is above 24"],
    ["Torsion", TORSION_ROW, { lineTurns: 25 }, [], "|lineTurns − turns| = 1"],
    ["Torsion", TORSION_ROW, { lineTurns: 25.1 }, ["slip-suspected?"], "|lineTurns − turns| > 1"],
    ["Torsion", TORSION_ROW, { turns: ">24", breakAt: "none" }, [], "stopped unbroken, breakAt none"],
    ["Torsion", TORSION_ROW, { turns: ">24", breakAt: "clear" }, ["contradicting-entry"], "stopped unbroken, breakAt empty or none"],
    ["Reverse bend", BEND_ROW, { bends: ">12", breakAt: "grip" }, ["contradicting-entry"], "stopped unbroken, breakAt empty or none"],
    ["Diameter", DIAMETER_ROW, { largest: 1.99 }, ["contradicting-entry"], "the smallest is above the largest"],
    ["Tensile", TENSILE_ROW, { proofForce: 5801 }, ["contradicting-entry"], "the proof force is above the maximum force"],
    ["Tensile", TENSILE_ROW, { diameterAfter: 2.1 }, ["contradicting-entry"], "a piece that grew (CALC.md, errors)"],
  ] as const)("%s %j with %j: %j (%s)", ([name, good, change, expected]) => {
    const entry = entryOf([sheet(name, [{ ...(good as TypedRow), ...(change as TypedRow) }])]);
    expect(codes(entry.findings)).toEqual(expected);
    expect(entry.tests.length).toBe(expected.some((code) => !code.endsWith("?")) ? 0 : 1);
  });
});

describe("register rows that contradict themselves", () => {
  test.for([
    ["Agreed", { order: "O1", item: "1", property: "torsion", min: 22, max: 21 }, "min above max (CALC.md, errors)"],
    ["Instruments", { instrument: "TT-1", rangeMin: 10, rangeMax: 5 }, "a range that ends before it begins"],
    ["Instruments", { instrument: "TT-1", calibratedOn: "2026-01-05", dueOn: "2026-01-04" }, "due before it was made"],
  ] as const)("%s %j: contradicting-entry, nothing is registered (%s)", ([name, row]) => {
    const entry = entryOf([sheet(name, [row])]);
    expect(codes(entry.findings)).toEqual(["contradicting-entry"]);
    expect(entry.registers.filter((r) => r.sheetName === name)).toEqual([]);
  });
  test("equal ends are no contradiction: both edges and both days are included", () => {
    const rows = [{ instrument: "TT-1", rangeMin: 5, rangeMax: 5, calibratedOn: "2026-01-05", dueOn: "2026-01-05" }];
    expect(codes(entryOf([sheet("Instruments", rows)]).findings)).toEqual([]);
  });
});

describe("a row's diameter over 20 % off the order's nominal (WORKBOOK.md, Details: plausible ranges)", () => {
  const mm = (text: string) => ({ text, unit: "mm" as const });
  const NONE = () => undefined;
  test.for([
    ["Diameter", { largest: 2.4, smallest: 1.6 }, [], "20 % off, both sides"],
    ["Diameter", { largest: 2.401 }, ["implausible"], "above"],
    ["Diameter", { smallest: 1.599 }, ["implausible"], "below"],
    ["Torsion", { diameter: 2.5 }, ["implausible"], "diameter of any sheet"],
    ["Coating mass", { strippedDiameter: 1.5 }, ["implausible"], "strippedDiameter"],
  ] as const)("%s %j: %j (%s)", ([name, change, expected]) => {
    const good: TypedRow = { Diameter: DIAMETER_ROW, Torsion: TORSION_ROW }[name as string] ?? { ...DIAMETER_ROW, method: "gas" };
    expect(codes(entryOf([sheet(name, [{ ...good, ...(change as TypedRow) }])]).findings)).toEqual(expected);
  });

  test.for([
    // registered coil, registered item, workbook's order   row   expected
    ["3", undefined, 2, 3, [], "the register's nominal of a registered coil wins over the workbook's order"],
    ["3", undefined, 2, 2, ["implausible"], "the register's nominal of a registered coil wins over the workbook's order"],
    [undefined, "3", 2, 3, [], "a new coil of a registered order is held against the registered order"],
    [undefined, "3", 2, 2, ["implausible"], "a new coil of a registered order is held against the registered order"],
    [undefined, undefined, 2, 3, ["implausible"], "a new order: the workbook's own"],
  ] as const)("registered coil %s, registered item %s, workbook %s, measured %s: %j (%s)", ([coil, item, own, measured, expected]) => {
    const entry = entryOf(
      [sheet("Orders", [{ ...ORDER_ROW, nominalDiameter: own }]), sheet("Torsion", [{ ...TORSION_ROW, diameter: measured }])],
      {
        nominalDiameterOf: coil === undefined ? NONE : () => mm(coil),
        nominalDiameterOfItem: item === undefined ? NONE : (order, number) => (order === "O1" && number === "1" ? mm(item) : undefined),
      },
    );
    expect(codes(entry.findings)).toEqual(expected);
  });

  test("inches against a nominal in millimetres: 0.0787 in = 1.99898 mm", () => {
    const inch = { units: "inch-pound" } as const;
    const rows = [
      { ...TORSION_ROW, diameter: 0.0787, freeLength: 8 },
      { ...TORSION_ROW, testPiece: "T2", diameter: 0.1, freeLength: 8 },
    ];
    const entry = entryOf(
      [sheet("Orders", [{ ...ORDER_ROW, nominalDiameter: 0.0787 }], inch), sheet("Coils", [COIL_ROW], inch), sheet("Torsion", rows, inch)],
      { nominalDiameterOf: () => mm("2.00") },
    );
    expect(said(entry.findings)).toEqual([`Torsion!${cellOfField("Torsion", "diameter", 3)} implausible`]);
  });
});

describe("near matches (WORKBOOK.md, rules for cells: identifiers)", () => {
  const names = (coil: string, known: readonly string[]) => {
    const entry = entryOf([sheet("Coils", []), sheet("Torsion", [{ ...TORSION_ROW, coil }])], {
      registered: registered({ orders: ["O1"], coils: known }),
    });
    return { codes: codes(entry.findings), held: held(entry), results: entry.tests.length };
  };
  test.for([
    ["c-10", "C-10", true, "case"],
    ["C-1O", "C-10", true, "look-alikes: O and 0"],
    ["C-l0", "C-10", true, "look-alikes: l and 1"],
    ["\u0421-10", "C-10", true, "Cyrillic С"],
    ["\u0397-10", "H-10", true, "Greek Η, whose small letter looks otherwise"],
    ["C -10", "C-10", true, "inner blanks"],
    ["C\u201110", "C-10", true, "a hyphen that does not break"],
    ["C10", "C-10", false, "`-` is no blank: C-10 and C10 are two coils"],
    ["C_10", "C-10", false, "`_` is no `-`"],
    ["A1-11", "A11-1", false, "`-` tells where the parts end"],
    ["C-11", "C-10", false, "another number"],
    ["C-10", "C-10", false, "the same"],
  ] as const)("%s beside the registered %s: %s (%s)", ([coil, known, resembles]) => {
    const found = names(coil, [known]);
    expect(found.codes).toEqual(resembles ? ["near-match"] : []);
    expect(found.held).toEqual(resembles ? ["* T1 torsion"] : []);
    expect(found.results).toBe(resembles ? 0 : 1);
  });

  test("two registered ones that resemble each other: one warning, however many rows use them", () => {
    const rows = ["C-10", "C-1O", "C-10"].map((coil, i) => ({ ...TORSION_ROW, coil, testPiece: `T${i}` }));
    const entry = entryOf([sheet("Torsion", rows)], { registered: registered({ orders: ["O1"], coils: ["C-10", "C-1O"] }) });
    expect(codes(entry.findings)).toEqual(["near-match?"]);
    expect(entry.tests).toHaveLength(3);
  });

  test("an instrument that resembles a registered one does not blank the coil of its row", () => {
    const entry = entryOf([sheet("Torsion", [{ ...TORSION_ROW, instrument: "tt-1" }])], {
      registered: registered({ instruments: ["TT-1"] }),
    });
    expect(said(entry.findings)).toEqual([`Torsion!${cellOfField("Torsion", "instrument")} near-match`]);
    expect(held(entry)).toEqual(["C1 T1 torsion"]);
  });

  test("diameterInstrument and motherCoil are names too", () => {
    const options = { registered: registered({ instruments: ["MC-1"], coils: ["M-1"] }) };
    expect(codes(entryOf([sheet("Tensile", [{ ...TENSILE_ROW, diameterInstrument: "mc-1" }])], options).findings)).toEqual(["near-match"]);
    expect(codes(entryOf([sheet("Coils", [{ ...COIL_ROW, motherCoil: "m-1" }])], options).findings)).toEqual(["near-match"]);
  });

  test("a row that is unread for another reason and names a doubtful coil holds every coil", () => {
    const entry = entryOf([sheet("Torsion", [{ ...TORSION_ROW, coil: "c1", turns: "many" }])]);
    expect(codes(entry.findings)).toEqual(["not-a-number", "near-match"]);
    expect(held(entry)).toEqual(["* T1 torsion"]);
  });

  test("a register row with a doubtful name registers nothing", () => {
    const entry = entryOf([sheet("Coils", [{ ...COIL_ROW, heat: "h-1" }])], { registered: registered({ heats: ["H-1"] }) });
    expect(entry.registers.map((row) => row.sheet)).toEqual(["orders"]);
  });
});

describe("Agreed and Heats rows that could not be read hold their coils (WORKBOOK.md, unread rows)", () => {
  const coils = sheet("Coils", [COIL_ROW, { coil: "C2", order: "O2", item: "1", heat: "H2" }]);
  test.for([
    ["Agreed", { order: "O2", item: "1", property: "torsion", min: "2,2" }, ["C2"], "of its order item"],
    ["Agreed", { order: undefined, item: "1", property: "torsion", min: 20 }, [undefined], "its order cannot be read: every coil"],
    ["Heats", { heat: "H2", C: "0,72" }, ["C2"], "of its heat"],
    ["Heats", { heat: { type: "boolean", raw: "1" }, C: 0.7 }, [undefined], "its heat cannot be read: every coil"],
    ["Heats", { heat: "H9", C: "0,72" }, ["C9"], "of a registered coil of its heat"],
    ["Heats", { heat: "H8", C: "0,72" }, [], "a heat of no coil"],
  ] as const)("%s %j holds %j (%s)", ([name, row, expected]) => {
    const entry = entryOf([coils, sheet(name, [row as TypedRow])], { coilsOfHeat: (heat) => (heat === "H9" ? ["C9"] : []) });
    expect(entry.unread.map((u) => u.coil)).toEqual(expected);
    for (const u of entry.unread)
      for (const property of ["torsion", "tensile-strength", "chemistry:C"]) expect(u.properties).toContain(property);
  });

  test("where the heat or the order is registered, the register counts and nothing is held", () => {
    const options = { registered: registered({ heats: ["H2"] }), nominalDiameterOfItem: () => ({ text: "2", unit: "mm" as const }) };
    expect(entryOf([coils, sheet("Heats", [{ heat: "H2", C: "0,72" }])], options).unread).toEqual([]);
    expect(entryOf([coils, sheet("Agreed", [{ order: "O2", item: "1", property: "torsion", min: "2,2" }])], options).unread).toEqual([]);
  });
});
