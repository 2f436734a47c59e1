import { describe, expect, test } from "vitest";
import { serialToDate } from "../../../core/workbook/index.ts";
import { cellsOf, expectRefusal, MAIN_NAMESPACE, read, type SmallBook, smallBook, smallParts } from "./small-book.ts";

const STRINGS = '<si><t>coil</t></si><si><t xml:space="preserve"> C1 </t></si>';
const FORMATS = '<xf numFmtId="0"/><xf numFmtId="14"/><xf numFmtId="164"/>';
const PLAIN =
  '<row r="1"><c r="A1" t="s"><v>0</v></c><c r="B1"><v>2.05</v></c></row><row r="3"><c r="A3" t="s"><v>1</v></c><c r="C3" s="2"><v>-0</v></c></row>';
const EXPECTED = [
  { cell: "A1", row: 1, column: 1, type: "text", raw: "coil" },
  { cell: "B1", row: 1, column: 2, type: "number", raw: "2.05" },
  { cell: "A3", row: 3, column: 1, type: "text", raw: " C1 " },
  { cell: "C3", row: 3, column: 3, type: "number", raw: "-0", format: "0.00" },
];
const sheetOf = (xml: string | Uint8Array): SmallBook => ({ sheet: xml });
const whole = (data: string): string => `<worksheet xmlns="${MAIN_NAMESPACE}"><sheetData>${data}</sheetData></worksheet>`;
const prefixed = (xml: string): string => xml.replaceAll(/<(\/?)(?=[a-z])/gi, "<$1x:").replace("xmlns=", "xmlns:x=");
const wide = (text: string, big: boolean): Uint8Array => {
  const bytes = Buffer.from(text, "utf16le");
  return new Uint8Array(big ? bytes.swap16() : bytes);
};
const STRICT = "http://purl.oclc.org/ooxml/spreadsheetml/main";

