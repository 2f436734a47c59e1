/** The same views as workbooks: numbers as numbers, text as text, one sheet to print. */
import ExcelJS from "exceljs";
import { unzipSync, zipSync } from "fflate";
import { onOneLine } from "../../templates/bilingual.ts";
import type { CertificateRecord } from "../../templates/certificate/record.ts";
import { type Issue, toCertificateView } from "../../templates/certificate/view.ts";
import type { NoticeRecord } from "../../templates/notice/record.ts";
import { toNoticeView } from "../../templates/notice/view.ts";
import type { PrintedRecord } from "../../templates/records.ts";
import type { RetestRecord } from "../../templates/retest/record.ts";
import { toRetestView } from "../../templates/retest/view.ts";
import { checkOf } from "./pages.ts";

type PaperSize = "A4" | "Letter";

/** @param bytes the record as it is attached @throws Error on coil labels, which have no workbook */
export async function workbookOf(record: PrintedRecord, issue: Issue, bytes: Uint8Array, paper: PaperSize): Promise<Uint8Array> {
  const book = sheetsOf(record, issue, bytes, paper);
  attach(book, bytes);
  return sameEveryTime(new Uint8Array(await book.xlsx.writeBuffer()), issue.issuedOn);
}

/** The package anew with the day of issue on every part: the library writes the minute of writing there. */
function sameEveryTime(book: Uint8Array, issuedOn: string): Uint8Array {
  const [year = 0, month = 1, day = 1] = issuedOn.split("-").map(Number);
  // Times in a package are local ones, so the day is made of local parts wherever the program runs.
  return zipSync(unzipSync(book), { level: 6, mtime: new Date(year, month - 1, day) });
}

function sheetsOf(record: PrintedRecord, issue: Issue, bytes: Uint8Array, paper: PaperSize): ExcelJS.Workbook {
  switch (record.schema) {
    case "certificate-record/1":
      return certificateWorkbook(record, issue, bytes, paper);
    case "notice-record/1":
      return noticeWorkbook(record, issue, bytes, paper);
    case "retest-order-record/1":
      return retestWorkbook(record, issue, bytes, paper);
    case "coil-labels-record/1":
      throw new Error(`document ${issue.number}: coil labels are printed; accepted is the format pdf`);
  }
}

const RULE = { style: "thin", color: { argb: "FF161616" } } as const;
const HAIR = { style: "hair", color: { argb: "FF9A9A9A" } } as const;

interface Sheet {
  readonly book: ExcelJS.Workbook;
  readonly sheet: ExcelJS.Worksheet;
}

function newSheet(titles: string, issuedOn: string, columns: number, paper: PaperSize): Sheet {
  const book = new ExcelJS.Workbook();
  const title = onOneLine(titles);
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
  const row = sheet.addRow(values.map((value) => (typeof value === "string" ? onOneLine(value) : (value ?? ""))));
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
  const row = sheet.addRow([onOneLine(title)]);
  row.getCell(1).font = { name: "Calibri", size: 11, bold: true };
};

/** The record as every form of the document carries it. */
function attach(book: ExcelJS.Workbook, bytes: Uint8Array): void {
  const sheet = book.addWorksheet("record", { state: "veryHidden" });
  const json = new TextDecoder().decode(bytes);
  // A cell holds 32,767 characters, so a long record continues below.
  for (let at = 0; at < json.length; at += CELL_LENGTH) sheet.addRow([json.slice(at, at + CELL_LENGTH)]);
}
const CELL_LENGTH = 30_000;

