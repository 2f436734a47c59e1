/** What documents say: checklists of the standards, every value of the view in every form, languages, units, sizes, letters. */
import { spawnSync } from "node:child_process";
import { writeFileSync } from "node:fs";
import { join } from "node:path";
import ExcelJS from "exceljs";
import { afterAll, beforeAll, describe, expect, it } from "vitest";
import { textsOf } from "../../../templates/bilingual.ts";
import type { CertificateRecord } from "../../../templates/certificate/record.ts";
import { toCertificateView } from "../../../templates/certificate/view.ts";
import { toNoticeView } from "../../../templates/notice/view.ts";
import type { PrintedRecord } from "../../../templates/records.ts";
import { toRetestView } from "../../../templates/retest/view.ts";
import { createRenderer, recordFile } from "../../../worker/rendering/index.ts";
import { checkOf } from "../../../worker/rendering/pages.ts";
import { temporaryFolder } from "../../helpers/cli.ts";
import { ISSUE, inventedCertificate, inventedLabels, inventedNotice, inventedRetest } from "../../helpers/invented-records.ts";
import { structureFaults } from "../../helpers/pdf-structure.ts";
import { describeWith } from "../../helpers/tools.ts";

const renderer = createRenderer({ browserPath: "", browsers: 1, paper: "A4" });
const letter = createRenderer({ browserPath: "", browsers: 1, paper: "Letter" });
const folder = temporaryFolder();
afterAll(async () => {
  await renderer.close();
  await letter.close();
  folder.remove();
});

const run = (tool: string, ...given: readonly string[]): string => {
  const done = spawnSync(tool, given, { encoding: "utf8", maxBuffer: 64 * 1024 * 1024 });
  if (done.status !== 0) throw new Error(`${tool}: ${done.stdout}${done.stderr}`);
  return done.stdout;
};
const saved = (name: string, bytes: Uint8Array): string => {
  const path = join(folder.path, name);
  writeFileSync(path, bytes);
  return path;
};
/** Text in reading order. */
const textOf = (pdf: Uint8Array): string => run("pdftotext", "-raw", saved("text.pdf", pdf), "-");
/** Lines break anywhere on paper, so blanks, soft hyphens and hyphens at line ends do not count. */
const close = (text: string): string => text.normalize("NFC").replaceAll(/[\s\u00ad\u200b-\u200f\u202a-\u202e\u2066-\u2069-]/gu, "");
const printed = async (record: PrintedRecord): Promise<string> => textOf(await renderer.render(record, ISSUE, "pdf"));

/** Every text of a view, without pictures and names of shapes. */
function textsIn(view: unknown): readonly string[] {
  if (typeof view === "string") return textsOf(view);
  if (Array.isArray(view)) return view.flatMap(textsIn);
  if (typeof view !== "object" || view === null) return [];
  return Object.entries(view).flatMap(([key, value]) =>
    ["svg", "shape", "language", "title", "labels"].includes(key) ? [] : textsIn(value),
  );
}

/** Everything that a certificate can say. */
const FULL: Partial<CertificateRecord> = {
  delivery: "D-2601-7",
  coatingClass: "EN 10244-2 A",
  nominalBeside: { text: "0.0787", unit: "in" },
  lab: { name: "Quillmark Wire (an invented mill)", address: ["Mill Lane 1", "Exampleton"], footer: "Registered nowhere, number 0" },
  customer: { name: "Brindlefoot Springs", address: ["3 Invented Row"], contact: "P. Larch", order: "BF 40118" },
  notes: [
    { kind: "deviation", coil: "81001", property: "torsion", piece: "81001-T1", deviation: "harder-grip-break" },
    { kind: "void", coil: "81002", property: "torsion", count: 1 },
    { kind: "retest", coil: "81003", property: "torsion", first: "81003-T1" },
    { kind: "agreed", property: "diameter", agreedIn: "letter of 2026-01-02" },
    { kind: "concession", coil: "81004", property: "diameter", reference: "BF-C-7" },
    { kind: "not-adopted", specification: "QW 100:2026" },
  ],
};
function full(coils: number, change: Partial<CertificateRecord> = {}): CertificateRecord {
  const base = inventedCertificate(coils, { ...FULL, ...change });
  return {
    ...base,
    requirements: base.requirements.map((requirement, index) => ({
      ...requirement,
      method: ["ISO 6892-1:2019", "ISO 7800:2012", "ISO 7802:2013", "EN 10218-2:2012"][index] ?? "",
      instruments: [["TM-1"], ["TT-1"], ["WT-1"], ["MIC-1"]][index] ?? [],
      ...(index === 0 ? { uncertainty: "12", unitBeside: "ksi" } : {}),
    })),
    rows: base.rows.map((row, index) => ({
      ...row,
      ...(index === 1 ? { basis: "test-unit" as const } : {}),
      massBeside: { text: "529", unit: "lb" },
      cells: row.cells.map((cell, column) => (cell !== null && column === 0 ? { ...cell, uncertainty: "12", beside: "261.1" } : cell)),
    })),
  };
}

