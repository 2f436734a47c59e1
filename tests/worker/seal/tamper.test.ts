/** Every change of a sealed document is found and its place named; what is untouched, or only stored anew, is not accused. */
import { execFileSync } from "node:child_process";
import { readFileSync, writeFileSync } from "node:fs";
import { join } from "node:path";
import * as pdfLib from "@cantoo/pdf-lib";
import ExcelJS from "exceljs";
import fc from "fast-check";
import { unzipSync } from "fflate";
import { afterAll, beforeAll, describe, expect, it } from "vitest";
import { canonicalJson } from "../../../core/seal/canonical.ts";
import { verifyFile } from "../../../core/seal/index.ts";
import type { Trust } from "../../../core/seal/trust.ts";
import type { Verification } from "../../../core/seal/verification.ts";
import { sealFile } from "../../../worker/seal/index.ts";
import { demandKey, makeKey, retireKey, trustedKeys } from "../../../worker/seal/keys.ts";
import { nodeCryptography } from "../../../worker/seal/node-cryptography.ts";
import { signedList } from "../../../worker/seal/withdrawn.ts";
import { temporaryFolder } from "../../helpers/cli.ts";
import { describeWith } from "../../helpers/tools.ts";
import { certificate, type Documents, ISSUED_AT, LAB, printPdf, sealing, writeXlsx } from "./sample.ts";
import { attachedStream, changeXlsx, drawnTexts, flipBit, pageStream, redrawn, repack, streamBody, updatePdf } from "./tamper.ts";

const folder = temporaryFolder();
const data = join(folder.path, "data");
const record = certificate(30);
let base: Documents;
let sealed: Documents;
let trust: Trust;

const check = (bytes: Uint8Array, by: Trust = trust): Promise<Verification> => verifyFile(bytes, by, nodeCryptography);
const codes = (verification: Verification): readonly string[] => verification.findings.map((finding) => finding.code);

beforeAll(async () => {
  base = { pdf: await printPdf(record), xlsx: await writeXlsx(record) };
  const key = await demandKey(data, LAB, ISSUED_AT, new Date(ISSUED_AT));
  sealed = {
    pdf: await sealFile(base.pdf, "pdf", sealing(record), key),
    xlsx: await sealFile(base.xlsx, "xlsx", sealing(record), key),
  };
  trust = { source: "lab", keys: trustedKeys(data) };
});
afterAll(() => folder.remove());

describe("what the laboratory issued", () => {
  it.each(["pdf", "xlsx"] as const)("%s: as issued, without a finding", async (format) => {
    expect(await check(sealed[format])).toMatchObject({
      status: "as-issued",
      number: "2026-00042",
      bytes: "as-issued",
      record: "as-issued",
      content: "as-issued",
      findings: [],
    });
  });

  it.each(["pdf", "xlsx"] as const)("%s: sealed twice, the same bytes", async (format) => {
    const again = await sealFile(base[format], format, sealing(record), await demandKey(data, LAB, ISSUED_AT, new Date()));
    expect(Buffer.from(again).equals(Buffer.from(sealed[format]))).toBe(true);
  });

  it("a file that carries nothing of ours is none of ours", async () => {
    for (const bytes of [new Uint8Array(), new TextEncoder().encode("a,b\n1,2\n"), base.pdf.subarray(0, 100), repack(await plainBook())])
      expect(await check(bytes)).toMatchObject({ status: "not-ours" });
  });
});

async function plainBook(): Promise<Uint8Array> {
  const book = new ExcelJS.Workbook();
  book.addWorksheet("seal").addRow(["not one of ours"]);
  return new Uint8Array(await book.xlsx.writeBuffer());
}

