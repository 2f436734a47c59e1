/** The bench workbook as its users meet it: opened, calculated, filled and saved by another program. */
import { spawnSync } from "node:child_process";
import { copyFileSync, mkdirSync, readFileSync, writeFileSync } from "node:fs";
import { join } from "node:path";
import ExcelJS from "exceljs";
import { strFromU8, unzipSync } from "fflate";
import { afterAll, describe, expect, it } from "vitest";
import { ENTRY_SHEETS } from "../../core/entry/index.ts";
import { readWorkbook } from "../../core/workbook/index.ts";
import { coilbook, expectRun, jsonLines, temporaryFolder } from "../helpers/cli.ts";
import { officeConvert } from "../helpers/office.ts";
import { samplePath } from "../helpers/sample-lab.ts";
import { describeWith } from "../helpers/tools.ts";

const folder = temporaryFolder();
afterAll(() => folder.remove());

function prepare(name: string): string {
  const file = join(folder.path, name);
  expectRun([0], ["prepare", samplePath("nine-coils.json"), "--out", file], { cwd: folder.path });
  return file;
}

describe("prepare", () => {
  it("makes the plan, the cards, the cut list and every sheet the order needs", () => {
    const read = readWorkbook(new Uint8Array(readFileSync(prepare("plan.xlsx"))));
    if (!read.ok) throw new Error(read.refusal.text);
    expect(read.workbook.sheets.map((s) => s.name)).toEqual([
      "Set-up plan",
      "Cards",
      "Cut list",
      "Overview",
      "Orders",
      "Agreed",
      "Coils",
      "Heats",
      "Instruments",
      "Diameter",
      "Tensile",
      "Torsion",
      "Wrap",
      "Coiling",
      "Other",
      "Limits",
    ]);
    const text = (sheet: string): string =>
      [...(read.workbook.sheets.find((s) => s.name === sheet)?.rows.values() ?? [])]
        .flat()
        .map((cell) => cell.raw)
        .join("\n");
    // EN 10270-1 SH 2.00 mm: 16 turns on 100 d, mandrel d, 8 wraps, at most 60 r/min (tests/data/reference); 2 d at the grip (DESIGN section 8).
    expect(text("Cards")).toContain("260 mm each: free length 200 mm");
    expect(text("Cards")).toContain("at most 60 r/min");
    expect(text("Cards")).toContain("nearer than 4 mm to a jaw with fewer than 16 turns does not count: cut the next piece");
    expect(text("Cards")).toContain("whole turns; 16 and three quarters is 16");
    expect(text("Cards")).toContain("8, closed, tight on the mandrel");
    expect(text("Cards")).toContain("Guard or shield closed and its switch working before the drive starts.");
    expect(text("Cards")).toContain("Local safety rules, the machine's manual and the licensed standard come first.");
    // 1980 MPa on 2.00 mm: 1980 * pi / 4 * 4 = 6220 N.
    expect(text("Cards")).toContain("6220 N at the minimum, 6912 N at the maximum");
    expect(text("Cut list")).toContain("76009-T1");
  });

  it("an unfilled bench workbook has no finding, and next says exactly what to do for each of nine coils", () => {
    const done = coilbook(["check", prepare("unfilled.xlsx"), "--alone", "--json"]);
    const [answer] = jsonLines(done.out) as unknown as [
      { findings: unknown[]; orders: { verdict: string; coils: { coil: string; next: { do: string; text: string }[] }[] }[] },
    ];
    expect(done.status).toBe(1);
    expect(answer.findings).toEqual([]);
    expect(answer.orders[0]?.verdict).toBe("not-tested");
    expect(answer.orders[0]?.coils.length).toBe(9);
    for (const coil of answer.orders[0]?.coils ?? [])
      expect(coil.next.map((step) => step.text)).toEqual([
        "Cut 1 piece and test tensile strength.",
        "Cut 1 piece and test diameter.",
        "Cut 1 piece and test out of round.",
        "Cut 1 piece and test coiling.",
        "Cut 1 piece and test wrap.",
        "Cut 1 piece and test torsion.",
      ]);
  });

  it("refuses an order list with an unknown grade, and says which are held", () => {
    const list = JSON.parse(readFileSync(samplePath("nine-coils.json"), "utf8")) as { orders: { grade: string }[] };
    for (const order of list.orders) order.grade = "XX";
    const file = join(folder.path, "wrong.json");
    writeFileSync(file, JSON.stringify(list));
    const done = coilbook(["prepare", file, "--out", join(folder.path, "none.xlsx")]);
    expect(done.status).toBe(2);
    expect(done.err).toMatch(/unknown-grade.*"XX".*SL, SM, SH, DM, DH/);
  });
});

