import { describe, expect, test } from "vitest";
import { entrySheet } from "../../../core/entry/index.ts";
import { rangeText } from "../../../core/entry/numbers.ts";
import type { CellRecord, TestSheet } from "../../../core/model.ts";
import {
  BEND_ROW,
  codes,
  DIAMETER_ROW,
  entryOf,
  OTHER_ROW,
  sheet,
  TENSILE_ROW,
  TORSION_ROW,
  type Typed,
  type TypedRow,
  WRAP_ROW,
} from "./workbook.ts";

const ROWS: Readonly<Record<string, TypedRow>> = {
  Torsion: TORSION_ROW,
  Diameter: DIAMETER_ROW,
  Tensile: TENSILE_ROW,
  Wrap: WRAP_ROW,
  "Reverse bend": BEND_ROW,
  Other: OTHER_ROW,
};

interface Read {
  /** The text taken, `>N` where the piece was stopped; undefined for an unread row. */
  readonly text: string | undefined;
  readonly codes: readonly string[];
}

/** One cell in an otherwise good row. An unread row must be held, and a read one must not. */
function read(
  name: string,
  field: string,
  typed: Typed,
  options: Parameters<typeof entryOf>[1] = {},
  rest: Parameters<typeof entryOf>[2] = {},
): Read {
  const entry = entryOf([sheet(name, [{ ...ROWS[name], [field]: typed }])], options, rest);
  const value = entry.tests[0]?.fields[field];
  expect(entry.tests.length + entry.unread.length).toBe(1);
  return { text: value === undefined ? undefined : `${value.atLeast ? ">" : ""}${value.text}`, codes: codes(entry.findings) };
}

const number = (raw: string, rest: Partial<CellRecord> = {}): Partial<CellRecord> => ({ type: "number", raw, ...rest });
const text = (raw: string): Partial<CellRecord> => ({ type: "text", raw });

