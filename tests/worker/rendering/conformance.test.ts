/** Finished files as an archive and a screen reader meet them. The clauses stand beside the faults in tests/helpers/pdf-structure.ts. */
import { spawnSync } from "node:child_process";
import { createHash } from "node:crypto";
import { readFileSync, writeFileSync } from "node:fs";
import { join } from "node:path";
import { type PDFArray, PDFDict, PDFDocument, PDFName, PDFRawStream, PDFRef } from "@cantoo/pdf-lib";
import { afterAll, beforeAll, describe, expect, it } from "vitest";
import { findBrowserPath, PrintingBrowser } from "../../../worker/rendering/browser.ts";
import { toConforming } from "../../../worker/rendering/conformance.ts";
import { createRenderer, recordFile } from "../../../worker/rendering/index.ts";
import { markArtifacts } from "../../../worker/rendering/pdf/artifacts.ts";
import { entriesOf, textString } from "../../../worker/rendering/pdf/syntax.ts";
import { temporaryFolder } from "../../helpers/cli.ts";
import { ISSUE, inventedCertificate, inventedNotice } from "../../helpers/invented-records.ts";
import { structureFaults } from "../../helpers/pdf-structure.ts";
import { describeWith } from "../../helpers/tools.ts";

const renderer = createRenderer({ browserPath: "", browsers: 1, paper: "A4" });
const browser = new PrintingBrowser(() => findBrowserPath("", process.env));
const folder = temporaryFolder();

/** Everything the corrections touch: a link, a picture, a table, a running foot. */
const PAGE = {
  title: "Everything at once",
  language: "en",
  style: '@page { size: A4; @bottom-left { content: "a running foot" } }',
  body: `<h1>Everything</h1><p><a href="https://example.invalid/a(b)">a link</a></p>
<div><svg role="img" aria-label="a square" width="20" height="20"><rect width="20" height="20"/></svg></div>
<table><thead><tr><th scope="col">head</th></tr></thead><tbody><tr><td>cell</td></tr></tbody></table>`,
};
const FACTS = {
  title: PAGE.title,
  author: "Quillmark Wire",
  language: "en",
  issuedOn: "2026-03-03",
  attachments: [{ name: "record.json", description: "the record", type: "application/json", bytes: new TextEncoder().encode("{}") }],
  strangeLetters: [],
};
let printed: Uint8Array;
let good: Uint8Array;
let certificate: Uint8Array;

beforeAll(async () => {
  printed = await browser.print(PAGE);
  good = toConforming(printed, FACTS);
  certificate = await renderer.render(inventedCertificate(12), ISSUE, "pdf");
});
afterAll(async () => {
  await browser.close();
  await renderer.close();
  folder.remove();
});

const run = (tool: string, ...given: readonly string[]): string => {
  const done = spawnSync(tool, given, { encoding: "utf8" });
  if (done.status !== 0) throw new Error(`${tool} ${given.join(" ")}: ${done.stdout}${done.stderr}`);
  return done.stdout;
};
const saved = (name: string, bytes: Uint8Array): string => {
  const path = join(folder.path, name);
  writeFileSync(path, bytes);
  return path;
};

describe("finished files", () => {
  it.each([
    ["one coil", inventedCertificate(1), "A4"],
    ["twelve coils", inventedCertificate(12), "A4"],
    ["forty coils on Letter, in German", inventedCertificate(40, { language: "de" }), "Letter"],
    [
      "no results",
      inventedCertificate(3, {
        type: "2.1",
        requirements: [],
        heats: [],
        rows: inventedCertificate(3).rows.map((row) => ({ ...row, cells: [] })),
      }),
      "A4",
    ],
    ["a notice", inventedNotice(), "A4"],
  ] as const)("%s: nothing is missing", async (_, record, paper) => {
    const own = createRenderer({ browserPath: "", browsers: 1, paper });
    try {
      expect(await structureFaults(await own.render(record, ISSUE, "pdf"))).toEqual([]);
    } finally {
      await own.close();
    }
  });

  it("a page with a link, a picture and a table: nothing is missing", async () => {
    expect(await structureFaults(good)).toEqual([]);
  });

  it("the bytes depend on what is said alone", async () => {
    expect(Buffer.from(toConforming(printed, FACTS)).equals(Buffer.from(good))).toBe(true);
    const other = createRenderer({ browserPath: "", browsers: 1, paper: "A4" });
    const again = await other.render(inventedCertificate(12), ISSUE, "pdf");
    await other.close();
    expect(createHash("sha256").update(again).digest("hex")).toBe(createHash("sha256").update(certificate).digest("hex"));
  });

  it("further files are attached beside the record", async () => {
    const own = createRenderer({
      browserPath: "",
      browsers: 1,
      paper: "A4",
      attachments: (record) => [
        { name: "a.txt", description: "its length", type: "text/plain", bytes: Buffer.from(String(record.length)) },
      ],
    });
    const pdf = await own.render(inventedCertificate(1), ISSUE, "pdf");
    await own.close();
    expect(await structureFaults(pdf)).toEqual([]);
    const found = (await PDFDocument.load(pdf)).getAttachments();
    expect(found.map((file) => file.name).sort()).toEqual(["a.txt", "record.json"]);
  });
});