// Source: the entry workbook's rule "read alike"; the forms are legal XML 1.0 or ECMA-376.
describe("variants of XML are read alike", () => {
  test.for([
    ["as most programs write it", sheetOf(whole(PLAIN))],
    ["a byte order mark", sheetOf(`\ufeff<?xml version="1.0" encoding="UTF-8"?>${whole(PLAIN)}`)],
    ["UTF-16, little end first", sheetOf(wide(`\ufeff<?xml version="1.0" encoding="UTF-16"?>${whole(PLAIN)}`, false))],
    ["UTF-16, big end first", sheetOf(wide(`\ufeff<?xml version="1.0" encoding="UTF-16"?>${whole(PLAIN)}`, true))],
    ["UTF-16 without mark", sheetOf(wide(`<?xml version="1.0" encoding="UTF-16LE"?>${whole(PLAIN)}`, false))],
    ["strict namespaces", sheetOf(whole(PLAIN).replace(MAIN_NAMESPACE, STRICT))],
    ["prefixes", sheetOf(prefixed(whole(PLAIN)))],
    ["single quotes", sheetOf(whole(PLAIN).replaceAll('"', "'"))],
    ["blanks around equals signs", sheetOf(whole(PLAIN).replaceAll("=", " =\n "))],
    [
      "CDATA",
      { sheet: whole(PLAIN), strings: '<si><t><![CDATA[co]]>i<![CDATA[l]]></t></si><si><t xml:space="preserve"><![CDATA[ C1 ]]></t></si>' },
    ],
    ["CDATA round a number", sheetOf(whole(PLAIN.replace("<v>2.05</v>", "<v><![CDATA[2.05]]></v>")))],
    ["comments and instructions in between", sheetOf(whole(PLAIN.replaceAll("<v>", "<!-- v --><?go?><v><!-- n -->")))],
    ["character references", sheetOf(whole(PLAIN.replace("2.05", "2&#46;0&#x35;")))],
    ["rows out of order", sheetOf(whole(PLAIN.replace(/(<row r="1">.*?<\/row>)(.*)/, "$2$1")))],
    ["cells out of order", sheetOf(whole(PLAIN.replace(/(<c r="A1".*?<\/c>)(<c r="B1".*?<\/c>)/, "$2$1")))],
    ["lower-case references", sheetOf(whole(PLAIN.replaceAll(/r="([A-Z])/g, (_, c: string) => `r="${c.toLowerCase()}`)))],
    ["missing references of cells", sheetOf(whole(PLAIN.replaceAll(/ r="[AB]\d"/g, "")))],
    ["missing references of rows", sheetOf(whole(PLAIN.replace(' r="1"', "")))],
    ["blanks round a stored number", sheetOf(whole(PLAIN.replace("2.05", " \n2.05\t")))],
    ["blanks round an index", sheetOf(whole(PLAIN.replace("<v>0</v>", "<v> 0 </v>")))],
    ["attributes on v", sheetOf(whole(PLAIN.replaceAll("<v>", '<v xml:space="preserve">')))],
    [
      "attributes on rows and cells",
      sheetOf(whole(PLAIN.replaceAll("<c ", '<c cm="1" ').replaceAll("<row ", '<row spans="1:3" ht="20" '))),
    ],
    ["inline texts", sheetOf(whole(PLAIN.replace('t="s"><v>0</v>', 't="inlineStr"><is><t>coil</t></is>')))],
    [
      "a text in runs, with phonetic guides",
      {
        sheet: whole(PLAIN),
        strings:
          '<si><r><rPr><b/></rPr><t>co</t></r><r><t>il</t></r><rPh sb="0" eb="1"><t>zz</t></rPh></si><si><t xml:space="preserve"> C1 </t></si>',
      },
    ],
    ["an inline text in runs", sheetOf(whole(PLAIN.replace('t="s"><v>0</v>', 't="inlineStr"><is><r><t>co</t></r><r><t>il</t></r></is>')))],
    ["a text stored with the cell", sheetOf(whole(PLAIN.replace('t="s"><v>0</v>', 't="str"><v>coil</v>')))],
    ["escaped characters", { sheet: whole(PLAIN), strings: '<si><t>_x0063_oil</t></si><si><t xml:space="preserve"> C1 </t></si>' }],
    [
      "styled empty cells in between",
      sheetOf(whole(PLAIN.replace("</row>", '<c r="D1" s="2"/><c r="E1" s="2"><v/></c></row><row r="2" s="1"/>'))),
    ],
    [
      "extensions with elements of the same names",
      sheetOf(whole(PLAIN.replace("</row>", '<extLst><ext uri="u"><row r="1"><c r="A1"><v>9</v></c></row></ext></extLst></row>'))),
    ],
    [
      "an empty shared list entry before its use",
      {
        sheet: whole(PLAIN.replace("<v>1</v>", "<v>2</v>")),
        strings: '<si><t>coil</t></si><si/><si><t xml:space="preserve"> C1 </t></si>',
      },
    ],
  ] as const satisfies readonly (readonly [string, SmallBook])[])("%s", ([, book]) => {
    const workbook = read(smallBook({ strings: STRINGS, formats: FORMATS, codes: { 164: "0.00" }, ...book }));
    expect(cellsOf(workbook)).toEqual(EXPECTED);
    expect(workbook.findings).toEqual([]);
  });

  test("a workbook whose every part is UTF-16, prefixed and strict", () => {
    const parts = smallParts({ sheet: whole(PLAIN), strings: STRINGS, formats: FORMATS, codes: { 164: "0.00" } }).map((part) => {
      const xml = (part.content as string)
        .replace(/^<\?xml[^>]*\?>\n/, "")
        .replaceAll(
          "http://schemas.openxmlformats.org/officeDocument/2006/relationships",
          "http://purl.oclc.org/ooxml/officeDocument/relationships",
        )
        .replaceAll(MAIN_NAMESPACE, STRICT);
      return { ...part, content: wide(`\ufeff<?xml version="1.0" encoding="UTF-16"?>${prefixed(xml)}`, false) };
    });
    expect(cellsOf(read(smallBook({ parts })))).toEqual(EXPECTED);
  });

  test("sheets are found by their relationships, absolute or relative, whatever their names", () => {
    const target = (path: string, name: string): SmallBook => {
      const related = smallParts({}).find((p) => p.name.endsWith("workbook.xml.rels"))?.content as string;
      return {
        without: ["xl/worksheets/sheet1.xml"],
        parts: [
          { name: "xl/_rels/workbook.xml.rels", content: related.replace("worksheets/sheet1.xml", path) },
          { name, content: whole("<row><c><v>7</v></c></row>") },
        ],
      };
    };
    for (const [path, name] of [
      ["/Data/Tabelle.XML", "data/tabelle.xml"],
      ["../far/x.xml", "far/x.xml"],
      ["./w/./x.xml", "xl/w/x.xml"],
    ] as const)
      expect(cellsOf(read(smallBook(target(path, name))))).toHaveLength(1);
  });
});

// Source: the entry workbook's rule "refused: a row or cell twice, a shared-string index out of range", and for parts "malformed".
describe("a sheet that contradicts itself is refused", () => {
  const c = '<c r="A1"><v>1</v></c>';
  test.for([
    ["a row twice", `<row r="1">${c}</row><row r="1"/>`, "doubled-row"],
    ["a row twice, one without number", `<row r="2"/><row r="1"/><row/>`, "doubled-row"],
    ["a cell twice", `<row r="1">${c}${c}</row>`, "doubled-cell"],
    ["a cell twice, in other case", `<row r="1">${c}<c r="a1"><v>2</v></c></row>`, "doubled-cell"],
    ["a cell twice, one without reference", '<row r="1"><c r="B1"><v>1</v></c><c r="A1"><v>1</v></c><c><v>2</v></c></row>', "doubled-cell"],
    ["an empty cell twice", '<row r="1"><c r="A1"/><c r="A1"/></row>', "doubled-cell"],
    ["a cell of another row", '<row r="1"><c r="A2"><v>1</v></c></row>', "malformed-sheet"],
    ["a cell without column", '<row r="1"><c r="1"><v>1</v></c></row>', "malformed-sheet"],
    ["a cell without row", '<row r="1"><c r="A"><v>1</v></c></row>', "malformed-sheet"],
    ["a cell with a range for a name", '<row r="1"><c r="A1:B1"><v>1</v></c></row>', "malformed-sheet"],
    ["a row with letters for a number", '<row r="one"/>', "malformed-sheet"],
    ["a row with a negative number", '<row r="-1"/>', "malformed-sheet"],
    ["a row with a broken number", '<row r="1.5"/>', "malformed-sheet"],
    ["a row in a row", `<row r="1">${c}<row r="2"/></row>`, "malformed-sheet"],
    ["a cell in a cell", '<row r="1"><c r="A1"><c r="B1"/></c></row>', "malformed-sheet"],
    ["a cell outside of rows", c, "malformed-sheet"],
    ["two values in a cell", '<row r="1"><c r="A1"><v>1</v><v>2</v></c></row>', "malformed-sheet"],
    ["cells twice", `<row r="1">${c}</row></sheetData><sheetData>`, "malformed-sheet"],
    ["an index beyond the shared texts", '<row r="1"><c r="A1" t="s"><v>2</v></c></row>', "string-out-of-range"],
    ["a negative index", '<row r="1"><c r="A1" t="s"><v>-1</v></c></row>', "string-out-of-range"],
    ["an index that is none", '<row r="1"><c r="A1" t="s"><v>length</v></c></row>', "string-out-of-range"],
    ["a document type", `<row r="1">${c}</row></sheetData></worksheet><!DOCTYPE a>`, "doctype"],
    ["markup that does not close", `<row r="1">${c}`, "malformed-xml"],
  ] as const)("%s", ([, data, code]) => expectRefusal(smallBook({ data, strings: STRINGS }), code));

  test.for([
    ["a DOCTYPE", '<!DOCTYPE worksheet [<!ENTITY a "b">]><worksheet/>', "doctype"],
    ["an external entity", '<!DOCTYPE worksheet SYSTEM "file:///etc/passwd"><worksheet/>', "doctype"],
    ["another root", "<chartsheet/>", "malformed-sheet"],
    ["nothing", "", "malformed-xml"],
    ["wrong bytes", new Uint8Array(Buffer.from(whole(`<row><c t="str"><v>ü</v></c></row>`), "latin1")), "malformed-text"],
  ] as const)("a sheet that is %s", ([, sheet, code]) => expectRefusal(smallBook({ sheet }), code));

  test.for([
    ["of the same name", '<sheet name="A" sheetId="1" r:id="rId1"/><sheet name="A" sheetId="2" r:id="rId9"/>'],
    ["whose names differ by case", '<sheet name="Wrap" sheetId="1" r:id="rId1"/><sheet name="wRAP" sheetId="2" r:id="rId9"/>'],
    ["whose names differ by blanks", '<sheet name="Wrap" sheetId="1" r:id="rId1"/><sheet name="Wrap " sheetId="2" r:id="rId9"/>'],
    ["on one content", '<sheet name="A" sheetId="1" r:id="rId1"/><sheet name="B" sheetId="2" r:id="rId1"/>'],
  ] as const)("two sheets %s", ([, sheets]) => {
    const parts = smallParts({});
    const text = (name: string): string => parts.find((p) => p.name === name)?.content as string;
    const changed = [
      { name: "xl/workbook.xml", content: text("xl/workbook.xml").replace(/<sheet [^>]*>/, sheets) },
      { name: "xl/worksheets/sheet2.xml", content: whole("") },
      {
        name: "xl/_rels/workbook.xml.rels",
        content: text("xl/_rels/workbook.xml.rels").replace(
          "</Relationships>",
          '<Relationship Id="rId9" Type="http://schemas.openxmlformats.org/officeDocument/2006/relationships/worksheet" Target="worksheets/sheet2.xml"/></Relationships>',
        ),
      },
    ];
    expectRefusal(smallBook({ parts: changed }), "doubled-sheet");
  });
});

describe("styles", () => {
  const cell = (style: string): string => `<row><c s="${style}"><v>1</v></c></row>`;
  test.for([
    ["0", undefined, 0],
    ["1", "mm-dd-yy", 0],
    ["2", "0.00", 0],
    ["3", undefined, 1],
    ["4294967295", undefined, 1],
    ["-1", undefined, 1],
    ["x", undefined, 1],
  ] as const)("style %s is %s, with %i warnings", ([style, format, warnings]) => {
    const workbook = read(smallBook({ data: cell(style), formats: FORMATS, codes: { 164: "0.00" } }));
    expect(cellsOf(workbook)[0]?.format).toBe(format);
    expect(workbook.findings.map((f) => [f.code, f.severity, f.sheet, f.cell])).toEqual(
      Array.from({ length: warnings }, () => ["style-out-of-range", "warning", "A", "A1"]),
    );
  });

  test("an empty cell with a style out of range is nobody's concern", () => {
    expect(read(smallBook({ data: '<row><c s="77"/></row>', formats: FORMATS })).findings).toEqual([]);
  });

  // Source: ECMA-376 part 1, 18.8.30.
  test.for([
    [9, "0%"],
    [10, "0.00%"],
    [11, "0.00E+00"],
    [14, "mm-dd-yy"],
    [22, "m/d/yy h:mm"],
    [30, "yyyy-mm-dd"],
    [37, "#,##0 ;(#,##0)"],
    [49, "@"],
    [57, "yyyy-mm-dd"],
    [0, undefined],
  ] as const)("built-in format %i is %s", ([id, code]) => {
    const workbook = read(smallBook({ data: cell("0"), formats: `<xf numFmtId="${id}"/>` }));
    expect(cellsOf(workbook)[0]?.format).toBe(code);
  });
});

describe("values and formulas", () => {
  test.for([
    ['<c t="b"><v>1</v></c>', { type: "boolean", raw: "1" }],
    ['<c t="e"><v>#DIV/0!</v></c>', { type: "error", raw: "#DIV/0!" }],
    ['<c t="d"><v>2026-03-02</v></c>', { type: "date-text", raw: "2026-03-02" }],
    ["<c><v>1e999</v></c>", { type: "number", raw: "1e999" }],
    ["<c><v>410.00000000000006</v></c>", { type: "number", raw: "410.00000000000006" }],
    ["<c><f>B1+1</f><v>3</v></c>", { type: "number", raw: "3", formula: "B1+1" }],
    ["<c><f>B1+1</f></c>", { type: "empty", raw: "", formula: "B1+1", unevaluated: true }],
    ["<c><f>B1+1</f><v></v></c>", { type: "empty", raw: "", formula: "B1+1", unevaluated: true }],
    ['<c t="str"><f>""</f><v></v></c>', { type: "text", raw: "", formula: '""' }],
    ['<c t="str"><f>IF(A1&lt;2,"&amp;","")</f><v>&amp;</v></c>', { type: "text", raw: "&", formula: 'IF(A1<2,"&","")' }],
    ['<c t="inlineStr"><is><t>x_x000D_y_x005F_x0041_</t></is></c>', { type: "text", raw: "x\ry_x0041_" }],
  ] as const)("%s", ([xml, expected]) => {
    expect(cellsOf(read(smallBook({ data: `<row>${xml}</row>` })))).toEqual([{ cell: "A1", row: 1, column: 1, ...expected }]);
  });

  test("cells that share a formula all quote it", () => {
    const data =
      '<row><c><f t="shared" ref="A1:A3" si="0">B1*2</f><v>2</v></c></row><row><c><f t="shared" si="0"/><v>4</v></c></row><row><c><f t="array" ref="A3">SUM(B1:B3)</f><v>6</v></c></row>';
    expect(cellsOf(read(smallBook({ data }))).map((c) => c.formula)).toEqual(["B1*2", "B1*2", "SUM(B1:B3)"]);
  });

  test.for([
    ["[1]Sheet1!A1", true],
    ["'[Book.xlsx]Sheet 1'!A1", true],
    ["cmd|'/c calc'!A0", true],
    ['"[1]Sheet1!A1"', false],
    ["Table[[#This Row],[d]]", false],
    ["Sheet1!A1", false],
  ] as const)("the formula %s leaves the workbook: %s", ([formula, leaves]) => {
    const { findings } = read(smallBook({ data: `<row><c><f>${formula}</f><v>1</v></c></row>` }));
    expect(findings.map((f) => [f.code, f.cell, f.actual])).toEqual(leaves ? [["external-link", "A1", `=${formula}`]] : []);
  });
});

describe("merged ranges", () => {
  const data = [1, 2, 3].map((r) => `<row r="${r}">${["A", "B", "C"].map((c) => `<c r="${c}${r}"><v>1</v></c>`).join("")}</row>`).join("");
  test.for([
    [["A1:B2"], ["A1", "C1", "C2", "A3", "B3", "C3"]],
    [["B2:A1"], ["A1", "C1", "C2", "A3", "B3", "C3"]],
    [
      ["A1:A3", "B1:C1"],
      ["A1", "B1", "B2", "C2", "B3", "C3"],
    ],
    [
      ["A1:C1", "A2:C2", "A3:C3"],
      ["A1", "A2", "A3"],
    ],
    [["A1:XFD1048576"], ["A1"]],
    [["nonsense"], ["A1", "B1", "C1", "A2", "B2", "C2", "A3", "B3", "C3"]],
  ] as const)("%j leaves %j", ([ranges, cells]) => {
    const sheet = whole(data).replace(
      "</worksheet>",
      `<mergeCells>${ranges.map((r) => `<mergeCell ref="${r}"/>`).join("")}</mergeCells></worksheet>`,
    );
    expect(cellsOf(read(smallBook({ sheet }))).map((c) => c.cell)).toEqual(cells);
  });
});

// Source: ECMA-376 part 1, 18.17.4.1; the leap day of 1900 that never was is serial 60.
describe("dates", () => {
  test.for([
    ["1", false, "1900-01-01", ""],
    ["59", false, "1900-02-28", ""],
    ["60", false, undefined, ""],
    ["61", false, "1900-03-01", ""],
    ["46083", false, "2026-03-02", ""],
    ["46083.75", false, "2026-03-02", "18:00:00"],
    ["46083.999999", false, "2026-03-03", ""],
    ["2958465", false, "9999-12-31", ""],
    ["2958466", false, undefined, ""],
    ["-1", false, undefined, ""],
    ["0", true, "1904-01-01", ""],
    ["60", true, "1904-03-01", ""],
    ["44621", true, "2026-03-02", ""],
    ["1e999", false, undefined, ""],
  ] as const)("serial %s with 1904 %s is %s %s", ([serial, date1904, date, time]) => {
    expect(serialToDate(serial, date1904)).toEqual(date === undefined ? undefined : { date, time });
  });

  test.for([
    ["", false],
    ["<workbookPr/>", false],
    ['<workbookPr date1904="0"/>', false],
    ['<workbookPr date1904="false"/>', false],
    ['<workbookPr date1904="1"/>', true],
    ["<workbookPr date1904='true'/>", true],
  ] as const)("%s: 1904 is %s", ([workbookProperties, expected]) => {
    expect(read(smallBook({ workbookProperties })).date1904).toBe(expected);
  });
});

describe("what is hidden is told", () => {
  test("rows, columns and sheets", () => {
    const sheet = `<worksheet><cols><col min="2" max="3" hidden="1"/><col min="4" max="4" hidden="0"/></cols><sheetData><row r="2" hidden="true"/></sheetData><autoFilter ref="A1:B2"/></worksheet>`;
    const workbook = smallParts({}).find((p) => p.name === "xl/workbook.xml")?.content as string;
    const parts = [{ name: "xl/workbook.xml", content: workbook.replace('sheetId="1"', 'sheetId="1" state="veryHidden"') }];
    const [found] = read(smallBook({ sheet, parts })).sheets;
    expect(found).toMatchObject({ hidden: true, hiddenRows: new Set([2]), hiddenColumns: new Set([2, 3]), filtered: true });
  });

  test("a signature and a link to another workbook", () => {
    const related = smallParts({}).find((p) => p.name.endsWith("workbook.xml.rels"))?.content as string;
    const link =
      '<Relationship Id="rId8" Type="http://schemas.openxmlformats.org/officeDocument/2006/relationships/externalLink" Target="externalLinks/externalLink1.xml"/></Relationships>';
    const parts = [
      { name: "_xmlsignatures/sig1.xml", content: "<a/>" },
      { name: "xl/_rels/workbook.xml.rels", content: related.replace("</Relationships>", link) },
    ];
    expect(read(smallBook({ parts })).findings.map((f) => [f.code, f.severity])).toEqual([
      ["signature-dropped", "warning"],
      ["external-link", "warning"],
    ]);
  });
});