describe("numbers (WORKBOOK.md, rules for cells: numbers, digits)", () => {
  const NUMBERS: readonly (readonly [Typed, string | undefined, readonly string[], string])[] = [
    [24, "24", [], "a number cell"],
    [number("24.75"), "24.75", [], "turns are a number: part turns are typed and dropped by the rule"],
    ["24.5", "24.5", ["number-as-text?"], "text with the entry's decimal mark: taken, warning"],
    [" 24 ", "24", ["number-as-text?"], "blanks around it"],
    ["\u00a024\u202f", "24", ["number-as-text?"], "no-break blanks around it"],
    ["1,234", undefined, ["ambiguous-number"], "could be read two ways"],
    ["24,5", undefined, ["ambiguous-number"], "a decimal comma where the point is the mark"],
    ["1,234.5", undefined, ["not-a-number"], "thousands marks"],
    ["1 000", undefined, ["not-a-number"], "thousands blank"],
    ["24 turns", undefined, ["not-a-number"], "units"],
    ["~24", undefined, ["not-a-number"], "~"],
    ["24±1", undefined, ["not-a-number"], "±"],
    ["24 1/2", undefined, ["not-a-number"], "fractions"],
    ["24½", undefined, ["not-a-number"], "fractions"],
    ["２４", undefined, ["not-a-number"], "full-width digits"],
    ["2.4e1", undefined, ["not-a-number"], "exponents"],
    ["<24", undefined, ["not-a-number"], "<N"],
    ["+24", undefined, ["not-a-number"], "no plus: CALC.md, numbers in text"],
    [{ type: "boolean", raw: "1" }, undefined, ["not-a-number"], "booleans"],
    [{ type: "date-text", raw: "2026-03-02" }, undefined, ["not-a-number"], "dates"],
    [number("46083", { format: "yyyy-mm-dd" }), undefined, ["not-a-number"], "dates"],
    [number("0.5", { format: "h:mm:ss" }), undefined, ["not-a-number"], "a time of day is no count"],
    [number("0.24", { format: "0%" }), undefined, ["percent-cell"], "percent-formatted cells: error"],
    [">24", ">24", [], ">N in turns: stopped unbroken at N"],
    ["> 24", ">24", [], ">N with a blank"],
    [">24,5", undefined, ["ambiguous-number"], ">N follows the same rules"],
    [number("24.000000000000006"), "24", [], "15 significant digits are read"],
    [number("-0"), "0", [], "−0 is 0"],
    [number("1e400"), undefined, ["not-a-number"], "overflow: error"],
    ["1234567890.123456", undefined, ["not-a-number"], "more than 15 digits in text would be cut in silence"],
  ];
  test.for(NUMBERS)("turns %j -> %s %j (%s)", ([typed, expected, expectedCodes]) => {
    expect(read("Torsion", "turns", typed)).toEqual({ text: expected, codes: expectedCodes });
  });

  test.for([
    ["24,5", "24.5", ["number-as-text?"], "decimalMark is the comma"],
    ["24.5", undefined, ["ambiguous-number"], "`1.234` where the point is not the mark"],
    ["1.234", undefined, ["ambiguous-number"], "`1.234` where the point is not the mark"],
  ] as const)("with the decimal comma: %s -> %s %j (%s)", ([typed, expected, expectedCodes]) => {
    expect(read("Torsion", "turns", typed, { decimalMark: "," })).toEqual({ text: expected, codes: expectedCodes });
  });

  test.for([
    ["Torsion", "turns", true, "turns"],
    ["Wrap", "wraps", true, "wraps"],
    ["Reverse bend", "bends", true, "bends"],
    ["Torsion", "forwardTurns", false, "only in turns, wraps and bends"],
    ["Tensile", "maximumForce", false, "only in turns, wraps and bends"],
  ] as const)(">N in %s %s: %s", ([name, field, accepted]) => {
    expect(read(name, field, ">12").codes).toEqual(accepted ? [] : ["not-a-number"]);
  });

  test.for([
    ["Wrap", "wraps", 8.5, "not-whole"],
    ["Reverse bend", "bends", "12.5", "not-whole"],
    ["Reverse bend", "bends", ">12.5", "not-whole"],
    ["Torsion", "cycles", 1.5, "not-whole"],
  ] as const)("%s %s are whole: %s -> %s (WORKBOOK.md, Details, type `whole`)", ([name, field, typed, code]) => {
    expect(read(name, field, typed)).toEqual({ text: undefined, codes: [code] });
  });

  test("a percentage column takes a per cent format: the stored fraction times a hundred", () => {
    expect(read("Tensile", "elongation", number("0.07", { format: "0.0%" }))).toEqual({ text: "7", codes: [] });
  });

  test("U+2212 is a minus: the figure is then judged by its range", () => {
    expect(read("Torsion", "turns", "\u22125")).toEqual({ text: undefined, codes: ["implausible"] });
  });
});

describe("plausible ranges, both ends included (WORKBOOK.md, Details)", () => {
  test.for([
    ["Tensile", "maximumForce", ["0.9", "1000001"], ["1", "1000000"], "force 1 to 1,000,000 N"],
    ["Tensile", "proofForce", ["0.9"], ["1"], "force 1 to 1,000,000 N"],
    ["Tensile", "diameterAfter", ["0.049"], ["0.05", "2"], "diameters 0.05 to 25 mm"],
    ["Torsion", "freeLength", ["9.9", "3001"], ["10", "3000"], "free length 10 to 3,000 mm"],
    ["Torsion", "tension", ["0", "1000001"], ["0.05", "20"], "the weight on a fine wire is below 1 N (own choice)"],
    ["Torsion", "turns", ["-1", "1000.5"], ["0", "1000"], "turns 0 to 1,000"],
    ["Wrap", "mandrelDiameter", ["0.04", "201"], ["0.05", "200"], "mandrel 0.05 to 200 mm"],
    ["Wrap", "wraps", ["0", "51"], ["1", "50"], "wraps 1 to 50"],
    ["Reverse bend", "bends", ["-1", "201"], ["0", "200"], "bends 0 to 200"],
  ] as const)("%s %s outside %j, inside %j (%s)", ([name, field, outside, inside]) => {
    for (const raw of outside) expect([raw, read(name, field, number(raw)).codes]).toEqual([raw, ["implausible"]]);
    for (const raw of inside) expect([raw, read(name, field, number(raw)).codes]).toEqual([raw, []]);
  });

  test.for([
    ["orders", "nominalDiameter", "0.05", "25"],
    ["diameter", "largest", "0.05", "25"],
    ["coating-mass", "strippedDiameter", "0.05", "25"],
    ["coating-mass", "massBefore", "0.001", "10000"],
    ["coating-mass", "massAfter", "0.001", "10000"],
  ] as const)("%s %s: %s to %s", ([name, field, low, high]) => {
    const column = entrySheet(name).columns.find((c) => c.field === field);
    expect(column?.plausible?.map(String)).toEqual([low, high]);
  });

  test("the range is told in the workbook's own unit: 0.05 mm / 25.4 = 0.0019685 in; 25 mm = 0.984252 in", () => {
    const column = entrySheet("diameter").columns.find((c) => c.field === "largest");
    expect(column && rangeText(column, "inch-pound")).toBe("0.0019685 to 0.984252 in");
    expect(column && rangeText(column, "SI")).toBe("0.05 to 25 mm");
  });
});

