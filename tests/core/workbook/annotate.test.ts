import { spawnSync } from "node:child_process";
import { mkdtempSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import ExcelJS from "exceljs";
import { unzipSync } from "fflate";
import { beforeAll, describe, expect, test } from "vitest";
import { type Annotation, annotateWorkbook, type SheetMarks, writeWorkbook } from "../../../core/workbook/index.ts";
import { readDirectory } from "../../../core/workbook/package.ts";
import { cellsOf, MAIN_NAMESPACE, read, smallBook, smallParts } from "./small-book.ts";

const FINDINGS: Annotation["findings"] = {
  name: "Findings",
  rows: [
    ["Severity", "Sheet", "Cell"],
    ["error", "Wrap", "C3"],
    ["warning", "Wrap", "=1+1 & <b>"],
  ],
  widths: [10, 16, 8],
};

const column = (header: string, texts: Readonly<Record<number, string>>, at?: number): SheetMarks["columns"][number] => ({
  header,
  ...(at === undefined ? {} : { column: at }),
  width: 20,
  cells: new Map(Object.entries(texts).map(([row, text]) => [Number(row), { text, style: "conforms" as const }])),
});

const annotation = (name: string, columns: SheetMarks["columns"], headerRow = 1): Annotation => ({
  sheets: [{ name, headerRow, columns }],
  findings: FINDINGS,
});

/** The text of each cell by its name. */
const texts = (bytes: Uint8Array, sheet: string): Record<string, string> => {
  const record = read(bytes).sheets.find((s) => s.name === sheet);
  return Object.fromEntries([...(record?.rows.values() ?? [])].flat().map((c) => [c.cell, c.raw]));
};

/** A clerk's workbook, invented, with everything that a careless rewrite loses. */
async function clerkWorkbook(): Promise<Uint8Array> {
  const book = new ExcelJS.Workbook();
  const wrap = book.addWorksheet("Wrap", { views: [{ state: "frozen", ySplit: 1 }] });
  wrap.columns = [
    { header: "Test piece", width: 17.5 },
    { header: "Wraps", width: 9 },
    { header: "Remark", width: 33 },
  ];
  wrap.addRow(["C1-1", 8, "first"]);
  wrap.addRow(["C1-2", { formula: "B2+1", result: 9 }, { richText: [{ text: "bo" }, { text: "ld", font: { bold: true } }] }]);
  wrap.addRow(["C1-3", 8, new Date(Date.UTC(2026, 2, 2))]);
  wrap.getCell("B2").dataValidation = { type: "whole", operator: "between", formulae: [1, 50], allowBlank: true };
  wrap.getCell("A2").note = "cut from the outer end";
  wrap.addConditionalFormatting({
    ref: "B2:B10",
    rules: [{ type: "cellIs", operator: "greaterThan", formulae: [8], priority: 1, style: { font: { bold: true } } }],
  });
  wrap.mergeCells("A6:C6");
  wrap.autoFilter = "A1:C4";
  wrap.getRow(4).hidden = true;
  const other = book.addWorksheet("My own sheet");
  other.getCell("A1").value = "never judged";
  other.getCell("B2").value = { text: "a page", hyperlink: "https://example.invalid/" };
  book.definedNames.add("'My own sheet'!$A$1", "mine");
  book.addWorksheet("Hidden", { state: "hidden" });
  return new Uint8Array((await book.xlsx.writeBuffer()) as ArrayBuffer);
}

const MARKS = [
  column("Verdict", { 2: "■ conforms", 3: "✕ does not conform", 4: "=HYPERLINK(1)" }),
  column("Why", { 2: 'a < b & "c"', 3: "line\nbreak", 4: "_x0041_ \u0001" }),
  column("Next", { 3: "test again" }),
];

describe("an annotated workbook of another program", () => {
  let before: Uint8Array;
  let after: Uint8Array;
  beforeAll(async () => {
    before = await clerkWorkbook();
    after = annotateWorkbook(before, annotation("Wrap", MARKS));
  });

  test("untouched parts keep their very bytes, packed and unpacked", () => {
    const [old, now] = [readDirectory(before), readDirectory(after)];
    const packed = (bytes: Uint8Array, entry: (typeof old)[number]): string =>
      Buffer.from(bytes.subarray(entry.dataStart, entry.dataStart + entry.compressedSize)).toString("hex");
    const changed = old.filter((entry) => {
      const same = now.find((e) => e.name === entry.name);
      return same === undefined || packed(after, same) !== packed(before, entry);
    });
    expect(changed.map((entry) => entry.name).sort()).toEqual([
      "[Content_Types].xml",
      "xl/_rels/workbook.xml.rels",
      "xl/styles.xml",
      "xl/workbook.xml",
      "xl/worksheets/sheet1.xml",
    ]);
    expect(old.length).toBeGreaterThan(12);
    expect(now.map((e) => e.name).filter((name) => !old.some((e) => e.name === name))).toEqual(["xl/worksheets/sheet4.xml"]);
  });

  test("within the marked sheet only marks are added", () => {
    const text = (bytes: Uint8Array): string => new TextDecoder().decode(unzipSync(bytes)["xl/worksheets/sheet1.xml"]);
    const [old, now] = [text(before), text(after)];
    const element = (xml: string, name: string): string => new RegExp(`<${name}[ >].*</${name}>`, "s").exec(xml)?.[0] ?? "";
    for (const name of ["dataValidations", "conditionalFormatting", "sheetViews", "mergeCells"]) {
      expect(element(old, name)).not.toBe("");
      expect(element(now, name)).toBe(element(old, name));
    }
    for (const tag of ["autoFilter", "legacyDrawing"]) {
      const written = new RegExp(`<${tag} [^>]*>`).exec(old)?.[0] ?? "none";
      expect(now).toContain(written);
    }
    expect(now).toContain(element(old, "cols").replace("</cols>", ""));
    const cells = (xml: string): readonly string[] => [...xml.matchAll(/<c r="([ABC]\d+)".*?(?:\/>|<\/c>)/g)].map((m) => m[0]);
    expect(cells(now)).toEqual(cells(old));
  });

  test("our own reader sees the marks and every cell of before", () => {
    const { sheets } = read(after);
    expect(sheets.map((s) => [s.name, s.hidden])).toEqual([
      ["Wrap", false],
      ["My own sheet", false],
      ["Hidden", true],
      ["Findings", false],
    ]);
    expect(texts(after, "Wrap")).toEqual({
      ...texts(before, "Wrap"),
      D1: "Verdict",
      E1: "Why",
      F1: "Next",
      D2: "■ conforms",
      E2: 'a < b & "c"',
      D3: "✕ does not conform",
      E3: "line\nbreak",
      F3: "test again",
      D4: "=HYPERLINK(1)",
      E4: "_x0041_ \u0001",
    });
    expect(texts(after, "My own sheet")).toEqual(texts(before, "My own sheet"));
    expect(texts(after, "Findings")).toMatchObject({ A1: "Severity", C3: "=1+1 & <b>" });
  });

  test("exceljs reads it, with everything the clerk had", async () => {
    const book = new ExcelJS.Workbook();
    await book.xlsx.load(after.slice().buffer as ArrayBuffer);
    const wrap = book.getWorksheet("Wrap");
    expect(wrap?.getCell("D3").value).toBe("✕ does not conform");
    expect(wrap?.getCell("D4").value).toBe("=HYPERLINK(1)");
    expect(wrap?.getCell("D2").font.bold).toBe(true);
    expect(wrap?.getCell("B3").value).toMatchObject({ formula: "B2+1", result: 9 });
    expect(wrap?.getCell("B2").dataValidation).toMatchObject({ type: "whole", formulae: [1, 50] });
    expect(JSON.stringify(wrap?.getCell("A2").note)).toContain("cut from the outer end");
    expect(wrap?.getColumn(1).width).toBe(17.5);
    expect(wrap?.getColumn(4).width).toBe(20);
    expect(wrap?.getRow(4).hidden).toBe(true);
    expect(wrap?.autoFilter).toBe("A1:C4");
    expect((wrap as unknown as { conditionalFormattings: unknown[] }).conditionalFormattings).toHaveLength(1);
    expect(wrap?.getCell("A6").isMerged).toBe(true);
    expect(book.definedNames.getRanges("mine").ranges).toEqual(["'My own sheet'!$A$1"]);
    expect(book.getWorksheet("Findings")?.getCell("A2").value).toBe("error");
    expect(book.getWorksheet("Hidden")?.state).toBe("hidden");
  });

  test("a second time, given its own columns, it comes out the same", () => {
    const again = annotateWorkbook(
      after,
      annotation(
        "Wrap",
        MARKS.map((c, i) => ({ ...c, column: 4 + i })),
      ),
    );
    expect(Buffer.from(again).equals(Buffer.from(after))).toBe(true);
  });

  test("a second time, marks that no longer hold are gone and the findings are the new ones", () => {
    const again = annotateWorkbook(after, {
      ...annotation("Wrap", [column("Verdict", { 3: "■ conforms" }, 4), column("Why", {}, 5), column("Next", {}, 6)]),
      findings: { ...FINDINGS, rows: FINDINGS.rows.slice(0, 1) },
    });
    const found = texts(again, "Wrap");
    expect(Object.fromEntries(Object.entries(found).filter(([cell]) => /^[D-Z]/.test(cell)))).toEqual({
      D1: "Verdict",
      E1: "Why",
      F1: "Next",
      D3: "■ conforms",
    });
    expect(Object.keys(texts(again, "Findings"))).toEqual(["A1", "B1", "C1"]);
    expect(read(again).sheets).toHaveLength(4);
  });

  test("saved by another program in between, nothing piles up", async () => {
    const book = new ExcelJS.Workbook();
    await book.xlsx.load(after.slice().buffer as ArrayBuffer);
    const saved = new Uint8Array((await book.xlsx.writeBuffer()) as ArrayBuffer);
    const again = annotateWorkbook(
      saved,
      annotation(
        "Wrap",
        MARKS.map((c, i) => ({ ...c, column: 4 + i })),
      ),
    );
    expect(read(again).sheets.map((s) => s.name)).toEqual(["Wrap", "My own sheet", "Hidden", "Findings"]);
    expect(texts(again, "Wrap")).toEqual(texts(after, "Wrap"));
  });

  test("openpyxl opens it, where there is one", ({ skip }) => {
    const folder = mkdtempSync(join(tmpdir(), "annotated-"));
    try {
      if (spawnSync("/usr/bin/python3", ["-c", "import openpyxl"]).status !== 0) skip();
      const file = join(folder, "a.xlsx");
      writeFileSync(file, after);
      const script = `
import openpyxl, json, sys
book = openpyxl.load_workbook(sys.argv[1])
wrap = book["Wrap"]
print(json.dumps([book.sheetnames, wrap["D3"].value, wrap["D3"].data_type, wrap["D4"].data_type, wrap["A2"].comment.text,
  len(wrap.data_validations.dataValidation), len(wrap.conditional_formatting), wrap.column_dimensions["A"].width, 
  [n.name for n in book.defined_names.definedName] if hasattr(book.defined_names, "definedName") else list(book.defined_names)]))
`;
      const run = spawnSync("/usr/bin/python3", ["-c", script, file], { encoding: "utf8" });
      expect(run.stderr).toBe("");
      expect(JSON.parse(run.stdout)).toEqual([
        ["Wrap", "My own sheet", "Hidden", "Findings"],
        "✕ does not conform",
        "s",
        "s",
        "cut from the outer end",
        1,
        1,
        17.5,
        ["mine"],
      ]);
    } finally {
      rmSync(folder, { recursive: true });
    }
  });
});

const whole = (data: string, more = ""): string => `<worksheet xmlns="${MAIN_NAMESPACE}"><sheetData>${data}</sheetData>${more}</worksheet>`;
const HEADED = '<row r="1" spans="1:1"><c r="A1"><v>1</v></c></row><row r="2"><c r="A2"><v>2</v></c></row>';
const MARK = annotation("A", [column("Verdict", { 2: "ok" })]);
const sheetText = (bytes: Uint8Array, name = "xl/worksheets/sheet1.xml"): string => new TextDecoder().decode(unzipSync(bytes)[name]);

describe("unusual sheets are annotated all the same", () => {
  test.for([
    [
      "prefixes",
      whole(HEADED)
        .replaceAll(/<(\/?)(?=[a-z])/gi, "<$1x:")
        .replace("xmlns=", "xmlns:x="),
    ],
    ["single quotes", whole(HEADED).replaceAll('"', "'")],
    ["missing references", whole(HEADED.replaceAll(/ r="\w+"/g, ""))],
    ["lower-case references", whole(HEADED.replaceAll('r="A', 'r="a'))],
    ["rows out of order", whole(HEADED.replace(/(<row r="1".*?<\/row>)(.*)/, "$2$1"))],
    ["comments with tags in them", whole(HEADED.replace("</row>", "<!-- </row><row r='9'> --></row>"))],
    ["CDATA with tags in it", whole(HEADED.replace("<v>1</v>", "<v><![CDATA[1]]></v>"))],
    ["a > in an attribute", whole(HEADED.replace('spans="1:1"', 'x="a>b/>"'))],
    ["an empty row element", whole('<row r="1"/><row r="2"><c r="A2"><v>2</v></c></row>')],
    ["an empty list of widths", whole(HEADED).replace("<sheetData>", "<cols/><sheetData>")],
    ["UTF-16 that says so", new Uint8Array(Buffer.from(`\ufeff<?xml version="1.0" encoding="UTF-16"?>${whole(HEADED)}`, "utf16le"))],
    ["extensions in a row", whole(HEADED.replace("</row>", '<extLst><ext uri="u"><c r="Z1"/></ext></extLst></row>'))],
    ["a data descriptor", whole(HEADED)],
  ] as const)("%s", async ([name, sheet]) => {
    const parts = name === "a data descriptor" ? smallParts({ sheet }).map((part) => ({ ...part, descriptor: true })) : [];
    const after = annotateWorkbook(smallBook({ sheet, parts }), MARK);
    expect(texts(after, "A")).toEqual({ ...texts(smallBook({ sheet }), "A"), B1: "Verdict", B2: "ok" });
    expect(sheetText(after)).not.toContain("spans=");
    expect(sheetText(after)).not.toMatch(/encoding\s*=\s*["']utf-16/i);
  });

  test("a strict workbook gets a strict Findings sheet and a strict relationship", () => {
    const strict = (xml: string): string =>
      xml
        .replaceAll(
          "http://schemas.openxmlformats.org/officeDocument/2006/relationships",
          "http://purl.oclc.org/ooxml/officeDocument/relationships",
        )
        .replaceAll(MAIN_NAMESPACE, "http://purl.oclc.org/ooxml/spreadsheetml/main");
    const parts = smallParts({ data: HEADED }).map((part) => ({ ...part, content: strict(part.content as string).replaceAll('"', "'") }));
    const after = annotateWorkbook(smallBook({ parts }), MARK);
    expect(texts(after, "Findings")["A1"]).toBe("Severity");
    for (const part of ["xl/worksheets/sheet2.xml", "xl/_rels/workbook.xml.rels"])
      expect(sheetText(after, part)).not.toContain("openxmlformats.org/officeDocument");
    expect(sheetText(after, "xl/worksheets/sheet2.xml")).toContain('xmlns="http://purl.oclc.org/ooxml/spreadsheetml/main"');
  });

  test("columns go behind styled empty cells and merged ranges", () => {
    const styled = whole('<row r="1"><c r="A1"><v>1</v></c></row><row r="2"><c r="D2"/></row>');
    expect(texts(annotateWorkbook(smallBook({ sheet: styled }), MARK), "A")).toMatchObject({ E1: "Verdict", E2: "ok" });
    const merged = whole(HEADED, '<mergeCells><mergeCell ref="A1:G1"/></mergeCells>');
    expect(texts(annotateWorkbook(smallBook({ sheet: merged }), MARK), "A")).toMatchObject({ H1: "Verdict", H2: "ok" });
  });

  test("a row styled to the last column leaves its empty cells to the marks", () => {
    const full = whole(
      '<row r="1"><c r="A1"><v>1</v></c><c r="B1" s="1"/><c r="XFD1" s="1"/></row><row r="2"><c r="A2"><v>2</v></c></row>',
    );
    expect(texts(annotateWorkbook(smallBook({ sheet: full }), MARK), "A")).toEqual({ A1: "1", A2: "2", B1: "Verdict", B2: "ok" });
  });

  test("a row filled to the last column has no room: the sheet stays, the findings come", () => {
    const full = whole('<row r="1"><c r="XFD1"><v>1</v></c></row>');
    const after = annotateWorkbook(smallBook({ sheet: full }), MARK);
    expect(texts(after, "A")).toEqual({ XFD1: "1" });
    expect(texts(after, "Findings")["A1"]).toBe("Severity");
  });

  test("the dimension is widened and never narrowed", () => {
    for (const [before, after] of [
      ["A1:A2", "A1:B2"],
      ["A1", "A1:B1"],
      ["A1:Z2", "A1:Z2"],
    ] as const) {
      const sheet = whole(HEADED).replace("<sheetData>", `<dimension ref="${before}"/><sheetData>`);
      expect(sheetText(annotateWorkbook(smallBook({ sheet }), MARK))).toContain(`<dimension ref="${after}"/>`);
    }
  });

  test("a live formula that a mark replaces takes its calculation chain along, and its followers keep the formula", () => {
    const sheet = whole(
      '<row r="1"><c r="A1"><v>1</v></c><c r="B1"/></row><row r="2"><c r="A2"><v>2</v></c><c r="B2" t="str"><f t="shared" ref="B2:B3" si="0">IF(A2&gt;1,"","conforms")</f><v/></c></row><row r="3"><c r="A3"/><c r="B3" t="str"><f t="shared" si="0"/><v/></c></row>',
    );
    const parts = smallParts({ sheet }).map((part) => {
      const content = part.content as string;
      if (part.name.endsWith("workbook.xml.rels"))
        return {
          ...part,
          content: content.replace(
            "</Relationships>",
            '<Relationship Id="rId7" Type="http://schemas.openxmlformats.org/officeDocument/2006/relationships/calcChain" Target="calcChain.xml"></Relationship></Relationships>',
          ),
        };
      if (part.name === "[Content_Types].xml")
        return { ...part, content: content.replace("</Types>", '<Override PartName="/xl/calcChain.xml" ContentType="x"/></Types>') };
      return part;
    });
    const before = smallBook({ parts: [...parts, { name: "xl/calcChain.xml", content: "<calcChain/>" }] });
    const after = annotateWorkbook(before, annotation("A", [column("Verdict", { 2: "ok" }, 2)]));
    const files = unzipSync(after);
    expect(Object.keys(files)).not.toContain("xl/calcChain.xml");
    expect(sheetText(after, "xl/_rels/workbook.xml.rels") + sheetText(after, "[Content_Types].xml")).not.toContain("calcChain");
    const cells = cellsOf(read(after));
    expect(cells.find((c) => c.cell === "B2")).toMatchObject({ type: "text", raw: "ok" });
    expect(cells.find((c) => c.cell === "B3")?.formula).toBe('IF(A3>1,"","conforms")');
  });

  test("a signature is dropped with everything that names it", () => {
    const root = smallParts({})[1]?.content as string;
    const parts = [
      {
        name: "_rels/.rels",
        content: root.replace(
          "</Relationships>",
          '<Relationship Id="rId9" Type="http://schemas.openxmlformats.org/package/2006/relationships/digital-signature/origin" Target="_xmlsignatures/origin.sigs"/></Relationships>',
        ),
      },
      { name: "_xmlsignatures/origin.sigs", content: "" },
      { name: "_xmlsignatures/sig1.xml", content: "<Signature/>" },
    ];
    const after = annotateWorkbook(smallBook({ data: HEADED, parts }), MARK);
    expect(Object.keys(unzipSync(after)).filter((name) => name.startsWith("_xml"))).toEqual([]);
    expect(sheetText(after, "_rels/.rels")).not.toContain("signature");
    expect(read(after).findings).toEqual([]);
  });

  test("a part whose name the relationships write in another case is changed, not doubled", () => {
    const related = smallParts({}).find((p) => p.name.endsWith("workbook.xml.rels"))?.content as string;
    const parts = [{ name: "xl/_rels/workbook.xml.rels", content: related.replace("worksheets/sheet1.xml", "Worksheets/SHEET1.xml") }];
    expect(texts(annotateWorkbook(smallBook({ data: HEADED, parts }), MARK), "A")).toMatchObject({ A1: "1", B2: "ok" });
  });

  test("a sheet of the clerk's named Findings stays; ours takes another name, once", () => {
    const workbook = smallParts({}).find((p) => p.name === "xl/workbook.xml")?.content as string;
    const book = smallBook({
      data: HEADED,
      parts: [{ name: "xl/workbook.xml", content: workbook.replace('name="A"', 'name="Findings"') }],
    });
    const once = annotateWorkbook(book, { sheets: [], findings: FINDINGS });
    const twice = annotateWorkbook(once, { sheets: [], findings: FINDINGS });
    expect(read(twice).sheets.map((s) => s.name)).toEqual(["Findings", "Findings (2)"]);
    expect(texts(twice, "Findings")).toEqual({ A1: "1", A2: "2" });
  });

  test("no styles, no marks, a sheet that is not there: nothing is lost", () => {
    const after = annotateWorkbook(smallBook({ data: HEADED }), { ...annotation("Nowhere", []), findings: FINDINGS });
    expect(texts(after, "A")).toEqual({ A1: "1", A2: "2" });
  });

  test("marks longer than a cell may hold are cut to what it holds", () => {
    const after = annotateWorkbook(smallBook({ data: HEADED }), annotation("A", [column("Why", { 2: "_x0041_".repeat(10_000) })]));
    expect(texts(after, "A")["B2"]?.length).toBe(32_767);
  });
});

test("our own entry workbook, annotated, keeps validations and formulas", () => {
  const bytes = writeWorkbook({
    styles: { head: { bold: true } },
    sheets: [
      {
        name: "Wrap",
        rows: new Map([
          [
            1,
            new Map([
              [1, { value: "Test piece", style: "head" }],
              [2, { value: "Verdict" }],
            ]),
          ],
          [
            2,
            new Map([
              [1, { value: "P1" }],
              [2, { formula: 'IF(A2="","","conforms")', value: "conforms" }],
            ]),
          ],
          [3, new Map([[2, { formula: 'IF(A3="","","conforms")', value: "" }]])],
        ]),
        validations: [{ range: "A2:A10", kind: "list", words: ["P1", "P2"], title: "t", message: "m" }],
      },
    ],
  });
  const after = annotateWorkbook(bytes, annotation("Wrap", [column("Verdict", { 2: "■ conforms" }, 2)]));
  expect(texts(after, "Wrap")).toEqual({ A1: "Test piece", B1: "Verdict", A2: "P1", B2: "■ conforms", B3: "" });
  expect(sheetText(after)).toContain('<dataValidation type="list"');
});
