/** Rules of sheets, headers and columns. Source: WORKBOOK.md, "Rules for cells" (columns, hidden data, package) and "Details" (labels, sheet names). */
import { describe, expect, test } from "vitest";
import { NOTHING_REGISTERED, parseEntry } from "../../../core/entry/index.ts";
import { readWorkbook, writeWorkbook } from "../../../core/workbook/index.ts";
import {
  COIL_ROW,
  codes,
  DIAMETER_ROW,
  entryOf,
  OPTIONS,
  ORDER_ROW,
  rawSheet,
  said,
  sheet,
  TENSILE_ROW,
  TORSION_ROW,
  type Typed,
  workbook,
} from "./workbook.ts";

const PLAIN = ["Test piece", "Coil", "Diameter", "Free length", "Turns", "Date"] as const;
const VALUES: readonly Typed[] = ["T1", "C1", 2, 200, 24, "2026-03-02"];
const torsion = (header: readonly Typed[], ...rows: readonly (readonly Typed[])[]) => rawSheet("Torsion", [header, ...rows]);
const withHeader = (index: number, label: Typed): readonly Typed[] => PLAIN.map((plain, i) => (i === index ? label : plain));

describe("headers are found by their labels (WORKBOOK.md, first paragraph; Details: labels)", () => {
  test.for([
    ["Free length", "the English label"],
    ["freeLength", "the field name itself"],
    ["FREE LENGTH", "case is folded"],
    [" Free  length ", "blanks are trimmed and joined"],
    ["Free\nlength", "a line break is a blank"],
    ["Free\u00a0length", "a no-break blank is a blank"],
    ["Freie Länge", "any language we ship"],
    ["Freie La\u0308nge", "NFC"],
    ["Free length, mm", "with its unit"],
    ["Free length (mm)", "with its unit in brackets"],
  ] as const)("%j (%s)", ([label]) => {
    const entry = entryOf([torsion(withHeader(3, label), VALUES)]);
    expect([codes(entry.findings), entry.tests.length]).toEqual([[], 1]);
  });

  test.for([
    ["Free\u200b length", "zero-width letters do not match"],
    ["Free length\ufeff", "nor does the zero-width no-break space"],
    ["Fr\u0435e length", "look-alike letters do not match (Cyrillic е)"],
    [200, "a number is no label"],
  ] as const)("%j is another column, and the required one is missing (%s)", ([label]) => {
    const entry = entryOf([torsion(withHeader(3, label), VALUES)]);
    expect(said(entry.findings)).toEqual(["Torsion!D1 unknown-column?", "Torsion!A1 missing-column"]);
    expect(entry.tests).toEqual([]);
  });

  test.for([
    [19, 1],
    [20, 0],
  ] as const)("within the first 20 rows: %i rows above it", ([above, results]) => {
    const lines = [["Day book"], ...Array.from({ length: above - 1 }, () => []), PLAIN, VALUES];
    const entry = entryOf([rawSheet("Torsion", lines)]);
    expect(entry.tests.length).toBe(results);
    expect(said(entry.findings)).toEqual(results === 1 ? [] : ["Torsion!A1 no-header"]);
    expect(entry.unread.length).toBeGreaterThanOrEqual(1 - results);
  });

  test("not by position: columns in any order, others between them", () => {
    const entry = entryOf([torsion(["Shift", ...[...PLAIN].reverse()], ["night", ...[...VALUES].reverse()])]);
    expect(said(entry.findings)).toEqual(["Torsion!A1 unknown-column?"]);
    expect(entry.tests[0]?.fields["turns"]).toMatchObject({ text: "24", cell: "C2" });
  });

  test("a header without rows: not tested, and no finding", () => {
    const entry = entryOf([torsion(PLAIN)]);
    expect([entry.tests, entry.unread, entry.findings]).toEqual([[], [], []]);
  });
});

