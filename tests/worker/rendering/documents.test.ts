/** Documents as their readers meet them: in a real browser, as text, as a workbook. */
import { spawnSync } from "node:child_process";
import { writeFileSync } from "node:fs";
import { createServer } from "node:http";
import type { AddressInfo } from "node:net";
import { join } from "node:path";
import ExcelJS from "exceljs";
import { afterAll, describe, expect, it } from "vitest";
import { toCertificateView } from "../../../templates/certificate/view.ts";
import { findBrowserPath, PrintingBrowser } from "../../../worker/rendering/browser.ts";
import { createRenderer } from "../../../worker/rendering/index.ts";
import { temporaryFolder } from "../../helpers/cli.ts";
import { certificateOf, noticeOf } from "../../helpers/records.ts";
import { describeWith } from "../../helpers/tools.ts";

const ISSUE = { number: "2026-00042", issuedOn: "2026-03-03", signedBy: ["Ada Thornquist"] };
const renderer = createRenderer({ browserPath: "", browsers: 1, paper: "A4" });
const folder = temporaryFolder();
afterAll(async () => {
  await renderer.close();
  folder.remove();
});

const textOf = (pdf: Uint8Array): string => {
  const file = join(folder.path, "page.pdf");
  writeFileSync(file, pdf);
  const done = spawnSync("pdftotext", ["-layout", file, "-"], { encoding: "utf8" });
  if (done.status !== 0) throw new Error(done.stderr);
  return done.stdout;
};

describeWith(["pdftotext"], "the certificate as text", () => {
  it("says who, what, which coil, which figure, and what stands behind it", async () => {
    const record = certificateOf("01-return-springs.xlsx");
    const text = textOf(await renderer.render(record, ISSUE, "pdf"));
    for (const part of [
      "Inspection certificate",
      "Inspection certificate 3.1 according to EN 10204:2004",
      "2026-00042",
      "Brindlefoot Springs",
      "QM-2601 / 10",
      "QW 100:2026",
      "2.00 mm",
      "1800 – 2050 MPa",
      "≥ 22 turns",
      "free length 200 mm",
      "1.980 – 2.020 mm",
      "Signed by",
      "Ada Thornquist",
      "End of document 2026-00042",
      "Page 1 of 2",
    ])
      expect(text).toContain(part);
    for (const row of record.rows) expect(text).toMatch(new RegExp(`${row.coil} +H2281 .*conforms`));
    // Coil 71002: 2.0205 mm compared as the even 2.020. Coil 71003: exactly on the minimum.
    expect(text).toContain("2.0205");
    expect(text).toMatch(/71003 .*\b1800\b/);
  });

  it("speaks German with a decimal comma where the order says so", async () => {
    const text = textOf(await renderer.render(certificateOf("04-federdraht.xlsx"), ISSUE, "pdf"));
    for (const part of [
      "Werkszeugnis",
      "Zugfestigkeit",
      "0,985 – 1,015 mm",
      "≥ 25 Verwindungen",
      "erfüllt",
      "Ende des Dokuments 2026-00042",
    ])
      expect(text).toContain(part);
    expect(text).not.toMatch(/\d\.\d{3} mm/);
  });

  it("coils that stand on their test unit say so", async () => {
    const text = textOf(await renderer.render(certificateOf("03-music-wire.xlsx"), ISSUE, "pdf"));
    expect(text).toMatch(/73002 .*test unit/);
    expect(text).toMatch(/73001 .*own pieces/);
    expect(text).toContain("have not been compared with the licensed text");
  });

  it("the notice stands under its five headings", async () => {
    const text = textOf(await renderer.render(noticeOf("02-day-book.xlsx"), ISSUE, "pdf"));
    const places = ["What was found", "What it touches", "What is held", "What may be done, and what each needs", "Who decided"].map(
      (part) => text.indexOf(part),
    );
    expect(places.every((at) => at > 0)).toBe(true);
    expect([...places].sort((a, b) => a - b)).toEqual(places);
    // Diameter 2.0255 compared as 2.026 against 2.025; torsion retests 15 against 16.
    expect(text).toMatch(/72007 .*2\.026 mm +0\.001 mm/);
    expect(text).toMatch(/72021 .*15 turns +1 turn below/);
  });
});

describe("one record, one file", () => {
  it.each(["pdf", "xlsx"] as const)("%s: printed twice, in between others, it is the same byte for byte", async (format) => {
    const record = certificateOf("01-return-springs.xlsx");
    const first = await renderer.render(record, ISSUE, format);
    await renderer.render(noticeOf("02-day-book.xlsx"), ISSUE, format);
    expect(Buffer.from(await renderer.render(record, ISSUE, format)).equals(Buffer.from(first))).toBe(true);
  });

  /** @source .ZIP application note 4.4.6: day in five bits, month in four, years since 1980 */
  it("the parts of a workbook bear the day of issue, whenever it is written", async () => {
    const book = Buffer.from(await renderer.render(certificateOf("01-return-springs.xlsx"), ISSUE, "xlsx"));
    expect(book.readUInt16LE(12)).toBe(((2026 - 1980) << 9) | (3 << 5) | 3);
    expect(book.readUInt16LE(10)).toBe(0);
  });

  it("two that differ in one figure differ", async () => {
    const record = certificateOf("01-return-springs.xlsx");
    const other = { ...record, rows: record.rows.map((row, i) => (i === 0 ? { ...row, coil: "71001x" } : row)) };
    const [a, b] = [await renderer.render(record, ISSUE, "pdf"), await renderer.render(other, ISSUE, "pdf")];
    expect(Buffer.from(a).equals(Buffer.from(b))).toBe(false);
  });
});

