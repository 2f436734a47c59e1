/** Workbooks of invented laboratories, read by a map. All names and figures are invented. */
import { describe, expect, test } from "vitest";
import { NOTHING_REGISTERED, parseEntry } from "../../../core/entry/index.ts";
import { chooseMap, type IntakeMap, type IntakeMapInput, parseIntakeMap, proposeMap } from "../../../core/map/index.ts";
import type { Entry, SheetRecord, WorkbookRecord } from "../../../core/model.ts";
import { rawSheet, type Typed } from "../entry/workbook.ts";

const book = (...sheets: readonly SheetRecord[]): WorkbookRecord => ({ sheets, date1904: false, findings: [] });
const day = (raw: string): Typed => ({ type: "number", raw, format: "dd.mm.yyyy" });

function mapOf(input: IntakeMapInput): IntakeMap {
  const parsed = parseIntakeMap(input);
  if (!parsed.ok) throw new Error(JSON.stringify(parsed.problems));
  return parsed.map;
}

function entryOf(workbook: WorkbookRecord, map: IntakeMap): Entry {
  const parsed = parseEntry(workbook, {
    file: "",
    today: "2026-06-30",
    decimalMark: ".",
    registered: { ...NOTHING_REGISTERED, coils: new Set(["R7"]) },
    nominalDiameterOf: () => undefined,
    nominalDiameterOfItem: () => undefined,
    coilsOfHeat: () => [],
    agreedProperties: [],
    map,
  });
  if (!parsed.ok) throw new Error(parsed.refusal.text);
  return parsed.entry;
}

/** One sheet for two tests, titles above, German labels, kilonewtons, a note column. */
const LAB = rawSheet("Prüfbuch 2026", [
  ["Prüflabor Beispiel", undefined, undefined, "Verwinden und Zug"],
  [],
  ["Proben-Nr.", "Bund", "Datum", "d [mm]", "Einspannlänge", "Nt", "Fm [kN]", "Wetter"],
  ["P1", "R7", day("46100"), 2, 200, 25, undefined, "Regen"],
  ["P2", "R7", day("46101"), 2.01, undefined, undefined, 5.8],
  ["P3", "R7", day("46101"), undefined, undefined, undefined, undefined, "Sonne"],
]);
const LAB_MAP: IntakeMapInput = {
  map: "pruefbuch",
  units: "SI",
  sheets: [
    {
      name: ["Prüfbuch 2026", "Prüfbuch 2027"],
      ignore: ["Wetter"],
      reads: [
        {
          as: "torsion",
          columns: { testPiece: "Proben-Nr.", coil: "Bund", date: "Datum", diameter: "d [mm]", freeLength: "Einspannlänge", turns: "Nt" },
          rows: { filled: ["turns"] },
        },
        {
          as: "tensile",
          columns: {
            testPiece: "Proben-Nr.",
            coil: "Bund",
            date: "Datum",
            diameter: "d [mm]",
            maximumForce: { label: "Fm [kN]", unit: "kN" },
          },
          fixed: { breakAt: "clear" },
          rows: { filled: ["maximumForce"] },
        },
      ],
    },
  ],
};

describe("a sheet that holds two tests below titles", () => {
  const entry = entryOf(book(LAB), mapOf(LAB_MAP));
  test("each row is of its own test, with its own cells", () => {
    expect(entry.tests.map(({ sheet, sheetName, row }) => [sheet, sheetName, row])).toEqual([
      ["torsion", "Prüfbuch 2026", 4],
      ["tensile", "Prüfbuch 2026", 5],
    ]);
    expect(entry.tests[0]?.fields["turns"]).toEqual({ text: "25", cell: "F4", raw: "25", unit: "turns" });
    expect(entry.tests[0]?.fields["date"]?.text).toBe("2026-03-19");
  });
  test("figures in another unit are turned into the workbook's, and what was typed is kept", () => {
    expect(entry.tests[1]?.fields["maximumForce"]).toEqual({ text: "5800", cell: "G5", raw: "5.8", unit: "N" });
  });
  test("a fixed value stands in every row of its test", () => {
    expect(entry.tests[1]?.fields["breakAt"]?.text).toBe("clear");
    expect(entry.tests[0]?.fields["breakAt"]).toBeUndefined();
  });
  test("nothing is said of what the map knows or passes over", () => {
    expect(entry.findings).toEqual([]);
    expect(entry.unread).toEqual([]);
  });
});

