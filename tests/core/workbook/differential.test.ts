/** Our reader beside others, over workbooks made here and by three programs: every cell means the same to all of them. */
import { spawnSync } from "node:child_process";
import { mkdtempSync, readFileSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import ExcelJS from "exceljs";
import { afterAll, beforeAll, describe, expect, test } from "vitest";
import { officeConvert } from "../../helpers/office.ts";
import { describeWith, hasTool } from "../../helpers/tools.ts";
import { numbersFrom } from "./mutations.ts";
import { read } from "./small-book.ts";

const SEEDS = Array.from({ length: 12 }, (_, i) => i + 1);
const DAY_MS = 86_400_000;

const TEXTS = [
  "coil",
  "C-00017",
  "Prüfung ½",
  'a < b & "c"',
  "  blanks  ",
  "line\nbreak",
  "tab\there",
  "=1+1",
  "𝔓 𝔔",
  "’quoted’",
  "1,234",
  "0",
];

/** A workbook of every kind of cell, by its number. Names and figures are invented. */
async function randomBook(seed: number): Promise<Uint8Array> {
  const random = numbersFrom(seed * 7919);
  const book = new ExcelJS.Workbook();
  for (let s = 0; s <= random(3); s += 1) {
    const sheet = book.addWorksheet(`Sheet ${s} é`, random(4) === 0 ? { state: "hidden" } : {});
    for (let row = 1; row <= 30; row += 1 + random(3))
      for (let column = 1; column <= 12; column += 1 + random(4)) {
        const cell = sheet.getCell(row, column);
        switch (random(9)) {
          case 0:
            cell.value = random(100_000);
            break;
          case 1:
            cell.value = (random(2_000_000) - 1_000_000) / 997;
            break;
          case 2:
            cell.value = TEXTS[random(TEXTS.length)] as string;
            break;
          case 3:
            cell.value = random(2) === 0;
            break;
          case 4:
            cell.value = new Date(Date.UTC(1995 + random(40), random(12), 1 + random(28), random(24), random(60)));
            break;
          case 5:
            cell.value = { formula: "1+1", result: random(50) };
            break;
          case 6:
            cell.value = { richText: [{ text: "bo" }, { font: { bold: true }, text: TEXTS[random(TEXTS.length)] as string }] };
            break;
          case 7:
            cell.value = { error: "#N/A" };
            break;
          default:
            cell.value = random(1000) / 1000;
            cell.numFmt = random(2) === 0 ? "0.00%" : "0.000E+00";
        }
        if (random(6) === 0) cell.fill = { type: "pattern", pattern: "solid", fgColor: { argb: "FFEEEEEE" } };
      }
    if (random(2) === 0) sheet.mergeCells(40, 1, 42, 3);
    if (random(2) === 0) sheet.getRow(4).hidden = true;
    sheet.getCell(60, 2).border = { top: { style: "thin" } };
  }
  return new Uint8Array((await book.xlsx.writeBuffer()) as ArrayBuffer);
}

/** What a cell holds, in words that both readers can say. */
type Said = Readonly<Record<string, string>>;

const said = (type: string, value: unknown): string =>
  `${type} ${typeof value === "number" ? Number(value.toPrecision(12)) : String(value)}`;

/** @param nought false to leave out formulas that come to nought or FALSE: exceljs gives them no result */
function oursSays(bytes: Uint8Array, nought = true): Readonly<Record<string, Said>> {
  return Object.fromEntries(
    read(bytes).sheets.map((sheet) => [
      sheet.name,
      Object.fromEntries(
        [...sheet.rows.values()]
          .flat()
          .filter((cell) => nought || cell.formula === undefined || cell.raw !== "0")
          .map((cell) => [cell.cell, said(cell.type, cell.type === "number" ? Number(cell.raw) : cell.raw)]),
      ),
    ]),
  );
}

function valueSaid(value: ExcelJS.CellValue): string | undefined {
  if (value === null || value === undefined || value === "") return undefined;
  if (typeof value === "number") return said("number", value);
  if (typeof value === "string") return said("text", value);
  if (typeof value === "boolean") return said("boolean", value ? 1 : 0);
  if (value instanceof Date) return said("number", (value.getTime() - Date.UTC(1899, 11, 30)) / DAY_MS);
  if ("error" in value) return said("error", value.error);
  if ("richText" in value) return said("text", value.richText.map((run) => run.text).join(""));
  if ("formula" in value || "sharedFormula" in value) return valueSaid((value as ExcelJS.CellFormulaValue).result as ExcelJS.CellValue);
  return said("text", (value as ExcelJS.CellHyperlinkValue).text);
}

async function exceljsSays(bytes: Uint8Array): Promise<Readonly<Record<string, Said>>> {
  const book = new ExcelJS.Workbook();
  await book.xlsx.load(bytes.slice().buffer as ArrayBuffer);
  return Object.fromEntries(
    book.worksheets.map((sheet) => {
      const cells: Record<string, string> = {};
      sheet.eachRow((row) =>
        row.eachCell((cell) => {
          const value = cell.isMerged && cell.master !== cell ? undefined : valueSaid(cell.value);
          if (value !== undefined) cells[cell.address] = value;
        }),
      );
      return [sheet.name, cells];
    }),
  );
}

let folder = "";
const books = new Map<number, Uint8Array>();
beforeAll(async () => {
  folder = mkdtempSync(join(tmpdir(), "coilbook-differential-"));
  for (const seed of SEEDS) {
    const bytes = await randomBook(seed);
    books.set(seed, bytes);
    writeFileSync(join(folder, `${seed}.xlsx`), bytes);
  }
});
afterAll(() => rmSync(folder, { recursive: true, force: true }));

test.for(SEEDS)("saved by exceljs, read by it and by us: workbook %i", async (seed) => {
  const bytes = books.get(seed) as Uint8Array;
  const ours = oursSays(bytes, false);
  expect(Object.values(ours).flatMap((cells) => Object.keys(cells)).length).toBeGreaterThan(20);
  expect(ours).toEqual(await exceljsSays(bytes));
});

describeWith(["soffice"], "saved again by LibreOffice", () => {
  let saved = "";
  beforeAll(() => {
    saved = mkdtempSync(join(tmpdir(), "coilbook-office-saved-"));
    officeConvert(
      SEEDS.map((seed) => join(folder, `${seed}.xlsx`)),
      "xlsx",
      saved,
    );
  });
  afterAll(() => rmSync(saved, { recursive: true, force: true }));

  test.for(SEEDS)("read by exceljs and by us: workbook %i", async (seed) => {
    const bytes = new Uint8Array(readFileSync(join(saved, `${seed}.xlsx`)));
    const ours = oursSays(bytes, false);
    expect(ours).toEqual(await exceljsSays(bytes));
    expect(Object.keys(ours)).toEqual(Object.keys(oursSays(books.get(seed) as Uint8Array)));
  });
});

describe.skipIf(!hasTool("/usr/bin/python3") || spawnSync("/usr/bin/python3", ["-c", "import openpyxl"]).status !== 0)(
  "read by openpyxl",
  () => {
    const SCRIPT = `
import openpyxl, json, sys, datetime
def say(v):
    if v is None or v == "": return None
    if isinstance(v, bool): return "boolean %d" % v
    if isinstance(v, (int, float)): return ["number", v]
    if isinstance(v, (datetime.datetime, datetime.date)):
        return ["number", (v - datetime.datetime(1899, 12, 30)).total_seconds() / 86400]
    if isinstance(v, datetime.time): return ["number", (v.hour * 3600 + v.minute * 60 + v.second) / 86400]
    if str(v) == "#N/A": return "error #N/A"
    return "text " + str(v)
answer = []
for file in sys.argv[1:]:
    book = openpyxl.load_workbook(file, data_only=True)
    answer.append({s.title: {c.coordinate: say(c.value) for row in s.iter_rows() for c in row if say(c.value) is not None} for s in book.worksheets})
print(json.dumps(answer))
`;
    test("every workbook as by us", () => {
      const run = spawnSync("/usr/bin/python3", ["-c", SCRIPT, ...SEEDS.map((seed) => join(folder, `${seed}.xlsx`))], {
        encoding: "utf8",
        maxBuffer: 64 * 1024 * 1024,
      });
      expect(run.status, run.stderr).toBe(0);
      const answers = JSON.parse(run.stdout) as Record<string, Record<string, string | [string, number]>>[];
      for (const [i, seed] of SEEDS.entries()) {
        const theirs = Object.fromEntries(
          Object.entries(answers[i] ?? {}).map(([sheet, cells]) => [
            sheet,
            Object.fromEntries(
              Object.entries(cells).map(([cell, value]) => [cell, typeof value === "string" ? value : said(value[0], value[1])]),
            ),
          ]),
        );
        // openpyxl keeps days to the microsecond.
        expect(loosely(oursSays(books.get(seed) as Uint8Array))).toEqual(loosely(theirs));
      }
    });
  },
);

/** Figures to six decimals. */
const loosely = (sheets: Readonly<Record<string, Said>>): Readonly<Record<string, Said>> =>
  Object.fromEntries(
    Object.entries(sheets).map(([sheet, cells]) => [
      sheet,
      Object.fromEntries(
        Object.entries(cells).map(([cell, value]) => [
          cell,
          value.startsWith("number ") ? `number ${Number(Number(value.slice(7)).toFixed(6))}` : value,
        ]),
      ),
    ]),
  );
