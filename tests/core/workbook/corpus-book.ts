/** A small entry workbook as XML, of which each case of the corpus changes one thing. All names and figures are invented. */
import { NOTHING_REGISTERED, parseEntry } from "../../../core/entry/index.ts";
import { readWorkbook } from "../../../core/workbook/index.ts";
import { type RawEntry, type RawOptions, rawZip } from "./raw-zip.ts";

const HEAD = '<?xml version="1.0" encoding="UTF-8" standalone="yes"?>\n';
export const MAIN = "http://schemas.openxmlformats.org/spreadsheetml/2006/main";
export const OFFICE = "http://schemas.openxmlformats.org/officeDocument/2006/relationships";
const PACKAGE = "http://schemas.openxmlformats.org/package/2006";
const TYPE = "application/vnd.openxmlformats-officedocument.spreadsheetml";

/** Fields of the sheet Torsion by column letter. */
export const COLUMNS = {
  testPiece: "A",
  coil: "B",
  diameter: "C",
  freeLength: "D",
  turns: "E",
  date: "F",
  remark: "G",
  breakAt: "H",
  lineTurns: "I",
} as const;
export type Field = keyof typeof COLUMNS;

/** Number formats by style index: General, a date, per cent, two decimals, exponent, a time, text. */
export const STYLES = { date: 1, percent: 2, decimals: 3, exponent: 4, time: 5, text: 6 } as const;
const FORMATS = [0, 14, 10, 2, 11, 20, 49].map((id) => `<xf numFmtId="${id}" fontId="0" fillId="0" borderId="0"/>`).join("");

export const cell =
  (attributes: string, inside: string) =>
  (place: string): string =>
    `<c r="${place}"${attributes === "" ? "" : ` ${attributes}`}>${inside}</c>`;
export const number = (value: string, style = 0) => cell(style === 0 ? "" : `s="${style}"`, `<v>${value}</v>`);
export const text = (value: string) => cell('t="inlineStr"', `<is><t xml:space="preserve">${value}</t></is>`);
export const formula = (source: string, value: string | undefined, type = "") =>
  cell(type === "" ? "" : `t="${type}"`, `<f>${source}</f>${value === undefined ? "" : `<v>${value}</v>`}`);
export type Cell = (place: string) => string;

const ROW: Readonly<Partial<Record<Field, Cell>>> = {
  testPiece: text("P1"),
  coil: text("C1"),
  diameter: number("2"),
  freeLength: number("200"),
  turns: number("24"),
  date: number("46083", STYLES.date),
};

export interface CorpusBook {
  readonly row?: Readonly<Partial<Record<Field, Cell | undefined>>>;
  /** In place of the cells of the second row. */
  readonly rowXml?: string;
  /** Behind the second row. */
  readonly moreRows?: string;
  /** The whole part of the sheet. */
  readonly sheet?: (xml: string) => string | Uint8Array;
  readonly workbook?: (xml: string) => string;
  readonly strings?: string;
  readonly parts?: (parts: readonly RawEntry[]) => readonly RawEntry[];
  readonly options?: RawOptions;
}

export function corpusBook(book: CorpusBook = {}): Uint8Array {
  const header = Object.entries(COLUMNS).map(([field, letter]) => text(field)(`${letter}1`));
  const row = Object.entries({ ...ROW, ...book.row })
    .sort(([a], [b]) => (COLUMNS[a as Field] < COLUMNS[b as Field] ? -1 : 1))
    .map(([field, make]) => make?.(`${COLUMNS[field as Field]}2`) ?? "");
  const rows = `<row r="1">${header.join("")}</row>${book.rowXml ?? `<row r="2">${row.join("")}</row>`}${book.moreRows ?? ""}`;
  const sheet = `${HEAD}<worksheet xmlns="${MAIN}" xmlns:r="${OFFICE}"><sheetData>${rows}</sheetData></worksheet>`;
  const workbook = `${HEAD}<workbook xmlns="${MAIN}" xmlns:r="${OFFICE}"><workbookPr/><sheets><sheet name="Torsion" sheetId="1" r:id="rId1"/></sheets></workbook>`;
  const strings = book.strings === undefined ? [] : [`<Relationship Id="rId3" Type="${OFFICE}/sharedStrings" Target="sharedStrings.xml"/>`];
  const parts: RawEntry[] = [
    {
      name: "[Content_Types].xml",
      content: `${HEAD}<Types xmlns="${PACKAGE}/content-types"><Default Extension="rels" ContentType="application/vnd.openxmlformats-package.relationships+xml"/><Default Extension="xml" ContentType="application/xml"/><Override PartName="/xl/workbook.xml" ContentType="${TYPE}.sheet.main+xml"/><Override PartName="/xl/worksheets/sheet1.xml" ContentType="${TYPE}.worksheet+xml"/></Types>`,
    },
    {
      name: "_rels/.rels",
      content: `${HEAD}<Relationships xmlns="${PACKAGE}/relationships"><Relationship Id="rId1" Type="${OFFICE}/officeDocument" Target="xl/workbook.xml"/></Relationships>`,
    },
    { name: "xl/workbook.xml", content: book.workbook?.(workbook) ?? workbook },
    {
      name: "xl/_rels/workbook.xml.rels",
      content: `${HEAD}<Relationships xmlns="${PACKAGE}/relationships"><Relationship Id="rId1" Type="${OFFICE}/worksheet" Target="worksheets/sheet1.xml"/><Relationship Id="rId2" Type="${OFFICE}/styles" Target="styles.xml"/>${strings.join("")}</Relationships>`,
    },
    {
      name: "xl/styles.xml",
      content: `${HEAD}<styleSheet xmlns="${MAIN}"><fonts count="1"><font/></fonts><fills count="1"><fill/></fills><borders count="1"><border/></borders><cellXfs count="7">${FORMATS}</cellXfs></styleSheet>`,
    },
    { name: "xl/worksheets/sheet1.xml", content: book.sheet?.(sheet) ?? sheet },
    ...(book.strings === undefined ? [] : [{ name: "xl/sharedStrings.xml", content: `${HEAD}<sst xmlns="${MAIN}">${book.strings}</sst>` }]),
  ];
  return rawZip(book.parts?.(parts) ?? parts, book.options);
}

export interface Outcome {
  readonly refused?: string;
  /** Codes with `!` before an error, sorted, each once. */
  readonly findings: readonly string[];
  /** Fields of the one row, where it was read. */
  readonly fields: Readonly<Record<string, string>>;
}

export const TODAY = "2026-06-30";

export function outcomeOf(bytes: Uint8Array): Outcome {
  const read = readWorkbook(bytes);
  if (!read.ok) return { refused: read.refusal.code, findings: [], fields: {} };
  const parsed = parseEntry(read.workbook, {
    file: "",
    today: TODAY,
    decimalMark: ".",
    registered: { ...NOTHING_REGISTERED, coils: new Set(["C1"]) },
    nominalDiameterOf: () => undefined,
    nominalDiameterOfItem: () => undefined,
    coilsOfHeat: () => [],
    agreedProperties: [],
  });
  if (!parsed.ok) return { refused: parsed.refusal.code, findings: [], fields: {} };
  const { findings, tests } = parsed.entry;
  const codes = findings.map((f) => `${f.severity === "error" ? "!" : ""}${f.code}`);
  return {
    findings: [...new Set(codes)].sort(),
    fields: Object.fromEntries(Object.entries(tests[0]?.fields ?? {}).map(([field, value]) => [field, value?.text ?? ""])),
  };
}
