/** The form as it is handed out, and what its reader says of a filled one. All limits here are invented, unless named. */
import { strFromU8, unzipSync } from "fflate";
import { describe, expect, test } from "vitest";
import { BUILT_IN, createSpecificationLibrary, parseSpecification, specificationOfGrade } from "../../../core/spec/index.ts";
import { readWorkbook } from "../../../core/workbook/index.ts";
import { readSpecificationForm, specificationForm } from "../../../templates/specification/index.ts";
import { addressOf, type Filled, filledForm } from "./filled-form.ts";

const base = BUILT_IN.find((s) => s.id === "EN 10270-1");
if (base === undefined) throw new Error("EN 10270-1 is not held");

const HEAD = { Designation: "TX 28", Edition: "2026", Title: "Invented" };
const TABLE = { Table: "1", Property: "torsion", Clause: "4.2", Unit: "turns", "Diameter unit": "mm", "Between sizes": "bands" };
const good: Filled = {
  Specification: HEAD,
  Tables: [{ ...TABLE, "Free length: times d": "100" }],
  Limits: [{ Table: "1", From: "1.00", "Up to": "2.00", Minimum: "22", Provenance: "own" }],
  Required: [{ Property: "torsion" }],
};

/** Everything wrong with a filled form, as `Sheet!Cell: text (found F; accepted A)`. */
function problemsOf(book: Uint8Array): readonly string[] {
  const form = readSpecificationForm(book);
  const parsed = form.json === undefined ? undefined : parseSpecification(form.json, (id) => BUILT_IN.find((s) => s.id === id));
  const located = parsed === undefined || parsed.ok ? [] : parsed.problems.map((problem) => form.locate(problem));
  return [...form.problems, ...located].map((p) => `${p.sheet}!${p.cell}: ${p.text} (found ${p.found}; accepted ${p.accepted})`);
}

describe("the form as it is handed out", () => {
  const bytes = specificationForm({
    filled: { extends: { specification: base.id, edition: base.edition, grade: "SM" } },
    base: specificationOfGrade(base, "SM"),
  });
  const read = readWorkbook(bytes);
  if (!read.ok) throw new Error(read.refusal.text);
  const sheet = (name: string) => [...(read.workbook.sheets.find((s) => s.name === name)?.rows.values() ?? [])];

  test("has a sheet for each part, then the base's rows for comparison", () => {
    expect(read.workbook.sheets.map((s) => s.name)).toEqual([
      ...["Specification", "Tables", "Limits", "Chemistry", "Required", "Sampling", "Retest", "Conduct"],
      ...["Base tables", "Base limits", "Base chemistry", "Base required", "Base retest", "Base conduct"],
    ]);
  });
  test("says on every sheet what to do", () => {
    for (const { name, rows } of read.workbook.sheets)
      expect([name, rows.get(2)?.[0]?.raw ?? ""]).toEqual([name, expect.stringMatching(/\w+ \w+ \w+.*\.$/)]);
  });
  test("shows the base's rows of the chosen grade only: torsion of SM from 2.00 mm at least 16 turns (EN 10270-1, memory)", () => {
    const rows = sheet("Base limits").map((cells) => cells.map((cell) => cell.raw));
    expect(rows.filter((row) => row.includes("2.00") && row.includes("3.49"))).toEqual([
      expect.arrayContaining(["2.00", "3.49", "16", "memory"]),
    ]);
    expect(rows.some((row) => row.includes("20") && row.includes("3.49"))).toBe(false);
  });
  test("offers the accepted words as drop-downs over filled and blank rows, none longer than the format allows", () => {
    const parts = unzipSync(bytes);
    const lists = Object.entries(parts)
      .filter(([name]) => name.startsWith("xl/worksheets/"))
      .map(([, content]) => [
        ...strFromU8(content).matchAll(/type="list"[^>]*sqref="([^"]+)"><formula1>"?(?:&quot;)?([^<]*?)"?(?:&quot;)?<\/formula1>/g),
      ]);
    const [, tables = [], limits = []] = lists.map((found) => found.map((match) => `${match[1]}: ${match[2]}`));
    expect(tables).toContain("G5:G34: mm,in");
    expect(tables).toContain("H5:H34: bands,linear,next-larger,next-smaller,listed");
    expect(limits).toContain("O5:O204: own,read,memory");
    expect(limits).toContain("M5:M204: yes,no");
    // ECMA-376: a list written into the cell rule holds at most 255 characters.
    for (const [, , words = ""] of lists.flat()) expect(words.length).toBeLessThanOrEqual(255);
    expect(lists.flat()).toHaveLength(30);
  });
  test("is the same file for the same content", () => {
    expect(specificationForm({ filled: { id: "TX 28" } })).toEqual(specificationForm({ filled: { id: "TX 28" } }));
  });
  test("not filled in, it lacks designation and edition, each named by its cell", () => {
    expect(problemsOf(bytes)).toEqual([
      `Specification!${addressOf(bytes, "Specification", "Designation")}: missing (found undefined; accepted as orders name it, such as "QW 100")`,
      `Specification!${addressOf(bytes, "Specification", "Edition")}: missing (found undefined; accepted year or revision; a changed specification gets another)`,
    ]);
  });
  test("a list holding the separator cannot be written, since it would be read back as two", () => {
    expect(() => specificationForm({ filled: { grades: ["A;B"] } })).toThrow(RangeError);
  });
});