describe("columns (WORKBOOK.md, rules for cells: columns; Details: units)", () => {
  test.for([
    [[...PLAIN, "Shift"], ["Torsion!G1 unknown-column?"], 1, "unknown: warning, kept"],
    [PLAIN.slice(0, 5), ["Torsion!A1 missing-column"], 0, "a required one missing: error, not judged"],
    [[...PLAIN, "Turns"], ["Torsion!G1 doubled-column"], 0, "a label twice: error, not judged"],
    [[...PLAIN, "Verwindungen"], ["Torsion!G1 doubled-column"], 0, "a label twice, in two languages"],
    [withHeader(2, "Diameter, in"), ["Torsion!C1 mixed-units"], 0, "units other than the workbook's"],
    [withHeader(2, "Diameter, cm"), ["Torsion!C1 mixed-units"], 0, "a unit of neither system"],
    [[...PLAIN, "Remark, mm"], [], 1, "a text has no unit"],
  ] as const)("%j: %j (%s)", ([header, expected, results]) => {
    const entry = entryOf([torsion(header, VALUES)]);
    expect(said(entry.findings)).toEqual(expected);
    expect(entry.tests.length).toBe(results);
    expect(entry.unread.length > 0).toBe(results === 0);
  });

  test("one workbook has one unit system: the one that more headers name", () => {
    const inch = { units: "inch-pound" } as const;
    const entry = entryOf([
      sheet("Orders", [{ ...ORDER_ROW, nominalDiameter: 0.08 }], inch),
      sheet("Coils", [COIL_ROW], inch),
      sheet("Tensile", [{ ...TENSILE_ROW, diameter: 0.08 }], inch),
      sheet("Diameter", [DIAMETER_ROW]),
    ]);
    expect(entry.units).toBe("inch-pound");
    expect(said(entry.findings)).toEqual(["Diameter!E1 mixed-units", "Diameter!F1 mixed-units"]);
    expect(entry.tests[0]?.fields["maximumForce"]?.unit).toBe("lbf");
  });
});

describe("a sheet that is not judged holds every coil (WORKBOOK.md: as if all its rows were unread)", () => {
  const registered = { ...NOTHING_REGISTERED, orders: new Set(["O7"]), coils: new Set(["C7", "C8"]) };
  const without = (field: string, row: object) => sheet("Torsion", [{ ...TORSION_ROW, ...row }], { without: [field] });
  test.for([
    [without("freeLength", { coil: "C7" }), [undefined, "C7"], "its coil column is readable"],
    [
      rawSheet("Torsion", [
        ["Some", "title"],
        ["T1", "C7", 24],
      ]),
      [undefined, "C7"],
      "no header: registered coils by their names",
    ],
    [without("coil", { remark: "C8" }), [undefined, "C8"], "no coil column: registered coils by their names"],
    [without("freeLength", { coil: undefined }), [undefined], "no coil named"],
  ] as const)("sheet %#: holds %j (%s)", ([record, coils]) => {
    const parsed = parseEntry(workbook([record]), { ...OPTIONS, registered });
    if (!parsed.ok) throw new Error(parsed.refusal.code);
    const { unread, tests } = parsed.entry;
    expect(tests).toEqual([]);
    expect(unread.map((row) => row.coil)).toEqual(coils);
    for (const row of unread) expect(row).toMatchObject({ sheet: "torsion", row: 0, properties: ["torsion"] });
  });

  test("rows that are not filled yet are not unread", () => {
    expect(entryOf([sheet("Torsion", [{ testPiece: "T1", coil: "C1" }], { without: ["freeLength"] })]).unread).toEqual([]);
  });

  test("figures under a label that is not known count as rows", () => {
    const entry = entryOf([torsion(withHeader(4, "Turnz"), ["T1", "C1", undefined, undefined, 24, undefined])]);
    expect(entry.unread.map((row) => row.coil)).toEqual([undefined, "C1"]);
  });

  test.for([
    ["Agreed", [{ order: "O1", item: "1", property: "torsion", min: 22 }], "property"],
    ["Heats", [{ heat: "H1", C: 0.7 }], "heat"],
  ] as const)("%s holds every property", ([name, rows, missing]) => {
    const [row] = entryOf([sheet(name, rows, { without: [missing] })]).unread;
    expect(row).toMatchObject({ sheet: name.toLowerCase(), row: 0 });
    expect(row?.properties).toContain("torsion");
  });

  test("a sheet Orders that is not judged registers nothing and holds nothing of its own", () => {
    const entry = entryOf([sheet("Orders", [ORDER_ROW], { without: ["customer"] })]);
    expect(entry.unread).toEqual([]);
    expect(entry.registers.map((row) => row.sheet)).toEqual(["coils"]);
  });
});