describeWith(["pdftotext"], "checklists of the standards", () => {
  let certificate: string;
  let report: string;
  beforeAll(async () => {
    certificate = close(await printed(full(4)));
    report = close(await printed(full(4, { form: "laboratory-report" })));
  });

  /** @source EN 10204:2004, clauses 3 to 5 and table A.1 (from memory); EN 10168:2004, field groups A, B, C, D, Z (secondary description, memory) */
  it.each([
    ["10204 4.1: kind of document named with its type", "Inspection certificate 3.1 according to EN 10204:2004"],
    ["10204 4.1: declared to comply with the order", "comply with the requirements of the order"],
    ["10204 4.1: specific inspection", "specific inspection of the coils or their test units"],
    ["10204 4.1: who validated it", "Signed by Ada Thornquist"],
    ["10168 A01: the manufacturer's works", "Quillmark Wire (an invented mill)"],
    ["10168 A02: type of document", "Inspection certificate"],
    ["10168 A03: document number", "A03 Number 2026-00042"],
    ["10168 A06: purchaser", "A06 Purchaser Brindlefoot Springs, 3 Invented Row, P. Larch"],
    ["10168 A07: purchaser's order", "A07 Purchaser's order BF 40118"],
    ["10168 A08: manufacturer's works number", "A08 Works order and item QM-2601 / 10"],
    ["10168 A10: delivery", "A10 Delivery note D-2601-7"],
    ["10168 B01: product", "B01 Product Spring wire, bright"],
    ["10168 B02: specification and grade", "B02 Specification QW 100:2026"],
    ["10168 B03: supplementary requirements: coating", "EN 10244-2 A"],
    ["10168 B07: identification of the product", "81001 H7720"],
    ["10168 B08: number of pieces", "B08 Coils 4"],
    ["10168 B09: dimensions", "B09 Nominal diameter 2.00 mm"],
    ["10168 B12: actual mass", "240 kg"],
    ["10168 C10 ff.: tensile test, limit", "1800 – 2050 MPa"],
    ["10168 C50 ff.: torsion, condition", "free length 200 mm"],
    ["10168 C70 ff.: chemical composition", "0.009"],
    ["10168 D01: dimensional check", "D01 Diameter 1.980 – 2.020 mm"],
    ["10168 Z01: statement of compliance", "We declare that the products named here comply"],
    ["10168 Z02: date of issue and validation", "Z02 Issued on 2026-03-03"],
  ])("EN %s", (_, text) => {
    expect(certificate).toContain(close(text));
  });

  /** @source ISO/IEC 17025:2017, 7.8.2.1 a to p, 7.8.3.1, 7.8.6 (clauses from memory) */
  it.each([
    ["7.8.2.1 a: title", "Laboratory test report"],
    ["7.8.2.1 b: name and address of the laboratory", "Mill Lane 1"],
    ["7.8.2.1 c: place of the activity", "Place of testing Mill Lane 1, Exampleton"],
    ["7.8.2.1 d: identification on the report and its end", "End of document 2026-00042"],
    ["7.8.2.1 d: each page belongs to the report", "Page 1 of 2"],
    ["7.8.2.1 e: name and contact of the customer", "Brindlefoot Springs, 3 Invented Row, P. Larch"],
    ["7.8.2.1 f: method", "ISO 7800:2012"],
    ["7.8.2.1 g: description and identification of the item", "Product Spring wire, bright"],
    ["7.8.2.1 i: dates of the activity", "Tested on 2026-03-02"],
    ["7.8.2.1 j: date of issue", "Issued on 2026-03-03"],
    ["7.8.2.1 l: results relate to the items tested", "The results concern only the items tested."],
    ["7.8.2.1 m: results with units", "Tensile strength MPa"],
    ["7.8.2.1 n: deviations", "Coil 81001, Torsion, piece 81001-T1: broke at the grip (harder)."],
    ["7.8.2.1 o: who authorised it", "Signed by Ada Thornquist"],
    ["7.8.2.1 p: results of others are marked", "heat, from the supplier of the rod"],
    ["7.8.2.1 note: not to be copied in part", "This document may be copied only as a whole."],
    ["7.8.3.1 a: conditions of the test", "mandrel 2 mm; 8 wraps"],
    ["7.8.3.1 b: statement of conformity", "Where conformity is stated"],
    ["7.8.3.1 c: uncertainty in the unit of the result", "± 12 MPa"],
    ["7.8.6: decision rule, and to which requirement", "Decision rule: simple acceptance"],
  ])("ISO/IEC 17025 %s", (_, text) => {
    expect(report).toContain(close(text));
  });

  it("a report of the laboratory claims no type of EN 10204 and no accreditation", () => {
    expect(report).not.toContain(close("EN 10204"));
    expect(report).toContain(close("no accreditation is claimed"));
  });

  /** @source EN 10204:2004, 3.1 and 3.2 (memory): non-specific inspection; 2.1 gives no results */
  it.each([
    ["2.1", "Declaration of compliance with the order", "No test results are given."],
    ["2.2", "Test report 2.2 according to EN 10204:2004", "non-specific inspection"],
    ["3.2", "Inspection certificate 3.2 according to EN 10204:2004", "confirmed by the second party"],
  ] as const)("type %s", async (type, title, statement) => {
    const bare = inventedCertificate(2);
    const record =
      type === "2.1"
        ? { ...bare, type, requirements: [], heats: [], rows: bare.rows.map((row) => ({ ...row, cells: [] })) }
        : { ...bare, type };
    const text = close(await printed(record));
    expect(text).toContain(close(title));
    expect(text).toContain(close(statement));
    if (type === "2.1") expect(text).not.toContain(close("Decision rule"));
  });
});