test("a finding tells the range in inches where the workbook is in inches", () => {
  const inch = { units: "inch-pound" } as const;
  const row = { ...DIAMETER_ROW, largest: 1, smallest: 0.08 };
  const entry = entryOf([sheet("Orders", [], inch), sheet("Coils", [], inch), sheet("Diameter", [row], inch)]);
  expect(entry.findings).toMatchObject([{ code: "implausible", actual: "1", expected: "0.0019685 to 0.984252 in" }]);
  expect(entry.findings[0]?.text).toContain("1 in, outside the plausible 0.0019685 to 0.984252 in");
});

describe("formulas (WORKBOOK.md, rules for cells: formulas)", () => {
  test.for([
    [number("24", { formula: "20+4" }), "24", [], "the stored value is read"],
    [{ type: "text", raw: "24", formula: 'TEXT(24,"0")' }, "24", ["number-as-text?"], "stored text is judged like typed text"],
    [{ type: "empty", raw: "", formula: "20+4", unevaluated: true }, undefined, ["formula-without-value"], "none stored"],
    [{ type: "error", raw: "#DIV/0!", formula: "1/0" }, undefined, ["error-value"], "an error value"],
    [{ type: "error", raw: "#N/A" }, undefined, ["error-value"], "an error value without formula"],
    [number("24", { formula: "RAND()*24" }), undefined, ["volatile-formula"], "RAND"],
    [number("24", { formula: "now()-1" }), undefined, ["volatile-formula"], "NOW in small letters"],
    [number("24", { formula: "A1+_xlfn.RANDARRAY(1)" }), undefined, ["volatile-formula"], "RANDARRAY"],
    [number("24", { formula: 'IF(A1="NOW()",24,0)' }), "24", [], "a name inside quotation marks is text"],
  ] as const)("%j -> %s %j (%s)", ([typed, expected, expectedCodes]) => {
    expect(read("Torsion", "turns", typed)).toEqual({ text: expected, codes: expectedCodes });
  });

  test("the formula stays with the value, for why", () => {
    const entry = entryOf([sheet("Torsion", [{ ...TORSION_ROW, turns: number("24", { formula: "20+4" }) }])]);
    expect(entry.tests[0]?.fields["turns"]).toMatchObject({ text: "24", raw: "24", formula: "20+4" });
  });
});

