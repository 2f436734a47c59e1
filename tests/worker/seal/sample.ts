/** Documents to seal, with a laboratory's keys in a folder of their own. Every name and figure is invented. */
import ExcelJS from "exceljs";
import type { CertificateRecord } from "../../../templates/certificate/record.ts";
import type { Issue } from "../../../templates/certificate/view.ts";
import { findBrowserPath, PrintingBrowser } from "../../../worker/rendering/browser.ts";
import { repeatable } from "../../../worker/rendering/repeatable.ts";

export const LAB = "Quillmark Wire (an invented mill)";
export const ISSUE: Issue = { number: "2026-00042", issuedOn: "2026-03-03", signedBy: ["Quirin Exampleman"] };
export const ISSUED_AT = "2026-03-03T09:30:00.000Z";

const REQUIREMENTS: CertificateRecord["requirements"] = [
  {
    property: "tensile-strength",
    unit: "MPa",
    min: "1770",
    max: "1980",
    conditions: {},
    rule: { specification: "QW 100", edition: "2026", clause: "4.1", provenance: "own", adopted: true },
  },
  {
    property: "torsion",
    unit: "turns",
    min: "25",
    conditions: {},
    rule: { specification: "QW 100", edition: "2026", clause: "4.3", provenance: "own", adopted: true },
  },
] as unknown as CertificateRecord["requirements"];

/** @param coils how many rows */
export function certificate(coils = 12): CertificateRecord {
  return {
    schema: "certificate-record/1",
    template: "certificate/1",
    type: "3.1",
    language: "en",
    lab: { name: LAB, address: ["Mill Lane 1", "Exampleton"] },
    customer: { name: "Brightspring Example Ltd", address: ["3 Invented Row"] },
    order: "QM-2699",
    item: "1",
    specification: "QW 100",
    edition: "2026",
    grade: "H",
    nominalDiameter: { text: "2.00", unit: "mm" },
    decisionRule: "simple",
    requirements: REQUIREMENTS,
    rows: Array.from({ length: coils }, (_, i) => ({
      coil: `C-${7100 + i}`,
      heat: `H-${40 + (i % 3)}`,
      testUnit: "",
      basis: "own-results" as const,
      verdict: "conforms" as const,
      mass: { text: String(480 + i), unit: "kg" },
      cells: [
        {
          value: `${1802 + i}.4`,
          compared: String(1802 + i),
          word: false,
          censored: false,
          outcome: "conforms" as const,
          pieces: 1,
          margin: "0.15",
        },
        {
          value: String(28 + (i % 7)),
          compared: String(28 + (i % 7)),
          word: false,
          censored: false,
          outcome: "conforms" as const,
          pieces: 1,
          margin: "0.12",
        },
      ],
    })),
    heats: [],
    notes: [],
    testedOn: ["2026-03-02"],
    instruments: ["T-1"],
  };
}

export type Documents = Readonly<Record<"pdf" | "xlsx", Uint8Array>>;

const SHOWN = (record: CertificateRecord): readonly (readonly string[])[] =>
  record.rows.map((row) => [row.coil, row.heat, ...row.cells.map((cell) => cell?.compared ?? ""), row.verdict]);

/** A certificate of the test's own, printed by the browser that prints documents: figures, names and dates of the record, running heads. It carries no record; the seal brings it. */
export async function printPdf(record: CertificateRecord): Promise<Uint8Array> {
  const browser = new PrintingBrowser(() => findBrowserPath("", process.env));
  const rows = SHOWN(record).map((cells) => `<tr>${cells.map((cell) => `<td>${cell}</td>`).join("")}</tr>`);
  const body = `<h1>Inspection certificate ${ISSUE.number}</h1><p>${record.lab.name}, issued on 3 March 2026</p><p>${record.customer.name}</p><p>Signed by ${ISSUE.signedBy.join(", ")}</p><table>${rows.join("")}</table>`;
  const style = `@page{size:A4;margin:20mm;@bottom-left{content:"${ISSUE.number}"}@bottom-right{content:"Page " counter(page) " of " counter(pages)}}td{padding:2mm 6mm;border-bottom:1px solid #888}`;
  try {
    const printed = await browser.print({ body, style, title: `Inspection certificate ${ISSUE.number}`, language: "en" });
    return repeatable(printed);
  } finally {
    await browser.close();
  }
}

/** The same as a workbook: figures as numbers, the record on a hidden sheet. */
export async function writeXlsx(record: CertificateRecord): Promise<Uint8Array> {
  const book = new ExcelJS.Workbook();
  book.created = new Date(ISSUED_AT);
  book.modified = new Date(ISSUED_AT);
  const sheet = book.addWorksheet(`Certificate ${ISSUE.number}`);
  sheet.addRow([`Inspection certificate ${ISSUE.number}`]);
  sheet.addRow([record.lab.name, "Issued on 3 March 2026"]);
  sheet.addRow([record.customer.name, `Signed by ${ISSUE.signedBy.join(", ")}`]);
  for (const [coil, heat, strength, turns, verdict] of SHOWN(record)) {
    const row = sheet.addRow([coil, heat, Number(strength), Number(turns), verdict]);
    row.getCell(3).numFmt = "0";
    row.getCell(4).numFmt = "0.0";
  }
  const hidden = book.addWorksheet("record", { state: "veryHidden" });
  const json = JSON.stringify(sealing(record).record);
  for (let at = 0; at < json.length; at += 30_000) hidden.addRow([json.slice(at, at + 30_000)]);
  return new Uint8Array(await book.xlsx.writeBuffer());
}

export const sealing = (record: CertificateRecord, number = ISSUE.number) => ({
  record: { ...record, issue: { ...ISSUE, number } },
  number,
  issuedOn: ISSUE.issuedOn,
  issuedAt: ISSUED_AT,
  lab: LAB,
});
