import { describe, expect, test } from "vitest";
import { EMPTY_REGISTERS, mergeRegisters, type Registers } from "../../../core/entry/index.ts";
import type { SpecificationLibrary } from "../../../core/model.ts";
import { specification } from "../../helpers/judge.ts";
import { COIL_ROW, cellOfField, entryOf, ORDER_ROW, said, sheet, type TypedRow } from "./workbook.ts";

// Invented specifications: SPEC-X in three editions, SPEC-Y with two grades.
const held = [
  ...["2010", "2020", "2015"].map((edition) => ({ ...specification(), edition })),
  { ...specification(), id: "SPEC-Y", grades: ["A", "B"] },
  { ...specification(), id: "SPEC-Z", grades: [] },
];
const library: SpecificationLibrary = {
  list: () => held,
  find(designation, edition) {
    const [id, year] = designation.split(":");
    const wanted = edition ?? year;
    const found = held.filter((s) => s.id === id && (wanted === undefined || s.edition === wanted));
    return found.toSorted((a, b) => b.edition.localeCompare(a.edition))[0];
  },
};

const ORDER = { ...ORDER_ROW, specification: "SPEC-X", grade: "G" };
const merged = (sheets: Readonly<Record<string, readonly TypedRow[]>>, registered: Registers = EMPTY_REGISTERS) => {
  const all = { Orders: [], Coils: [], ...sheets };
  const entry = entryOf(Object.entries(all).map(([name, rows]) => sheet(name, rows)));
  expect(said(entry.findings)).toEqual([]);
  return mergeRegisters(registered, entry.registers, library);
};
/** A register as a workbook first filled it, and as a store may give it back: keys in another order. */
const registerOf = (sheets: Readonly<Record<string, readonly TypedRow[]>>): Registers => {
  const { all } = merged(sheets);
  const shuffle = <T extends object>(record: T): T => Object.fromEntries(Object.entries(record).reverse()) as T;
  return {
    orders: all.orders.map(shuffle),
    agreed: all.agreed.map(shuffle),
    coils: all.coils.map(shuffle),
    heats: all.heats.map(shuffle),
    instruments: all.instruments.map(shuffle),
  };
};

const AGREED: TypedRow = { order: "O1", item: "1", property: "torsion", min: 22, conditions: "freeLength 200 mm", agreedIn: "letter" };
const HEAT: TypedRow = { heat: "H1", analysis: "heat", source: "supplier", process: "electric", C: 0.72, Mn: 0.6 };
const INSTRUMENT: TypedRow = { instrument: "TT-1", kind: "torsion tester", calibratedOn: "2026-01-05", dueOn: "2027-01-05" };
const COIL: TypedRow = { ...COIL_ROW, mass: 120 };
const FIRST = { Orders: [ORDER], Coils: [COIL], Agreed: [AGREED], Heats: [HEAT], Instruments: [INSTRUMENT] };

