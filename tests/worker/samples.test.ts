/**
 * The whole job on the samples. What is expected stands in samples/manifest.json, written by hand beside each story; the rules behind the
 * stories: DESIGN section 8 (void, deviation, retest, test unit), WORKBOOK.md (cells), EN 10270-1 and ASTM A228 limits as in
 * tests/data/reference.
 */
import { existsSync, readdirSync, readFileSync } from "node:fs";
import { join } from "node:path";
import ExcelJS from "exceljs";
import { afterAll, beforeAll, describe, expect, it } from "vitest";
import { ENTRY_SHEETS } from "../../core/entry/index.ts";
import type { OrderVerdict } from "../../core/model.ts";
import { readWorkbook } from "../../core/workbook/index.ts";
import { systemClock } from "../../worker/clock.ts";
import { sha256 } from "../../worker/files.ts";
import { findLab } from "../../worker/settings/settings.ts";
import { openWorkshop, type Workshop } from "../../worker/workshop.ts";
import { coilbook, expectRun, jsonLines, temporaryFolder } from "../helpers/cli.ts";
import { ADMIN, dropSamples, makeSampleLab, manifest, samplePath } from "../helpers/sample-lab.ts";

const folder = temporaryFolder();
const lab = join(folder.path, "lab");
const expected = manifest();

async function inLab<T>(run: (workshop: Workshop) => Promise<T>): Promise<T> {
  const found = findLab({ lab }, {});
  if (found === undefined) throw new Error("no lab");
  const workshop = await openWorkshop(found, systemClock, { readOnly: true });
  try {
    return await run(workshop);
  } finally {
    await workshop.ledger.close();
  }
}

const verdicts = (): Promise<readonly OrderVerdict[]> =>
  inLab(async ({ ledger }) => (await ledger.list<{ verdict: OrderVerdict }>("verdict")).map((state) => state.value.verdict));

const byCoil = (orders: readonly OrderVerdict[]) => new Map(orders.flatMap((o) => o.coils.map((c) => [c.coil, c] as const)));
const factCount = (): Promise<number> => inLab(async ({ ledger }) => (await ledger.facts({})).length);

let firstDay: readonly OrderVerdict[];
let firstDayEnd: string;

beforeAll(async () => {
  makeSampleLab(lab);
  dropSamples(lab, "inbox");
  dropSamples(
    lab,
    "broken",
    Object.keys(expected.broken).filter((name) => name !== "truncated.xlsx"),
  );
  expectRun([0], ["work", "--drain", "--lab", lab]);
  firstDay = await verdicts();
  firstDayEnd = new Date().toISOString();
  dropSamples(lab, "second-day");
  expectRun([0], ["work", "--drain", "--lab", lab]);
}, 180_000);
afterAll(() => folder.remove());

describe("verdicts of the samples", () => {
  it.each(expected.coils.map((c) => [c.coil, c.story, c] as const))("coil %s: %s", async (name, _story, wanted) => {
    const [before, after] = [byCoil(firstDay).get(name), byCoil(await verdicts()).get(name)];
    const found = (coil: typeof before): Record<string, string> =>
      Object.fromEntries(
        (coil?.requirements ?? []).filter((r) => !r.property.startsWith("chemistry:")).map((r) => [r.property, r.verdict]),
      );
    expect(found(before)).toEqual(wanted.firstDay ?? wanted.verdicts);
    expect(found(after)).toEqual(wanted.verdicts);
    expect(after?.basis).toBe(wanted.basis);
  });

  it("says why a count is void, and counts what passed under harder conditions", async () => {
    const coils = byCoil(await verdicts());
    const torsion = (story: string) => {
      const coil = expected.coils.find((c) => c.story === story)?.coil ?? "";
      return coils.get(coil)?.requirements.find((r) => r.property === "torsion")?.results[0];
    };
    expect(torsion("torsion-grip-void")).toMatchObject({ counts: false, voidReason: "grip-break" });
    expect(torsion("torsion-short-low")).toMatchObject({ counts: false, voidReason: "free-length" });
    expect(torsion("torsion-long-passes")).toMatchObject({ counts: false, voidReason: "free-length" });
    expect(torsion("torsion-grip-passes")).toMatchObject({ counts: true, deviation: "harder-grip-break", outcome: "conforms" });
    expect(torsion("torsion-short-passes")).toMatchObject({ counts: true, deviation: "harder-free-length", outcome: "conforms" });
  });
});

describe("cells of every kind", () => {
  it("gives exactly the findings expected, each at its cell", () => {
    const done = coilbook(["check", samplePath("inbox", "05-every-cell.xlsx"), "--alone", "--json"]);
    expect(done.status).toBe(1);
    const [answer] = jsonLines(done.out) as unknown as [
      { findings: { code: string; severity: string; sheet: string; cell: string; text: string }[] },
    ];
    const plain = (f: { code: string; severity: string; sheet: string; cell: string }): string =>
      `${f.severity} ${f.code} ${f.sheet}!${f.cell}`;
    expect(answer.findings.map(plain).sort()).toEqual(expected.cells.map(plain).sort());
    for (const finding of answer.findings) expect(finding.text.length).toBeGreaterThan(15);
  });
});