/** One thing taken out of the good file each; the fault named is the only one found. */
const at = (pdf: PDFDocument, ...path: string[]): PDFDict =>
  path.reduce<PDFDict>((dict, key) => dict.lookup(PDFName.of(key)) as PDFDict, pdf.catalog);
const elements = (pdf: PDFDocument, kind: string): readonly PDFDict[] =>
  pdf.context
    .enumerateIndirectObjects()
    .map(([, object]) => object)
    .filter((object): object is PDFDict => object instanceof PDFDict && String(object.get(PDFName.of("S"))) === kind);
const metadata = (pdf: PDFDocument, change: (xmp: string) => string): void => {
  const stream = pdf.catalog.lookup(PDFName.of("Metadata")) as PDFRawStream;
  const dict = PDFDict.withContext(pdf.context);
  dict.set(PDFName.of("Type"), PDFName.of("Metadata"));
  dict.set(PDFName.of("Subtype"), PDFName.of("XML"));
  pdf.catalog.set(
    PDFName.of("Metadata"),
    pdf.context.register(PDFRawStream.of(dict, Buffer.from(change(Buffer.from(stream.contents).toString("utf8")), "utf8"))),
  );
};
const BROKEN: readonly (readonly [string, string, (pdf: PDFDocument) => void])[] = [
  [
    "ID",
    "no-id",
    (pdf) => {
      delete pdf.context.trailerInfo.ID;
    },
  ],
  ["output intent", "no-output-intent", (pdf) => pdf.catalog.delete(PDFName.of("OutputIntents"))],
  ["the level letter", "no-pdfa-level", (pdf) => metadata(pdf, (xmp) => xmp.replace("conformance>A<", "conformance>B<"))],
  ["the part of PDF/UA", "no-pdfua-part", (pdf) => metadata(pdf, (xmp) => xmp.replace(/<pdfuaid:part>1<\/pdfuaid:part>/, ""))],
  [
    "the extension schema",
    "no-extension-schema",
    (pdf) => metadata(pdf, (xmp) => xmp.replace(/<pdfaSchema:namespaceURI>.*?<\/pdfaSchema:namespaceURI>/, "")),
  ],
  ["the associated file", "no-associated-file", (pdf) => pdf.catalog.delete(PDFName.of("AF"))],
  [
    "its relationship",
    "no-relationship",
    (pdf) => ((pdf.catalog.lookup(PDFName.of("AF")) as PDFArray).lookup(0) as PDFDict).delete(PDFName.of("AFRelationship")),
  ],
  ["the list of files", "file-not-listed", (pdf) => at(pdf, "Names").delete(PDFName.of("EmbeddedFiles"))],
  ["MarkInfo", "no-mark-info", (pdf) => pdf.catalog.delete(PDFName.of("MarkInfo"))],
  ["the language", "no-language", (pdf) => pdf.catalog.delete(PDFName.of("Lang"))],
  ["the bookmarks", "no-bookmarks", (pdf) => pdf.catalog.delete(PDFName.of("Outlines"))],
  ["the alternative text", "figure-without-alt", (pdf) => elements(pdf, "/Figure").map((figure) => figure.delete(PDFName.of("Alt")))],
  ["the scope of a head", "header-without-scope", (pdf) => elements(pdf, "/TH").map((head) => head.delete(PDFName.of("A")))],
  [
    "the words of a link",
    "link-without-contents",
    (pdf) => {
      for (const annotation of pdf.getPages()[0]?.node.Annots()?.asArray() ?? [])
        ((annotation instanceof PDFRef ? pdf.context.lookup(annotation) : annotation) as PDFDict).delete(PDFName.of("Contents"));
    },
  ],
  [
    "the mark of a running foot",
    "untagged-content",
    (pdf) => {
      const [page] = pdf.getPages();
      const drawn = pdf.context.stream("BT ET 0 0 10 10 re f");
      page?.node.set(PDFName.of("Contents"), pdf.context.register(drawn));
    },
  ],
];

describe("the checker finds what is missing", () => {
  it("raw out of the browser: every class of fault", async () => {
    const faults = await structureFaults(printed);
    for (const fault of ["no-id", "no-output-intent", "no-xmp", "no-pdfa-level", "no-pdfua-part", "no-associated-file", "untagged-content"])
      expect(faults).toContain(fault);
  });

  it.each(BROKEN)("without %s: %s", async (_, fault, change) => {
    const pdf = await PDFDocument.load(good, { updateMetadata: false });
    change(pdf);
    const id = pdf.context.trailerInfo.ID;
    let bytes = await pdf.save({ useObjectStreams: false, addDefaultPage: false, updateFieldAppearances: false });
    // The library gives every file an ID of its own.
    if (id === undefined)
      bytes = Buffer.from(
        Buffer.from(bytes)
          .toString("latin1")
          .replace(/\/ID \[[^\]]*\]/, (found) => " ".repeat(found.length)),
        "latin1",
      );
    expect(await structureFaults(bytes)).toEqual([fault]);
  });
});

