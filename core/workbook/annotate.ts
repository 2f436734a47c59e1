/**
 * Writes marks into a package in place. Only the sheets that get marks, the styles and, for the Findings sheet, the workbook's own
 * lists change; every other part keeps its compressed bytes.
 */

import { type Codec, PORTABLE } from "./codec.ts";
import { readSharedStrings } from "./lists.ts";
import { besides, locateParts, PackageParts, type SheetReference, type WorkbookParts } from "./parts.ts";
import { patchSheet, type SheetMarks } from "./patch-sheet.ts";
import { addStyles, type MarkStyle } from "./patch-styles.ts";
import { readSheet } from "./sheet-reader.ts";
import { attributeOf } from "./tags.ts";
import { asUtf8, columnLetters, escapeXml } from "./xml.ts";
import { type OutgoingPart, type PackedPart, packPart, writePackage } from "./zip-write.ts";

export type { Mark, SheetMarks } from "./patch-sheet.ts";
export type { MarkStyle } from "./patch-styles.ts";

export interface FindingsSheet {
  readonly name: string;
  /** The first row is the header. */
  readonly rows: readonly (readonly string[])[];
  /** In characters, by column. */
  readonly widths: readonly number[];
}

export interface Annotation {
  readonly sheets: readonly SheetMarks[];
  readonly findings: FindingsSheet;
}

const NO_STYLES: Readonly<Record<MarkStyle, number>> = {
  plain: 0,
  header: 0,
  conforms: 0,
  "does-not-conform": 0,
  open: 0,
  void: 0,
  error: 0,
};
const SHEET_TYPE = "application/vnd.openxmlformats-officedocument.spreadsheetml.worksheet+xml";

/** Parts that are not as they were: as text, or packed already where they are large. */
type ChangedParts = Map<string, string | PackedPart>;

/**
 * The same workbook with the marks in it.
 * @param codec the machine's own means of packing, where it has faster ones
 * @throws RefusedWorkbook where the package is one that the reader would refuse
 */
export function annotateWorkbook(bytes: Uint8Array, annotation: Annotation, codec: Codec = PORTABLE): Uint8Array {
  const parts = new PackageParts(bytes, codec);
  const located = locateParts(parts);
  const changed: ChangedParts = new Map();
  const dropped = new Set<string>();

  let styles: Readonly<Record<MarkStyle, number>> = NO_STYLES;
  if (located.styles !== undefined) {
    const before = parts.text(located.styles);
    const patched = addStyles(before);
    styles = patched.ids;
    if (patched.xml !== before) changed.set(located.styles, patched.xml);
  }

  let formulasReplaced = false;
  for (const marks of annotation.sheets) {
    const sheet = located.sheets.find((s) => s.name === marks.name);
    if (sheet === undefined) continue;
    const packed = packPart(codec, parts.entryOf(sheet.part).size, (sink) => {
      formulasReplaced = patchSheet(parts.utf8(sheet.part), marks, styles, sink).formulasReplaced || formulasReplaced;
    });
    changed.set(sheet.part, packed);
  }
  placeFindings(parts, located, annotation.findings, styles, changed);

  const workbookRelations = besides(located.workbookPart).relationshipsPart;
  const current = (part: string): string => textOf(part, parts, changed);
  // A list of formula cells that names a cell without formula makes the spreadsheet program repair the file.
  if (formulasReplaced) {
    for (const entry of parts.entries) if (/(^|\/)calcChain\.xml$/i.test(entry.name)) dropped.add(entry.name);
    if (dropped.size > 0) changed.set(workbookRelations, withoutElements(current(workbookRelations), "Relationship", /calcChain/i));
  }
  const signatures = parts.entries.filter((entry) => entry.name.startsWith("_xmlsignatures/"));
  for (const entry of signatures) dropped.add(entry.name);
  if (signatures.length > 0) changed.set("_rels/.rels", withoutElements(current("_rels/.rels"), "Relationship", /digital-signature/i));
  if (dropped.size > 0)
    changed.set("[Content_Types].xml", withoutElements(current("[Content_Types].xml"), "Override", /calcChain|_xmlsignatures/i));

  return writePackage(outgoingParts(bytes, parts, changed, dropped), codec);
}