describe("EN 10270-1 SM, but torsion at least 28", () => {
  const book = filledForm({
    Specification: { ...HEAD, Extends: "EN 10270-1", "Extends: grade": "SM" },
    Tables: [{ ...TABLE, "Free length: times d": 100, "Free length: at most": "300 mm" }],
    Limits: [{ Table: "1", Minimum: 28, Provenance: "own", Source: "letter of the customer" }],
  });
  const form = readSpecificationForm(book);
  const parsed = parseSpecification(form.json, () => base);
  if (!parsed.ok) throw new Error(JSON.stringify(parsed.problems));
  const [held] = createSpecificationLibrary([parsed.specification]).list();
  if (held === undefined) throw new Error("not held");
  const at = (property: string, size: string) => held.requirement(property, "", { text: size, unit: "mm" });

  test("is the JSON that the laboratory could have written by hand", () => {
    expect(form.problems).toEqual([]);
    expect(form.json).toMatchObject({
      id: "TX 28",
      extends: { specification: "EN 10270-1", grade: "SM" },
      tables: [{ property: "torsion", freeLength: { times: "100", atMost: "300 mm" }, rows: [{ min: "28", provenance: "own" }] }],
    });
  });
  // EN 10270-1 SM: torsion 16 turns and strength 1760 to 1970 MPa at 2.00 mm; torsion-minimum-en10270-1.csv, tensile-en10270-1.csv.
  test("asks 28 turns at 200 mm of a wire of 2.00 mm and leaves its strength as it was", () => {
    expect(at("torsion", "2.00")).toMatchObject({
      min: "28",
      conditions: { freeLength: { text: "200", unit: "mm" } },
      rule: { provenance: "own" },
    });
    expect(at("tensile-strength", "2.00")).toMatchObject({ min: "1760", max: "1970" });
  });
  test("asks for what the base asks for, torsion from 0.70 mm on included", () => {
    const required = (size: string) => held.requiredProperties("", { text: size, unit: "mm" });
    expect(required("2.00")).toEqual(["tensile-strength", "diameter", "out-of-round", "coiling", "wrap", "torsion"]);
    expect(required("0.69")).not.toContain("torsion");
  });
  test("has the base's retest and speed", () => {
    expect(held.retest("torsion")).toMatchObject({ pieces: 2, mustConform: "all" });
    expect(held.conduct({ text: "2.00", unit: "mm" }).torsionMaximumSpeed).toEqual({ text: "60", provenance: "read" });
  });
});

