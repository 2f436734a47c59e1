/** What a clerk's workbook has beside its cells survives the marks: to the byte, and in the eyes of other programs. */
import { spawnSync } from "node:child_process";
import { mkdtempSync, readFileSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { unzipSync } from "fflate";
import { afterAll, beforeAll, describe, expect, test } from "vitest";
import { type Annotation, annotateWorkbook } from "../../../core/workbook/index.ts";
import { readDirectory } from "../../../core/workbook/package.ts";
import { ZLIB } from "../../../worker/zlib-codec.ts";
import { officeConvert } from "../../helpers/office.ts";
import { describeWith, hasTool } from "../../helpers/tools.ts";
import { type RawEntry, rawZip } from "./raw-zip.ts";
import { read } from "./small-book.ts";

/** Invented: a sheet with a bar chart, a line chart, a picture, comments, a table, names, rules, validations, protection, page set-up. */
const MAKE = `
import openpyxl, sys, zlib, struct
from openpyxl.chart import BarChart, LineChart, Reference
from openpyxl.comments import Comment
from openpyxl.formatting.rule import ColorScaleRule, CellIsRule, DataBarRule
from openpyxl.styles import PatternFill, Font
from openpyxl.worksheet.datavalidation import DataValidation
from openpyxl.worksheet.table import Table
from openpyxl.workbook.defined_name import DefinedName
book = openpyxl.Workbook()
wrap = book.active
wrap.title = "Wrap"
wrap.append(["Test piece", "Wraps", "Remark"])
for n in range(1, 40): wrap.append(["P%d" % n, 8 + n % 3, "note %d" % n])
wrap["E1"] = "aside"
for kind, place in ((BarChart, "H2"), (LineChart, "H20")):
    chart = kind()
    chart.add_data(Reference(wrap, min_col=2, min_row=1, max_row=40), titles_from_data=True)
    wrap.add_chart(chart, place)
wrap["A2"].comment = Comment("cut from the outer end", "a tester")
wrap["B5"].comment = Comment("second look", "a tester")
wrap.conditional_formatting.add("B2:B40", ColorScaleRule(start_type="min", start_color="FF0000", end_type="max", end_color="00FF00"))
wrap.conditional_formatting.add("B2:B40", CellIsRule(operator="lessThan", formula=["8"], fill=PatternFill("solid", bgColor="FFC7CE"), font=Font(bold=True)))
wrap.conditional_formatting.add("B2:B40", DataBarRule(start_type="num", start_value=0, end_type="num", end_value=20, color="638EC6"))
for rule in (DataValidation(type="list", formula1='"a,b,c"'), DataValidation(type="whole", operator="between", formula1="1", formula2="50")):
    wrap.add_data_validation(rule)
    rule.add("C2:C40" if rule.type == "list" else "B2:B1000")
wrap.freeze_panes = "B2"
wrap.protection.sheet = True
wrap.protection.password = "lab"
wrap.print_title_rows = "1:1"
wrap.oddHeader.center.text = "Wrap tests"
wrap.sheet_properties.tabColor = "1072BA"
wrap.row_dimensions[7].hidden = True
other = book.create_sheet("Mine")
for n in range(1, 8): other.append(["k%d" % n, n])
other["A1"], other["B1"] = "key", "value"
other.add_table(Table(displayName="Mine1", ref="A1:B7"))
other.merge_cells("D1:F3")
other["D5"] = "=SUM(B2:B7)"
book.defined_names.append(DefinedName("mine", attr_text="Mine!$B$2:$B$7")) if hasattr(book.defined_names, "append") else None
book.create_chartsheet("Chart").add_chart(BarChart())
try:
    import io
    from openpyxl.drawing.image import Image
    def chunk(kind, data): return struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data))
    png = b"\\x89PNG\\r\\n\\x1a\\n" + chunk(b"IHDR", struct.pack(">IIBBBBB", 8, 8, 8, 2, 0, 0, 0)) + chunk(b"IDAT", zlib.compress(b"".join(b"\\0" + b"\\x10\\x72\\xba" * 8 for _ in range(8)))) + chunk(b"IEND", b"")
    picture = Image(io.BytesIO(png))
    wrap.add_image(picture, "H40")
except ImportError: pass
book.save(sys.argv[1])
`;

const PYTHON = "/usr/bin/python3";
const hasOpenpyxl = hasTool(PYTHON) && spawnSync(PYTHON, ["-c", "import openpyxl"]).status === 0;

/** Parts of a pivot table and of whatever else a program may keep beside the cells; nobody here knows their meaning. */
const STRANGERS: readonly RawEntry[] = [
  { name: "xl/pivotCache/pivotCacheDefinition1.xml", content: '<pivotCacheDefinition xmlns="urn:invented" refreshOnLoad="1"/>' },
  { name: "xl/pivotCache/pivotCacheRecords1.xml", content: '<pivotCacheRecords xmlns="urn:invented" count="0"/>' },
  { name: "xl/pivotTables/pivotTable1.xml", content: '<pivotTableDefinition xmlns="urn:invented" name="p"/>' },
  { name: "customXml/item1.xml", content: "<lab xmlns='urn:invented'>kept</lab>" },
  { name: "xl/printerSettings/printerSettings1.bin", content: new Uint8Array([1, 2, 3, 255]) },
  { name: "docProps/custom.xml", content: "<Properties xmlns='urn:invented'/>", method: 0 },
];

const ANNOTATION: Annotation = {
  sheets: [
    {
      name: "Wrap",
      headerRow: 1,
      columns: [
        {
          header: "Verdict",
          width: 20,
          cells: new Map([
            [2, { text: "■ conforms", style: "conforms" }],
            [3, { text: "✕ does not conform", style: "does-not-conform" }],
          ]),
        },
        { header: "Why", width: 60, cells: new Map([[2, { text: "8 wraps, no cracks", style: "plain" }]]) },
      ],
    },
  ],
  findings: {
    name: "Findings",
    rows: [
      ["Severity", "Cell"],
      ["error", "C3"],
    ],
    widths: [10, 10],
  },
};

let folder = "";
beforeAll(() => {
  folder = mkdtempSync(join(tmpdir(), "coilbook-fidelity-"));
});
afterAll(() => rmSync(folder, { recursive: true, force: true }));

/** Holds the copy to the original, part by part. @returns names of the parts that changed or are new */
function partsChanged(before: Uint8Array, after: Uint8Array): readonly string[] {
  const packed = (bytes: Uint8Array): Map<string, Buffer> =>
    new Map(
      readDirectory(bytes).map((entry) => [
        entry.name,
        Buffer.from(bytes.subarray(entry.dataStart, entry.dataStart + entry.compressedSize)),
      ]),
    );
  const [old, now] = [packed(before), packed(after)];
  expect([...old.keys()].filter((name) => !now.has(name))).toEqual([]);
  return [...now].filter(([name, content]) => old.get(name)?.equals(content) !== true).map(([name]) => name);
}

const EXPECTED =
  /^(\[Content_Types\]\.xml|xl\/workbook\.xml|xl\/_rels\/workbook\.xml\.rels|xl\/styles\.xml|xl\/worksheets\/sheet\d+\.xml)$/;

describe.skipIf(!hasOpenpyxl)("a workbook of openpyxl with charts, picture, comments, table, names, rules and strangers", () => {
  let before: Uint8Array;
  let after: Uint8Array;
  beforeAll(() => {
    const file = join(folder, "made.xlsx");
    const run = spawnSync(PYTHON, ["-c", MAKE, file], { encoding: "utf8" });
    if (run.status !== 0) throw new Error(run.stderr);
    const parts = Object.entries(unzipSync(new Uint8Array(readFileSync(file)))).map(([name, content]): RawEntry => ({ name, content }));
    before = rawZip([...parts, ...STRANGERS]);
    after = annotateWorkbook(before, ANNOTATION, ZLIB);
    writeFileSync(join(folder, "marked.xlsx"), after);
  });

  test("every part but the sheet, the styles and the workbook's lists keeps its bytes", () => {
    const changed = partsChanged(before, after);
    expect(changed.filter((name) => !EXPECTED.test(name))).toEqual([]);
    expect(changed.filter((name) => name.startsWith("xl/worksheets/"))).toHaveLength(2);
    expect(readDirectory(before).filter((entry) => /chart|drawing|comment|table|pivot|media/i.test(entry.name)).length).toBeGreaterThan(8);
  });

  test("inside the sheet only the marks are new: taken out again, it is what it was", () => {
    const sheet = (bytes: Uint8Array): string => new TextDecoder().decode(unzipSync(bytes)["xl/worksheets/sheet1.xml"]);
    const without = sheet(after)
      .replaceAll(/<c r="[FG]\d+"[^>]*t="inlineStr">.*?<\/c>/g, "")
      .replace(/<cols>(<col min="[67]"[^>]*\/>)+<\/cols>/, "")
      .replace(/<dimension[^>]*>/, "");
    const cleaned = sheet(before)
      .replace(/<dimension[^>]*>/, "")
      .replaceAll(/(<row r="\d+"[^>]*?) spans="[^"]*"/g, "$1");
    expect(without.replaceAll(/(<row r="\d+"[^>]*?) spans="[^"]*"/g, "$1")).toBe(cleaned);
  });

  test("openpyxl sees what it put there", () => {
    const script = `
import openpyxl, json, sys
book = openpyxl.load_workbook(sys.argv[1])
w, m = book["Wrap"], book["Mine"]
print(json.dumps([book.sheetnames, len(w._charts), w["A2"].comment.text, w["B5"].comment.text, len(w.conditional_formatting), len(w.data_validations.dataValidation), w.freeze_panes, bool(w.protection.sheet), w.protection.password, list(m.tables), [str(r) for r in m.merged_cells.ranges], m["D5"].value, w.row_dimensions[7].hidden, w["F2"].value, w["F3"].value, w["G2"].data_type]))
`;
    const run = spawnSync(PYTHON, ["-c", script, join(folder, "marked.xlsx")], { encoding: "utf8" });
    expect(run.status, run.stderr).toBe(0);
    const [sheets, charts, first, second, rules, validations, freeze, locked, password, tables, merged, sum, hidden, good, bad, type] =
      JSON.parse(run.stdout);
    expect(sheets).toEqual(["Wrap", "Mine", "Chart", "Findings"]);
    expect([charts, first, second, rules, validations]).toEqual([2, "cut from the outer end", "second look", 1, 2]);
    expect([freeze, locked, tables, merged, sum, hidden]).toEqual(["B2", true, ["Mine1"], ["D1:F3"], "=SUM(B2:B7)", true]);
    expect(password).toMatch(/^[0-9A-F]{4}$/);
    expect([good, bad, type]).toEqual(["■ conforms", "✕ does not conform", "s"]);
  });

  test("a second time only what is ours is replaced", () => {
    const again = annotateWorkbook(
      after,
      {
        ...ANNOTATION,
        sheets: ANNOTATION.sheets.map((sheet) => ({ ...sheet, columns: sheet.columns.map((column, i) => ({ ...column, column: 6 + i })) })),
      },
      ZLIB,
    );
    expect(Buffer.from(again).equals(Buffer.from(after))).toBe(true);
  });

  describeWith(["soffice"], "LibreOffice opens the copy", () => {
    test("and saves it with its cells, its marks and its charts", () => {
      officeConvert([join(folder, "marked.xlsx")], "xlsx", join(folder, "office"));
      const saved = new Uint8Array(readFileSync(join(folder, "office", "marked.xlsx")));
      const texts = (bytes: Uint8Array, name: string): Record<string, string> =>
        Object.fromEntries(
          [
            ...(read(bytes)
              .sheets.find((sheet) => sheet.name === name)
              ?.rows.values() ?? []),
          ]
            .flat()
            .map((cell) => [cell.cell, cell.raw]),
        );
      expect(texts(saved, "Wrap")).toEqual(texts(after, "Wrap"));
      expect(texts(saved, "Findings")).toEqual(texts(after, "Findings"));
      expect(Object.keys(unzipSync(saved)).filter((name) => name.startsWith("xl/charts/chart")).length).toBeGreaterThanOrEqual(2);
      // And what LibreOffice saved is marked in turn without touching its other parts.
      const marked = annotateWorkbook(saved, ANNOTATION, ZLIB);
      expect(partsChanged(saved, marked).filter((name) => !EXPECTED.test(name))).toEqual([]);
      expect(texts(marked, "Wrap")["F2"]).toBe("■ conforms");
    });
  });
});
