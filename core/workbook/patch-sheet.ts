import type { MarkStyle } from "./patch-styles.ts";
import { columnLetters, columnNumber, escapeXml } from "./xml.ts";

export interface Mark {
  readonly text: string;
  readonly style: MarkStyle;
}

export interface SheetMarks {
  readonly name: string;
  readonly headerRow: number;
  readonly columns: readonly {
    readonly header: string;
    /** The column that already has this header; else one is added behind the widest row, styled empty cells included. */
    readonly column?: number;
    readonly width: number;
    readonly cells: ReadonlyMap<number, Mark>;
  }[];
}

interface Tag {
  readonly name: string;
  readonly start: number;
  readonly end: number;
  readonly kind: "open" | "close" | "empty";
}

interface Cell {
  readonly column: number;
  readonly start: number;
  readonly end: number;
  /** Of the opening tag. */
  readonly openEnd: number;
}

interface Row {
  readonly number: number;
  readonly open: Tag;
  /** Where the content ends; equals `open.end` for an empty element. */
  readonly contentEnd: number;
  readonly cells: readonly Cell[];
}

/** Longest text a cell can hold in the format. */
const LONGEST = 32_767;

export function patchSheet(
  xml: string,
  marks: SheetMarks,
  styles: Readonly<Record<MarkStyle, number>>,
): { readonly xml: string; readonly formulasReplaced: boolean } {
  const { rows, dataStart, widest, prefix } = layOut(xml);
  let next = widest + 1;
  const columns = marks.columns.map((column) => ({ ...column, at: column.column ?? next++ }));
  const edits: { start: number; end: number; text: string }[] = [];
  let formulasReplaced = false;
  for (const row of rows) {
    const wanted = columns.flatMap((column): { at: number; mark: Mark | undefined }[] => {
      if (row.number === marks.headerRow) return [{ at: column.at, mark: { text: column.header, style: "header" } }];
      const mark = column.cells.get(row.number);
      if (mark !== undefined) return [{ at: column.at, mark }];
      // A mark of an earlier time goes; a live formula in a spare row stays.
      const old = row.number > marks.headerRow ? row.cells.find((cell) => cell.column === column.at) : undefined;
      return old !== undefined && column.column !== undefined && isText(xml, old) ? [{ at: column.at, mark: undefined }] : [];
    });
    if (wanted.length === 0) continue;
    const made = rowEdits(xml, row, wanted, styles, prefix);
    edits.push(...made.edits);
    formulasReplaced ||= made.formulasReplaced;
  }
  const appended = columns.filter((column) => column.column === undefined);
  let text = applyEdits(xml, edits);
  if (formulasReplaced) text = promoteSharedFormulas(xml, text, prefix);
  text = widenDimension(text, Math.max(...columns.map((c) => c.at)), prefix);
  text = addWidths(
    text,
    appended.map((c) => ({ column: c.at, width: c.width })),
    prefix,
    dataStart,
  );
  return { xml: text, formulasReplaced };
}

function isText(xml: string, cell: Cell): boolean {
  const body = xml.slice(cell.start, cell.end);
  return !/<(?:[\w.-]+:)?f[\s/>]/.test(body) && /<(?:[\w.-]+:)?(?:v|is)[\s/>]/.test(body);
}

/** Walks the tags, passing over comments, CDATA and processing instructions. */
function* tags(xml: string): Generator<Tag> {
  let at = xml.indexOf("<");
  while (at >= 0) {
    if (xml.startsWith("<!--", at)) at = xml.indexOf("-->", at) + 3;
    else if (xml.startsWith("<![CDATA[", at)) at = xml.indexOf("]]>", at) + 3;
    else if (xml.startsWith("<?", at)) at = xml.indexOf("?>", at) + 2;
    else {
      const end = tagEnd(xml, at);
      const close = xml.charCodeAt(at + 1) === 47;
      const empty = !close && xml.charCodeAt(end - 2) === 47;
      const from = close ? at + 2 : at + 1;
      let to = from;
      while (to < end && !/[\s/>]/.test(xml[to] as string)) to += 1;
      const full = xml.slice(from, to);
      yield { name: full.slice(full.indexOf(":") + 1), start: at, end, kind: close ? "close" : empty ? "empty" : "open" };
      at = end;
    }
    at = xml.indexOf("<", at);
  }
}

/** The end of a tag; a `>` inside an attribute value does not end it. */
function tagEnd(xml: string, start: number): number {
  let quote = 0;
  for (let i = start + 1; i < xml.length; i += 1) {
    const c = xml.charCodeAt(i);
    if (quote !== 0) {
      if (c === quote) quote = 0;
    } else if (c === 34 || c === 39) quote = c;
    else if (c === 62) return i + 1;
  }
  return xml.length;
}

