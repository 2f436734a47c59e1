/** The normal loop: a returned copy grows by new rows and is dropped back. Only what is ours is replaced, to the byte. All invented. */
import { mkdirSync, mkdtempSync, readdirSync, readFileSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import ExcelJS from "exceljs";
import { unzipSync } from "fflate";
import { afterAll, beforeAll, describe, expect, test } from "vitest";
import { EMPTY_REGISTERS } from "../../../core/entry/index.ts";
import { judge } from "../../../core/judge/index.ts";
import { builtInLibrary } from "../../../core/spec/index.ts";
import { annotateWorkbook } from "../../../core/workbook/index.ts";
import { readDirectory } from "../../../core/workbook/package.ts";
import { toAnnotation } from "../../../templates/annotation.ts";
import { words } from "../../../templates/wording.ts";
import { readFile } from "../../../worker/read-file.ts";
import { ZLIB } from "../../../worker/zlib-codec.ts";
import { expectRun } from "../../helpers/cli.ts";
import { officeConvert } from "../../helpers/office.ts";
import { describeWith } from "../../helpers/tools.ts";
import { type RawEntry, rawZip } from "./raw-zip.ts";
import { read } from "./small-book.ts";

const TODAY = "2026-06-30";
const library = builtInLibrary();

/** Reads, judges and marks, as the worker does. */
function returned(bytes: Uint8Array): { copy: Uint8Array; codes: readonly string[]; verdicts: Readonly<Record<string, string>> } {
  const reading = readFile(bytes, {
    name: "day-book.xlsx",
    sha256: "",
    today: TODAY,
    decimalMark: ".",
    registers: EMPTY_REGISTERS,
    library,
  });
  if (!reading.ok) throw new Error(reading.refusal.text);
  const { entry, merged, findings } = reading.read;
  const judgement = judge({
    ...merged.all,
    tests: entry.tests,
    unread: entry.unread,
    settlements: [],
    specifications: library,
    isAdopted: () => false,
    today: TODAY,
    freeLengthTolerance: "0.01",
  });
  const copy = annotateWorkbook(bytes, toAnnotation(entry, judgement, [...findings, ...judgement.findings], words("en")), ZLIB);
  return { copy, codes: findings.map((f) => f.code), verdicts: verdictsOf(copy) };
}

/** The text under Verdict by test piece. */
function verdictsOf(bytes: Uint8Array): Readonly<Record<string, string>> {
  const sheet = read(bytes).sheets.find((one) => one.name === "Torsion");
  const header = sheet?.rows.get(2) ?? [];
  const columns = header.filter((cell) => cell.raw === "Verdict").map((cell) => cell.column);
  expect(columns).toHaveLength(1);
  return Object.fromEntries(
    [...(sheet?.rows ?? [])]
      .filter(([row]) => row > 2)
      .map(([, cells]) => [
        cells.find((cell) => cell.column === 1)?.raw ?? "",
        cells.find((cell) => cell.column === columns[0])?.raw ?? "",
      ]),
  );
}

const HEADER = ["Test piece", "Coil", "Diameter, mm", "Free length, mm", "Turns", "Date", "My note"];
const day = (n: number): Date => new Date(Date.UTC(2026, 2, n));

async function clerkBook(): Promise<Uint8Array> {
  const book = new ExcelJS.Workbook();
  const orders = book.addWorksheet("Orders");
  orders.addRow(["Order", "Item", "Customer", "Specification", "Grade", "Nominal diameter, mm"]);
  orders.addRow(["O-1", "1", "Example Springs", "EN 10270-1", "SH", 2]);
  const coils = book.addWorksheet("Coils");
  coils.addRow(["Coil", "Order", "Item", "Heat"]);
  for (const coil of ["C-1", "C-2", "C-3"]) coils.addRow([coil, "O-1", "1", "H-1"]);
  const torsion = book.addWorksheet("Torsion", { views: [{ state: "frozen", ySplit: 2 }] });
  torsion.addRow(["Day book of an invented laboratory"]);
  torsion.mergeCells("A1:G1");
  torsion.addRow(HEADER);
  torsion.addRow(["T-1", "C-1", 2, 200, 30, day(2), "left machine"]);
  torsion.addRow(["T-2", "C-2", 2, 200, 3, day(2), "=not a formula"]);
  torsion.autoFilter = "A2:G4";
  torsion.getCell("E3").dataValidation = { type: "decimal", operator: "between", formulae: [0, 1000], allowBlank: true };
  torsion.addConditionalFormatting({
    ref: "E3:E99",
    rules: [{ type: "cellIs", operator: "lessThan", formulae: [10], priority: 1, style: { font: { bold: true } } }],
  });
  torsion.getCell("B3").note = "outer end";
  torsion.addImage(book.addImage({ buffer: PIXEL as unknown as ExcelJS.Buffer, extension: "png" }), "J10:K12");
  book.addWorksheet("My own list").addRow(["whatever", 1]);
  return new Uint8Array((await book.xlsx.writeBuffer()) as ArrayBuffer);
}
const PIXEL = Buffer.from("iVBORw0KGgoAAAANSUhEUgAAAAEAAAABCAYAAAAfFcSJAAAADUlEQVR42mNkYPhfDwAChwGA60e6kgAAAABJRU5ErkJggg==", "base64");

/** A new row typed straight into the XML, as a program that keeps everything else would. */
function withRow(bytes: Uint8Array, row: number, cells: string): Uint8Array {
  const name = sheetPart(bytes, "Torsion");
  return rawZip(
    Object.entries(unzipSync(bytes)).map(([part, content]): RawEntry => {
      if (part !== name) return { name: part, content };
      const xml = new TextDecoder().decode(content).replace("</sheetData>", `<row r="${row}">${cells}</row></sheetData>`);
      return { name: part, content: xml };
    }),
  );
}
const sheetPart = (bytes: Uint8Array, sheet: string): string =>
  `xl/worksheets/sheet${read(bytes).sheets.findIndex((one) => one.name === sheet) + 1}.xml`;
const inline = (place: string, text: string): string => `<c r="${place}" t="inlineStr"><is><t>${text}</t></is></c>`;
const NEW_ROW = `${inline("A5", "T-3")}${inline("B5", "C-3")}<c r="C5"><v>2</v></c><c r="D5"><v>200</v></c><c r="E5"><v>31</v></c>${inline("F5", "2026-03-04")}${inline("G5", "typed later")}`;

const partsOf = (bytes: Uint8Array): Map<string, Buffer> =>
  new Map(
    readDirectory(bytes).map((entry) => [entry.name, Buffer.from(bytes.subarray(entry.dataStart, entry.dataStart + entry.compressedSize))]),
  );
/** Every cell that is not ours. */
function clerkCells(bytes: Uint8Array): unknown {
  return read(bytes)
    .sheets.filter((sheet) => !sheet.name.startsWith("Findings"))
    .map((sheet) => [
      sheet.name,
      [...sheet.rows.values()]
        .flat()
        .filter((cell) => sheet.name !== "Torsion" || cell.column <= HEADER.length)
        .map(({ cell, type, raw, formula, format }) => [cell, type, raw, formula, format]),
    ]);
}

describe("a returned copy, dropped back with a new row", () => {
  let first: ReturnType<typeof returned>;
  let dropped: Uint8Array;
  let second: ReturnType<typeof returned>;
  beforeAll(async () => {
    first = returned(await clerkBook());
    dropped = withRow(first.copy, 5, NEW_ROW);
    second = returned(dropped);
  });

  test("the first time, both rows are judged", () => {
    expect(first.verdicts).toEqual({ "T-1": "■ conforms", "T-2": "✕ does not conform" });
  });

  test("the new row is judged beside the old ones", () => {
    expect(second.verdicts).toEqual({ "T-1": "■ conforms", "T-2": "✕ does not conform", "T-3": "■ conforms" });
  });

  test("our own columns and sheet are not told as strangers, and come once", () => {
    expect(second.codes.filter((code) => code !== "instrument-missing")).toEqual(
      first.codes.filter((code) => code !== "instrument-missing"),
    );
    expect(second.codes.filter((code) => code === "unknown-column")).toHaveLength(1);
    expect(read(second.copy).sheets.map((sheet) => sheet.name)).toEqual(["Orders", "Coils", "Torsion", "My own list", "Findings"]);
    expect(
      read(second.copy)
        .sheets[2]?.rows.get(2)
        ?.map((cell) => cell.raw),
    ).toEqual([...HEADER, "Verdict", "Why", "Next"]);
  });

  test("every cell of the clerk's is as it was dropped", () => {
    expect(clerkCells(second.copy)).toEqual(clerkCells(dropped));
  });

  test("every part but the marked sheet and the findings keeps its bytes", () => {
    const [before, after] = [partsOf(dropped), partsOf(second.copy)];
    expect([...after.keys()].sort()).toEqual([...before.keys()].sort());
    const changed = [...after].filter(([name, content]) => before.get(name)?.equals(content) !== true).map(([name]) => name);
    expect(changed.sort()).toEqual([sheetPart(dropped, "Torsion"), sheetPart(dropped, "Findings")].sort());
    expect([...before.keys()].filter((name) => /drawing|comments|media/.test(name)).length).toBeGreaterThan(2);
  });

  test("dropped back as it is, it comes out the same to the byte", () => {
    expect(Buffer.from(returned(second.copy).copy).equals(Buffer.from(second.copy))).toBe(true);
  });

  test("a verdict that no longer holds goes with its row", () => {
    const xml = (bytes: Uint8Array): string => new TextDecoder().decode(unzipSync(bytes)[sheetPart(bytes, "Torsion")]);
    const cleared = rawZip(
      Object.entries(unzipSync(second.copy)).map(
        ([name, content]): RawEntry =>
          name === sheetPart(second.copy, "Torsion")
            ? { name, content: xml(second.copy).replaceAll(/<c r="[A-G]5".*?<\/c>/g, "") }
            : { name, content },
      ),
    );
    expect(returned(cleared).verdicts["T-3"]).toBeUndefined();
    expect([...(read(returned(cleared).copy).sheets[2]?.rows.get(5) ?? [])]).toEqual([]);
  });

  test("saved by exceljs in between, with a row typed there", async () => {
    const book = new ExcelJS.Workbook();
    await book.xlsx.load(first.copy.slice().buffer as ArrayBuffer);
    const row = book.getWorksheet("Torsion")?.getRow(5);
    if (row) row.values = ["T-3", "C-3", 2, 200, 31, day(4), "typed there"];
    row?.commit();
    const saved = returned(new Uint8Array((await book.xlsx.writeBuffer()) as ArrayBuffer));
    expect(saved.verdicts).toEqual(second.verdicts);
    expect(read(saved.copy).sheets.map((sheet) => sheet.name)).toEqual(["Orders", "Coils", "Torsion", "My own list", "Findings"]);
  });

  describeWith(["soffice"], "saved by LibreOffice in between", () => {
    test("nothing piles up, the verdicts are the same", () => {
      const folder = mkdtempSync(join(tmpdir(), "coilbook-day-book-"));
      try {
        writeFileSync(join(folder, "day-book.xlsx"), second.copy);
        mkdirSync(join(folder, "saved"));
        officeConvert([join(folder, "day-book.xlsx")], "xlsx", join(folder, "saved"));
        const again = returned(new Uint8Array(readFileSync(join(folder, "saved", "day-book.xlsx"))));
        expect(again.verdicts).toEqual(second.verdicts);
        expect(read(again.copy).sheets.map((sheet) => sheet.name)).toEqual(read(second.copy).sheets.map((sheet) => sheet.name));
      } finally {
        rmSync(folder, { recursive: true, force: true });
      }
    });
  });

  describe("through the inbox", () => {
    const lab = mkdtempSync(join(tmpdir(), "coilbook-loop-"));
    afterAll(() => rmSync(lab, { recursive: true, force: true }));
    test("dropped, returned, grown, dropped back under its name", async () => {
      expectRun([0], ["init", lab]);
      const work = (): void => {
        expectRun([0, 1], ["work", "--drain", "--lab", lab, "--today", TODAY], { env: { COILBOOK_DOCUMENTS_AUTOMATIC: "false" } });
      };
      writeFileSync(join(lab, "inbox", "day-book.xlsx"), await clerkBook());
      work();
      const once = new Uint8Array(readFileSync(join(lab, "returned", "day-book.xlsx")));
      expect(Object.keys(verdictsOf(once))).toEqual(["T-1", "T-2"]);
      const grown = withRow(once, 5, NEW_ROW);
      writeFileSync(join(lab, "inbox", "day-book.xlsx"), grown);
      work();
      const twice = new Uint8Array(readFileSync(join(lab, "returned", "day-book.xlsx")));
      expect(verdictsOf(twice)).toEqual(second.verdicts);
      expect(clerkCells(twice)).toEqual(clerkCells(grown));
      // The copy of before is put aside, not lost.
      expect(readdirSync(join(lab, "returned", "earlier"))).toHaveLength(1);
    });
  });
});