describe("stored anew by another program: content unchanged, re-saved", () => {
  const expectReSaved = async (bytes: Uint8Array): Promise<void> =>
    expect(await check(bytes)).toMatchObject({
      status: "re-saved",
      bytes: "differ",
      record: "as-issued",
      content: "as-issued",
      findings: [],
    });

  it("PDF library", async () => {
    const document = await pdfLib.PDFDocument.load(sealed.pdf);
    await expectReSaved(await document.save());
  });

  it("an update in the form's own way that changes nothing seen", async () => {
    await expectReSaved(updatePdf(sealed.pdf, new Map([[9999, "<</Type /Note>>"]])));
  });

  it("workbook library", async () => {
    const book = new ExcelJS.Workbook();
    await book.xlsx.load(Buffer.from(sealed.xlsx) as unknown as ArrayBuffer);
    await expectReSaved(new Uint8Array(await book.xlsx.writeBuffer()));
  });

  it("the same parts in another package", async () => expectReSaved(repack(sealed.xlsx)));

  describeWith(["qpdf"], "qpdf", () => {
    it.each([[[]], [["--object-streams=generate"]], [["--linearize"]], [["--stream-data=uncompress"]]])("%j", async (options) => {
      const [from, to] = [join(folder.path, "from.pdf"), join(folder.path, "to.pdf")];
      writeFileSync(from, sealed.pdf);
      execFileSync("qpdf", [...options, from, to]);
      await expectReSaved(new Uint8Array(readFileSync(to)));
    });
  });

  describeWith(["soffice"], "LibreOffice", () => {
    it("stores the workbook anew", async () => {
      const from = join(folder.path, "from.xlsx");
      writeFileSync(from, sealed.xlsx);
      const profile = `-env:UserInstallation=file://${join(folder.path, "office")}`;
      execFileSync("soffice", [profile, "--headless", "--convert-to", "xlsx", "--outdir", join(folder.path, "office-out"), from], {
        stdio: "ignore",
      });
      await expectReSaved(new Uint8Array(readFileSync(join(folder.path, "office-out", "from.xlsx"))));
    }, 120_000);
  });
});

describe("a changed page", () => {
  it("every text of the first page, one letter or figure changed: found, with what was issued and what is there", async () => {
    const { number, content } = pageStream(sealed.pdf, 0);
    const texts = drawnTexts(content).filter((text) => text.codes.length >= 4);
    expect(texts.length).toBeGreaterThan(100);
    for (const text of texts) {
      // The last glyph becomes a 1, or a 2 where it was a 1.
      const other = text.codes.endsWith("0014") ? "0015" : "0014";
      const forged = updatePdf(sealed.pdf, new Map([[number, streamBody(redrawn(content, text, text.codes.slice(0, -4) + other))]]));
      const found = await check(forged);
      expect(found.status).toBe("changed");
      // A blank at the end of a word is no text, but the page is drawn otherwise.
      expect(codes(found).some((c) => c === "page-text" || c === "page-drawing")).toBe(true);
      expect(found.findings[0]?.place).toBe("1");
    }
  }, 120_000);

  it("names the figure", async () => {
    const { number, content } = pageStream(sealed.pdf, 0);
    // 1802 as glyphs of the font: 1 is 0014, 8 is 001b.
    const text = drawnTexts(content).find((t) => t.codes === "0014001b00130015");
    if (text === undefined) throw new Error("1802 is not drawn");
    const forged = updatePdf(sealed.pdf, new Map([[number, streamBody(redrawn(content, text, "0014001c00130015"))]]));
    expect((await check(forged)).findings).toContainEqual({
      code: "page-text",
      severity: "error",
      place: "1",
      issued: "1802",
      found: "1902",
    });
  });

  it("two figures that change places, and a figure covered by a white field: drawn otherwise", async () => {
    const { number, content } = pageStream(sealed.pdf, 0);
    const covered = `${content}\nq 1 1 1 rg 50 50 200 200 re f Q\n`;
    const found = await check(updatePdf(sealed.pdf, new Map([[number, streamBody(covered)]])));
    expect(found.status).toBe("changed");
    expect(codes(found)).toEqual(["page-drawing"]);
    const places = [...content.matchAll(/1 0 0 -1 [\d.]+ [\d.]+ Tm/g)].map((match) => match[0]);
    const [a = "", b = ""] = [places.at(-1), places.at(-2)];
    const swapped = content.replace(a, "@").replace(b, a).replace("@", b);
    expect(codes(await check(updatePdf(sealed.pdf, new Map([[number, streamBody(swapped)]]))))).toEqual(["page-drawing"]);
  });

  it("a page taken out, doubled, and a remark put on one", async () => {
    const without = await pdfLib.PDFDocument.load(sealed.pdf);
    without.removePage(0);
    const missing = await check(await without.save());
    expect(missing.status).toBe("changed");
    expect(codes(missing)).toContain("page-missing");
    const more = await pdfLib.PDFDocument.load(sealed.pdf);
    more.addPage();
    expect(codes(await check(await more.save()))).toContain("page-added");
    const drawn = await pdfLib.PDFDocument.load(sealed.pdf);
    drawn.getPage(1).drawText("conforms to everything", { x: 60, y: 60 });
    const added = await check(await drawn.save());
    expect(added.findings.find((f) => f.code === "page-text")).toMatchObject({ place: "2", found: "conforms to everything" });
  });
});