/** A part as it is now. Large parts are packed and of no interest as text. */
function textOf(part: string, parts: PackageParts, changed: ChangedParts): string {
  const made = changed.get(part);
  return typeof made === "string" ? made : parts.text(part);
}

/** Old parts in their old order, new ones behind them. */
function* outgoingParts(
  bytes: Uint8Array,
  parts: PackageParts,
  changed: ChangedParts,
  dropped: ReadonlySet<string>,
): Generator<OutgoingPart> {
  const encoder = new TextEncoder();
  const made = (name: string, part: string | PackedPart): OutgoingPart =>
    typeof part === "string" ? { name, content: encoder.encode(asUtf8(part)) } : { name, packed: part };
  // Relationships may write a part's name in another case than the package does.
  const names = new Map([...changed.keys()].map((name) => [name.toLowerCase(), name]));
  for (const entry of parts.entries) {
    if (dropped.has(entry.name)) continue;
    const name = names.get(entry.name.toLowerCase()) ?? entry.name;
    const part = changed.get(name);
    changed.delete(name);
    yield part === undefined ? { entry, from: bytes } : made(entry.name, part);
  }
  for (const [name, part] of changed) yield made(name, part);
}

/** Takes out the elements whose tag matches, written empty or with a closing tag. */
function withoutElements(xml: string, element: string, pattern: RegExp): string {
  return xml.replaceAll(new RegExp(`<((?:[\\w.-]+:)?${element})\\b[^>]*?(?:/>|>\\s*</\\1\\s*>)`, "g"), (tag) =>
    pattern.test(tag) ? "" : tag,
  );
}

