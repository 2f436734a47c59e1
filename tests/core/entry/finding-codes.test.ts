/** Only listed codes are given. Source: WORKBOOK.md, "Rules for cells"; DESIGN section 5, `codes`. */
import fc from "fast-check";
import { expect, test } from "vitest";
import {
  EMPTY_REGISTERS,
  ENTRY_FINDING_CODES,
  ENTRY_SHEETS,
  mergeRegisters,
  NOTHING_REGISTERED,
  parseEntry,
  parseOrdersJson,
} from "../../../core/entry/index.ts";
import type { CellRecord, Finding, SheetRecord } from "../../../core/model.ts";
import { builtInLibrary } from "../../../core/spec/index.ts";
import { COIL_ROW, OPTIONS, ORDER_ROW, rawSheet, sheet, TODAY, TORSION_ROW, type Typed, workbook } from "./workbook.ts";

const listed = new Set(Object.keys(ENTRY_FINDING_CODES));

function findingsOf(sheets: readonly SheetRecord[]): readonly Finding[] {
  const registered = { ...NOTHING_REGISTERED, coils: new Set(["C1"]), orders: new Set(["O1"]) };
  const parsed = parseEntry(workbook(sheets), { ...OPTIONS, registered });
  if (!parsed.ok) return parsed.findings;
  return [...parsed.entry.findings, ...mergeRegisters(EMPTY_REGISTERS, parsed.entry.registers, builtInLibrary()).findings];
}

/** One faulty cell of each kind in a torsion row; the code it must give. Rules of WORKBOOK.md, one case a code. */
const CELLS: readonly (readonly [string, string, Typed])[] = [
  ["ambiguous-number", "turns", "1,234"],
  ["blanks-trimmed", "testPiece", " T1"],
  ["contradicting-entry", "forwardTurns", 3],
  ["control-character", "remark", "a\u0007"],
  ["date-ahead", "date", "2027-01-01"],
  ["date-too-early", "date", "1980-01-01"],
  ["error-value", "turns", { type: "error", raw: "#N/A" }],
  ["formula-without-value", "turns", { type: "empty", raw: "", formula: "1", unevaluated: true }],
  ["hidden-character", "testPiece", "T\u200b1"],
  ["identifier-as-number", "testPiece", 5],
  ["identifier-too-long", "testPiece", "T".repeat(65)],
  ["implausible", "turns", 5000],
  ["missing-value", "turns", undefined],
  ["near-match", "coil", "c1"],
  ["not-a-date", "date", "today"],
  ["not-a-number", "turns", "many"],
  ["not-allowed", "breakAt", "middle"],
  ["not-an-identifier", "testPiece", 1.5],
  ["not-whole", "cycles", 1.5],
  ["number-as-text", "turns", "24"],
  ["percent-cell", "turns", { type: "number", raw: "0.2", format: "0%" }],
  ["slip-suspected", "lineTurns", 30],
  ["taken-as-text", "remark", 5],
  ["text-shortened", "remark", "x".repeat(501)],
  ["volatile-formula", "turns", { type: "number", raw: "24", formula: "NOW()" }],
  ["word-respelled", "breakAt", "CLEAR"],
];
const orders = (change: object) => [sheet("Orders", [{ ...ORDER_ROW, ...change }])];
const OTHERS: readonly (readonly [string, readonly Finding[]])[] = [
  ["doubled-column", findingsOf([rawSheet("Torsion", [["Coil", "Turns", "Turns"]])])],
  ["doubled-registration", findingsOf([sheet("Coils", [COIL_ROW, COIL_ROW])])],
  ["doubled-result", findingsOf([sheet("Torsion", [TORSION_ROW, TORSION_ROW])])],
  ["hidden-data", findingsOf([{ ...sheet("Torsion", []), hidden: true }])],
  ["missing-column", findingsOf([rawSheet("Torsion", [["Coil", "Turns"]])])],
  ["mixed-units", findingsOf([sheet("Torsion", []), rawSheet("Diameter", [["Coil", "Largest diameter, in"]])])],
  ["no-header", findingsOf([rawSheet("Torsion", [["x"]])])],
  ["sheet-name", findingsOf([{ ...sheet("Torsion", []), name: "TORSION" }])],
  ["unknown-column", findingsOf([rawSheet("Torsion", [["Coil", "Turns", "Shift"]])])],
  ["unknown-edition", findingsOf(orders({ edition: "1899" }))],
  ["unknown-grade", findingsOf(orders({ grade: "Q" }))],
  ["unknown-order", findingsOf([sheet("Coils", [COIL_ROW])])],
  ["unknown-sheet", findingsOf([rawSheet("Notes", [["x"]])])],
  ["unknown-specification", findingsOf(orders({ specification: "SPEC-Q" }))],
  ["wrong-json", parseOrdersJson([], "orders.json", TODAY).findings],
  [
    "differs-from-register",
    mergeRegisters(
      { ...EMPTY_REGISTERS, coils: [{ coil: "C1", order: "O1", item: "1", heat: "H0" }] },
      (() => {
        const parsed = parseEntry(workbook([sheet("Coils", [COIL_ROW])]), OPTIONS);
        return parsed.ok ? parsed.entry.registers : [];
      })(),
      builtInLibrary(),
    ).findings,
  ],
];