const attributeOf = (tag: string, name: string): string | undefined =>
  new RegExp(`\\s${name}\\s*=\\s*(?:"([^"]*)"|'([^']*)')`)
    .exec(tag)
    ?.slice(1)
    .find((v) => v !== undefined);

function layOut(xml: string): { rows: Row[]; dataStart: number; widest: number; prefix: string } {
  const rows: Row[] = [];
  let prefix = "";
  let dataStart = -1;
  let inData = false;
  let rowTag: Tag | undefined;
  let number = 0;
  let cells: Cell[] = [];
  let cellTag: Tag | undefined;
  let lastColumn = 0;
  let widest = 0;
  const openRow = (tag: Tag): void => {
    const r = attributeOf(xml.slice(tag.start, tag.end), "r");
    number = r === undefined ? number + 1 : Number(r);
    cells = [];
    lastColumn = 0;
  };
  const openCell = (tag: Tag): void => {
    const letters = attributeOf(xml.slice(tag.start, tag.end), "r")?.replace(/\d+$/, "");
    lastColumn = letters === undefined ? lastColumn + 1 : columnNumber(letters);
    widest = Math.max(widest, lastColumn);
  };
  for (const tag of tags(xml)) {
    if (tag.name === "sheetData") {
      if (tag.kind !== "close") {
        dataStart = tag.start;
        const head = xml.slice(tag.start + 1, tag.end);
        prefix = head.slice(0, head.indexOf("sheetData"));
      }
      inData = tag.kind === "open";
    } else if (!inData) continue;
    else if (tag.name === "row") {
      if (tag.kind === "close") {
        if (rowTag) rows.push({ number, open: rowTag, contentEnd: tag.start, cells });
        rowTag = undefined;
      } else {
        openRow(tag);
        if (tag.kind === "empty") rows.push({ number, open: tag, contentEnd: tag.end, cells: [] });
        else rowTag = tag;
      }
    } else if (tag.name === "c" && rowTag) {
      if (tag.kind === "close") {
        if (cellTag) cells.push({ column: lastColumn, start: cellTag.start, end: tag.end, openEnd: cellTag.end });
        cellTag = undefined;
      } else {
        openCell(tag);
        if (tag.kind === "empty") cells.push({ column: lastColumn, start: tag.start, end: tag.end, openEnd: tag.end });
        else cellTag = tag;
      }
    }
  }
  return { rows, dataStart, widest, prefix };
}

