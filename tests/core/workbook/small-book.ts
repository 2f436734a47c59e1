/** The smallest workbooks: one sheet `A`, its XML given by the test. */
import { expect } from "vitest";
import type { CellRecord, WorkbookRecord } from "../../../core/model.ts";
import { readWorkbook } from "../../../core/workbook/index.ts";
import { type RawEntry, type RawOptions, rawZip } from "./raw-zip.ts";

const HEAD = '<?xml version="1.0" encoding="UTF-8" standalone="yes"?>\n';
const MAIN = "http://schemas.openxmlformats.org/spreadsheetml/2006/main";
const OFFICE = "http://schemas.openxmlformats.org/officeDocument/2006/relationships";
const PACKAGE = "http://schemas.openxmlformats.org/package/2006";
const TYPE = "application/vnd.openxmlformats-officedocument.spreadsheetml";

export interface SmallBook {
  /** Inside `<sheetData>`. */
  readonly data?: string;
  /** The whole sheet part, instead of `data`. */
  readonly sheet?: string | Uint8Array;
  /** Inside `<sst>`; no part without it. */
  readonly strings?: string;
  /** Inside `<cellXfs>`; no part without it. */
  readonly formats?: string;
  /** Custom formats by number from 164. */
  readonly codes?: Readonly<Record<number, string>>;
  readonly workbookProperties?: string;
  /** Parts to add, or to put in place of one of the same name. */
  readonly parts?: readonly RawEntry[];
  readonly without?: readonly string[];
  readonly options?: RawOptions;
}

export function smallParts(book: SmallBook): readonly RawEntry[] {
  const related = [
    `<Relationship Id="rId1" Type="${OFFICE}/worksheet" Target="worksheets/sheet1.xml"/>`,
    ...(book.formats === undefined ? [] : [`<Relationship Id="rId2" Type="${OFFICE}/styles" Target="styles.xml"/>`]),
    ...(book.strings === undefined ? [] : [`<Relationship Id="rId3" Type="${OFFICE}/sharedStrings" Target="sharedStrings.xml"/>`]),
  ];
  const parts: RawEntry[] = [
    {
      name: "[Content_Types].xml",
      content: `${HEAD}<Types xmlns="${PACKAGE}/content-types"><Default Extension="rels" ContentType="application/vnd.openxmlformats-package.relationships+xml"/><Default Extension="xml" ContentType="application/xml"/><Override PartName="/xl/workbook.xml" ContentType="${TYPE}.sheet.main+xml"/><Override PartName="/xl/worksheets/sheet1.xml" ContentType="${TYPE}.worksheet+xml"/></Types>`,
    },
    {
      name: "_rels/.rels",
      content: `${HEAD}<Relationships xmlns="${PACKAGE}/relationships"><Relationship Id="rId1" Type="${OFFICE}/officeDocument" Target="xl/workbook.xml"/></Relationships>`,
    },
    {
      name: "xl/workbook.xml",
      content: `${HEAD}<workbook xmlns="${MAIN}" xmlns:r="${OFFICE}">${book.workbookProperties ?? ""}<sheets><sheet name="A" sheetId="1" r:id="rId1"/></sheets></workbook>`,
    },
    {
      name: "xl/_rels/workbook.xml.rels",
      content: `${HEAD}<Relationships xmlns="${PACKAGE}/relationships">${related.join("")}</Relationships>`,
    },
    {
      name: "xl/worksheets/sheet1.xml",
      content: book.sheet ?? `${HEAD}<worksheet xmlns="${MAIN}"><sheetData>${book.data ?? ""}</sheetData></worksheet>`,
    },
  ];
  if (book.strings !== undefined)
    parts.push({ name: "xl/sharedStrings.xml", content: `${HEAD}<sst xmlns="${MAIN}">${book.strings}</sst>` });
  if (book.formats !== undefined) {
    const codes = Object.entries(book.codes ?? {}).map(([id, code]) => `<numFmt numFmtId="${id}" formatCode="${code}"/>`);
    parts.push({
      name: "xl/styles.xml",
      content: `${HEAD}<styleSheet xmlns="${MAIN}"><numFmts>${codes.join("")}</numFmts><fonts count="1"><font/></fonts><fills count="1"><fill/></fills><cellXfs>${book.formats}</cellXfs></styleSheet>`,
    });
  }
  const kept = parts.filter((part) => !(book.without ?? []).includes(part.name) && !(book.parts ?? []).some((p) => p.name === part.name));
  return [...kept, ...(book.parts ?? [])];
}

export const smallBook = (book: SmallBook): Uint8Array => rawZip(smallParts(book), book.options);

export function read(bytes: Uint8Array): WorkbookRecord {
  const result = readWorkbook(bytes);
  if (!result.ok) throw new Error(`${result.refusal.code}: ${result.refusal.text}`);
  return result.workbook;
}

export const cellsOf = (workbook: WorkbookRecord, sheet = 0): readonly CellRecord[] =>
  [...(workbook.sheets[sheet]?.rows.values() ?? [])].flat();

/** Holds a refusal to its code and to what every refusal must be: one line, a sentence, not too long for a clerk. */
export function expectRefusal(bytes: Uint8Array, code: string): void {
  const result = readWorkbook(bytes);
  expect(result.ok ? "read" : result.refusal.code).toBe(code);
  if (result.ok) return;
  expect(result.refusal.text).toMatch(/^[A-Z][^\n\r]{10,400}[.]$/u);
}

export const MAIN_NAMESPACE = MAIN;
