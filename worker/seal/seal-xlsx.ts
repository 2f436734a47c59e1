/** Seals a workbook: the signed statement on a hidden sheet, which every program keeps, and a signature over all parts as the last part. */
import { fromUtf8, utf8 } from "../../core/seal/bytes.ts";
import { writeJws } from "../../core/seal/jws.ts";
import { RECORD_NAME, SEAL_NAME } from "../../core/seal/statement.ts";
import { carriedText, xlsxContent } from "../../core/seal/xlsx-content.ts";
import { PACKAGE_PART, PACKAGE_TYPE, packageStatement, partContent, withPackageSeal } from "../../core/seal/xlsx-package.ts";
import { readWorkbook } from "../../core/workbook/index.ts";
import { readDirectory } from "../../core/workbook/package.ts";
import { escapeXml } from "../../core/workbook/xml.ts";
import { writePackage } from "../../core/workbook/zip-write.ts";
import type { SealKey } from "./keys.ts";
import { nodeCryptography } from "./node-cryptography.ts";
import { recordInside, type Sealing, sealText } from "./statement.ts";

/** A cell holds 32,767 characters. */
const PIECE = 30_000;
const NAMESPACE = "http://schemas.openxmlformats.org/spreadsheetml/2006/main";
const SHEET_RELATION = "http://schemas.openxmlformats.org/officeDocument/2006/relationships/worksheet";

/** @throws Error where the workbook cannot be read, carries no record, or is sealed already */
export async function sealXlsx(base: Uint8Array, sealing: Sealing, key: SealKey): Promise<Uint8Array> {
  const read = readWorkbook(base);
  if (!read.ok) throw new Error(`document ${sealing.number}: its workbook cannot be read (${read.refusal.text})`);
  const { workbook } = read;
  if (workbook.sheets.some((sheet) => sheet.name === SEAL_NAME)) throw new Error(`document ${sealing.number}: is sealed already`);
  const carried = carriedText(workbook, RECORD_NAME);
  if (carried === undefined) throw new Error(`document ${sealing.number}: carries no record`);
  const entries = readDirectory(base);
  const content = xlsxContent(
    workbook,
    entries.map((entry) => entry.name),
    [RECORD_NAME, SEAL_NAME],
  );
  const seal = fromUtf8(await sealText("xlsx", { ...sealing, record: recordInside(utf8(carried), sealing) }, key, content, {}));
  const parts = new Map(entries.map((entry) => [entry.name, partContent(base, entry)]));
  const edit = (name: string, change: (xml: string) => string): void => {
    const part = parts.get(name);
    if (part === undefined) throw new Error(`document ${sealing.number}: its workbook lacks ${name}`);
    parts.set(name, utf8(change(fromUtf8(part))));
  };
  // Some programs find sheets by the usual names of their parts alone.
  const sheet = `sheet${1 + Math.max(0, ...entries.map((entry) => Number(/^xl\/worksheets\/sheet(\d+)\.xml$/.exec(entry.name)?.[1] ?? 0)))}.xml`;
  const sheetPart = `xl/worksheets/${sheet}`;
  edit("xl/workbook.xml", (xml) => {
    const next = Math.max(...[...xml.matchAll(/sheetId="(\d+)"/g)].map((match) => Number(match[1]))) + 1;
    return before(xml, "</sheets>", `<sheet sheetId="${next}" name="${SEAL_NAME}" state="veryHidden" r:id="rIdSeal"/>`);
  });
  edit("xl/_rels/workbook.xml.rels", (xml) =>
    before(xml, "</Relationships>", `<Relationship Id="rIdSeal" Type="${SHEET_RELATION}" Target="worksheets/${sheet}"/>`),
  );
  edit("_rels/.rels", (xml) =>
    before(xml, "</Relationships>", `<Relationship Id="rIdSeal" Type="urn:coilbook:seal" Target="${PACKAGE_PART}"/>`),
  );
  edit("[Content_Types].xml", (xml) =>
    before(
      xml,
      "</Types>",
      `<Override PartName="/${sheetPart}" ContentType="application/vnd.openxmlformats-officedocument.spreadsheetml.worksheet+xml"/><Override PartName="/${PACKAGE_PART}" ContentType="application/jose"/>`,
    ),
  );
  parts.set(sheetPart, utf8(sheetXml(seal)));
  const whole = writePackage([...parts].map(([name, part]) => ({ name, content: part })));
  const statement = await packageStatement(whole, nodeCryptography);
  return withPackageSeal(whole, await writeJws(PACKAGE_TYPE, key.state.kid, statement, key.signRecord));
}

function before(xml: string, end: string, added: string): string {
  const at = xml.lastIndexOf(end);
  if (at < 0) throw new Error(`workbook part without ${end}`);
  return xml.slice(0, at) + added + xml.slice(at);
}

function sheetXml(text: string): string {
  let rows = "";
  for (let [at, row] = [0, 1]; at < text.length; row += 1) {
    // A pair of surrogates stays together.
    let end = Math.min(at + PIECE, text.length);
    if (/[\ud800-\udbff]/.test(text[end - 1] ?? "")) end -= 1;
    rows += `<row r="${row}"><c r="A${row}" t="inlineStr"><is><t xml:space="preserve">${escapeXml(text.slice(at, end))}</t></is></c></row>`;
    at = end;
  }
  return `<?xml version="1.0" encoding="UTF-8" standalone="yes"?>\n<worksheet xmlns="${NAMESPACE}"><sheetData>${rows}</sheetData></worksheet>`;
}