describe("registers win over workbooks (WORKBOOK.md)", () => {
  test("what is unknown is registered", () => {
    const { added, findings } = merged(FIRST);
    expect(said(findings)).toEqual([]);
    expect([added.orders.length, added.coils.length, added.agreed.length, added.heats.length, added.instruments.length]).toEqual([
      1, 1, 1, 1, 1,
    ]);
  });

  test("what is equal changes nothing and is no finding", () => {
    expect(merged(FIRST, registerOf(FIRST))).toMatchObject({ added: EMPTY_REGISTERS, findings: [] });
  });

  test.for([
    ["Orders", ORDER, "customer", "Example Ropes"],
    ["Orders", ORDER, "nominalDiameter", 2.1],
    ["Orders", ORDER, "edition", "2015"],
    ["Orders", ORDER, "documentType", "3.1"],
    ["Orders", ORDER, "decisionRule", "guarded"],
    ["Orders", ORDER, "coatingClass", "EN 10244-2 A"],
    ["Coils", COIL, "heat", "H2"],
    ["Coils", COIL, "mass", 121],
    ["Coils", COIL, "motherCoil", "M1"],
    ["Heats", HEAT, "source", "own"],
    ["Heats", HEAT, "process", "oxygen"],
    ["Heats", HEAT, "C", 0.73],
    ["Heats", HEAT, "Cr", 0.1],
    ["Agreed", AGREED, "min", 20],
    ["Agreed", AGREED, "max", 40],
    ["Agreed", AGREED, "agreedIn", "another letter"],
    ["Agreed", AGREED, "property", "wrap"],
  ] as const)("%s: another %3$s %4$s is differs-from-register at its cell and changes nothing", ([name, row, field, value]) => {
    const registered = registerOf(FIRST);
    const { added, all, findings } = merged({ [name]: [{ ...(row as TypedRow), [field]: value }] }, registered);
    expect(said(findings)).toEqual([`${name}!${cellOfField(name, field)} differs-from-register`]);
    expect([added, all]).toEqual([EMPTY_REGISTERS, registered]);
  });

  test("another calibration of a registered instrument is none of the workbook's business", () => {
    const { added, findings } = merged({ Instruments: [{ ...INSTRUMENT, dueOn: "2028-01-05" }] }, registerOf(FIRST));
    expect([said(findings), added]).toEqual([["Instruments!A2 differs-from-register"], EMPTY_REGISTERS]);
  });

  test("an empty cell says nothing against the register", () => {
    const sparse = {
      Orders: [ORDER],
      Coils: [COIL_ROW],
      Heats: [{ heat: "H1", C: 0.72 }],
      Agreed: [{ order: "O1", item: "1", property: "torsion" }],
    };
    expect(merged(sparse, registerOf(FIRST))).toMatchObject({ added: EMPTY_REGISTERS, findings: [] });
  });

  test("a new agreed requirement for a new item of a registered order is added", () => {
    const next = { Orders: [{ ...ORDER, item: "2" }], Agreed: [{ ...AGREED, item: "2" }] };
    expect(merged(next, registerOf(FIRST))).toMatchObject({ added: { agreed: [{ item: "2" }] }, findings: [] });
  });

  test("the edition is fixed when the order is first registered: a row that names none keeps it", () => {
    const before = registerOf({ Orders: [{ ...ORDER, edition: "2015" }] });
    expect(merged({ Orders: [ORDER] }, before)).toMatchObject({ added: EMPTY_REGISTERS, findings: [] });
    expect(said(merged({ Orders: [{ ...ORDER, specification: "SPEC-X:2020" }] }, before).findings)).toEqual([
      "Orders!G2 differs-from-register",
    ]);
  });

  test("12 lb and 5.44310844 kg are one mass", () => {
    const registered: Registers = {
      ...EMPTY_REGISTERS,
      coils: [{ coil: "C1", order: "O1", item: "1", heat: "H1", mass: { text: "12", unit: "lb" } }],
    };
    const coils = (mass: number) => said(merged({ Orders: [ORDER], Coils: [{ ...COIL_ROW, mass }] }, registered).findings);
    expect([coils(5.44310844), coils(5.5)]).toEqual([[], ["Coils!H2 differs-from-register"]]);
  });
});

describe("an order that cannot be registered", () => {
  test.for([
    [{ specification: "SPEC-Q" }, "Orders!G2 unknown-specification", "SPEC-X, SPEC-Y, SPEC-Z", "not held"],
    [{ edition: "1999" }, "Orders!H2 unknown-edition", "2010, 2020, 2015", "every edition that is held is named"],
    [{ specification: "SPEC-X:1999" }, "Orders!G2 unknown-edition", "2010, 2020, 2015", "the year in the designation"],
    [{ specification: "SPEC-Y", grade: "C" }, "Orders!I2 unknown-grade", "A, B", "the grades held"],
    [{ specification: "SPEC-Y", grade: "-" }, "Orders!I2 unknown-grade", "A, B", "`-` only where there is one grade"],
    [{ specification: "SPEC-Z", grade: "G" }, "Orders!I2 unknown-grade", "empty or -", "no grades at all"],
  ] as const)("%j: %s, accepted %s (%s)", ([change, place, expected]) => {
    const { added, findings } = merged({ Orders: [{ ...ORDER, ...change }] });
    expect(said(findings)).toEqual([place]);
    expect(findings[0]?.expected).toBe(expected);
    if (findings[0]?.code === "unknown-edition") expect(findings[0].text).toContain(expected);
    expect(added.orders).toEqual([]);
  });

  test.for([
    [{ grade: undefined }, "G"],
    [{ grade: "-" }, "G"],
    [{ specification: "SPEC-Z", grade: "-" }, ""],
  ] as const)("%j: the only grade, %j (WORKBOOK.md, Orders: grade)", ([change, grade]) => {
    expect(merged({ Orders: [{ ...ORDER, ...change }] }).added.orders).toMatchObject([{ grade }]);
  });

  test.for([
    ["torsion", "torsion"],
    ["chemistry:Mn", "chemistry:Mn"],
    ["other:straightness", "other:straightness"],
    ["straightness", "other:straightness"],
  ] as const)("an agreed %s is the property %s (CALC.md, Properties)", ([property, expected]) => {
    expect(merged({ Orders: [ORDER], Agreed: [{ ...AGREED, property }] }).added.agreed).toMatchObject([{ property: expected }]);
  });

  test("a coil or an agreed requirement of an unknown order item is said", () => {
    const { findings } = merged({ Coils: [COIL], Agreed: [AGREED] });
    expect(said(findings)).toEqual(["Coils!B2 unknown-order", "Agreed!A2 unknown-order"]);
  });
});