const FORMS: readonly (readonly [string, PrintedRecord, () => object])[] = [
  ["certificate", full(6), () => toCertificateView(full(6), ISSUE)],
  ["certificate in German", full(6, { language: "de" }), () => toCertificateView(full(6, { language: "de" }), ISSUE)],
  ["certificate in English and German", full(3, { language: "en+de" }), () => toCertificateView(full(3, { language: "en+de" }), ISSUE)],
  ["certificate in French", full(3, { language: "fr" }), () => toCertificateView(full(3, { language: "fr" }), ISSUE)],
  ["certificate in Spanish and French", full(3, { language: "es+fr" }), () => toCertificateView(full(3, { language: "es+fr" }), ISSUE)],
  ["notice", inventedNotice(), () => toNoticeView(inventedNotice(), ISSUE)],
  ["notice in two languages", inventedNotice({ language: "de+en" }), () => toNoticeView(inventedNotice({ language: "de+en" }), ISSUE)],
  ["retest order", inventedRetest(), () => toRetestView(inventedRetest(), ISSUE)],
];

describeWith(["pdftotext"], "page, record and workbook say the same", () => {
  it.each(FORMS)("%s: every text of the view is in the PDF", async (_, record, view) => {
    const text = close(await printed(record));
    const missing = textsIn(view()).filter((part) => !text.includes(close(part)));
    expect(missing).toEqual([]);
    expect(text).toContain(close(checkOf(recordFile(record, ISSUE))));
  });

  it("the PDF says nothing that is not in the view", async () => {
    const record = full(4);
    const view = toCertificateView(record, ISSUE);
    const ticks = view.charts.flatMap((chart) => [...chart.svg.matchAll(/<text[^>]*>([^<]*)</g)].map((match) => match[1] ?? ""));
    // The foot counts pages; signs between two values are the page's own.
    const known = new Set(
      [...textsIn(view), ...Object.values(view.labels), ...ticks, checkOf(recordFile(record, ISSUE)), "/ · 1 2", view.number].flatMap(
        (text) => text.replaceAll("\u00ad", "").split(/\s+/),
      ),
    );
    const unknown = (await printed(record))
      .replaceAll("-\n", "-")
      .split(/\s+/)
      .filter((word) => word !== "" && !known.has(word) && !known.has(word.replace(/,$/, "")));
    expect(unknown).toEqual([]);
  });

  it("text is read in the order of the view", async () => {
    const text = close(await printed(full(6)));
    const view = toCertificateView(full(6), ISSUE);
    const order = [
      view.typeTitle,
      view.typeLine,
      "A03",
      "B01",
      view.labels["requirements"],
      view.labels["results"],
      ...view.rows.map((row) => `${row.coil}${row.heat}`),
      view.labels["chemistry"],
      view.statement,
      view.labels["end"],
    ];
    let at = -1;
    for (const part of order) {
      const found = text.indexOf(close(part ?? ""), at + 1);
      expect(found, part).toBeGreaterThan(at);
      at = found;
    }
  });
});