describe("files that are refused", () => {
  it.each(Object.entries(expected.broken))("%s is %s, in one line, and the file is kept", (name, code) => {
    const done = coilbook(["check", samplePath("broken", name), "--alone", "--json"]);
    expect(done.status).toBe(2);
    const [answer] = jsonLines(done.out) as unknown as [{ status: string; reason: { code: string; text: string } }];
    expect(answer.status).toBe("refused");
    expect(answer.reason.code).toMatch(code === "damaged" ? /^(damaged-package|wrong-checksum)$/ : new RegExp(`^${code}$`));
    expect(answer.reason.text).not.toContain("\n");
    // A file without its end may still be on its way, so the worker leaves it where it is.
    if (name === "truncated.xlsx") return;
    const given = readFileSync(samplePath("broken", name));
    expect(sha256(readFileSync(join(lab, "refused", name)))).toBe(sha256(given));
    expect(readFileSync(join(lab, "refused", `${name}.why.txt`), "utf8")).toContain(answer.reason.text);
    expect(existsSync(join(lab, "refused", `${name}.why.xlsx`))).toBe(true);
  });

  it("a sheet without a required column is not judged, the others are", () => {
    const done = coilbook(["check", samplePath("broken", "missing-column.xlsx"), "--alone", "--json"]);
    const [answer] = jsonLines(done.out) as unknown as [
      {
        findings: { code: string; sheet: string; actual?: string; expected?: string }[];
        orders: { coils: { requirements: { property: string; verdict: string }[] }[] }[];
      },
    ];
    expect(done.status).toBe(1);
    expect(answer.findings.filter((f) => f.code === "missing-column")).toMatchObject([{ sheet: "Torsion" }]);
    const found = Object.fromEntries(answer.orders[0]?.coils[0]?.requirements.map((r) => [r.property, r.verdict]) ?? []);
    expect(found).toMatchObject({ torsion: "undecided", diameter: "conforms", "tensile-strength": "conforms" });
  });
});

describe("the returned workbook", () => {
  const names = readdirSync(samplePath("inbox"));
  it.each(names)("%s keeps every cell of the clerk and adds verdict, reason and next step", (name) => {
    const before = readWorkbook(new Uint8Array(readFileSync(samplePath("inbox", name))));
    const after = readWorkbook(new Uint8Array(readFileSync(join(lab, "returned", name))));
    if (!before.ok || !after.ok) throw new Error("a sample was refused");
    const findings = name.includes("feder") ? "Befunde" : "Findings";
    expect(after.workbook.sheets.map((s) => s.name)).toEqual([...before.workbook.sheets.map((s) => s.name), findings]);
    for (const sheet of before.workbook.sheets) {
      const own = after.workbook.sheets.find((s) => s.name === sheet.name);
      const definition = ENTRY_SHEETS.find((s) => s.columns.some((c) => c.field === "verdict") && s.name === sheet.name);
      const first = (definition?.columns.findIndex((c) => c.field === "verdict") ?? Number.POSITIVE_INFINITY) + 1;
      for (const [row, cells] of sheet.rows)
        for (const cell of cells) {
          if (definition !== undefined && cell.column >= first) continue;
          expect(own?.rows.get(row)?.find((c) => c.column === cell.column)).toMatchObject({ raw: cell.raw, type: cell.type });
        }
    }
  });

  it("opens in another library with its verdicts beside the rows", async () => {
    const book = new ExcelJS.Workbook();
    await book.xlsx.readFile(join(lab, "returned", "02-day-book.xlsx"));
    const sheet = book.getWorksheet("Torsion");
    const columns = ENTRY_SHEETS.find((s) => s.sheet === "torsion")?.columns ?? [];
    const at = (row: number, field: string): string => sheet?.getCell(row, columns.findIndex((c) => c.field === field) + 1).text ?? "";
    const rowOf = (piece: string): number => {
      for (let row = 5; row < 60; row += 1) if (at(row, "testPiece") === piece) return row;
      throw new Error(`no row of ${piece}`);
    };
    const coilOf = (story: string): string => expected.coils.find((c) => c.story === story)?.coil ?? "";
    const grip = rowOf(`${coilOf("torsion-grip-void")}-T1`);
    expect(at(grip, "verdict")).toBe("– void");
    expect(at(grip, "why")).toContain("broke at the grip");
    expect(at(grip, "next")).toMatch(/^Cut 1 more/);
    const due = rowOf(`${coilOf("retest-due")}-T1`);
    expect(at(due, "verdict")).toBe("✕ does not conform");
    expect(at(due, "next")).toContain("Cut 2 more");
  });
});