/** Fills the sheets of a prepared workbook as a clerk would, in another library. */
async function fill(
  file: string,
  rows: Readonly<Record<string, (i: number) => Readonly<Record<string, string | number | Date>>>>,
): Promise<void> {
  const book = new ExcelJS.Workbook();
  await book.xlsx.readFile(file);
  for (const [name, valuesOf] of Object.entries(rows)) {
    const sheet = book.getWorksheet(name);
    const columns = ENTRY_SHEETS.find((s) => s.name === name)?.columns ?? [];
    for (let i = 0; i < 9; i += 1)
      for (const [field, value] of Object.entries(valuesOf(i))) {
        const cell = sheet?.getCell(5 + i, columns.findIndex((c) => c.field === field) + 1);
        if (cell !== undefined) cell.value = value;
      }
  }
  // Without their stored results, as a program leaves formulas that it cannot calculate: the next one has to.
  for (const sheet of book.worksheets)
    sheet.eachRow((row) =>
      row.eachCell((cell) => {
        if (cell.formula !== undefined) cell.value = { formula: cell.formula, date1904: false } as ExcelJS.CellFormulaValue;
      }),
    );
  await book.xlsx.writeFile(file);
}

interface Prepared {
  readonly name: string;
  readonly rows: ReadonlyMap<number, readonly { readonly column: number; readonly raw: string; readonly formula?: string }[]>;
}

function sheetsOf(file: string): readonly Prepared[] {
  const read = readWorkbook(new Uint8Array(readFileSync(file)));
  if (!read.ok) throw new Error(read.refusal.text);
  return read.workbook.sheets as readonly Prepared[];
}

const textOf = (sheets: readonly Prepared[], name: string): string =>
  [...(sheets.find((s) => s.name === name)?.rows.values() ?? [])]
    .flat()
    .map((cell) => cell.raw)
    .join("\n");

/** An invented lab that cannot do three of the tests of wire SH 2.00 mm and knows it. */
const EQUIPMENT = [
  { name: "T1", kind: "torsion", freeLengthMin: "20 mm", freeLengthMax: "152 mm", hanger: { name: "hanger", mass: "0.5 kg" }, weights: [] },
  { name: "W1", kind: "wrap", mandrels: ["1.8 mm", "2.2 mm", "6.5 mm"] },
  { name: "TM-1", kind: "tensile", forceMax: "5 kN" },
];

function prepareWith(name: string, settings: object, args: readonly string[] = []): string {
  const lab = join(folder.path, `lab-${name}`);
  mkdirSync(lab, { recursive: true });
  writeFileSync(join(lab, "coilbook.json"), JSON.stringify(settings));
  const file = join(folder.path, name);
  expectRun([0], ["prepare", samplePath("nine-coils.json"), "--out", file, "--lab", lab, ...args]);
  return file;
}

