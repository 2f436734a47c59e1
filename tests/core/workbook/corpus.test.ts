/** What may come in, and what becomes of it. Source of every row: the rules for cells in docs/cells.md and the format itself. */
import { describe, expect, test } from "vitest";
import { annotateWorkbook, readWorkbook } from "../../../core/workbook/index.ts";
import { type Cell, type CorpusBook, cell, corpusBook, type Field, formula, MAIN, number, outcomeOf, STYLES, text } from "./corpus-book.ts";
import type { RawEntry } from "./raw-zip.ts";

/** A cell that gives a value, perhaps with a warning, or an error. */
type CellCase = readonly [
  name: string,
  cell: Cell,
  expected: string | readonly [value: string, warning: string] | { readonly error: string },
];

function holdCells(field: Field, cases: readonly CellCase[]): void {
  test.for(cases)("%s", ([, make, expected]) => {
    const found = outcomeOf(corpusBook({ row: { [field]: make } }));
    expect(found.refused).toBeUndefined();
    if (typeof expected === "object" && "error" in expected) {
      expect(found.findings).toContain(`!${expected.error}`);
      expect(found.fields).toEqual({});
      return;
    }
    const [value, warning] = typeof expected === "string" ? [expected] : expected;
    expect([found.fields[field], found.findings]).toEqual([value, warning === undefined ? [] : [warning]]);
  });
}
const error = (code: string): { readonly error: string } => ({ error: code });

const FIGURES: readonly CellCase[] = [
  ["a whole number", number("24"), "24"],
  ["a decimal", number("24.5"), "24.5"],
  ["15 digits are read", number("24.000000000000004"), "24"],
  ["a tail of rounding", number("410.00000000000006"), "410"],
  ["minus nought", number("-0"), "0"],
  ["nought", number("0"), "0"],
  ["an exponent stored by the program", number("2.4E1"), "24"],
  ["a small e", number("24e0"), "24"],
  ["a plus sign", number("+24"), "24"],
  ["trailing noughts", number("24.50"), "24.5"],
  ["no digit before the point", number(".5"), "0.5"],
  ["blanks round a stored number", number(" 24 "), "24"],
  ["a line break round a stored number", number("\n24\n"), "24"],
  ["overflow", number("1e999"), error("not-a-number")],
  ["underflow", number("1e-999"), "0"],
  ["infinity", number("INF"), error("not-a-number")],
  ["not a number", number("NaN"), error("not-a-number")],
  ["hexadecimal", number("0x18"), error("not-a-number")],
  ["two points", number("2.4.1"), error("not-a-number")],
  ["beyond the plausible", number("1001"), error("implausible")],
  ["below the plausible", number("-1"), error("implausible")],
  ["the edge of the plausible", number("1000"), "1000"],
  ["just over the edge", number("1000.0000000001"), error("implausible")],
  ["formatted as a date", number("24", STYLES.date), error("not-a-number")],
  ["formatted as a time", number("24", STYLES.time), error("not-a-number")],
  ["formatted as per cent", number("0.24", STYLES.percent), error("percent-cell")],
  ["formatted with an exponent", number("24", STYLES.exponent), "24"],
  ["a logical value", cell('t="b"', "<v>1</v>"), error("not-a-number")],
  ["an error value", cell('t="e"', "<v>#DIV/0!</v>"), error("error-value")],
  ["a day of its own type", cell('t="d"', "<v>2026-03-02</v>"), error("not-a-number")],
  ["text that is a number", text("24"), ["24", "number-as-text"]],
  ["text with blanks round it", text(" 24 "), ["24", "number-as-text"]],
  ["text with a no-break blank", text("24\u00a0"), ["24", "number-as-text"]],
  ["text with a narrow blank", text("\u202f24"), ["24", "number-as-text"]],
  ["text with the minus of the typesetter", text("\u22120"), ["0", "number-as-text"]],
  ["text with the decimal mark", text("24.5"), ["24.5", "number-as-text"]],
  ["text with the other mark", text("24,5"), error("ambiguous-number")],
  ["text that could be a thousand", text("1,234"), error("ambiguous-number")],
  ["thousands and decimals", text("1,234.5"), error("not-a-number")],
  ["a thin blank inside", text("1\u2009000"), error("not-a-number")],
  ["a unit", text("24 turns"), error("not-a-number")],
  ["about", text("~24"), error("not-a-number")],
  ["plus or minus", text("24 ±1"), error("not-a-number")],
  ["a fraction", text("24 ¾"), error("not-a-number")],
  ["a vulgar fraction", text("½"), error("not-a-number")],
  ["full-width digits", text("２４"), error("not-a-number")],
  ["Arabic digits", text("٢٤"), error("not-a-number")],
  ["an exponent as text", text("2.4e1"), error("not-a-number")],
  ["less than", text("&lt;24"), error("not-a-number")],
  ["more than: stopped unbroken", text("&gt;24"), "24"],
  ["more than, with blanks", text("&gt; 24"), "24"],
  ["more than or equal", text("&gt;=24"), error("not-a-number")],
  ["the letter O", text("2O"), error("not-a-number")],
  ["the letter l", text("l0"), error("not-a-number")],
  ["a zero-width blank", text("2\u200b4"), error("not-a-number")],
  ["a dash for nothing", text("-"), error("not-a-number")],
  ["a word", text("broken"), error("not-a-number")],
  ["an empty text: nothing was typed", text(""), error("missing-value")],
  ["blanks only", text("   "), error("missing-value")],
  ["a cell with a format and nothing else", cell('s="3"', ""), error("missing-value")],
  ["a formula with its value", formula("12+12", "24"), "24"],
  ["a formula without a value", formula("12+12", undefined), error("formula-without-value")],
  ["a formula with an empty value", formula("12+12", ""), error("formula-without-value")],
  ["a formula whose value is text", formula("A1", "24", "str"), ["24", "number-as-text"]],
  ["a formula with an error", formula("1/0", "#DIV/0!", "e"), error("error-value")],
  ["NOW", formula("NOW()", "24"), error("volatile-formula")],
  ["RAND, in lower case", formula("24+0*rand()", "24"), error("volatile-formula")],
  ["RANDARRAY under its prefix", formula("_xlfn.RANDARRAY(1)", "24"), error("volatile-formula")],
  ["INDIRECT", formula('INDIRECT("A1")', "24"), error("volatile-formula")],
  ["OFFSET", formula("OFFSET(A1,1,1)", "24"), error("volatile-formula")],
  ["a word that only looks volatile, in quotation marks", formula('IF("NOW()"="",1,24)', "24"), "24"],
  ["a link to another workbook", formula("[1]Sheet1!A1", "24"), ["24", "external-link"]],
  ["a link by path", formula("'C:\\lab\\[old.xlsx]A'!B2", "24"), ["24", "external-link"]],
  ["DDE", formula("cmd|'/c calc'!A0", "24"), ["24", "external-link"]],
  ["an array formula", cell("", '<f t="array" ref="E2">SUM(1,23)</f><v>24</v>'), "24"],
  ["a shared formula", cell("", '<f t="shared" ref="E2:E3" si="0">20+4</f><v>24</v>'), "24"],
];