function certificateWorkbook(record: CertificateRecord, issue: Issue, bytes: Uint8Array, paper: PaperSize): ExcelJS.Workbook {
  const view = toCertificateView(record, issue);
  const label = (name: string): string => view.labels[name] ?? "";
  const besides = record.requirements.map((requirement) => requirement.unitBeside !== undefined);
  const hasUncertainty = record.rows.some((row) => row.cells.some((cell) => cell?.uncertainty !== undefined));
  const columns = Math.max(7, 5 + view.columns.length, 2 + view.elements.length);
  const { book, sheet } = newSheet(view.title, issue.issuedOn, columns, paper);
  line(sheet, [view.title], "title");
  line(sheet, [view.typeLine], "label");
  line(sheet, [[view.labName, ...view.labAddress].join(", ")], "label");
  if (view.draft !== "") line(sheet, [view.draft], "label");
  sheet.addRow([]);
  for (const field of [...view.head, ...view.product]) fieldLine(sheet, field.label, field.value);
  if (view.requirements.length > 0) {
    section(sheet, label("requirements"));
    const shown = (["method", "instrument", "uncertainty"] as const).filter((name) => view.shows[name]);
    line(sheet, ["property", "limit", "conditions", ...shown, "clause"].map(label), "head");
    for (const r of view.requirements) line(sheet, [r.property, r.limit, r.conditions, ...shown.map((name) => r[name]), r.clause]);
  }
  section(sheet, label("results"));
  line(
    sheet,
    [
      label("coil"),
      label("heat"),
      label("mass"),
      ...view.columns.map((c) => (c.unit === "" ? c.property : `${onOneLine(c.property)}, ${onOneLine(c.unit)}`)),
      label("basis"),
      label("verdict"),
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
  testedTable(sheet, view, besides, hasUncertainty);
  if (view.charts.length > 0) {
    section(sheet, label("charts"));
    paragraphs(
      sheet,
      view.charts.map((chart) => chart.sentence),
      columns,
    );
  }
  if (view.heats.length > 0) {
    section(sheet, label("chemistry"));
    line(sheet, [label("heat"), label("analysis"), ...view.elements], "head");
    for (const heat of view.heats) line(sheet, [heat.heat, `${onOneLine(heat.analysis)}, ${onOneLine(heat.source)}`, ...heat.values]);
  }
  section(sheet, label("statement"));
  paragraphs(sheet, [view.statement], columns);
  if (view.notes.length > 0) {
    section(sheet, label("note"));
    paragraphs(sheet, view.notes, columns);
  }
  sheet.addRow([]);
  paragraphs(sheet, view.remarks, columns);
  sheet.addRow([]);
  for (const field of view.strip) fieldLine(sheet, field.label, field.value);
  closing(sheet, view.labels, view.footer, bytes);
  return book;
}

/** The figures as tested, and in the second unit where the order asks for one, as the page prints them. */
function testedTable(
  sheet: ExcelJS.Worksheet,
  view: ReturnType<typeof toCertificateView>,
  besides: readonly boolean[],
  hasUncertainty: boolean,
): void {
  const columns = view.columns
    .map((column, index) => ({ ...column, index }))
    .filter(({ index }) => view.rows.some((row) => row.cells[index]?.compared));
  if (columns.length === 0) return;
  section(sheet, view.labels["asTested"] ?? "");
  if (hasUncertainty) paragraphs(sheet, [view.labels["uncertainty"] ?? ""], 8);
  line(
    sheet,
    [view.labels["coil"] ?? "", ...columns.flatMap(({ property, index }) => [property, ...(besides[index] ? [property] : [])])],
    "head",
  );
  for (const row of view.rows)
    line(sheet, [
      row.coil,
      ...columns.flatMap(({ index }) => [row.cells[index]?.text ?? "", ...(besides[index] ? [row.cells[index]?.beside ?? ""] : [])]),
    ]);
  if (view.shows.beside) paragraphs(sheet, [view.labels["converted"] ?? ""], 8);
  if (view.rows.some((row) => row.massBeside !== "")) {
    line(sheet, [view.labels["coil"] ?? "", view.labels["mass"] ?? ""], "head");
    for (const row of view.rows) line(sheet, [row.coil, row.massBeside]);
  }
}

function closing(sheet: ExcelJS.Worksheet, labels: Readonly<Record<string, string>>, footer: string, bytes: Uint8Array): void {
  fieldLine(sheet, labels["check"] ?? "", checkOf(bytes));
  if (footer !== "") paragraphs(sheet, [footer], 8);
}

function noticeWorkbook(record: NoticeRecord, issue: Issue, bytes: Uint8Array, paper: PaperSize): ExcelJS.Workbook {
  const view = toNoticeView(record, issue);
  const label = (name: string): string => view.labels[name] ?? "";
  const { book, sheet } = newSheet(view.title, issue.issuedOn, 8, paper);
  line(sheet, [view.title], "title");
  line(sheet, [[view.labName, ...view.labAddress].join(", ")], "label");
  if (view.draft !== "") line(sheet, [view.draft], "label");
  sheet.addRow([]);
  for (const field of [...view.head, ...view.product]) fieldLine(sheet, field.label, field.value);
  section(sheet, `1 ${onOneLine(label("found"))}`);
  line(sheet, ["coil", "property", "piece", "required", "result", "excess", ...(view.showsPlace ? ["place"] : [])].map(label), "head");
  for (const f of view.findings) {
    const result = f.reason === "" ? f.result : `${onOneLine(f.result)} (${onOneLine(f.reason)})`;
    line(sheet, [f.coil, f.property, f.piece, f.required, result, f.excess, ...(view.showsPlace ? [f.place] : [])]);
  }
  section(sheet, `2 ${onOneLine(label("touches"))}`);
  paragraphs(sheet, view.touches, 8);
  section(sheet, `3 ${onOneLine(label("held"))}`);
  paragraphs(sheet, [view.held], 8);
  section(sheet, `4 ${onOneLine(label("may"))}`);
  paragraphs(sheet, view.may, 8);
  section(sheet, `5 ${onOneLine(label("who"))}`);
  paragraphs(sheet, [...view.who, view.blank], 8);
  closing(sheet, view.labels, view.footer, bytes);
  return book;
}

function retestWorkbook(record: RetestRecord, issue: Issue, bytes: Uint8Array, paper: PaperSize): ExcelJS.Workbook {
  const view = toRetestView(record, issue);
  const label = (name: string): string => view.labels[name] ?? "";
  const { book, sheet } = newSheet(view.title, issue.issuedOn, 12, paper);
  line(sheet, [view.title], "title");
  line(sheet, [[view.labName, ...view.labAddress].join(", ")], "label");
  if (view.draft !== "") line(sheet, [view.draft], "label");
  sheet.addRow([]);
  for (const field of [...view.head, ...view.product]) fieldLine(sheet, field.label, field.value);
  section(sheet, label("steps"));
  line(
    sheet,
    ["coil", "heat", "property", "do", "pieces", "wireEnd", "limit", "conditions", "because", "stands", "marked", "done"].map(label),
    "head",
  );
  for (const s of view.steps)
    line(sheet, [s.coil, s.heat, s.property, s.todo, Number(s.pieces), s.end, s.limit, s.conditions, s.because, s.standsFor, "", ""]);
  paragraphs(sheet, [view.note], 8);
  closing(sheet, view.labels, view.footer, bytes);
  return book;
}

function fieldLine(sheet: ExcelJS.Worksheet, label: string, value: string): void {
  const row = line(sheet, [label, value]);
  sheet.mergeCells(row.number, 2, row.number, 5);
  row.getCell(1).font = { name: "Calibri", size: 10, color: { argb: "FF444444" } };
}

function paragraphs(sheet: ExcelJS.Worksheet, texts: readonly string[], columns: number): void {
  for (const text of texts) {
    const row = sheet.addRow([onOneLine(text)]);
    sheet.mergeCells(row.number, 1, row.number, Math.min(columns, 8));
    row.getCell(1).alignment = { wrapText: true, vertical: "top" };
    row.getCell(1).font = { name: "Calibri", size: 10 };
    // Merged cells do not grow by themselves: about 110 characters fit a line.
    row.height = 14 * Math.ceil(text.length / 110 + 0.2);
  }
}