describeWith(["qpdf", "pdfinfo", "pdfdetach", "pdffonts"], "tools of others", () => {
  it("the file is sound, tagged, titled, and holds its record and its fonts", () => {
    const path = saved("certificate.pdf", certificate);
    expect(run("qpdf", "--check", path)).toContain("No syntax or stream encoding errors");
    const info = run("pdfinfo", path);
    expect(info).toMatch(/Title: +Inspection certificate 2026-00042/);
    expect(info).toMatch(/Author: +Quillmark Wire/);
    expect(info).toMatch(/Tagged: +yes/);
    expect(info).toMatch(/PDF version: +1\.7/);
    expect(info).toMatch(/CreationDate: +Tue Mar +3 00:00:00 2026/);
    run("pdfdetach", "-save", "1", "-o", join(folder.path, "record.json"), path);
    expect(readFileSync(join(folder.path, "record.json"))).toEqual(Buffer.from(recordFile(inventedCertificate(12), ISSUE)));
    expect(JSON.parse(readFileSync(join(folder.path, "record.json"), "utf8"))).toEqual({ ...inventedCertificate(12), issue: ISSUE });
    // Every font is embedded, cut to what is used, and says which letters it draws; all are ours.
    const fonts = run("pdffonts", path).trim().split("\n").slice(2);
    expect(fonts.length).toBeGreaterThan(1);
    for (const font of fonts) expect(font).toMatch(/^[A-Z]{6}\+NotoSans.* yes yes yes /);
  });

  it("bookmarks lead to the headings", () => {
    const outline = run("qpdf", "--json", "--json-key=outlines", saved("outline.pdf", certificate));
    for (const heading of ["Inspection certificate", "Requirements", "Results, a coil a row", "Statement"])
      expect(outline).toContain(heading);
  });
});

/** @source ISO 32000-1, 14.6 (marked content) and 8.5.3 (paths that paint); the streams are written by hand */
describe("what a page paints outside its tags", () => {
  const OPEN = "/Artifact <</Type /Pagination>> BDC\n";
  it.each([
    ["text alone is wrapped", "BT /F1 9 Tf (a) Tj ET", `${OPEN}BT /F1 9 Tf (a) Tj ET\nEMC\n`],
    ["tagged text stays", "/P <</MCID 0>> BDC BT (a) Tj ET EMC", undefined],
    ["tags inside a text object stay", "BT /P <</MCID 0>> BDC (a) Tj EMC ET", undefined],
    ["an artifact stays", "/Artifact BMC 0 0 1 1 re f EMC", undefined],
    [
      "a span that carries a ligature is no tag",
      "BT /Span <</ActualText (fi)>> BDC <0001> Tj EMC ET",
      `${OPEN}BT /Span <</ActualText (fi)>> BDC <0001> Tj EMC ET\nEMC\n`,
    ],
    [
      "a filled path is wrapped from its first point",
      "q 1 0 0 rg 0 0 m 1 1 l 0 1 l h f Q",
      `q 1 0 0 rg ${OPEN}0 0 m 1 1 l 0 1 l h f\nEMC\n Q`,
    ],
    ["a path that clips paints nothing", "0 0 9 9 re W* n /P <</MCID 0>> BDC BT (a) Tj ET EMC", undefined],
    ["an object painted alone is wrapped", "q /Im1 Do Q", `q ${OPEN}/Im1 Do\nEMC\n Q`],
    ["brackets and operators inside a string are text", "BT (a \\) ET f ) Tj ET", `${OPEN}BT (a \\) ET f ) Tj ET\nEMC\n`],
  ] as const)("%s", (_, content, expected) => {
    expect(markArtifacts(content)).toBe(expected ?? content);
  });
});

describe("syntax", () => {
  it("entries of inner dictionaries stay inside", () => {
    expect([...entriesOf("<</A <</B 1 /C [/D <</E 2>>]>> /F /G /H (a /I b)>>")]).toEqual([
      ["A", "<</B 1 /C [/D <</E 2>>]>>"],
      ["F", "/G"],
      ["H", "(a /I b)"],
    ]);
  });

  it.each([
    ["plain", "(plain)"],
    ["a (b) \\c", "(a \\(b\\) \\\\c)"],
    ["Prüfung", "<FEFF005000720 0FC00660075006E0067>".replace(" ", "")],
  ])("text %s", (text, expected) => {
    expect(textString(text)).toBe(expected);
  });
});