const DAYS: readonly CellCase[] = [
  ["a date cell", number("46083", STYLES.date), "2026-03-02"],
  ["a time of day with it", number("46083.75", STYLES.date), "2026-03-02"],
  ["ISO text", text("2026-03-02"), "2026-03-02"],
  ["ISO text with a time", text("2026-03-02T10:30:00"), "2026-03-02"],
  ["its own type", cell('t="d"', "<v>2026-03-02</v>"), "2026-03-02"],
  ["its own type with a time", cell('t="d"', "<v>2026-03-02T10:30:00Z</v>"), "2026-03-02"],
  ["the last day of February", number("46081", STYLES.date), "2026-02-28"],
  ["a leap day", number("45351", STYLES.date), "2024-02-29"],
  ["today", number("46203", STYLES.date), "2026-06-30"],
  ["tomorrow", number("46204", STYLES.date), error("date-ahead")],
  ["before 1990", number("32873", STYLES.date), error("date-too-early")],
  ["the first day accepted", number("32874", STYLES.date), "1990-01-01"],
  ["the day that never was", number("60", STYLES.date), error("not-a-date")],
  ["a negative serial", number("-1", STYLES.date), error("not-a-date")],
  ["beyond the calendar", number("2958466", STYLES.date), error("not-a-date")],
  ["a number without a date format", number("46083"), error("not-a-date")],
  ["a number formatted as time", number("0.5", STYLES.time), error("not-a-date")],
  ["day first", text("02.03.2026"), error("not-a-date")],
  ["month first", text("3/2/2026"), error("not-a-date")],
  ["two digits of the year", text("26-03-02"), error("not-a-date")],
  ["a thirteenth month", text("2026-13-01"), error("not-a-date")],
  ["the thirtieth of February", text("2026-02-30"), error("not-a-date")],
  ["a word", text("today"), error("not-a-date")],
  ["a logical value", cell('t="b"', "<v>1</v>"), error("not-a-date")],
  ["TODAY", cell('s="1"', "<f>TODAY()</f><v>46083</v>"), error("volatile-formula")],
  ["a formula", cell('s="1"', "<f>46082+1</f><v>46083</v>"), "2026-03-02"],
];