test("every code of the list is given by its case, and the cases are the whole list", () => {
  for (const [code, field, typed] of CELLS)
    expect([code, findingsOf([sheet("Torsion", [{ ...TORSION_ROW, [field]: typed }])]).map((f) => f.code)]).toEqual([
      code,
      expect.arrayContaining([code]),
    ]);
  for (const [code, findings] of OTHERS) expect([code, findings.map((f) => f.code)]).toEqual([code, expect.arrayContaining([code])]);
  expect([...CELLS, ...OTHERS].map(([code]) => code).sort()).toEqual([...listed].sort());
});

const cell: fc.Arbitrary<Typed> = fc.oneof(
  fc.constantFrom<Typed>("C1", "c1", "T1", "O1", "1", "24", "1,234", ">12", "clear", "2026-03-02", "Coil", "Turns, in", undefined, ""),
  fc.double({ noNaN: true }),
  fc.string({ unit: "binary", maxLength: 8 }),
  fc.record({
    type: fc.constantFrom<CellRecord["type"]>("number", "text", "boolean", "error", "date-text", "empty"),
    raw: fc.oneof(fc.constantFrom("1", "46083", "1e400", "#N/A", "2026-03-02", ""), fc.string({ maxLength: 6 })),
    format: fc.constantFrom("General", "0%", "yyyy-mm-dd", "0.0E+00", "h:mm"),
  }),
  fc.record({ type: fc.constant("number" as const), raw: fc.constant("5"), formula: fc.constantFrom("1+4", "NOW()", "") }),
);

test("whatever stands in the cells of whatever sheet, no other code is given, and every finding names its place", () => {
  const names = ENTRY_SHEETS.map((definition) => definition.name);
  const anySheet = fc.record({
    name: fc.constantFrom(...names),
    own: fc.boolean(),
    lines: fc.array(fc.array(cell, { maxLength: 24 }), { maxLength: 6 }),
  });
  fc.assert(
    fc.property(fc.uniqueArray(anySheet, { selector: ({ name }) => name, maxLength: 4 }), (given) => {
      const sheets = given.map(({ name, own, lines }) => (own ? headed(name, lines) : rawSheet(name, lines)));
      for (const finding of findingsOf(sheets)) {
        expect(listed).toContain(finding.code);
        expect(finding.sheet).not.toBe("");
        expect(finding.cell).toMatch(/^[A-Z]+[1-9][0-9]*$/);
        expect(finding.text).not.toBe("");
      }
    }),
    { numRuns: 300, seed: 20260302 },
  );
});

/** The sheet's own header over the lines. */
function headed(name: string, lines: readonly (readonly Typed[])[]): SheetRecord {
  const head = ENTRY_SHEETS.find((definition) => definition.name === name)?.columns.map((column) => column.field) ?? [];
  return rawSheet(name, [head, ...lines]);
}