async function cellsOf(
  record: PrintedRecord,
): Promise<{ readonly texts: readonly string[]; readonly sheet: ExcelJS.Worksheet; readonly book: ExcelJS.Workbook }> {
  const book = new ExcelJS.Workbook();
  await book.xlsx.load(Buffer.from(await renderer.render(record, ISSUE, "xlsx")) as unknown as ArrayBuffer);
  const sheet = book.worksheets[0] as ExcelJS.Worksheet;
  const texts: string[] = [];
  sheet.eachRow((row) =>
    row.eachCell((cell) =>
      texts.push(
        typeof cell.value === "number" && cell.numFmt !== "General" && cell.numFmt !== undefined
          ? cell.value.toFixed(cell.numFmt.split(".")[1]?.length ?? 0)
          : cell.text,
      ),
    ),
  );
  return { texts, sheet, book };
}

describe("the workbook", () => {
  it.each(FORMS)("%s: every text of the view is in a cell", async (_, record, view) => {
    const { texts } = await cellsOf(record);
    const all = close(texts.join(" "));
    // Figures stand there as numbers, whose decimal mark is the spreadsheet's.
    const missing = textsIn(view()).filter(
      (part) => !all.includes(close(part)) && !all.includes(close(part.replace(/^(\d+),(\d+)$/, "$1.$2"))) && !/^[A-Z]\d\d$/.test(part),
    );
    expect(missing).toEqual([]);
  });

  /** Invented figures, spread without chance: 60 records of 1 to 12 coils. */
  it("numbers are numbers, exactly those of the record", async () => {
    for (let n = 1; n <= 60; n += 1) {
      const record = full((n % 12) + 1, { order: `O-${n}`, language: ["en", "de", "fr", "en+de"][n % 4] ?? "en" });
      const { sheet, book } = await cellsOf(record);
      const rows: ExcelJS.Row[] = [];
      sheet.eachRow((row) => {
        if (record.rows.some((r) => r.coil === row.getCell(1).text) && row.getCell(3).text.includes("kg")) rows.push(row);
      });
      expect(rows).toHaveLength(record.rows.length);
      record.rows.forEach((row, index) => {
        expect(rows[index]?.getCell(1).value).toBe(row.coil);
        row.cells.forEach((cell, column) => {
          if (cell === null || cell.word) return;
          const found = rows[index]?.getCell(4 + column);
          expect([row.coil, column, found?.value]).toEqual([row.coil, column, Number(cell.compared)]);
          expect(found?.numFmt).toBe(cell.compared.includes(".") ? `0.${"0".repeat(cell.compared.split(".")[1]?.length ?? 0)}` : "0");
        });
      });
      let json = "";
      book.getWorksheet("record")?.eachRow((row) => {
        json += row.getCell(1).text;
      });
      expect(JSON.parse(json)).toEqual({ ...record, issue: ISSUE });
    }
  });

  it("coil labels have no workbook, and say so", async () => {
    await expect(renderer.render(inventedLabels(), ISSUE, "xlsx")).rejects.toThrow("accepted is the format pdf");
  });
});