describe("what a mapped sheet lacks is said as of any sheet", () => {
  const without = (label: string): SheetRecord => ({
    ...LAB,
    rows: new Map([...LAB.rows].map(([row, cells]) => [row, cells.filter((cell) => !(row === 3 && cell.raw === label))])),
  });
  test.for([
    ["a required column", without("Nt"), [["missing-column", "A3", "error"]]],
    [
      "a label nobody named",
      {
        ...LAB,
        rows: new Map([...LAB.rows].map(([r, cells]) => [r, cells.map((c) => (c.raw === "Wetter" ? { ...c, raw: "Laune" } : c))])),
      },
      [["unknown-column", "H3", "warning"]],
    ],
    ["the whole header", { ...LAB, rows: new Map([...LAB.rows].filter(([row]) => row !== 3)) }, [["no-header", "A1", "error"]]],
  ] as const)("%s", ([, sheet, expected]) => {
    const found = entryOf(book(sheet), mapOf(LAB_MAP)).findings.map((f) => [f.code, f.cell, f.severity]);
    expect(found).toEqual(expected);
  });
  test("a bad cell that two tests share is told once", () => {
    const both = {
      ...LAB,
      rows: new Map(
        [...LAB.rows].map(([r, cells]) => [
          r,
          r === 4
            ? [...cells, { cell: "G4", row: 4, column: 7, type: "number" as const, raw: "5.9" }]
                .map((c) => (c.cell === "C4" ? { ...c, type: "text" as const, raw: "gestern" } : c))
                .sort((a, b) => a.column - b.column)
            : cells,
        ]),
      ),
    };
    const entry = entryOf(book(both), mapOf(LAB_MAP));
    expect(entry.findings.map((f) => [f.code, f.cell])).toEqual([["not-a-date", "C4"]]);
    expect(entry.unread.map((row) => row.sheet).sort()).toEqual(["tensile", "torsion"]);
  });
});

test("rows told apart by a word under a label; a header of two rows; native sheets beside it", () => {
  const lab = rawSheet("Tests", [
    ["Piece", undefined, "Wire", "Test", "Result"],
    ["no", "coil", "mm", undefined, "n"],
    ["A1", "R7", 2, "Twist", 24],
    ["A2", "R7", 2, "Bend", 9],
  ]);
  const shared = { testPiece: "Piece no", coil: "coil", diameter: "Wire mm" };
  const map = mapOf({
    map: "two-rows",
    units: "SI",
    sheets: [
      {
        name: "Tests",
        header: { row: 1, rows: 2 },
        reads: [
          {
            as: "torsion",
            columns: { ...shared, turns: "Result n" },
            fixed: { freeLength: "200", date: "2026-03-02" },
            rows: { label: "Test", is: ["Twist"] },
          },
          {
            as: "reverse-bend",
            columns: { ...shared, bends: "Result n" },
            fixed: { radius: "5", date: "2026-03-02" },
            rows: { label: "Test", is: ["bend"] },
          },
        ],
      },
    ],
  });
  const coils = rawSheet("Coils", [
    ["Coil", "Order", "Item", "Heat"],
    ["R8", "O1", "1", "H1"],
  ]);
  const entry = entryOf(book(lab, coils), map);
  expect(entry.findings).toEqual([]);
  expect(
    entry.tests.map((row) => [row.sheet, row.fields["turns"]?.text ?? row.fields["bends"]?.text, row.fields["freeLength"]?.text]),
  ).toEqual([
    ["torsion", "24", "200"],
    ["reverse-bend", "9", undefined],
  ]);
  expect(entry.registers.map((row) => row.fields["coil"]?.text)).toEqual(["R8"]);
});