// WORKBOOK.md, "text in documents": always text, never a formula, markup, template code, path or header.
const HOSTILE = ['<img src=x onerror="document.title=1">', "{{lab.name}} {{{body}}}", "=1+1", "+cmd|' /C calc'!A0", "@SUM(1)", "../../etc"];

describe("text stays text", () => {
  it.each(HOSTILE)("%s in the XLSX", async (customer) => {
    const book = new ExcelJS.Workbook();
    await book.xlsx.load(
      Buffer.from(await renderer.render(certificateOf("01-return-springs.xlsx", { customer }), ISSUE, "xlsx")) as unknown as ArrayBuffer,
    );
    const texts: string[] = [];
    book.worksheets[0]?.eachRow((row) =>
      row.eachCell((cell) => {
        expect(cell.type).not.toBe(ExcelJS.ValueType.Formula);
        texts.push(cell.text);
      }),
    );
    expect(texts.some((text) => text.includes(customer))).toBe(true);
  });

  describeWith(["pdftotext"], "in the PDF", () => {
    it.each(HOSTILE)("%s", async (customer) => {
      const text = textOf(await renderer.render(certificateOf("01-return-springs.xlsx", { customer }), ISSUE, "pdf"));
      // Long names break over lines, so every word of it is looked for.
      for (const word of customer.split(" ")) expect(text).toContain(word);
    });
  });
});

describe("the browser", () => {
  it("reaches no network, whatever a page asks for", async () => {
    let asked = 0;
    const server = createServer((_, response) => {
      asked += 1;
      response.end();
    });
    await new Promise<void>((resolve) => server.listen(0, "127.0.0.1", resolve));
    const { port } = server.address() as AddressInfo;
    const browser = new PrintingBrowser(() => findBrowserPath("", process.env));
    const body = `<p>page</p><img src="http://127.0.0.1:${port}/a.png"><link rel="stylesheet" href="http://127.0.0.1:${port}/a.css">`;
    const pdf = await browser.print({ body, style: `body{background:url(http://127.0.0.1:${port}/b.png)}`, title: "t", language: "en" });
    await browser.close();
    server.close();
    expect(Buffer.from(pdf.subarray(0, 5)).toString()).toBe("%PDF-");
    expect(asked).toBe(0);
  });

  it("the one that comes with the packages prints too", async () => {
    const { default: chromium } = await import("@sparticuz/chromium");
    const browser = new PrintingBrowser(async () => chromium.executablePath());
    const pdf = await browser.print({ body: "<p>packaged</p>", style: "", title: "t", language: "en" });
    await browser.close();
    expect(Buffer.from(pdf.subarray(0, 5)).toString()).toBe("%PDF-");
  });

  describeWith(["ps"], "that dies", () => {
    it("is replaced, and the document is the same", async () => {
      const own = createRenderer({ browserPath: "", browsers: 1, paper: "A4" });
      const before = await own.render(noticeOf("02-day-book.xlsx"), ISSUE, "pdf");
      // Browsers are the children of this process; the shared one of this file recovers in the same way.
      const children = spawnSync("ps", ["-o", "pid=,args=", "--ppid", String(process.pid)], { encoding: "utf8" }).stdout.split("\n");
      const browsers = children.filter((line) => line.includes("--remote-debugging")).map((line) => Number.parseInt(line, 10));
      expect(browsers.length).toBeGreaterThan(0);
      for (const pid of browsers) process.kill(pid, "SIGKILL");
      const after = await own.render(noticeOf("02-day-book.xlsx"), ISSUE, "pdf");
      await own.close();
      expect(Buffer.from(after).equals(Buffer.from(before))).toBe(true);
    });
  });

  it("documents that wait for a browser all come, each its own", async () => {
    const own = createRenderer({ browserPath: "", browsers: 2, paper: "A4" });
    const record = certificateOf("01-return-springs.xlsx");
    const numbers = Array.from({ length: 7 }, (_, index) => `2026-0010${index}`);
    const files = await Promise.all(numbers.map((number) => own.render(record, { ...ISSUE, number }, "pdf")));
    await own.close();
    for (const [index, pdf] of files.entries())
      expect(Buffer.from(pdf).toString("latin1")).toContain(`/Title(Inspection certificate ${numbers[index]})`);
  });

  it("a path that is no file is named", async () => {
    await expect(findBrowserPath("", { PDF_CHROMIUM_PATH: "/nowhere/browser" })).rejects.toThrow(
      /PDF_CHROMIUM_PATH: found "\/nowhere\/browser"/,
    );
  });
});

describe("printed words", () => {
  it("a view holds text only: nothing is left for the page to compute", () => {
    const view = toCertificateView(certificateOf("01-return-springs.xlsx"), ISSUE);
    const walk = (value: unknown): void => {
      if (Array.isArray(value)) value.forEach(walk);
      else if (typeof value === "object" && value !== null) Object.values(value).forEach(walk);
      else expect(["string", "boolean", "number", "undefined"]).toContain(typeof value);
    };
    walk(view);
  });
});