describe("sheets (WORKBOOK.md, rules for cells: hidden, extra sheets; Details: sheet names)", () => {
  const record = sheet("Torsion", [TORSION_ROW]);
  test.for([
    [{ hidden: true }, ["Torsion!A1 hidden-data?"], "a hidden sheet"],
    [{ hiddenRows: new Set([2]) }, ["Torsion!A1 hidden-data?"], "a hidden row"],
    [{ hiddenColumns: new Set([5]) }, ["Torsion!A1 hidden-data?"], "a hidden column"],
    [{ filtered: true, hiddenRows: new Set([2]) }, ["Torsion!A1 hidden-data?"], "a filter that hides"],
    [{ filtered: true }, [], "a filter that hides nothing"],
    [{ name: "torsion " }, ["torsion !A1 sheet-name?"], "trimmed and folded, with a warning"],
    [{ name: "Verwinden" }, [], "the name in another language"],
    [{ name: "VERWINDEN" }, ["VERWINDEN!A1 sheet-name?"], "folded in another language"],
  ] as const)("%j: judged like the others, %j (%s)", ([change, expected]) => {
    const entry = entryOf([{ ...record, ...change }]);
    expect(said(entry.findings)).toEqual(expected);
    expect(entry.tests).toHaveLength(1);
  });

  test.for([
    ["Notes", ["Notes!A1 unknown-sheet?"], "an extra sheet that is not ours"],
    ["Tors\u0456on", ["Tors\u0456on!A1 unknown-sheet?"], "a look-alike letter"],
    ["Set-up plan", [], "a sheet of the prepared workbook"],
    ["Findings", [], "a sheet of the returned workbook"],
  ] as const)("%s: %j (%s)", ([name, expected]) => {
    expect(said(entryOf([rawSheet(name, [["x"]])]).findings)).toEqual(expected);
  });

  const known = (orders: readonly string[], coils: readonly string[]) => ({
    ...NOTHING_REGISTERED,
    orders: new Set(orders),
    coils: new Set(coils),
  });
  test.for([
    [["Torsion"], [], [], "no-orders", "Orders and Coils both missing and nothing registered: refused"],
    [["Torsion"], ["O1"], [], undefined, "an order is registered"],
    [["Torsion"], [], ["C1"], undefined, "a coil is registered"],
    [["Orders", "Torsion"], [], [], undefined, "Orders is there"],
    [["Coils", "Torsion"], [], [], undefined, "Coils is there"],
    [[], [], [], "no-orders", "nothing at all"],
    [[], ["O1"], ["C1"], "no-sheets", "none of the entry sheets, though something is registered"],
  ] as const)("sheets %j, orders %j, coils %j: %s (%s)", ([names, orders, coils, refusal]) => {
    const rows = { Orders: ORDER_ROW, Coils: COIL_ROW, Torsion: TORSION_ROW };
    const parsed = parseEntry(workbook([...names.map((name) => sheet(name, [rows[name]])), rawSheet("Notes", [["x"]])]), {
      ...OPTIONS,
      registered: known(orders, coils),
    });
    expect(parsed.ok ? undefined : parsed.refusal.code).toBe(refusal);
  });
});

test("the same from bytes: a written workbook is read as its cells", () => {
  const columns = PLAIN.map((label, i) => [i + 1, { value: label }] as const);
  const values = VALUES.map((value, i) => [i + 1, { value: value as string | number }] as const);
  const orders = [Object.keys(ORDER_ROW), Object.values(ORDER_ROW)].map(
    (line) => new Map(line.map((value, i) => [i + 1, { value: value as string | number }])),
  );
  const bytes = writeWorkbook({
    styles: {},
    sheets: [
      { name: "Orders", rows: new Map(orders.map((line, i) => [i + 1, line])) },
      {
        name: "Torsion",
        rows: new Map([
          [4, new Map(columns)],
          [5, new Map(values)],
          [
            6,
            new Map([
              [2, { value: "C1" }],
              [5, { value: ">30" }],
            ]),
          ],
        ]),
      },
    ],
  });
  const read = readWorkbook(bytes);
  if (!read.ok) throw new Error(read.refusal.text);
  const parsed = parseEntry(read.workbook, OPTIONS);
  if (!parsed.ok) throw new Error(parsed.refusal.text);
  expect(parsed.entry.tests.map((row) => [row.row, row.fields["turns"]?.text])).toEqual([[5, "24"]]);
  expect(parsed.entry.unread).toMatchObject([{ row: 6, coil: "C1", cells: ["A6", "C6", "D6", "F6"] }]);
});

test("where verdicts are written: header and columns of each test sheet; live verdicts of its formulas", () => {
  const row = { ...TORSION_ROW, verdict: { type: "text", raw: "conforms", formula: "IF(1,2,3)" } as const };
  const entry = entryOf([sheet("Torsion", [row])]);
  expect(entry.sheets).toMatchObject([{ sheet: "torsion", sheetName: "Torsion", headerRow: 1, columns: { testPiece: 1, coil: 2 } }]);
  expect(entry.live).toMatchObject([{ sheetName: "Torsion", row: 2, text: "conforms" }]);
});