describe("what a cell gives", () => {
  test("a good form has no problem", () => expect(problemsOf(filledForm(good))).toEqual([]));
  test("numbers typed as numbers keep 15 digits; text keeps its last zeros; blanks go", () => {
    const json = readSpecificationForm(
      filledForm({
        ...good,
        Limits: [{ Table: 1, From: 0.1 + 0.2, "Up to": "2.0\u00a00".replace("\u00a00", "00"), Minimum: " 22 ", Provenance: "own" }],
      }),
    ).json as { tables: { rows: object[] }[] };
    expect(json.tables[0]?.rows[0]).toEqual({ from: "0.3", upTo: "2.000", min: "22", provenance: "own" });
  });
  test("other:<name> and chemistry:<element> are a word and a name", () => {
    const form = readSpecificationForm(
      filledForm({
        ...good,
        Required: [
          { Property: "other", "Element or other name": "cast" },
          { Property: "chemistry", "Element or other name": "C" },
        ],
      }),
    );
    expect((form.json as { required: object[] }).required).toEqual([{ property: "other:cast" }, { property: "chemistry:C" }]);
  });
  test("labels are found wherever their columns stand, in any case and spacing", () => {
    const form = filledForm({
      SPECIFICATION: { EDITION: "2026", "designation ": "TX 28" },
      tables: [{ "BETWEEN  sizes": "bands", clause: "4.2", TABLE: "1", "diameter\nunit": "mm", Unit: "turns", Property: "torsion" }],
      Limits: [{ Provenance: "own", Minimum: "1", Table: "1" }],
    });
    expect(problemsOf(form)).toEqual([]);
  });
  test("a sheet that is missing says nothing", () => expect(problemsOf(filledForm({ Specification: HEAD }))).toEqual([]));
  test("sheets that only show the base are not read", () => {
    expect(problemsOf(filledForm({ ...good, "Base limits": [{ Table: "99", Minimum: "no number" }] }))).toEqual([]);
  });
});