const NAMES: readonly CellCase[] = [
  ["a name", text("P-17/3"), "P-17/3"],
  ["leading zeros", text("00017"), "00017"],
  ["blanks round it", text("  P1 "), ["P1", "blanks-trimmed"]],
  ["a no-break blank", text("P1\u00a0"), ["P1", "blanks-trimmed"]],
  ["blanks inside stay", text("P 1"), "P 1"],
  ["a number", number("17"), ["17", "identifier-as-number"]],
  ["a number with a fraction", number("17.5"), error("not-an-identifier")],
  ["a number that lost digits", number("1234567890123456"), error("not-an-identifier")],
  ["a number shown with an exponent", number("17", STYLES.exponent), error("not-an-identifier")],
  ["a number shown as a date", number("46083", STYLES.date), error("not-an-identifier")],
  ["a negative number", number("-17"), error("not-an-identifier")],
  ["a logical value", cell('t="b"', "<v>0</v>"), error("not-an-identifier")],
  ["two parts that make one letter", text("Pru\u0308fung"), "Prüfung"],
  ["a direction mark", text("P\u202e1"), error("hidden-character")],
  ["a zero-width joiner", text("P\u200d1"), error("hidden-character")],
  ["a byte order mark inside", text("P\ufeff1"), error("hidden-character")],
  ["a control character by its escape", text("P_x0007_1"), error("hidden-character")],
  ["a tab inside", text("P\t1"), error("hidden-character")],
  ["64 characters", text("P".repeat(64)), "P".repeat(64)],
  ["65 characters", text("P".repeat(65)), error("identifier-too-long")],
  ["64 characters beyond the first plane", text("𝔓".repeat(64)), "𝔓".repeat(64)],
  ["an escape that is none", text("P_x00_1"), "P_x00_1"],
  ["an escaped underscore", text("P_x005F_x0041_"), "P_x0041_"],
  ["an error value", cell('t="e"', "<v>#REF!</v>"), error("error-value")],
];

const COILS: readonly CellCase[] = [
  ["the registered name", text("C1"), "C1"],
  ["in the other case", text("c1"), error("near-match")],
  ["a Cyrillic letter", text("С1"), error("near-match")],
  ["the letter l for the digit", text("Cl"), error("near-match")],
  ["the letter I for the digit", text("CI"), error("near-match")],
  ["a blank inside", text("C 1"), error("near-match")],
  ["full-width", text("Ｃ１"), error("near-match")],
  ["a dash more is another name", text("C-1"), "C-1"],
];

const WORDS: readonly CellCase[] = [
  ["the word", text("clear"), "clear"],
  ["in capitals", text("CLEAR"), ["clear", "word-respelled"]],
  ["with blanks", text(" clear "), ["clear", "blanks-trimmed"]],
  ["another", text("maybe"), error("not-allowed")],
  ["a number", number("1"), error("not-allowed")],
  ["a logical value", cell('t="b"', "<v>1</v>"), error("not-allowed")],
  ["a look-alike", text("сlear"), error("not-allowed")],
];

/** Texts that mean something elsewhere: here they stay text, whatever becomes of them. */
const TEXTS: readonly (readonly [name: string, text: string])[] = [
  ["a formula", '=HYPERLINK("http://example.invalid","x")'],
  ["a formula by plus", "+1+1"],
  ["a formula by minus", "-1+1"],
  ["a formula by at", "@SUM(A1)"],
  ["DDE", "=cmd|' /C calc'!A0"],
  ["markup", '<script>alert("1")</script>'],
  ["an attribute's end", '" onmouseover="x'],
  ["an entity", "&lt;b&gt; &amp;amp; &#0;"],
  ["CDATA's end", "]]>"],
  ["a template", "{{constructor.constructor('return 1')()}}"],
  ["another template", "{{#each this}}{{{.}}}{{/each}}"],
  ["a shell", "$(touch x); `touch x`"],
  ["a path", "../../../etc/passwd"],
  ["a path of another system", "..\\..\\con"],
  ["a mail header", "x\nBcc: all@example.invalid"],
  ["SQL", "'; DROP TABLE coil; --"],
  ["a prototype", "__proto__"],
  ["another prototype", "constructor"],
  ["a format string", "%s%n%x"],
  ["JSON", '{"verdict":"conforms"}'],
  ["an escape of the format", "_x003C_b_x003E_"],
  ["our own words", "■ conforms"],
  ["a right-to-left override", "abc\u202ecba"],
  ["an emoji of several parts", "👩‍🔬 ok"],
  ["a long dash and quotes", "„so“ – “so”"],
];
const asXml = (value: string): string =>
  value.replaceAll("_x", "_x005F_x").replaceAll("&", "&amp;").replaceAll("<", "&lt;").replaceAll(">", "&gt;");