describe("prepare with the lab's own equipment", () => {
  it("says on plan, card and cut list what cannot be done, and what would help", () => {
    const sheets = sheetsOf(prepareWith("cannot.xlsx", { equipment: EQUIPMENT }));
    for (const sheet of ["Set-up plan", "Cards"]) {
      const text = textOf(sheets, sheet);
      // 100 x 2.00 mm; 1 d within 5 %; 1980 to 2200 MPa on 2.00 mm.
      expect(text).toContain("T1 ends at 152 mm between the jaws; 200 mm is required and may not be scaled");
      expect(text).toContain("a tester that holds 200 mm between the jaws; or take 152 mm, which is harder");
      expect(text).toContain("no mandrel of W1 measures 1.9 mm to 2.1 mm; the nearest: 1.8 mm, 2.2 mm");
      expect(text).toContain("TM-1 measures as far as 5 kN; the piece is held against 6220 N to 6912 N");
    }
    expect(textOf(sheets, "Cards")).toContain("Do not cut before quality has decided.");
    expect(textOf(sheets, "Cut list")).toContain("do not cut yet: card");
    // The coiling mandrel is on the shelf.
    expect(textOf(sheets, "Cards")).toContain("6.5 mm from the shelf; required 6 to 7 mm");
  });

  it.each([
    { change: { freeLengthMin: "200 mm" }, said: /freeLengthMin "200 mm" is above freeLengthMax "152 mm"/ },
    { change: { freeLengthMin: "200" }, said: /a length such as "500 mm"/ },
    { change: { freeLengthMin: "0.2 kg" }, said: /a length such as "500 mm"/ },
    { change: { speedMax: "fast" }, said: /a speed such as "60 r\/min"/ },
  ])("refuses the setting $change", ({ change, said }) => {
    const lab = join(folder.path, "wrong-lab");
    mkdirSync(lab, { recursive: true });
    writeFileSync(join(lab, "coilbook.json"), JSON.stringify({ equipment: [{ ...EQUIPMENT[0], ...change }] }));
    const done = coilbook(["prepare", samplePath("nine-coils.json"), "--out", join(folder.path, "none.xlsx"), "--lab", lab]);
    expect(done.status).toBe(64);
    expect(done.err).toMatch(/equipment\.0\./);
    expect(done.err).toMatch(said);
  });
});

