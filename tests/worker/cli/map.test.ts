/** Intake maps from the command line: proposed, checked, used by `check` and by the worker. All names and figures are invented. */
import { mkdirSync, readFileSync, writeFileSync } from "node:fs";
import { join } from "node:path";
import ExcelJS from "exceljs";
import { afterAll, beforeAll, describe, expect, test } from "vitest";
import type { IntakeMapInput } from "../../../core/map/index.ts";
import { readWorkbook } from "../../../core/workbook/index.ts";
import { coilbook, expectRun, jsonLines, temporaryFolder } from "../../helpers/cli.ts";

const folder = temporaryFolder();
afterAll(folder.remove);
const file = join(folder.path, "pruefbuch.xlsx");
const mapFile = join(folder.path, "pruefbuch.json");
const TODAY = "2026-06-30";

beforeAll(async () => {
  const book = new ExcelJS.Workbook();
  book.addWorksheet("Orders").addRows([
    ["Order", "Item", "Customer", "Specification", "Grade", "Nominal diameter, mm"],
    ["O-1", "1", "Example Springs", "EN 10270-1", "SH", 2],
  ]);
  book.addWorksheet("Coils").addRows([
    ["Coil", "Order", "Item", "Heat"],
    ["R-1", "O-1", "1", "H-1"],
    ["R-2", "O-1", "1", "H-1"],
  ]);
  const day = new Date(Date.UTC(2026, 2, 2));
  book
    .addWorksheet("Prüfbuch")
    .addRows([
      ["Labor Beispiel"],
      ["Proben-Nr.", "Bund", "Datum", "d [mm]", "Einspannlänge", "Nt", "Fm [kN]", "Wetter"],
      ["P-1", "R-1", day, 2, 200, 30, null, "Regen"],
      ["P-2", "R-2", day, 2, 200, 3],
      ["P-3", "R-1", day, 2, null, null, 6.2],
    ]);
  await book.xlsx.writeFile(file);
});

const proposed = (): IntakeMapInput => JSON.parse(readFileSync(mapFile, "utf8")) as IntakeMapInput;

describe("coilbook map", () => {
  test("propose writes a map, says what it placed and what not, and ends with 1 while something is open", () => {
    const done = expectRun([1], ["map", "propose", file, "--out", mapFile]);
    expect(done.out).toContain('Prüfbuch!F2 "Nt" is torsion.turns');
    expect(done.out).toContain('Prüfbuch!G2 "Fm [kN]" is tensile.maximumForce in kN');
    expect(done.out).toContain('Prüfbuch!H2 "Wetter" was not placed');
    expect(proposed().sheets.map((sheet) => sheet.name)).toEqual(["Orders", "Coils", "Prüfbuch"]);
  });

  test("check accepts what propose wrote, and names the place of a slip", () => {
    expect(expectRun([0], ["map", "check", mapFile]).out).toContain("accepted, 3 sheets");
    const broken = join(folder.path, "broken.json");
    const map = structuredClone(proposed()) as { sheets: { reads: { as: string }[] }[] };
    (map.sheets[2]?.reads[0] as { as: string }).as = "twist";
    writeFileSync(broken, JSON.stringify(map));
    const done = expectRun([2], ["map", "check", broken]);
    expect(done.out).toMatch(/\[.*broken\.json\]sheets\[2\]\.reads\[0\]\.as: the word is not accepted, found "twist", accepted orders, /);
    writeFileSync(broken, "{");
    expect(expectRun([2], ["map", "check", broken, "--json"]).out).toContain('"path":"$"');
  });

  test("a path that is not there is wrong use", () => {
    expect(coilbook(["map", "propose", join(folder.path, "none.xlsx")]).status).toBe(64);
    expect(coilbook(["map", "check", join(folder.path, "none.json")]).status).toBe(64);
    expect(coilbook(["check", file, "--map", join(folder.path, "none.json")]).status).toBe(64);
  });
});

interface Answer {
  readonly findings: readonly { readonly code: string; readonly sheet: string; readonly cell: string }[];
  readonly orders: readonly {
    readonly coils: readonly {
      readonly coil: string;
      readonly requirements: readonly {
        readonly property: string;
        readonly results: readonly { readonly cell: string; readonly raw: string; readonly value: number }[];
      }[];
    }[];
  }[];
}

describe("check --map", () => {
  const answerOf = (...more: string[]): Answer =>
    jsonLines(expectRun([0, 1], ["check", file, "--alone", "--json", "--today", TODAY, ...more]).out)[0] as unknown as Answer;

  test("reads the laboratory's own sheet, each reading with its own cell", () => {
    const answer = answerOf("--map", mapFile);
    expect(answer.findings.map(({ code, cell }) => [code, cell]).filter(([code]) => code !== "instrument-missing")).toEqual([
      ["unknown-column", "H2"],
    ]);
    const results = answer.orders.flatMap((order) =>
      order.coils.flatMap((coil) =>
        coil.requirements.flatMap((one) => one.results.map((result) => [coil.coil, one.property, result.cell, result.raw])),
      ),
    );
    expect(results).toContainEqual(["R-1", "torsion", "F3", "30"]);
    expect(results).toContainEqual(["R-2", "torsion", "F4", "3"]);
    expect(results).toContainEqual(["R-1", "tensile-strength", "G5", "6.2"]);
  });

  test("without a map the sheet is a stranger", () => {
    expect(answerOf().findings.map(({ code }) => code)).toContain("unknown-sheet");
  });
});

test("the worker takes the map of the lab that fits, and marks the laboratory's own sheet", () => {
  const lab = join(folder.path, "lab");
  expectRun([0], ["init", lab]);
  mkdirSync(join(lab, "maps"), { recursive: true });
  writeFileSync(join(lab, "maps", "pruefbuch.json"), readFileSync(mapFile));
  writeFileSync(join(lab, "inbox", "pruefbuch.xlsx"), readFileSync(file));
  expectRun([0, 1], ["work", "--drain", "--lab", lab, "--today", TODAY], { env: { COILBOOK_DOCUMENTS_AUTOMATIC: "false" } });
  const read = readWorkbook(new Uint8Array(readFileSync(join(lab, "returned", "pruefbuch.xlsx"))));
  if (!read.ok) throw new Error(read.refusal.text);
  const rows = read.workbook.sheets.find((sheet) => sheet.name === "Prüfbuch")?.rows;
  const at = (row: number, column: number): string => rows?.get(row)?.find((cell) => cell.column === column)?.raw ?? "";
  expect([at(2, 9), at(2, 10), at(2, 11)]).toEqual(["Verdict", "Why", "Next"]);
  expect([at(3, 9), at(4, 9)]).toEqual(["■ conforms", "✕ does not conform"]);
  expect(at(5, 9)).not.toBe("");
});