describe("what is wrong is named with sheet, cell, what was found and what is accepted", () => {
  const limits = (row: Record<string, unknown>): Filled => ({
    ...good,
    Limits: [{ Table: "1", From: "1.00", "Up to": "2.00", Minimum: "22", Provenance: "own", ...row } as never],
  });
  const tables = (row: Record<string, unknown>): Filled => ({ ...good, Tables: [{ ...TABLE, ...row } as never] });
  test.for([
    ["a unit in a number", limits({ Minimum: "22 turns" }), /^Limits!D5: not written as accepted \(found 22 turns; accepted decimal text/],
    ["a decimal comma", limits({ Minimum: "22,5" }), /^Limits!D5: not written as accepted \(found 22,5; accepted decimal text/],
    [
      "a formula",
      limits({ Minimum: { formula: "11*2", value: 22 } }),
      /^Limits!D5: a formula stands here \(found =11\*2; accepted typed text or a plain number\)/,
    ],
    ["a logical value", limits({ Minimum: true }), /^Limits!D5: neither text nor number \(found 1;/],
    ["an error value", limits({ Minimum: { error: "#N/A" } }), /^Limits!D5: neither text nor number \(found #N\/A;/],
    ["a date", limits({ Minimum: { value: 46000, style: "day" } }), /^Limits!D5: the cell is formatted as a date/],
    ["a percentage", limits({ Minimum: { value: 0.2, style: "percent" } }), /^Limits!D5: the cell is formatted as a date or a percentage/],
    [
      "a word that is not offered",
      tables({ "Between sizes": "stepwise" }),
      /^Tables!F5: not among the words accepted \(found stepwise; accepted bands, linear, next-larger/,
    ],
    ["neither yes nor no", limits({ Indicative: "perhaps" }), /^Limits!F5: neither yes nor no \(found perhaps; accepted yes, no\)/],
    ["half a place", tables({ Places: 1.5 }), /^Tables!G5: no whole number \(found 1.5; accepted a whole number\)/],
    ["too many places", tables({ Places: 7 }), /^Tables!G5: too large \(found 7; accepted at most 4\)/],
    [
      "no provenance",
      { ...good, Limits: [{ Table: "1", Minimum: "22", Provenance: "" }] },
      /^Limits!C5: missing \(found undefined; accepted own, read, memory\)/,
    ],
    ["an unknown table", limits({ Table: "9" }), /^Limits!A5: this table is not on the sheet Tables \(found 9; accepted 1\)/],
    [
      "a table without rows",
      { ...good, Limits: [] },
      /^Tables!A5: too small or too few \(found undefined; accepted at least one row of the sheet Limits/,
    ],
    ["a table twice", { ...good, Tables: [TABLE, TABLE] }, /^Tables!A6: this table stands twice \(found 1;/],
    ["a limit without a unit", tables({ Unit: "" }), /^Limits!D5: a limit needs the unit of its table/],
    ["an unknown unit", tables({ Unit: "furlong" }), /^Tables!D5: unknown unit \(found furlong; accepted MPa/],
    ["an unknown property", tables({ Property: "colour" }), /^Tables!B5: unknown property \(found colour; accepted tensile-strength/],
    [
      "a name beside a property",
      tables({ "Other name": "cast" }),
      /^Tables!G5: a name stands beside a property that has its own \(found cast;/,
    ],
    ["minimum above maximum", limits({ Maximum: "20" }), /^Limits!D5: min 22 is above max 20/],
    ["an empty range", limits({ "Up to": "0.90" }), /^Limits!A5: the size range is empty \(found from 1.00 upTo 0.90;/],
    [
      "an unknown grade",
      limits({ Grades: "X" }),
      /^Limits!F5: this grade is not among those of the specification \(found X; accepted no grades: the specification has one only\)/,
    ],
    [
      "a base that is not held",
      { ...good, Specification: { ...HEAD, Extends: "XY 1" } },
      /^Specification!B8: this is not held \(found XY 1;/,
    ],
    ["itself as a base", { ...good, Specification: { ...HEAD, Extends: "TX 28" } }, /^Specification!B8: it extends itself \(found TX 28;/],
    [
      "a grade the base has not",
      { ...good, Specification: { ...HEAD, Extends: "EN 10270-1", "Extends: grade": "SX" } },
      /^Specification!B9: EN 10270-1 has no such grade \(found SX; accepted SL, SM, SH, DM, DH\)/,
    ],
    [
      "a requirement without a table",
      { ...good, Required: [{ Property: "wrap" }] },
      /^Required!A5: required, and no table holds it \(found wrap;/,
    ],
    [
      "a length without unit",
      tables({ "Free length: fixed": "200" }),
      /^Tables!G5: not written as accepted \(found 200; accepted a length such as "300 mm"\)/,
    ],
    [
      "both times and fixed",
      tables({ "Free length: times d": "100", "Free length: fixed": "200 mm" }),
      /^Tables!G5: either times \(of the diameter\) or fixed/,
    ],
    [
      "an unknown sheet",
      { ...good, Limitz: [{ Table: "1" }] },
      /^Limitz!A1: this sheet is none of the form's \(found Limitz; accepted Specification, Tables/,
    ],
    ["an unknown column", limits({ Maxi: "3" }), /^Limits!F5: this column has no label of the form \(found 3;/],
    [
      "an unknown field",
      { ...good, Specification: { ...HEAD, Titel: "x" } },
      /^Specification!A8: this field is unknown \(found titel; accepted Designation/,
    ],
    ["a field twice", { ...good, Specification: { ...HEAD, TITLE: "x" } }, /^Specification!A8: this label stands twice \(found Title;/],
    ["no labels", { ...good, Required: [{ foo: "torsion" }] }, /^Required!A1: no row of labels was found/],
    ["no head", { Tables: [TABLE] }, /^Specification!A1: the sheet Specification is missing/],
  ] as const)("%s", ([, filled, expected]) => {
    const problems = problemsOf(filledForm(filled as Filled));
    expect(problems.filter((problem) => expected.test(problem)).length, problems.join("\n")).toBe(1);
  });

  test("rows that overlap are named by their rows on the sheet, not by their place in the JSON", () => {
    const book = filledForm({
      ...good,
      Limits: [
        { Table: "1", From: "1.00", "Up to": "2.00", Minimum: "22", Provenance: "own" },
        { Table: "1", From: "2.00", "Up to": "4.00", Minimum: "18", Provenance: "own" },
      ],
    });
    expect(problemsOf(book)).toEqual([
      "Limits!A6: the size range overlaps that of row 5 of Limits (found from 2.00 upTo 4.00; accepted ranges without overlap)",
    ]);
  });
  test("a file that is no workbook says why", () => {
    const [first] = readSpecificationForm(new TextEncoder().encode("PK not a workbook")).problems;
    expect(first?.text).toMatch(/\w/);
  });
});
