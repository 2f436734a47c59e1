/** The same views as workbooks: numbers as numbers, text as text, one sheet to print. */
import ExcelJS from "exceljs";
import type { CertificateRecord } from "../../templates/certificate/record.ts";
import { type Issue, toCertificateView } from "../../templates/certificate/view.ts";
import type { NoticeRecord } from "../../templates/notice/record.ts";
import { toNoticeView } from "../../templates/notice/view.ts";

const RULE = { style: "thin", color: { argb: "FF161616" } } as const;
const HAIR = { style: "hair", color: { argb: "FF9A9A9A" } } as const;

interface Sheet {
  readonly book: ExcelJS.Workbook;
  readonly sheet: ExcelJS.Worksheet;
}

function newSheet(title: string, issuedOn: string, columns: number, paper: "A4" | "Letter"): Sheet {
  const book = new ExcelJS.Workbook();
  // The day of issue, not the minute of writing: the same record gives the same file.
  const day = new Date(`${issuedOn}T00:00:00Z`);
  book.created = day;
  book.modified = day;
  book.creator = "Coilbook";
  book.title = title;
  const sheet = book.addWorksheet(title.slice(0, 31).replaceAll(/[*?:\\/[\]]/g, " "), {
    pageSetup: {
      paperSize: paper === "A4" ? 9 : (1 as ExcelJS.PaperSize),
      orientation: columns > 7 ? "landscape" : "portrait",
      fitToPage: true,
      fitToWidth: 1,
      fitToHeight: 0,
      margins: { left: 0.5, right: 0.5, top: 0.6, bottom: 0.7, header: 0.3, footer: 0.3 },
    },
    headerFooter: { oddFooter: `&L${title.replaceAll("&", "&&")}&R&P / &N` },
  });
  for (let c = 1; c <= columns; c += 1) sheet.getColumn(c).width = c === 1 ? 18 : 16;
  return { book, sheet };
}

/** Text stays text whatever it begins with: a string value is never a formula. */
function line(
  sheet: ExcelJS.Worksheet,
  values: readonly (string | number | null)[],
  style: "title" | "head" | "label" | "plain" = "plain",
): ExcelJS.Row {
  const row = sheet.addRow(values.map((value) => value ?? ""));
  row.eachCell((cell) => {
    cell.font = { name: "Calibri", size: style === "title" ? 16 : 10, bold: style !== "plain" };
    cell.alignment = { vertical: "top", wrapText: style !== "title" };
    if (style === "head") cell.border = { bottom: RULE };
    if (style === "plain") cell.border = { bottom: HAIR };
  });
  return row;
}

const section = (sheet: ExcelJS.Worksheet, title: string): void => {
  sheet.addRow([]);
  const row = sheet.addRow([title]);
  row.getCell(1).font = { name: "Calibri", size: 11, bold: true };
};

function attach(book: ExcelJS.Workbook, record: object, issue: Issue): void {
  const sheet = book.addWorksheet("record", { state: "veryHidden" });
  const json = JSON.stringify({ ...record, issue });
  // A cell holds 32,767 characters, so a long record continues below.
  for (let at = 0; at < json.length; at += 30_000) sheet.addRow([json.slice(at, at + 30_000)]);
}