function rowEdits(
  xml: string,
  row: Row,
  wanted: readonly { at: number; mark: Mark | undefined }[],
  styles: Readonly<Record<MarkStyle, number>>,
  prefix: string,
): { edits: { start: number; end: number; text: string }[]; formulasReplaced: boolean } {
  const edits: { start: number; end: number; text: string }[] = [];
  let formulasReplaced = false;
  const inserts = new Map<number, string>();
  const empty = row.open.kind === "empty";
  for (const { at, mark } of [...wanted].sort((a, b) => a.at - b.at)) {
    const text = mark === undefined ? "" : cellXml(prefix, at, row.number, mark, styles);
    const existing = row.cells.find((cell) => cell.column === at);
    if (existing !== undefined) {
      formulasReplaced ||= /<(?:[\w.-]+:)?f[\s/>]/.test(xml.slice(existing.start, existing.end));
      edits.push({ start: existing.start, end: existing.end, text });
    } else if (text !== "") {
      const after = row.cells.find((cell) => cell.column > at);
      const place = after?.start ?? (empty ? row.open.end : row.contentEnd);
      inserts.set(place, (inserts.get(place) ?? "") + text);
    }
  }
  // Cells without reference would shift when one is inserted before them, so the row's cells get theirs.
  for (const cell of row.cells) {
    const open = xml.slice(cell.start, cell.openEnd);
    if (attributeOf(open, "r") === undefined && !edits.some((edit) => edit.start === cell.start)) {
      const nameEnd = cell.start + 1 + prefix.length + 1;
      edits.push({ start: nameEnd, end: nameEnd, text: ` r="${columnLetters(cell.column)}${row.number}"` });
    }
  }
  const head = xml.slice(row.open.start, row.open.end);
  let opened = head.replace(/\sspans\s*=\s*(?:"[^"]*"|'[^']*')/, "");
  if (attributeOf(opened, "r") === undefined) opened = opened.replace(/^<([\w.:-]*row)/, `<$1 r="${row.number}"`);
  if (empty) {
    edits.push({
      start: row.open.start,
      end: row.open.end,
      text: `${opened.replace(/\s*\/>$/, ">")}${inserts.get(row.open.end) ?? ""}</${prefix}row>`,
    });
    inserts.delete(row.open.end);
  } else if (opened !== head) edits.push({ start: row.open.start, end: row.open.end, text: opened });
  for (const [place, text] of inserts) edits.push({ start: place, end: place, text });
  return { edits, formulasReplaced };
}

function cellXml(prefix: string, column: number, row: number, mark: Mark, styles: Readonly<Record<MarkStyle, number>>): string {
  const p = prefix;
  return `<${p}c r="${columnLetters(column)}${row}" s="${styles[mark.style]}" t="inlineStr"><${p}is><${p}t xml:space="preserve">${escapeXml(mark.text.slice(0, LONGEST))}</${p}t></${p}is></${p}c>`;
}

function applyEdits(xml: string, edits: readonly { start: number; end: number; text: string }[]): string {
  const out: string[] = [];
  let at = 0;
  for (const edit of [...edits].sort((a, b) => a.start - b.start || a.end - b.end)) {
    out.push(xml.slice(at, edit.start), edit.text);
    at = edit.end;
  }
  out.push(xml.slice(at));
  return out.join("");
}

const SHARED =
  /<(?:[\w.-]+:)?c\b[^>]*\br="([A-Z]+)(\d+)"[^>]*>\s*<(?:[\w.-]+:)?f\b([^>]*\bt="shared"[^>]*?)(?:\/>|>([^<]*)<\/(?:[\w.-]+:)?f>)/g;

/** Where a replaced cell was the master of a shared formula, the first cell left becomes the master. */
function promoteSharedFormulas(before: string, after: string, prefix: string): string {
  const masters = new Map<string, { row: number; formula: string }>();
  for (const [, , row, attributes, formula] of before.matchAll(SHARED)) {
    const index = attributeOf(attributes ?? "", "si");
    if (index !== undefined && formula !== undefined && formula !== "") masters.set(index, { row: Number(row), formula });
  }
  const kept = new Set<string>();
  const last = new Map<string, string>();
  for (const [, column, row, attributes, formula] of after.matchAll(SHARED)) {
    const index = attributeOf(attributes ?? "", "si") ?? "";
    if (formula !== undefined && formula !== "") kept.add(index);
    last.set(index, `${column}${row}`);
  }
  const done = new Set<string>();
  return after.replaceAll(SHARED, (whole, column: string, row: string, attributes: string) => {
    const index = attributeOf(attributes, "si") ?? "";
    const master = masters.get(index);
    if (kept.has(index) || done.has(index) || master === undefined) return whole;
    done.add(index);
    const cellTag = whole.slice(0, whole.indexOf(">") + 1);
    return `${cellTag}<${prefix}f t="shared" ref="${column}${row}:${last.get(index)}" si="${index}">${shiftRows(master.formula, Number(row) - master.row)}</${prefix}f>`;
  });
}

/** Moves the relative row references of a formula; quoted text and absolute rows stay. */
export function shiftRows(formula: string, by: number): string {
  return formula
    .split(/("[^"]*")/)
    .map((part, i) =>
      i % 2 === 1
        ? part
        : part.replaceAll(
            /(?<![A-Za-z0-9_.])(\$?[A-Z]{1,3})(\d{1,7})(?![\d(A-Za-z_.])/g,
            (_, column: string, row: string) => `${column}${Number(row) + by}`,
          ),
    )
    .join("");
}

function widenDimension(xml: string, column: number, prefix: string): string {
  return xml.replace(
    new RegExp(`(<${prefix}dimension\\b[^>]*\\bref\\s*=\\s*["'])([A-Z]+\\d+)(?::([A-Z]+)(\\d+))?(["'])`),
    (_, head: string, first: string, lastColumn: string | undefined, lastRow: string | undefined, quote: string) => {
      const columnNow = columnNumber(lastColumn ?? first.replace(/\d+$/, ""));
      const row = lastRow ?? first.replace(/^[A-Z]+/, "");
      return `${head}${first}:${columnLetters(Math.max(columnNow, column))}${row}${quote}`;
    },
  );
}

function addWidths(xml: string, columns: readonly { column: number; width: number }[], prefix: string, dataStart: number): string {
  if (columns.length === 0 || dataStart < 0) return xml;
  const made = columns
    .map(({ column, width }) => `<${prefix}col min="${column}" max="${column}" width="${width}" customWidth="1"/>`)
    .join("");
  const list = new RegExp(`(<${prefix}cols\\b[^>]*>)([\\s\\S]*?)(</${prefix}cols>)`).exec(xml);
  if (list === null) {
    const at = xml.indexOf(`<${prefix}sheetData`);
    return `${xml.slice(0, at)}<${prefix}cols>${made}</${prefix}cols>${xml.slice(at)}`;
  }
  // A width that already reaches over our columns is the clerk's; two overlapping ones would damage the sheet.
  const covered = [...(list[2] ?? "").matchAll(/\bmax\s*=\s*["'](\d+)["']/g)].some((m) => Number(m[1]) >= (columns[0]?.column ?? 0));
  if (covered) return xml;
  const end = list.index + (list[1] ?? "").length + (list[2] ?? "").length;
  return xml.slice(0, end) + made + xml.slice(end);
}