function placeFindings(
  parts: PackageParts,
  located: WorkbookParts,
  findings: FindingsSheet,
  styles: Readonly<Record<MarkStyle, number>>,
  changed: ChangedParts,
): void {
  const workbookText = textOf(located.workbookPart, parts, changed);
  const xml = findingsXml(findings, styles, mainNamespace(workbookText));
  const ours = ourFindings(parts, located, findings);
  if (ours !== undefined) {
    changed.set(ours.part, xml);
    return;
  }
  const taken = new Set(located.sheets.map((sheet) => sheet.name.toLowerCase()));
  let name = findings.name;
  for (let n = 2; taken.has(name.toLowerCase()); n += 1) name = `${findings.name} (${n})`;
  const { folder, relationshipsPart } = besides(located.workbookPart);
  // Some readers find only sheets whose parts are named and numbered like everybody else's.
  let number = located.sheets.length + 1;
  while (parts.has(`${folder}worksheets/sheet${number}.xml`)) number += 1;
  const part = `${folder}worksheets/sheet${number}.xml`;
  changed.set(part, xml);

  const relations = textOf(relationshipsPart, parts, changed);
  const id = freeId(relations);
  const relationType =
    /Type\s*=\s*["']([^"']*)\/(?:worksheet|styles|theme)["']/.exec(relations)?.[1] ??
    "http://schemas.openxmlformats.org/officeDocument/2006/relationships";
  const relationPrefix = prefixOf(relations, "Relationships");
  changed.set(
    relationshipsPart,
    beforeClosing(
      relations,
      "Relationships",
      `<${relationPrefix}Relationship Id="${id}" Type="${relationType}/worksheet" Target="worksheets/sheet${number}.xml"/>`,
    ),
  );

  const types = textOf("[Content_Types].xml", parts, changed);
  changed.set(
    "[Content_Types].xml",
    beforeClosing(types, "Types", `<${prefixOf(types, "Types")}Override PartName="/${part}" ContentType="${SHEET_TYPE}"/>`),
  );

  const workbook = workbookText;
  const sheetIds = [...workbook.matchAll(/\bsheetId\s*=\s*["'](\d+)["']/g)].map((m) => Number(m[1]));
  const idAttribute = /<(?:[\w.-]+:)?sheet\b[^>]*?\s([\w.-]+:id)\s*=/.exec(workbook)?.[1] ?? "r:id";
  const prefix = prefixOf(workbook, "sheets");
  changed.set(
    located.workbookPart,
    beforeClosing(
      workbook,
      "sheets",
      `<${prefix}sheet name="${escapeXml(name)}" sheetId="${Math.max(0, ...sheetIds) + 1}"${declarationFor(idAttribute, workbook)} ${idAttribute}="${id}"/>`,
    ),
  );
}

/** Some programs declare the prefix on each sheet instead of once for all; ours then needs a declaration of its own. */
function declarationFor(idAttribute: string, workbook: string): string {
  const name = `xmlns:${idAttribute.split(":")[0]}`;
  const root = /<(?:[\w.-]+:)?workbook\b[^>]*>/.exec(workbook)?.[0] ?? "";
  if (attributeOf(root, name) !== undefined) return "";
  const declared = attributeOf(workbook, name) ?? "http://schemas.openxmlformats.org/officeDocument/2006/relationships";
  return ` ${name}="${declared}"`;
}

const prefixOf = (xml: string, element: string): string => new RegExp(`<([\\w.-]+:)?${element}\\b`).exec(xml)?.[1] ?? "";

function beforeClosing(xml: string, element: string, addition: string): string {
  const at = xml.search(new RegExp(`</(?:[\\w.-]+:)?${element}\\s*>`));
  if (at < 0) throw new Error(`the package lacks </${element}>`);
  return xml.slice(0, at) + addition + xml.slice(at);
}

function freeId(relations: string): string {
  let number = 1;
  while (new RegExp(`Id\\s*=\\s*["']rIdFindings${number}["']`).test(relations)) number += 1;
  return `rIdFindings${number}`;
}

/**
 * The Findings sheet of an earlier time, told by its header row, also where a spreadsheet program has saved it in its own way since.
 * A sheet of the clerk's with the same name is left alone.
 */
function ourFindings(parts: PackageParts, located: WorkbookParts, findings: FindingsSheet): SheetReference | undefined {
  const named = located.sheets.filter((sheet) => sheet.name === findings.name || sheet.name.startsWith(`${findings.name} (`));
  if (named.length === 0) return undefined;
  const strings = located.sharedStrings === undefined ? [] : readSharedStrings(parts, located.sharedStrings).strings;
  return named.find((sheet) => {
    const header = readSheet(parts, sheet, { strings, formats: [], findings: [], filledCells: 0, characters: 0 }).rows.get(1) ?? [];
    const texts = new Map(header.map((cell) => [cell.column, cell.raw]));
    return (findings.rows[0] ?? []).every((text, i) => texts.get(i + 1) === text);
  });
}

/** The namespace of the workbook's own elements: the strict form has another one, and a sheet must not mix them. */
function mainNamespace(workbook: string): string {
  const root = /<(?:([\w.-]+):)?workbook\b[^>]*>/.exec(workbook);
  const name = root?.[1] === undefined ? "xmlns" : `xmlns:${root[1]}`;
  return (root === null ? undefined : attributeOf(root[0], name)) ?? "http://schemas.openxmlformats.org/spreadsheetml/2006/main";
}

function findingsXml(findings: FindingsSheet, styles: Readonly<Record<MarkStyle, number>>, namespace: string): string {
  const last = columnLetters(Math.max(1, ...findings.rows.map((row) => row.length)));
  const rows = findings.rows.map((cells, r) => {
    const style = r === 0 ? styles.header : styles.plain;
    return `<row r="${r + 1}">${cells.map((text, c) => `<c r="${columnLetters(c + 1)}${r + 1}" s="${style}" t="inlineStr"><is><t xml:space="preserve">${escapeXml(text.slice(0, 32_000))}</t></is></c>`).join("")}</row>`;
  });
  return `<?xml version="1.0" encoding="UTF-8" standalone="yes"?>\n<worksheet xmlns="${namespace}"><sheetPr><pageSetUpPr fitToPage="1"/></sheetPr><dimension ref="A1:${last}${Math.max(1, findings.rows.length)}"/><sheetViews><sheetView workbookViewId="0"><pane ySplit="1" topLeftCell="A2" activePane="bottomLeft" state="frozen"/></sheetView></sheetViews><cols>${findings.widths.map((width, i) => `<col min="${i + 1}" max="${i + 1}" width="${width}" customWidth="1"/>`).join("")}</cols><sheetData>${rows.join("")}</sheetData><pageSetup orientation="landscape" fitToWidth="1" fitToHeight="0"/></worksheet>`;
}