describe("a changed workbook", () => {
  it("every cell, one after the other: found and named", async () => {
    const sheet = "xl/worksheets/sheet1.xml";
    const strings = "xl/sharedStrings.xml";
    const parts = unzipSync(sealed.xlsx);
    const xml = new TextDecoder().decode(parts[sheet]);
    const numbers = [...xml.matchAll(/<c r="([A-Z]+\d+)" s="\d+"><v>(\d+)<\/v>/g)];
    expect(numbers.length).toBe(60);
    for (const cell of numbers) {
      const found = await check(changeXlsx(sealed.xlsx, sheet, (text) => text.replace(cell[0], cell[0].replace(/<v>\d/, "<v>9"))));
      expect(found.findings).toContainEqual(
        expect.objectContaining({ code: "cell-altered", place: `Certificate 2026-00042!${cell[1]}`, issued: cell[2] }),
      );
    }
    const texts = [...new TextDecoder().decode(parts[strings]).matchAll(/<t>([^<{]+)<\/t>/g)];
    expect(texts.length).toBeGreaterThan(30);
    for (const text of texts) {
      const found = await check(changeXlsx(sealed.xlsx, strings, (whole) => whole.replace(text[0], `<t>${text[1]}x</t>`)));
      expect(found.findings.filter((f) => f.issued === text[1] && f.found === `${text[1]}x`).length).toBeGreaterThan(0);
    }
  }, 120_000);

  // One row a change: the part, what is replaced, the code it is found by.
  it.each([
    ["xl/worksheets/sheet1.xml", /<row r="5"/, '<row hidden="1" r="5"', "cells-hidden"],
    ["xl/worksheets/sheet1.xml", /<c r="A4"[^>]*><v>\d+<\/v><\/c>/, "", "cell-emptied"],
    ["xl/worksheets/sheet1.xml", /<c r="C4" s="(\d+)"><v>(\d+)<\/v><\/c>/, '<c r="C4" s="$1"><f>1+1</f><v>$2</v></c>', "cell-altered"],
    ["xl/worksheets/sheet1.xml", /<\/row>(?=<row r="5")/, '<c r="J4"><v>1</v></c></row>', "cell-added"],
    ["xl/styles.xml", /formatCode="0.0"/, 'formatCode="&quot;99&quot;"', "cell-altered"],
    ["xl/workbook.xml", /state="veryHidden"(?=[^>]*name="record"|)/, 'state="visible"', "record-missing"],
  ] as const)("%s: %s", async (part, from, to, code) => {
    const found = await check(changeXlsx(sealed.xlsx, part, (xml) => xml.replace(from, to)));
    expect(found.status).toBe("changed");
    expect(codes(found)).toContain(code);
  });

  it("altered with the signature over the parts left in: the signature does not cover it", async () => {
    const found = await check(changeXlsx(sealed.xlsx, "xl/worksheets/sheet1.xml", (xml) => xml.replace(/<v>1802</, "<v>1902<"), true));
    expect(found).toMatchObject({ status: "changed", bytes: "differ" });
    expect(found.findings).toContainEqual(expect.objectContaining({ code: "cell-altered", issued: "1802", found: "1902" }));
  });
});

describe("a changed record", () => {
  it("any value of it: the record is not the one that was sealed", async () => {
    const original = sealing(record).record;
    const number = attachedStream(sealed.pdf, "record.json");
    const leaves = leavesOf(original);
    await fc.assert(
      fc.asyncProperty(fc.constantFrom(...leaves), async (path) => {
        const forged = canonicalJson(changedAt(original, path));
        const found = await check(updatePdf(sealed.pdf, new Map([[number, streamBody(Buffer.from(forged).toString("latin1"))]])));
        expect(found.status).toBe("changed");
        expect(found.record).toBe("differs");
        expect(found.findings.filter((f) => f.code === "record-altered").map((f) => f.place)).toEqual([path.slice(0, 2).join("/")]);
        expect(codes(found).includes("seal-of-another")).toBe(path.join("/") === "issue/number");
      }),
      { numRuns: 100, seed: 1 },
    );
  }, 120_000);
});

function leavesOf(value: unknown, path: readonly string[] = []): readonly (readonly string[])[] {
  if (typeof value !== "object" || value === null) return [path];
  return Object.entries(value).flatMap(([key, inner]) => leavesOf(inner, [...path, key]));
}

function changedAt(value: unknown, path: readonly string[]): unknown {
  const [key, ...rest] = path;
  if (key === undefined) return typeof value === "boolean" ? !value : typeof value === "number" ? value + 1 : `${String(value)}0`;
  const copy = (Array.isArray(value) ? [...value] : { ...(value as object) }) as Record<string, unknown>;
  copy[key] = changedAt(copy[key], rest);
  return copy;
}

describe("another seal, another key", () => {
  it("the seal of another document", async () => {
    const other = certificate(29);
    const key = await demandKey(data, LAB, ISSUED_AT, new Date());
    const second = await sealFile(await printPdf(other), "pdf", sealing(other), key);
    const text = Buffer.from(new TextDecoder().decode(await sealOf(second))).toString("latin1");
    const found = await check(updatePdf(sealed.pdf, new Map([[attachedStream(sealed.pdf, "seal.json"), streamBody(text)]])));
    expect(found.status).toBe("changed");
    expect(codes(found)).toContain("record-altered");
    expect(found.content).toBe("differs");
  });

  it("a key that is none of the laboratory's, and one that the reader does not name", async () => {
    const foreign = join(folder.path, "foreign");
    const key = await demandKey(foreign, LAB, ISSUED_AT, new Date(ISSUED_AT));
    for (const format of ["pdf", "xlsx"] as const) {
      const forged = await sealFile(base[format], format, sealing(record), key);
      expect(codes(await check(forged))).toEqual(["wrong-key"]);
      expect((await check(forged, { source: "given", keys: trustedKeys(foreign) })).status).toBe("as-issued");
      expect((await check(sealed[format], { source: "given", keys: trustedKeys(foreign) })).status).toBe("changed");
      expect(await check(forged, { source: "none", keys: [] })).toMatchObject({ status: "as-issued", key: { trust: "unknown" } });
    }
  });

  it("a retired key stays good for what it sealed, and for nothing that claims a later day", async () => {
    const own = join(folder.path, "rotated");
    const first = await makeKey(own, LAB, new Date("2026-01-01T00:00:00Z"), "Ada Thornquist");
    const before = await demandKey(own, LAB, ISSUED_AT, new Date());
    const old = await sealFile(base.xlsx, "xlsx", sealing(record), before);
    retireKey(own, first.kid.slice(0, 8), new Date("2026-03-04T00:00:00Z"), "Ada Thornquist");
    await makeKey(own, LAB, new Date("2026-03-04T00:00:00Z"), "Ada Thornquist");
    const keys: Trust = { source: "lab", keys: trustedKeys(own) };
    expect(await check(old, keys)).toMatchObject({ status: "as-issued", key: { kid: first.kid, retiredAt: "2026-03-04T00:00:00.000Z" } });
    const later = { ...sealing(record), issuedAt: "2026-03-05T00:00:00.000Z" };
    expect(codes(await check(await sealFile(base.xlsx, "xlsx", later, before), keys))).toEqual(["key-retired"]);
    const next = await demandKey(own, LAB, later.issuedAt, new Date());
    expect(next.state.kid).not.toBe(first.kid);
    expect((await check(await sealFile(base.xlsx, "xlsx", later, next), keys)).status).toBe("as-issued");
  });

  it("a document called back or replaced is named, by a list that the laboratory signed", async () => {
    const key = await demandKey(data, LAB, ISSUED_AT, new Date());
    const entry = { number: "2026-00042", on: "2026-04-01", state: "replaced", replacedBy: "2026-00050" } as const;
    const list = await signedList([entry], LAB, new Date("2026-04-02T00:00:00Z"), key);
    const found = await check(sealed.pdf, { ...trust, withdrawn: list });
    expect(found).toMatchObject({ status: "as-issued", withdrawn: entry });
    expect(found.findings).toEqual([{ code: "document-replaced", severity: "error", issued: "2026-04-01", found: "2026-00050" }]);
    const forged = `${list.slice(0, -4)}AAAA`;
    expect(codes(await check(sealed.pdf, { ...trust, withdrawn: forged }))).toEqual(["list-not-signed"]);
    expect((await check(sealed.pdf, { ...trust, withdrawn: await signedList([], LAB, new Date(), key) })).findings).toEqual([]);
  });

  it("the seal taken out", async () => {
    const stripped = await pdfLib.PDFDocument.load(sealed.pdf);
    stripped.detach("seal.json");
    expect(codes(await check(await stripped.save()))).toEqual(["seal-missing"]);
    expect(codes(await check(base.xlsx))).toEqual(["seal-missing"]);
  });
});

async function sealOf(pdf: Uint8Array): Promise<Uint8Array> {
  const { attachmentsOf } = await import("../../../core/seal/pdf-content.ts");
  const { PdfFile } = await import("../../../core/seal/pdf-file.ts");
  return attachmentsOf(new PdfFile(pdf)).get("seal.json") as Uint8Array;
}

describe("damage", () => {
  it.each(["pdf", "xlsx"] as const)(
    "%s: any flipped bit is found",
    async (format) => {
      const bytes = sealed[format];
      await fc.assert(
        fc.asyncProperty(fc.nat(bytes.length * 8 - 1), async (bit) => {
          expect((await check(flipBit(bytes, bit))).status).toBe("changed");
        }),
        { numRuns: 150, seed: 7 },
      );
    },
    240_000,
  );

  // The signature itself, its gap, the byte range, tables and directory hold few bytes and would rarely be met by chance.
  it("PDF: every bit from the signature to the end", async () => {
    const bytes = sealed.pdf;
    const at = Buffer.from(bytes).lastIndexOf("/ByteRange");
    const places = [...Array(60).keys()].map((i) => (at + i) * 8 + (i % 8));
    for (let byte = at + 60; byte < bytes.length; byte += 97) places.push(byte * 8 + (byte % 8));
    for (let byte = bytes.length - 40; byte < bytes.length; byte += 1) places.push(byte * 8 + 5);
    for (const bit of places) expect((await check(flipBit(bytes, bit))).status, `bit ${bit}`).toBe("changed");
  }, 240_000);

  it("XLSX: every byte of the headers and the directory", async () => {
    const bytes = sealed.xlsx;
    const directory = Buffer.from(bytes).indexOf(Buffer.from([0x50, 0x4b, 1, 2]));
    for (let byte = 0; byte < 60; byte += 1)
      expect((await check(flipBit(bytes, byte * 8 + (byte % 8)))).status, `byte ${byte}`).toBe("changed");
    for (let byte = directory - 120; byte < bytes.length; byte += 3)
      expect((await check(flipBit(bytes, byte * 8 + (byte % 8)))).status, `byte ${byte}`).toBe("changed");
  }, 240_000);

  it.each(["pdf", "xlsx"] as const)("%s: bytes behind the end, and an end cut off", async (format) => {
    const bytes = sealed[format];
    for (const more of ["\n", "x", "PK\u0005\u0006", "%%EOF\n", "startxref\n0\n%%EOF\n"])
      expect((await check(Uint8Array.from([...bytes, ...Buffer.from(more)]))).status, JSON.stringify(more)).toBe("changed");
    for (const length of [1, 100, 2000]) expect((await check(bytes.subarray(0, bytes.length - length))).status).toBe("changed");
  });
});

describe("what is not drawn but acts", () => {
  const changed = async (change: (document: pdfLib.PDFDocument) => void | Promise<void>): Promise<readonly string[]> => {
    const document = await pdfLib.PDFDocument.load(sealed.pdf);
    await change(document);
    return codes(await check(await document.save()));
  };

  it("a file added, a script that runs at opening, a field to fill in, a text read aloud in place of the printed one", async () => {
    expect(await changed((d) => d.attach(new Uint8Array([1]), "more.bin"))).toContain("document-behaviour");
    expect(await changed((d) => d.addJavaScript("a", "app.alert(1)"))).toContain("document-behaviour");
    expect(await changed((d) => d.getForm().createTextField("a").addToPage(d.getPage(0)))).toContain("document-behaviour");
    const spoken = await changed((d) => {
      for (const [, object] of d.context.enumerateIndirectObjects())
        if (object instanceof pdfLib.PDFDict && object.get(pdfLib.PDFName.of("S")) === pdfLib.PDFName.of("TD"))
          object.set(pdfLib.PDFName.of("ActualText"), pdfLib.PDFString.of("1999"));
    });
    expect(spoken).toEqual(["document-behaviour"]);
  });
});