describe("dates (WORKBOOK.md, rules for cells: dates)", () => {
  test.for([
    [number("46083", { format: "dd.mm.yyyy" }), "2026-03-02", [], "date cells; 46083 days from 1899-12-30 (the 1900 base)"],
    [number("46083.75", { format: "dd.mm.yyyy hh:mm" }), "2026-03-02", [], "judged by its date"],
    ["2026-03-02", "2026-03-02", [], "ISO text"],
    ["2026-03-02T14:30", "2026-03-02", [], "ISO text with a time of day"],
    [{ type: "date-text", raw: "2026-03-02T00:00:00" }, "2026-03-02", [], 't="d"'],
    ["02.03.2026", undefined, ["not-a-date"], "other text"],
    ["2026-02-30", undefined, ["not-a-date"], "no day of the calendar"],
    [number("46083"), undefined, ["not-a-date"], "a number without a date format"],
    [number("60", { format: "yyyy-mm-dd" }), undefined, ["not-a-date"], "29 February 1900 never was"],
    [{ type: "boolean", raw: "1" }, undefined, ["not-a-date"], "a logical value"],
    ["1989-12-31", undefined, ["date-too-early"], "before 1990"],
    ["1990-01-01", "1990-01-01", [], "1990 itself"],
    ["2026-06-30", "2026-06-30", [], "today"],
    ["2026-07-01", undefined, ["date-ahead"], "after today"],
  ] as const)("%j -> %s %j (%s)", ([typed, expected, expectedCodes]) => {
    expect(read("Torsion", "date", typed)).toEqual({ text: expected, codes: expectedCodes });
  });

  test("1904 workbooks read right: 1,462 days less", () => {
    expect(read("Torsion", "date", number("44621", { format: "yyyy-mm-dd" }), {}, { date1904: true }).text).toBe("2026-03-02");
  });

  test("dueOn may lie after today, calibratedOn may not", () => {
    const row = { instrument: "TT-1", calibratedOn: "2026-01-05", dueOn: "2027-01-05" };
    expect(codes(entryOf([sheet("Instruments", [row])]).findings)).toEqual([]);
    expect(codes(entryOf([sheet("Instruments", [{ ...row, calibratedOn: "2027-01-05" }])]).findings)).toEqual(["date-ahead"]);
  });
});

describe("identifiers (WORKBOOK.md, rules for cells: identifiers; Details: 64 characters)", () => {
  test.for([
    ["0042", "0042", [], "leading zeros kept"],
    [" T-1\u00a0", "T-1", ["blanks-trimmed?"], "trimmed (all blanks) with a warning"],
    [number("4711"), "4711", ["identifier-as-number?"], "whole number: taken as its digits with a warning"],
    [number("999999999999999", { format: "0" }), "999999999999999", ["identifier-as-number?"], "below 10^15"],
    [number("1000000000000000", { format: "0" }), undefined, ["not-an-identifier"], "10^15"],
    [number("4711", { format: "0.00E+00" }), undefined, ["not-an-identifier"], "a format that shows an exponent"],
    [number("4711.5"), undefined, ["not-an-identifier"], "not whole"],
    [number("-4711"), undefined, ["not-an-identifier"], "not digits alone"],
    [number("46083", { format: "yyyy-mm-dd" }), undefined, ["not-an-identifier"], "shown as a date"],
    [number("0.12", { format: "0%" }), undefined, ["not-an-identifier"], "shown as a percentage"],
    [{ type: "boolean", raw: "1" }, undefined, ["not-an-identifier"], "a logical value"],
    [{ type: "date-text", raw: "2026-03-02" }, undefined, ["not-an-identifier"], 't="d"'],
    ["T\u0301", "T\u0301", [], "NFC has no single letter for it"],
    ["E\u0301-1", "\u00c9-1", [], "NFC"],
    ["T\u00071", undefined, ["hidden-character"], "control marks"],
    ["T\u200e1", undefined, ["hidden-character"], "direction marks"],
    ["T\u061c1", undefined, ["hidden-character"], "the Arabic letter mark is a direction mark"],
    ["T\u202e1", undefined, ["hidden-character"], "direction override"],
    ["T\u200b1", undefined, ["hidden-character"], "zero-width"],
    ["\ufeffT1", undefined, ["hidden-character"], "zero-width at the edge is no blank"],
    ["T\ud8001", undefined, ["hidden-character"], "half of a pair"],
    ["T\n1", undefined, ["hidden-character"], "a line break inside"],
    ["T".repeat(64), "T".repeat(64), [], "64 characters"],
    ["T".repeat(65), undefined, ["identifier-too-long"], "65 characters"],
  ] as const)("%j -> %s %j (%s)", ([typed, expected, expectedCodes]) => {
    expect(read("Torsion", "testPiece", typed)).toEqual({ text: expected, codes: expectedCodes });
  });
});