describe("documents of the samples", () => {
  it("an item that conforms has its report, and the failing one its notice, in PDF and XLSX", () => {
    const made = Object.fromEntries(
      readdirSync(join(lab, "documents")).map((order) => [order, readdirSync(join(lab, "documents", order)).sort()]),
    );
    expect(Object.keys(made).sort()).toEqual(["QM-2602", "QM-2603", "QM-2604"]);
    for (const files of Object.values(made)) expect(files.map((f) => f.split(".").at(-1))).toEqual(["pdf", "xlsx"]);
    for (const [order, files] of Object.entries(made))
      for (const file of files.filter((f) => f.endsWith(".pdf")))
        expect(
          readFileSync(join(lab, "documents", order, file))
            .subarray(0, 5)
            .toString(),
        ).toBe("%PDF-");
  });

  it("numbers in the XLSX are numbers", async () => {
    const order = join(lab, "documents", "QM-2604");
    const file = readdirSync(order).find((name) => name.endsWith(".xlsx")) ?? "";
    const book = new ExcelJS.Workbook();
    await book.xlsx.readFile(join(order, file));
    const sheet = book.worksheets[0];
    const rows: ExcelJS.CellValue[][] = [];
    sheet?.eachRow((row) => rows.push(row.values as ExcelJS.CellValue[]));
    const coil = rows.find((row) => row[1] === "74001");
    expect(coil?.filter((value) => typeof value === "number").length).toBeGreaterThanOrEqual(4);
    expect(book.worksheets.map((s) => s.state)).toContain("veryHidden");
  });

  it("a 3.1 certificate waits for a person of quality who did not test", () => {
    const [drafts] = jsonLines(expectRun([0, 1], ["certificate", "QM-2601", "--json", "--lab", lab]).out) as unknown as [
      { drafts: { draft: string; status: string }[] },
    ];
    expect(drafts.drafts).toMatchObject([{ status: "draft" }]);
    const draft = drafts.drafts[0]?.draft ?? "";
    expect(coilbook(["sign", draft, "--by", "Bo Ferrant", "--lab", lab]).status).toBe(3);
    expectRun([0], ["sign", draft, "--by", ADMIN, "--lab", lab]);
    expectRun([0], ["work", "--drain", "--lab", lab]);
    expect(readdirSync(join(lab, "documents", "QM-2601")).length).toBe(2);
  });
});

describe("the same again", () => {
  it("dropping every workbook again changes nothing", async () => {
    const [facts, documents] = [await factCount(), readdirSync(join(lab, "documents"), { recursive: true }).sort()];
    dropSamples(lab, "inbox");
    dropSamples(lab, "second-day");
    expectRun([0], ["work", "--drain", "--lab", lab]);
    expect(await factCount()).toBe(facts);
    expect(readdirSync(join(lab, "documents"), { recursive: true }).sort()).toEqual(documents);
    expect(readdirSync(join(lab, "inbox"))).toEqual([]);
  });

  it("audit finds every hash and every state in order", () => {
    expect(expectRun([0], ["audit", "--lab", lab]).status).toBe(0);
  });
});

describe("why", () => {
  const corrected = expected.coils.find((c) => c.story === "strength-below")?.coil ?? "";

  it("prints the way from the cell to the certificate", () => {
    const coil = expected.coils.find((c) => c.order === "QM-2604")?.coil ?? "";
    const { out } = expectRun([0], ["why", coil, "--property", "torsion", "--lab", lab]);
    const kept = readdirSync(join(lab, "data", "kept"));
    expect(out).toMatch(/cell Verwinden!K\d+ of 04-federdraht\.xlsx/);
    expect(kept.some((name) => out.includes(`kept/${name}`))).toBe(true);
    expect(out).toMatch(/typed "\d+(\.\d+)?"/);
    expect(out).toMatch(/EN 10270-1 2011.*provenance memory, not adopted/);
    expect(out).toMatch(/documents\/QM-2604\/\d{4}-\d{5}\.pdf written/);
  });

  it("after a correction, --as-of still shows the old verdict", () => {
    const now = expectRun([0], ["why", corrected, "--property", "tensile-strength", "--json", "--lab", lab]);
    const then = expectRun([0], ["why", corrected, "--property", "tensile-strength", "--json", "--as-of", firstDayEnd, "--lab", lab]);
    const verdict = (run: typeof now): string =>
      (JSON.parse(run.out) as { properties: { verdict: string }[] }).properties[0]?.verdict ?? "";
    expect(verdict(then)).toBe("retest-due");
    expect(verdict(now)).toBe("conforms");
    expect(now.out).toContain("the dial was read 200 N low");
  });
});