describe("the sheets of a bench workbook", () => {
  const parts = (file: string): Readonly<Record<string, string>> =>
    Object.fromEntries(Object.entries(unzipSync(new Uint8Array(readFileSync(file)))).map(([name, bytes]) => [name, strFromU8(bytes)]));
  const sheetXml = (file: string, name: string): string => {
    const all = parts(file);
    const index = sheetsOf(file).findIndex((sheet) => sheet.name === name);
    return all[`xl/worksheets/sheet${index + 1}.xml`] ?? "";
  };

  it("protect what is ours and leave every input cell free, without a password", () => {
    const file = prepare("protected.xlsx");
    const styles = [...(parts(file)["xl/styles.xml"] ?? "").matchAll(/<xf [^>]*applyProtection[^>]*>.*?<\/xf>/g)].map(([xf]) =>
      xf.includes('locked="0"'),
    );
    for (const sheet of ENTRY_SHEETS) {
      const xml = sheetXml(file, sheet.name);
      if (xml === "" || !sheet.columns.some((column) => column.computed)) continue;
      expect(xml).toMatch(/<sheetProtection sheet="1"[^>]*sort="0" autoFilter="0"\/>/);
      expect(xml).not.toMatch(/<sheetProtection[^>]*(password|hashValue)/);
      const [row] = [...xml.matchAll(/<row r="7".*?<\/row>/g)];
      const free = [...(row?.[0] ?? "").matchAll(/<c r="[A-Z]+7" s="(\d+)"/g)].map(([, style]) => styles[Number(style) - 1]);
      expect(free).toEqual(sheet.columns.map((column) => column.computed !== true));
    }
    // Filtering a protected sheet needs a filter that is there already.
    for (const name of ["Limits", "Torsion", "Overview"]) expect(sheetXml(file, name)).toMatch(/<autoFilter ref="A4:/);
  });

  it("store every live formula with what it gives for an unfilled row", () => {
    const sheets = sheetsOf(prepare("stored.xlsx"));
    const torsion = sheets.find((sheet) => sheet.name === "Torsion");
    const formulas = [...(torsion?.rows ?? [])].flatMap(([row, cells]) =>
      row > 4 ? cells.filter((cell) => cell.formula !== undefined) : [],
    );
    // Nine pieces and fifty spare rows, a verdict and its figures each.
    expect(formulas.length).toBe(2 * (9 + 50));
    expect(new Set(formulas.map((cell) => cell.raw))).toEqual(new Set([""]));
    expect(torsion?.rows.get(3)?.[0]?.raw).toBe("0");
  });

  it("speak the tester's language, and keep the words that the entry reads", () => {
    const file = prepareWith("deutsch.xlsx", {}, ["--language", "de"]);
    const names = sheetsOf(file).map((sheet) => sheet.name);
    expect(names).toEqual(expect.arrayContaining(["Einrichtplan", "Karten", "Schnittliste", "Übersicht", "Verwinden", "Grenzwerte"]));
    const xml = sheetXml(file, "Verwinden");
    expect(xml).toContain("<formula1>&quot;clear,grip,none&quot;</formula1>");
    expect(xml).toContain("Zulässig: clear (frei), grip (Klemme), none (keine).");
    // Shown in German where the code is stored.
    expect(parts(file)["xl/styles.xml"]).toContain("&quot;Klemme&quot;");
    expect(textOf(sheetsOf(file), "Grenzwerte")).toContain("Freie Länge ab");
    const done = coilbook(["check", file, "--alone", "--json"]);
    expect(jsonLines(done.out)[0]?.["findings"]).toEqual([]);
  });

  it.each([
    { paper: "A4", size: 9 },
    { paper: "Letter", size: 1 },
  ])("print on $paper", ({ paper, size }) => {
    const file = prepareWith(`${paper}.xlsx`, { paper });
    for (const { name } of sheetsOf(file)) expect(sheetXml(file, name), name).toContain(`<pageSetup paperSize="${size}"`);
  });
});

describeWith(["soffice", "pdftotext"], "printed", () => {
  it.each(["A4", "Letter"])("every card is one page of %s", (paper) => {
    const file = prepareWith(`printed-${paper}.xlsx`, { paper, equipment: EQUIPMENT });
    const out = join(folder.path, "pdf");
    officeConvert([file], "pdf", out);
    const done = spawnSync("pdftotext", [join(out, `printed-${paper}.pdf`), "-"], { encoding: "utf8" });
    const pages = done.stdout.split("\f");
    const cards = pages.filter((page) => /Cards\s+Page/.test(page) || page.includes("· Cards"));
    expect(cards.length).toBeGreaterThan(4);
    expect(cards.map((page) => page.match(/^Card \d+ · /m)?.[0])).toEqual(cards.map((_, i) => `Card ${i + 1} · `));
    // The code that leads back to the row stands beside its blank.
    expect(cards.find((page) => page.includes("· Torsion"))).toMatch(/Torsion 5/);
  });
});

const day = new Date(Date.UTC(2026, 2, 2));
// One coil a case; EN 10270-1 SH 2.00 mm: 1980 to 2200 MPa, 1.975 to 2.025 mm, out of round 0.025, 16 turns on 200 mm, mandrel 2 mm, coiling 6 to 7 mm.
const FORCES = [6500, 6400, 6150, 6990, 6500, 6500, 6500, 6500, 6500];
const LARGEST = [2.004, 2.0255, 2.0245, 2.004, 1.99, 2.004, 2.004, 2.004, 2.004];
const TURNS: readonly { turns: number; freeLength: number; breakAt: string }[] = [
  { turns: 20.75, freeLength: 200, breakAt: "clear" },
  { turns: 15.75, freeLength: 200, breakAt: "clear" },
  { turns: 12, freeLength: 200, breakAt: "grip" },
  { turns: 18, freeLength: 200, breakAt: "grip" },
  { turns: 14, freeLength: 180, breakAt: "clear" },
  { turns: 17, freeLength: 240, breakAt: "clear" },
  { turns: 18, freeLength: 180, breakAt: "clear" },
  { turns: 16, freeLength: 202, breakAt: "clear" },
  { turns: 14, freeLength: 240, breakAt: "clear" },
];
const EXPECTED_TORSION = ["conforms", "does-not-conform", "void", "conforms", "void", "void", "conforms", "conforms", "does-not-conform"];
const MANDRELS = [2, 2.2, 1.5, 2, 3, 2, 2, 2, 2];
const CRACKS = ["none", "none", "visible", "visible", "none", "broken", "none", "none", "none"];
const EXPECTED_WRAP = ["conforms", "void", "void", "does-not-conform", "void", "does-not-conform", "conforms", "conforms", "conforms"];
const READINGS = {
  Diameter: (i: number) => ({ position: "1", largest: LARGEST[i] ?? 2, smallest: 1.985, date: day, tester: "Bo Ferrant" }),
  Tensile: (i: number) => ({ diameter: 2, maximumForce: FORCES[i] ?? 0, breakAt: i === 2 ? "grip" : "clear", date: day }),
  Torsion: (i: number) => ({ diameter: 2, speed: 50, ...(TURNS[i] ?? {}), date: day }),
  Wrap: (i: number) => ({
    purpose: "ductility",
    diameter: 2,
    mandrelDiameter: MANDRELS[i] ?? 2,
    wraps: 8,
    cracks: CRACKS[i] ?? "none",
    date: day,
  }),
  Coiling: (i: number) => ({
    diameter: i === 8 ? "2.0" : 2,
    mandrelDiameter: 6.5,
    evenPitch: i === 4 ? "no" : "yes",
    cracks: "none",
    date: day,
  }),
} as const;

describeWith(["soffice"], "a bench workbook filled and saved again by LibreOffice", () => {
  it("gives the same check --json as before, and its own live verdicts agree with the judgement", async () => {
    const before = prepare("bench.xlsx");
    await fill(before, READINGS);
    mkdirSync(join(folder.path, "out"), { recursive: true });
    officeConvert([before], "xlsx", join(folder.path, "out"));
    const check = (file: string) => {
      const same = join(folder.path, "same.xlsx");
      copyFileSync(file, same);
      return jsonLines(expectRun([1], ["check", same, "--alone", "--json"]).out)[0];
    };
    const saved = join(folder.path, "out", "bench.xlsx");
    expect(check(saved)).toEqual(check(before));

    const read = readWorkbook(new Uint8Array(readFileSync(saved)));
    if (!read.ok) throw new Error(read.refusal.text);
    const live = (name: string): readonly string[] => {
      const sheet = read.workbook.sheets.find((s) => s.name === name);
      const column = (ENTRY_SHEETS.find((s) => s.name === name)?.columns.findIndex((c) => c.field === "verdict") ?? 0) + 1;
      return Array.from({ length: 10 }, (_, i) => sheet?.rows.get(5 + i)?.find((cell) => cell.column === column)?.raw ?? "");
    };
    expect(live("Torsion")).toEqual([...EXPECTED_TORSION, ""]);
    expect(live("Wrap")).toEqual([...EXPECTED_WRAP, ""]);
    // 6500 N: 2069 MPa; 6150 N: 1958, below 1980 and broken at the grip; 6990 N: 2225, above 2200.
    expect(live("Tensile").slice(0, 4)).toEqual(["conforms", "conforms", "void", "does-not-conform"]);
    // 2.0255 goes to the even 2.026, above 2.025; 2.0245 to 2.024.
    expect(live("Diameter").slice(0, 3)).toEqual(["conforms", "does-not-conform", "does-not-conform"]);
    expect(live("Coiling").slice(3, 5)).toEqual(["conforms", "does-not-conform"]);
    // The figures behind the preview: 2.0255 on its tie goes to the even 2.026; 6150 N / (pi x 1 mm2) is 1957.6058 MPa (worked with another calculator).
    const figures = (name: string, row: number): string => {
      const column = (ENTRY_SHEETS.find((s) => s.name === name)?.columns.findIndex((c) => c.field === "why") ?? 0) + 1;
      return (
        read.workbook.sheets
          .find((s) => s.name === name)
          ?.rows.get(row)
          ?.find((cell) => cell.column === column)?.raw ?? ""
      );
    };
    expect(figures("Diameter", 6)).toBe("2.0255 → compared 2.026; 1.985 → compared 1.985");
    expect(figures("Tensile", 7)).toBe("1957.6058 → compared 1958");
    expect(figures("Torsion", 5)).toBe("20.75 → compared 20");
    // The line of a coil: Diameter, Tensile, Torsion, Wrap, Coiling in the order of the sheets, then all of it and what is open.
    const overview = (row: number): readonly string[] =>
      (read.workbook.sheets.find((s) => s.name === "Overview")?.rows.get(row) ?? [])
        .filter((cell) => cell.column > 2)
        .map((cell) => cell.raw);
    expect(overview(5)).toEqual(["conforms", "conforms", "conforms", "conforms", "conforms", "conforms", "0"]);
    expect(overview(6)[overview(6).length - 2]).toBe("does-not-conform");
    expect(overview(12)).toEqual(["conforms", "conforms", "conforms", "conforms", "conforms", "conforms", "0"]);
    // A count pasted as text is counted above the header; the others hold none.
    expect(["Torsion", "Coiling"].map((name) => read.workbook.sheets.find((s) => s.name === name)?.rows.get(3)?.[0]?.raw)).toEqual([
      "0",
      "1",
    ]);
    // No warning live-verdict-differs: what the sheet shows is what is judged.
    const findings = (check(saved)?.["findings"] ?? []) as { code: string }[];
    expect(findings.filter((f) => f.code === "live-verdict-differs")).toEqual([]);
  });
});