describeWith(["pdftotext"], "languages and units on the page", () => {
  it.each([
    ["fr", "Version française"],
    ["es", "Versión española"],
    ["en+fr", "Version française"],
  ])("%s says that it is a draft", async (language, says) => {
    expect(await printed(inventedCertificate(1, { language }))).toContain(says);
  });

  it.each(["en", "de", "en+de"])("%s says nothing of a draft", async (language) => {
    const text = await printed(inventedCertificate(1, { language }));
    expect(text).not.toContain("draft translation");
    expect(text).not.toContain("Entwurf der Übersetzung");
  });

  it("German figures carry the comma, on the page and in the chart", async () => {
    const text = await printed(inventedCertificate(4, { language: "de" }));
    expect(text).toContain("1800,25");
    expect(text).toContain("1,980 – 2,020 mm");
    expect(text).not.toMatch(/\d\.\d{3} mm/);
  });

  it("converted figures are marked; limits stay in their unit", async () => {
    const text = await printed(full(4));
    expect(text).toContain("261.1 ksi");
    expect(text).toContain("2.00 mm (0.0787 in)");
    expect(text).toContain("converted for information; limits hold in their own unit");
    expect(text).not.toMatch(/[≥–] ?\d+(\.\d+)? ksi/);
    expect(await printed(inventedCertificate(4))).not.toContain("converted for information");
  });

  it("a second language says which one it is to those who hear it", async () => {
    const pdf = Buffer.from(await renderer.render(inventedCertificate(1, { language: "en+de" }), ISSUE, "pdf")).toString("latin1");
    expect(/\/Lang ?\(en\)/.test(pdf)).toBe(true);
    expect(/\/Lang ?\(de\)/.test(pdf)).toBe(true);
  });

  it("the notice to the purchaser leaves out what concerns the laboratory alone", async () => {
    const [own, theirs] = [
      await printed(inventedNotice()),
      await printed(inventedNotice({ audience: "customer", answerBy: "2026-03-20" })),
    ];
    expect(own).toContain("Torsion!F12");
    expect(theirs).not.toContain("!F12");
    expect(theirs).toContain("Answer by 2026-03-20");
    expect(theirs).toContain("written acceptance");
    expect(theirs).not.toContain("role quality");
  });

  it("an amendment names what it replaces", async () => {
    const issue = { ...ISSUE, number: "2026-00050", replaces: { number: "2026-00042", why: "wrong delivery note" } };
    const text = textOf(await renderer.render(inventedCertificate(1), issue, "pdf"));
    expect(close(text)).toContain(close("Replaces 2026-00042: wrong delivery note"));
  });
});

describeWith(["pdftotext", "pdfinfo"], "sizes and papers", () => {
  it.each([
    [1, "A4", 595, 842],
    [40, "A4", 595, 842],
    [40, "Letter", 612, 792],
    [1000, "A4", 595, 842],
  ] as const)("%i coils on %s: every page has its head, its foot and its share", async (coils, paper, width, height) => {
    const pdf = await (paper === "A4" ? renderer : letter).render(inventedCertificate(coils), ISSUE, "pdf");
    const info = run("pdfinfo", saved("sized.pdf", pdf));
    const pages = Number(/Pages: +(\d+)/.exec(info)?.[1]);
    const [, w, h] = /Page size: +([\d.]+) x ([\d.]+)/.exec(info) ?? [];
    expect([Math.round(Number(w)), Math.round(Number(h))]).toEqual([width, height]);
    const texts = textOf(pdf).split("\f").slice(0, pages);
    texts.forEach((text, index) => {
      expect(text).toContain(`Page ${index + 1} of ${pages}`);
      // A page that holds rows holds their heads.
      if (/^8\d{4} H77/m.test(text)) expect(text).toContain("Stands on");
      // No page is nearly empty.
      expect(text.split("\n").length).toBeGreaterThan(6);
    });
    const all = texts.join("");
    for (const row of inventedCertificate(coils).rows) expect(all).toContain(`\n${row.coil} ${row.heat}`);
    if (coils === 1000) expect(await structureFaults(pdf)).toEqual([]);
  });

  it("a coil label is a small page a coil", async () => {
    const pdf = await renderer.render(inventedLabels(), ISSUE, "pdf");
    const info = run("pdfinfo", saved("labels.pdf", pdf));
    expect(info).toMatch(/Pages: +2\n/);
    expect(info).toMatch(/Page size: +29[78][.\d]* x 2(09|10)[.\d]*/);
    expect(await structureFaults(pdf)).toEqual([]);
    const two = await renderer.render(inventedLabels({ language: "de+en" }), ISSUE, "pdf");
    expect(run("pdfinfo", saved("labels.pdf", two))).toMatch(/Pages: +2\n/);
  });
});