const same = (change: CorpusBook): CorpusBook => change;
const swap = (from: string, to: string): CorpusBook => ({ sheet: (xml) => xml.replaceAll(from, to) });
const utf16 = (xml: string, little: boolean, mark: boolean): Uint8Array => {
  const wide = Buffer.from((mark ? "\ufeff" : "") + xml.replace('encoding="UTF-8"', 'encoding="UTF-16"'), "utf16le");
  return new Uint8Array(little ? wide : wide.swap16());
};
/** Legal ways to write the same workbook: each reads as the plain one. */
const ODDITIES: readonly (readonly [name: string, book: CorpusBook])[] = [
  ["a byte order mark", { sheet: (xml) => `\ufeff${xml}` }],
  ["UTF-16, little end first, marked", { sheet: (xml) => utf16(xml, true, true) }],
  ["UTF-16, big end first, marked", { sheet: (xml) => utf16(xml, false, true) }],
  ["UTF-16 without a mark", { sheet: (xml) => utf16(xml, true, false) }],
  ["no XML declaration", { sheet: (xml) => xml.replace(/^<\?xml.*?\?>\n/, "") }],
  ["single quotes", { sheet: (xml) => xml.replaceAll(/ (\w+)="([^"']*)"/g, " $1='$2'") }],
  ["blanks round the equals sign", { sheet: (xml) => xml.replaceAll(/ r="/g, ' r = "') }],
  ["a line break inside the tags", { sheet: (xml) => xml.replaceAll("<c r=", "<c\n r=") }],
  ["a blank before the end of tags", { sheet: (xml) => xml.replaceAll('">', '" >') }],
  ["a blank in closing tags", { sheet: (xml) => xml.replaceAll("</c>", "</c >") }],
  ["blanks between the elements", { sheet: (xml) => xml.replaceAll("><", ">\n <").replaceAll(/<is>\s*<t/g, "<is><t") }],
  ["a prefix for everything", { sheet: (xml) => xml.replaceAll(/<(\/?)(\w)/g, "<$1x:$2").replace("xmlns=", "xmlns:x=") }],
  ["the strict namespace", swap(MAIN, "http://purl.oclc.org/ooxml/spreadsheetml/main")],
  ["comments between cells", swap("</c>", "</c><!-- </row> <c> -->")],
  ["a comment in a value", swap("<v>24</v>", "<v>2<!-- x -->4</v>")],
  ["CDATA in a value", swap("<v>24</v>", "<v><![CDATA[24]]></v>")],
  ["a processing instruction", swap("<sheetData>", '<sheetData><?print "x" ?>')],
  ["a character reference", swap("<v>24</v>", "<v>&#50;&#x34;</v>")],
  ["an attribute on v", swap("<v>24</v>", '<v xml:space="preserve">24</v>')],
  ["an attribute nobody knows", swap("<row r=", '<row foo="1" r=')],
  [
    "an attribute of another namespace",
    {
      sheet: (xml) => xml.replaceAll("<row r=", '<row x14ac:dyDescent="0.25" r=').replace("<worksheet ", '<worksheet xmlns:x14ac="urn:x" '),
    },
  ],
  ["no references on cells", { sheet: (xml) => xml.replaceAll(/<c r="[A-Z]+\d+"/g, "<c") }],
  ["no references on rows", { sheet: (xml) => xml.replaceAll(/<row r="\d+"/g, "<row") }],
  [
    "references in lower case",
    { sheet: (xml) => xml.replaceAll(/r="([A-Z])(\d)"/g, (_, c: string, r: string) => `r="${c.toLowerCase()}${r}"`) },
  ],
  ["cells out of order", { sheet: (xml) => xml.replace(/(<row r="2">)(<c .*?<\/c>)(.*?)(<\/row>)/, "$1$3$2$4") }],
  ["rows out of order", { sheet: (xml) => xml.replace(/(<row r="1">.*?<\/row>)(<row r="2">.*?<\/row>)/, "$2$1") }],
  ["an empty row between", { moreRows: '<row r="9"/><row r="7" hidden="0"></row>' }],
  [
    "an extension behind the rows",
    swap(
      "</worksheet>",
      '<extLst><ext uri="{x}"><sheetData><row r="2"><c r="E2"><v>99</v></c></row></sheetData></ext></extLst></worksheet>',
    ),
  ],
  ["an extension inside a cell", swap("<v>24</v>", "<v>24</v><extLst><ext><v>99</v></ext></extLst>")],
  ["a dimension that lies", swap("<sheetData>", '<dimension ref="A1:XFD1048576"/><sheetData>')],
  ["spans that lie", swap('<row r="2">', '<row r="2" spans="1:2">')],
  ["rich text", { row: { testPiece: cell('t="inlineStr"', "<is><r><t>P</t></r><r><rPr><b/></rPr><t>1</t></r></is>") } }],
  ["a phonetic guide", { row: { testPiece: cell('t="inlineStr"', '<is><t>P1</t><rPh sb="0" eb="1"><t>pi</t></rPh></is>') } }],
  ["shared texts", same({ strings: "<si><t>P1</t></si>", row: { testPiece: cell('t="s"', "<v>0</v>") } })],
  ["shared rich texts", same({ strings: "<si><r><t>P</t></r><r><t>1</t></r></si>", row: { testPiece: cell('t="s"', "<v> 0 </v>") } })],
  ["a shared text with a reference", same({ strings: "<si><t>&#80;1</t></si>", row: { testPiece: cell('t="s"', "<v>0</v>") } })],
  [
    "the 1904 calendar",
    same({ workbook: (xml) => xml.replace("<workbookPr/>", '<workbookPr date1904="true"/>'), row: { date: number("44621", STYLES.date) } }),
  ],
  [
    "a hidden second sheet part nobody names",
    { parts: (parts) => [...parts, { name: "xl/worksheets/sheet9.xml", content: "not even XML" }] },
  ],
  ["parts in another order", { parts: (parts) => [...parts].reverse() }],
  ["parts that are stored", { parts: (parts) => parts.map((part) => ({ ...part, method: 0 })) }],
  ["sizes behind the data", { parts: (parts) => parts.map((part) => ({ ...part, descriptor: true })) }],
  ["64-bit figures", { parts: (parts) => parts.map((part) => ({ ...part, zip64: true })), options: { zip64End: true } }],
  ["an archive comment", { options: { comment: "made by hand" } }],
];

const partNamed = (name: string, change: (entry: RawEntry) => RawEntry): CorpusBook => ({
  parts: (parts) => parts.map((part) => (part.name === name ? change(part) : part)),
});
const more = (...entries: readonly RawEntry[]): CorpusBook => ({ parts: (parts) => [...parts, ...entries] });
const SHEET = "xl/worksheets/sheet1.xml";
const BLANKS = new Uint8Array(3 * 1024 * 1024).fill(32);
const REFUSED: readonly (readonly [name: string, book: CorpusBook, code: string])[] = [
  // the package
  ["a name that climbs out", more({ name: "../evil.xml", content: "x" }), "bad-entry-name"],
  ["a name that climbs out later", more({ name: "xl/../../evil.xml", content: "x" }), "bad-entry-name"],
  ["an absolute name", more({ name: "/etc/passwd", content: "x" }), "bad-entry-name"],
  ["a drive", more({ name: "C:evil.xml", content: "x" }), "bad-entry-name"],
  ["a back-slash", more({ name: "xl\\evil.xml", content: "x" }), "bad-entry-name"],
  ["a NUL in a name", more({ name: "xl/a\u0000.xml", content: "x" }), "bad-entry-name"],
  ["an empty name", more({ name: "", content: "x" }), "bad-entry-name"],
  ["a link", more({ name: "xl/link", content: "/etc/passwd", attributes: (0o120777 << 16) >>> 0 }), "bad-entry-name"],
  ["the sheet twice", more({ name: SHEET, content: "<x/>" }), "doubled-entry"],
  ["the sheet twice, by case", more({ name: "xl/worksheets/SHEET1.xml", content: "<x/>" }), "doubled-entry"],
  ["a folder of the sheet's name", more({ name: `${SHEET}/`, content: "" }), "doubled-entry"],
  ["an encrypted part", partNamed(SHEET, (part) => ({ ...part, flags: 0x801 })), "encrypted-entry"],
  ["a part encrypted in its own header", partNamed(SHEET, (part) => ({ ...part, localFlags: 0x801 })), "encrypted-entry"],
  ["another method", partNamed(SHEET, (part) => ({ ...part, method: 12 })), "unknown-method"],
  ["a wrong checksum", partNamed(SHEET, (part) => ({ ...part, crc: 1 })), "wrong-checksum"],
  ["a wrong checksum in a part nobody reads", more({ name: "xl/media/a.png", content: "x", crc: 1 }), "wrong-checksum"],
  ["a size too small", partNamed(SHEET, (part) => ({ ...part, size: 10 })), "damaged-package"],
  ["a size too large", partNamed(SHEET, (part) => ({ ...part, size: 100_000 })), "damaged-package"],
  ["a size of four gigabytes", partNamed(SHEET, (part) => ({ ...part, size: 0xfffffff0 })), "too-large"],
  ["another name in its own header", partNamed(SHEET, (part) => ({ ...part, localName: "xl/worksheets/sheet2.xml" })), "damaged-package"],
  ["packed bytes that are none", partNamed(SHEET, (part) => ({ ...part, packed: new Uint8Array([7, 7, 7, 7]) })), "damaged-package"],
  ["a place beyond the file", partNamed(SHEET, (part) => ({ ...part, place: 0x7fffffff })), "damaged-package"],
  ["two names for one place", partNamed(SHEET, (part) => ({ ...part, place: 0 })), "damaged-package"],
  ["bytes before the package", { options: { before: new Uint8Array(64).fill(65) } }, "junk-before-package"],
  ["bytes before it, counted away", { options: { before: new Uint8Array(64).fill(65), shifted: true } }, "junk-before-package"],
  ["fewer entries than it says", { options: { count: 3 } }, "damaged-package"],
  ["more entries than it says", { options: { count: 60 } }, "damaged-package"],
  ["too many entries", { options: { count: 60_000 } }, "too-many-entries"],
  ["a dense part", more({ name: "xl/media/a.bin", content: BLANKS }), "too-dense"],
  ["a dense sheet", { sheet: (xml) => xml.replace("<sheetData>", `<sheetData>${" ".repeat(3 * 1024 * 1024)}`) }, "too-dense"],
  ["macros", more({ name: "xl/vbaProject.bin", content: "x" }), "macro-carrying"],
  [
    "macros under another name",
    partNamed("[Content_Types].xml", (part) => ({
      ...part,
      content: String(part.content).replace("sheet.main+xml", "sheet.macroEnabled.main+xml"),
    })),
    "macro-carrying",
  ],
  ["macro sheets", more({ name: "xl/macrosheets/sheet1.xml", content: "<x/>" }), "macro-carrying"],
  [
    "a binary workbook",
    partNamed("[Content_Types].xml", (part) => ({
      ...part,
      content: String(part.content).replace(
        /ContentType="[^"]*sheet\.main\+xml"/,
        'ContentType="application/vnd.ms-excel.sheet.binary.macroEnabled.main"',
      ),
    })),
    "macro-carrying",
  ],
  [
    "an OpenDocument file",
    { parts: () => [{ name: "mimetype", content: "application/vnd.oasis.opendocument.spreadsheet", method: 0 }] },
    "opendocument",
  ],
  ["a ZIP of something else", { parts: () => [{ name: "a.txt", content: "x" }] }, "not-a-workbook"],
  ["no sheet part", { parts: (parts) => parts.filter((part) => part.name !== SHEET) }, "missing-part"],
  ["no workbook part", { parts: (parts) => parts.filter((part) => part.name !== "xl/workbook.xml") }, "not-a-workbook"],
  ["no relationships", { parts: (parts) => parts.filter((part) => part.name !== "_rels/.rels") }, "missing-part"],
  [
    "a sheet outside the package",
    partNamed("xl/_rels/workbook.xml.rels", (part) => ({
      ...part,
      content: String(part.content).replace(
        'Target="worksheets/sheet1.xml"',
        'Target="http://example.invalid/a.xml" TargetMode="External"',
      ),
    })),
    "missing-part",
  ],
  [
    "a relationship twice",
    partNamed("xl/_rels/workbook.xml.rels", (part) => ({ ...part, content: String(part.content).replace("rId2", "rId1") })),
    "damaged-package",
  ],
  [
    "two sheets that differ by case",
    { workbook: (xml) => xml.replace("</sheets>", '<sheet name="TORSION" sheetId="2" r:id="rId1"/></sheets>') },
    "doubled-sheet",
  ],
  ["no sheets", { workbook: (xml) => xml.replace(/<sheet .*?\/>/, "") }, "no-sheets"],
  // XML
  ["a document type", { sheet: (xml) => xml.replace("<worksheet", "<!DOCTYPE worksheet><worksheet") }, "doctype"],
  [
    "a thousand million laughs",
    {
      sheet: (xml) =>
        xml.replace("<worksheet", '<!DOCTYPE lolz [<!ENTITY a "ha"><!ENTITY b "&a;&a;">]><worksheet').replace("<v>24</v>", "<v>&b;</v>"),
    },
    "doctype",
  ],
  [
    "a file as an entity",
    { sheet: (xml) => xml.replace("<worksheet", '<!DOCTYPE x [<!ENTITY f SYSTEM "file:///etc/passwd">]><worksheet') },
    "doctype",
  ],
  ["a document type in lower case", { sheet: (xml) => xml.replace("<worksheet", "<!doctype worksheet><worksheet") }, "doctype"],
  [
    "a document type in UTF-16",
    { sheet: (xml) => utf16(xml.replace("<worksheet", "<!DOCTYPE worksheet><worksheet"), true, true) },
    "doctype",
  ],
  [
    "a document type in the relationships",
    partNamed("_rels/.rels", (part) => ({
      ...part,
      content: String(part.content).replace("<Relationships", "<!DOCTYPE x><Relationships"),
    })),
    "doctype",
  ],
  ["an entity nobody declared", swap("<v>24</v>", "<v>&nbsp;</v>"), "malformed-xml"],
  ["an ampersand alone", swap("<v>24</v>", "<v>2 & 4</v>"), "malformed-xml"],
  ["a reference to nothing", swap("<v>24</v>", "<v>&#0;</v>"), "malformed-xml"],
  ["a reference to half a pair", swap("<v>24</v>", "<v>&#xD800;</v>"), "malformed-xml"],
  ["a control character", swap("<v>24</v>", "<v>2\u00014</v>"), "malformed-xml"],
  [
    "UTF-8 that is none",
    {
      sheet: (xml) => {
        const bytes = Buffer.from(xml.replace("<v>24</v>", "<v>2XX4</v>"));
        bytes.fill(0xc0, bytes.indexOf("XX"), bytes.indexOf("XX") + 1);
        return new Uint8Array(bytes);
      },
    },
    "malformed-text",
  ],
  ["an encoding nobody reads", swap('encoding="UTF-8"', 'encoding="EBCDIC-US"'), "malformed-text"],
  ["an element that does not end", swap("</sheetData>", ""), "malformed-xml"],
  ["elements that cross", swap("</v></c></row>", "</v></row></c>"), "malformed-xml"],
  ["two roots", swap("</worksheet>", "</worksheet><worksheet/>"), "malformed-xml"],
  ["text behind the root", swap("</worksheet>", "</worksheet>x"), "malformed-xml"],
  ["an attribute twice", swap('<row r="2"', '<row r="2" r="2"'), "malformed-xml"],
  ["an attribute without quotation marks", swap('<row r="2"', "<row r=2"), "malformed-xml"],
  ["a < in an attribute", swap('<row r="2"', '<row r="2" x="<"'), "malformed-xml"],
  ["a prefix nobody declared", swap('<row r="2"', '<row y:z="1" r="2"'), "malformed-xml"],
  ["CDATA's end in a text", swap("<v>24</v>", "<v>24]]></v>"), "malformed-xml"],
  ["two hyphens in a comment", swap("<sheetData>", "<sheetData><!-- a -- b -->"), "malformed-xml"],
  ["an instruction that says xml", swap("<sheetData>", '<sheetData><?xml version="1.0"?>'), "malformed-xml"],
  ["nesting of 300", swap("</worksheet>", `${"<a>".repeat(300)}${"</a>".repeat(300)}</worksheet>`), "too-deep"],
  ["an empty part", { sheet: () => "" }, "malformed-xml"],
  ["a part of blanks", { sheet: () => "   " }, "malformed-xml"],
  ["another root", { sheet: (xml) => xml.replaceAll("worksheet", "chartsheet") }, "malformed-sheet"],
  // cells
  ["a row twice", { moreRows: '<row r="2"/>' }, "doubled-row"],
  ["a row twice, one without its number", { moreRows: '<row r="1"/>' }, "doubled-row"],
  ["a cell twice", swap("</c></row></sheetData>", '</c><c r="E2"><v>25</v></c></row></sheetData>'), "doubled-cell"],
  ["two values in a cell", swap("<v>24</v>", "<v>24</v><v>25</v>"), "malformed-sheet"],
  ["a cell of another row", swap('r="E2"', 'r="E3"'), "malformed-sheet"],
  ["a cell without a column", swap('r="E2"', 'r="2"'), "malformed-sheet"],
  ["a cell of four letters", swap('r="E2"', 'r="AAAA2"'), "malformed-sheet"],
  ["a cell beyond the last column", swap('r="I1"', 'r="XFE1"'), "malformed-sheet"],
  ["row nought", { moreRows: '<row r="0"/>' }, "malformed-sheet"],
  ["a row beyond the last", { moreRows: '<row r="1048577"/>' }, "malformed-sheet"],
  ["a row in a row", { moreRows: '<row r="5"><row r="6"/></row>' }, "malformed-sheet"],
  ["a cell outside of rows", swap("</sheetData>", '<c r="A9"><v>1</v></c></sheetData>'), "malformed-sheet"],
  ["rows twice", swap("</sheetData>", "</sheetData><sheetData/>"), "malformed-sheet"],
  [
    "a shared text that is not there",
    { strings: "<si><t>P1</t></si>", row: { testPiece: cell('t="s"', "<v>1</v>") } },
    "string-out-of-range",
  ],
  ["a shared text of minus one", { strings: "<si><t>P1</t></si>", row: { testPiece: cell('t="s"', "<v>-1</v>") } }, "string-out-of-range"],
  ["shared texts without a list", { row: { testPiece: cell('t="s"', "<v>0</v>") } }, "string-out-of-range"],
  ["a text too long", { row: { remark: text("ab".repeat(16_384)) } }, "text-too-long"],
];

describe("figures", () => holdCells("turns", FIGURES));
describe("days", () => holdCells("date", DAYS));
describe("names", () => holdCells("testPiece", NAMES));
describe("names of coils beside a registered one", () => holdCells("coil", COILS));
describe("listed words", () => holdCells("breakAt", WORDS));

describe("texts that mean something elsewhere stay text", () => {
  test.for(TEXTS)("%s", ([, value]) => {
    const bytes = corpusBook({ row: { remark: text(asXml(value)) } });
    expect(outcomeOf(bytes).fields["remark"]).toBe(value.normalize("NFC"));
    const marked = annotateWorkbook(bytes, {
      sheets: [
        { name: "Torsion", headerRow: 1, columns: [{ header: "Why", width: 20, cells: new Map([[2, { text: value, style: "plain" }]]) }] },
      ],
      findings: { name: "Findings", rows: [["Text"], [value]], widths: [20] },
    });
    const again = readWorkbook(marked);
    if (!again.ok) throw new Error(again.refusal.text);
    const cells = again.workbook.sheets.flatMap((sheet) => [...sheet.rows.values()].flat());
    expect(cells.filter((one) => one.raw === value).length).toBe(3);
    expect(cells.filter((one) => one.formula !== undefined)).toEqual([]);
  });
});

describe("legal oddities read as the plain workbook", () => {
  const plain = outcomeOf(corpusBook());
  test("which is read without a word", () => {
    expect(plain).toEqual({
      findings: [],
      fields: { testPiece: "P1", coil: "C1", diameter: "2", freeLength: "200", turns: "24", date: "2026-03-02" },
    });
  });
  test.for(ODDITIES)("%s", ([, book]) => {
    const bytes = corpusBook(book);
    expect(bytes).not.toEqual(corpusBook());
    expect(outcomeOf(bytes)).toEqual(plain);
  });
});

describe("what is refused, and as what", () => {
  test.for(REFUSED)("%s", ([, book, code]) => {
    expect(outcomeOf(corpusBook(book)).refused).toBe(code);
  });
});

test("the corpus holds at least 200 cases, no name twice in its table", () => {
  const tables = [FIGURES, DAYS, NAMES, COILS, WORDS, TEXTS, ODDITIES, REFUSED].map((table) => table.map(([name]) => name));
  expect(tables.flat().length).toBeGreaterThanOrEqual(200);
  for (const names of tables) expect(new Set(names).size).toBe(names.length);
});