describe("listed words (WORKBOOK.md, fields; nothing coerced in silence)", () => {
  test.for([
    ["Torsion", "breakAt", "clear", "clear", [], "as listed"],
    ["Torsion", "breakAt", "Clear", "clear", ["word-respelled?"], "another case is said"],
    ["Torsion", "breakAt", " clear ", "clear", ["blanks-trimmed?"], "blanks are said"],
    ["Torsion", "breakAt", "middle", undefined, ["not-allowed"], "none of those listed"],
    ["Tensile", "breakAt", "none", undefined, ["not-allowed"], "`none` is no word of the tensile sheet"],
    ["Torsion", "fractureType", "1A", "1a", ["word-respelled?"], "1a…3c"],
    ["Torsion", "breakAt", { type: "boolean", raw: "1" }, undefined, ["not-allowed"], "a logical value"],
    ["Torsion", "breakAt", number("1"), undefined, ["not-allowed"], "a number that is no listed word"],
    ["Wrap", "coating", "comes-off", "comes-off", [], "as listed"],
    ["Wrap", "cracks", "NONE", "none", ["word-respelled?"], "another case is said"],
  ] as const)("%s %s %j -> %s %j (%s)", ([name, field, typed, expected, expectedCodes]) => {
    expect(read(name, field, typed)).toEqual({ text: expected, codes: expectedCodes });
  });

  test.for([
    [number("2.2"), "2.2", ["taken-as-text?"], "a number in a word column is said"],
    [number("0.022", { format: "0.0%" }), undefined, ["not-allowed"], "shown as 2.2 % it is no document type"],
    [number("2.3"), undefined, ["not-allowed"], "no listed word"],
  ] as const)("documentType %j -> %s %j (%s)", ([typed, expected, expectedCodes]) => {
    const row = { order: "O1", item: "1", customer: "Example Springs", specification: "EN 10270-1", grade: "SH", nominalDiameter: 2 };
    const entry = entryOf([sheet("Orders", [{ ...row, documentType: typed }])]);
    expect(entry.registers.find((r) => r.sheet === "orders")?.fields["documentType"]?.text).toBe(expected);
    expect(codes(entry.findings)).toEqual(expectedCodes);
  });
});

describe("free text (WORKBOOK.md, text in documents; Details: control characters)", () => {
  test.for([
    [text("=1+1"), "=1+1", [], "always text: never a formula"],
    [text("a\u0007b"), "a\ufffdb", ["control-character?"], "control characters become U+FFFD with a warning"],
    [text("a\u0085b"), "a\ufffdb", ["control-character?"], "C1 controls too"],
    [text("a\ud800b"), "a\ufffdb", ["control-character?"], "lone surrogates too"],
    [text("a\n\tb"), "a\n\tb", [], "line breaks and tabs are part of a text"],
    [text("\u{1f600}"), "\u{1f600}", [], "a whole pair is one character"],
    [text("x".repeat(500)), "x".repeat(500), [], "500 characters"],
    [text("x".repeat(501)), `${"x".repeat(499)}…`, ["text-shortened?"], "over 500 characters: shortened with a warning"],
    [number("12"), "12", ["taken-as-text?"], "nothing coerced in silence"],
    [number("46083", { format: "yyyy-mm-dd" }), "2026-03-02", ["taken-as-text?"], "the day that is shown, not its number"],
    [{ type: "boolean", raw: "0" }, "FALSE", ["taken-as-text?"], "what is shown"],
  ] as const)("remark %j -> %j %j (%s)", ([typed, expected, expectedCodes]) => {
    expect(read("Torsion", "remark", typed)).toEqual({ text: expected, codes: expectedCodes });
  });
});

test("every value carries its unit in the workbook's system and its cell", () => {
  const entry = entryOf([sheet("Torsion", [{ ...TORSION_ROW, tension: 20, speed: 30 }])]);
  const fields = entry.tests[0]?.fields ?? {};
  const units = Object.fromEntries(Object.entries(fields).flatMap(([field, value]) => (value?.unit ? [[field, value.unit]] : [])));
  expect(units).toEqual({ diameter: "mm", freeLength: "mm", tension: "N", speed: "r/min", turns: "turns" });
  expect(entry.tests[0]?.sheet).toBe("torsion" satisfies TestSheet);
});