describeWith(["pdftotext", "pdffonts"], "letters", () => {
  it.each([
    ["200 letters without a blank", "Brindlefoot".repeat(19).slice(0, 200)],
    ["Hebrew", "חברת קפיצים"],
    ["Arabic", "بحيرة الأسلاك"],
    ["combining marks", "Zo\u0308e S\u030Cte\u030Cpa\u0301n N\u0303andu\u0301 x\u0323\u0302"],
    ["Greek and Cyrillic", "Σύρμα Проволока"],
    ["signs", "≤ ≥ ± × · – „“ ≈ → □"],
  ])("%s is drawn by a font of ours and found again", async (_, name) => {
    const pdf = await renderer.render(inventedCertificate(1, { customer: { name, address: [] } }), ISSUE, "pdf");
    // Words that run from right to left come in the order of the paper, and ligatures of two letters turned round: the letters count.
    const text = textOf(pdf);
    const letters = (word: string): string => [...close(word)].sort().join("");
    const found = new Set(text.split(/\s+/).map(letters));
    for (const word of name.split(" ")) expect(found.has(letters(word)) || close(text).includes(close(word)), word).toBe(true);
    for (const font of run("pdffonts", saved("letters.pdf", pdf)).trim().split("\n").slice(2)) expect(font).toMatch(/\+NotoSans/);
    expect(await structureFaults(pdf)).toEqual([]);
  });

  it("a letter that no font draws is named, not printed as a box", async () => {
    await expect(renderer.render(inventedCertificate(1, { product: "a \u{10fffd} b" }), ISSUE, "pdf")).rejects.toThrow(
      /no font here draws ".*" \(U\+10FFFD\)/u,
    );
    // The browser lives on.
    expect(await structureFaults(await renderer.render(inventedCertificate(1), ISSUE, "pdf"))).toEqual([]);
  });
});

/** @source engineering rule of the project: 200 dpi, the code 22 mm wide */
describeWith(["pdftoppm", "zbarimg"], "codes", () => {
  it("the code of a certificate is read from the page at 200 dpi", async () => {
    const record = inventedCertificate(3);
    const path = saved("code.pdf", await renderer.render(record, ISSUE, "pdf"));
    run("pdftoppm", "-r", "200", "-png", path, join(folder.path, "code"));
    const read = spawnSync("sh", ["-c", `zbarimg -q --raw ${join(folder.path, "code")}-*.png`], { encoding: "utf8" }).stdout.trim();
    expect(read).toBe(`${ISSUE.number} ${checkOf(recordFile(record, ISSUE))}`);
  });

  it("the code of a label leads to its coil, order and document", async () => {
    const path = saved("label.pdf", await renderer.render(inventedLabels(), ISSUE, "pdf"));
    run("pdftoppm", "-r", "200", "-png", "-f", "1", "-l", "1", path, join(folder.path, "label"));
    const read = spawnSync("sh", ["-c", `zbarimg -q --raw ${join(folder.path, "label")}-*.png`], { encoding: "utf8" }).stdout.trim();
    expect(read).toBe("81001\nQM-2601\n10\n2026-00042");
  });
});