describe("a map that is not accepted names the place", () => {
  /** The map with another value at a path; undefined takes it out. */
  const changed = (path: string, value: unknown): unknown => {
    const map = structuredClone(LAB_MAP) as unknown;
    const steps = path.split(/[.[\]]+/).filter((step) => step !== "");
    let place = map as Record<string, unknown>;
    for (const step of steps.slice(0, -1)) place = place[step] as Record<string, unknown>;
    place[steps.at(-1) as string] = value;
    return JSON.parse(JSON.stringify(map));
  };
  test.for([
    ["no object", [], "$"],
    ["no sheets", changed("sheets", []), "sheets"],
    ["a key that is not known", changed("sheets[0].colour", "red"), "sheets[0]"],
    ["a sheet of the entry workbook that is not one", changed("sheets[0].reads[0].as", "twist"), "sheets[0].reads[0].as"],
    ["a field that is not one", changed("sheets[0].reads[0].columns.twists", "X"), "sheets[0].reads[0].columns.twists"],
    ["a computed field", changed("sheets[0].reads[0].columns.verdict", "X"), "sheets[0].reads[0].columns.verdict"],
    ["a required field left out", changed("sheets[0].reads[0].columns.date", undefined), "sheets[0].reads[0]"],
    [
      "a unit of another kind",
      changed("sheets[0].reads[1].columns.maximumForce", { label: "F", unit: "mm" }),
      "sheets[0].reads[1].columns.maximumForce.unit",
    ],
    [
      "a unit that is none",
      changed("sheets[0].reads[1].columns.maximumForce", { label: "F", unit: "pond" }),
      "sheets[0].reads[1].columns.maximumForce.unit",
    ],
    ["a label for two fields", changed("sheets[0].reads[0].columns.coil", "Nt"), "sheets[0].reads[0].columns.turns"],
    ["a fixed word that is not accepted", changed("sheets[0].reads[1].fixed.breakAt", "somewhere"), "sheets[0].reads[1].fixed.breakAt"],
    ["a fixed figure that is none", changed("sheets[0].reads[1].fixed.elongation", "2,5"), "sheets[0].reads[1].fixed.elongation"],
    ["a field both fixed and in a column", changed("sheets[0].reads[1].fixed.diameter", "2"), "sheets[0].reads[1].fixed.diameter"],
    ["two tests and no word which rows are whose", changed("sheets[0].reads[1].rows", undefined), "sheets[0].reads[1].rows"],
    [
      "rows told by a field without a column",
      changed("sheets[0].reads[1].rows", { filled: ["elongation"] }),
      "sheets[0].reads[1].rows.filled[0]",
    ],
    ["a sheet twice", changed("ignoreSheets", ["prüfbuch 2026"]), "ignoreSheets[0]"],
    ["a name that is no name", changed("map", "../up"), "map"],
  ] as const)("%s", ([, json, path]) => {
    const parsed = parseIntakeMap(json);
    expect(parsed.ok ? [] : parsed.problems.map((problem) => problem.path)).toContain(path);
  });
});

describe("the map that fits is chosen", () => {
  const map = mapOf(LAB_MAP);
  const larger = mapOf({
    ...LAB_MAP,
    map: "larger",
    sheets: [
      ...LAB_MAP.sheets,
      { name: "Ringe 2", reads: [{ as: "coils", columns: { coil: "Bund", order: "Auftrag", item: "Pos", heat: "Charge" } }] },
    ],
  });
  const rings = rawSheet("Ringe 2", [["Bund", "Auftrag", "Pos", "Charge"]]);
  test("none, one, the larger one", () => {
    expect(chooseMap(book(rings), [map])).toEqual({ ok: true });
    expect(chooseMap(book(LAB), [map, larger])).toEqual({ ok: true, map });
    expect(chooseMap(book(LAB, rings), [map, larger])).toEqual({ ok: true, map: larger });
  });
  test("between equals nobody guesses", () => {
    const chosen = chooseMap(book(LAB), [map, { ...map, map: "twin" }]);
    expect(chosen.ok ? "chosen" : chosen.refusal.code).toBe("ambiguous-map");
  });
});

describe("a proposal from the labels of an unknown workbook", () => {
  const proposed = proposeMap(book(LAB, rawSheet("Deckblatt", [["Labor Beispiel"]])), "neu");
  test("places what it knows, and says what it could not place", () => {
    const fields = proposed.placed.map(({ cell, as, field, unit }) => [cell, as, field, unit]);
    expect(fields).toContainEqual(["F3", "torsion", "turns", undefined]);
    expect(fields).toContainEqual(["E3", "torsion", "freeLength", undefined]);
    expect(fields).toContainEqual(["G3", "tensile", "maximumForce", "kN"]);
    expect(fields).toContainEqual(["B3", "tensile", "coil", undefined]);
    expect(proposed.unplacedLabels).toEqual([{ sheet: "Prüfbuch 2026", cell: "H3", label: "Wetter" }]);
    expect(proposed.unplacedSheets).toEqual(["Deckblatt"]);
    expect(proposed.missing).toEqual([]);
  });
  test("what it proposes is a map, and reads the workbook as the one made by hand", () => {
    const rows = (entry: Entry): unknown =>
      entry.tests.map((row) => [row.sheet, row.row, row.fields["turns"]?.text, row.fields["maximumForce"]?.text]);
    expect(rows(entryOf(book(LAB), mapOf(proposed.map)))).toEqual(rows(entryOf(book(LAB), mapOf(LAB_MAP))));
  });
  test("a required field that no label names is listed", () => {
    const french = proposeMap(book(rawSheet("Torsion", [["Éprouvette", "Bobine", "Diamètre", "Tours", "Date"]])), "fr");
    expect(french.missing).toEqual([{ sheet: "Torsion", as: "torsion", field: "freeLength" }]);
  });
});