export async function certificateWorkbook(record: CertificateRecord, issue: Issue, paper: "A4" | "Letter"): Promise<Uint8Array> {
  const view = toCertificateView(record, issue);
  const columns = Math.max(5, 4 + view.columns.length + 1, 2 + view.elements.length);
  const { book, sheet } = newSheet(view.title, issue.issuedOn, columns, paper);
  line(sheet, [view.title], "title");
  line(sheet, [view.typeLine], "label");
  line(sheet, [[view.labName, ...view.labAddress].join(", ")], "label");
  sheet.addRow([]);
  for (const field of [...view.head, ...view.product]) fieldLine(sheet, field.label, field.value);
  if (view.requirements.length > 0) {
    section(sheet, view.labels["requirements"] ?? "");
    line(
      sheet,
      ["property", "limit", "conditions", "clause"].map((name) => view.labels[name] ?? ""),
      "head",
    );
    for (const r of view.requirements) line(sheet, [r.property, r.limit, r.conditions, r.clause]);
  }
  section(sheet, view.labels["results"] ?? "");
  line(
    sheet,
    [
      view.labels["coil"] ?? "",
      view.labels["heat"] ?? "",
      view.labels["mass"] ?? "",
      ...view.columns.map((c) => (c.unit === "" ? c.property : `${c.property}, ${c.unit}`)),
      view.labels["basis"] ?? "",
      view.labels["verdict"] ?? "",
    ],
    "head",
  );
  record.rows.forEach((row, index) => {
    const shown = view.rows[index];
    if (shown === undefined) return;
    const written = line(sheet, [
      row.coil,
      row.heat,
      shown.mass,
      ...row.cells.map((cell, i) => (cell === null || cell.word || cell.censored ? (shown.cells[i]?.text ?? "") : Number(cell.compared))),
      shown.basis,
      shown.verdict,
    ]);
    row.cells.forEach((cell, i) => {
      if (cell === null || cell.word || cell.censored) return;
      const places = cell.compared.split(".")[1]?.length ?? 0;
      written.getCell(4 + i).numFmt = places === 0 ? "0" : `0.${"0".repeat(places)}`;
    });
  });
  if (view.heats.length > 0) {
    section(sheet, view.labels["chemistry"] ?? "");
    line(sheet, [view.labels["heat"] ?? "", view.labels["analysis"] ?? "", ...view.elements], "head");
    for (const heat of view.heats) line(sheet, [heat.heat, `${heat.analysis}, ${heat.source}`, ...heat.values]);
  }
  section(sheet, view.labels["statement"] ?? "");
  paragraphs(sheet, [view.statement], columns);
  if (view.notes.length > 0) {
    section(sheet, view.labels["note"] ?? "");
    paragraphs(sheet, view.notes, columns);
  }
  sheet.addRow([]);
  paragraphs(sheet, view.remarks, columns);
  sheet.addRow([]);
  for (const field of view.strip) fieldLine(sheet, field.label, field.value);
  attach(book, record, issue);
  return new Uint8Array(await book.xlsx.writeBuffer());
}

export async function noticeWorkbook(record: NoticeRecord, issue: Issue, paper: "A4" | "Letter"): Promise<Uint8Array> {
  const view = toNoticeView(record, issue);
  const { book, sheet } = newSheet(view.title, issue.issuedOn, 8, paper);
  line(sheet, [view.title], "title");
  line(sheet, [[view.labName, ...view.labAddress].join(", ")], "label");
  sheet.addRow([]);
  for (const field of view.head) fieldLine(sheet, field.label, field.value);
  section(sheet, `1 ${view.labels["found"]}`);
  line(
    sheet,
    ["coil", "property", "piece", "required", "result", "excess", "place"].map((name) => view.labels[name] ?? ""),
    "head",
  );
  for (const f of view.findings)
    line(sheet, [f.coil, f.property, f.piece, f.required, f.reason === "" ? f.result : `${f.result} (${f.reason})`, f.excess, f.place]);
  section(sheet, `2 ${view.labels["touches"]}`);
  paragraphs(sheet, view.touches, 8);
  section(sheet, `3 ${view.labels["held"]}`);
  paragraphs(sheet, [view.held], 8);
  section(sheet, `4 ${view.labels["may"]}`);
  paragraphs(sheet, view.may, 8);
  section(sheet, `5 ${view.labels["who"]}`);
  paragraphs(sheet, [view.who, view.blank], 8);
  attach(book, record, issue);
  return new Uint8Array(await book.xlsx.writeBuffer());
}

function fieldLine(sheet: ExcelJS.Worksheet, label: string, value: string): void {
  const row = line(sheet, [label, value]);
  sheet.mergeCells(row.number, 2, row.number, 5);
  row.getCell(1).font = { name: "Calibri", size: 10, color: { argb: "FF444444" } };
}

function paragraphs(sheet: ExcelJS.Worksheet, texts: readonly string[], columns: number): void {
  for (const text of texts) {
    const row = sheet.addRow([text]);
    sheet.mergeCells(row.number, 1, row.number, Math.min(columns, 8));
    row.getCell(1).alignment = { wrapText: true, vertical: "top" };
    row.getCell(1).font = { name: "Calibri", size: 10 };
    // Merged cells do not grow by themselves: about 110 characters fit a line.
    row.height = 14 * Math.ceil(text.length / 110 + 0.2);
  }
}
