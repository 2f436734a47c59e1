import { LIMITS } from "./limits.ts";
import type { MarkStyle } from "./patch-styles.ts";
import { promoteSharedFormulas } from "./shared-formulas.ts";
import { columnAt, layoutOf, type Widths, widestMerged, widthsOf } from "./sheet-layout.ts";
import { attributeOf, startOfCells, visitTags } from "./tags.ts";
import { asUtf8, columnLetters, columnNumber, escapeXml } from "./xml.ts";
import { GREATER, indexOf, LESS, SLASH } from "./xml-bytes.ts";

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

interface Cell {
  readonly column: number;
  readonly start: number;
  readonly end: number;
  /** Of the opening tag; equals `end` for an empty element. */
  readonly openEnd: number;
  /** True where the cell says its own name. */
  readonly named: boolean;
}

interface Row {
  readonly number: number;
  readonly openStart: number;
  readonly openEnd: number;
  /** True for an element that holds nothing and has no closing tag. */
  readonly empty: boolean;
  /** Where the content ends; equals `openEnd` for an empty element. */
  readonly contentEnd: number;
  readonly cells: readonly Cell[];
}

/** So much of a sheet is text at one time; the rest stays bytes, or is packed already. */
const BLOCK = 256 * 1024;

/**
 * Writes the marks of one sheet into its XML; what is not marked stays as it is written.
 * @param content UTF-8
 * @param sink gets the new XML piece by piece; a piece is valid only during the call
 * @returns true for `formulasReplaced` where a mark took the place of a formula
 */
export function patchSheet(
  content: Uint8Array,
  marks: SheetMarks,
  styles: Readonly<Record<MarkStyle, number>>,
  sink: (piece: Uint8Array) => void,
): { readonly formulasReplaced: boolean } {
  const [decoder, encoder] = [new TextDecoder("utf-8", { ignoreBOM: true }), new TextEncoder()];
  const text = (from: number, to: number): string => decoder.decode(content.subarray(from, to));
  const { dataStart, prefix } = findCells(content, text);
  if (dataStart < 0) {
    sink(content);
    return { formulasReplaced: false };
  }
  const layout = prefix === "" ? layoutOf(content, dataStart) : undefined;
  const given = marks.columns.some((column) => column.column !== undefined);
  const whole = layout === undefined || (given && layout.shared) ? text(dataStart, content.length) : undefined;
  const columns = placeColumns(
    marks,
    whole === undefined && layout !== undefined
      ? { ...layout, ...widestMerged(layout.widest, text(layout.dataEnd, content.length)) }
      : widthsOf(whole ?? text(dataStart, content.length)),
  );
  sink(encoder.encode(headWith(text(0, dataStart), columns, prefix)));
  const state = { number: 0, formulasReplaced: false };
  if (whole !== undefined || layout === undefined) {
    const before = whole ?? text(dataStart, content.length);
    const after = patchRows(before, marks, columns, styles, prefix, state);
    sink(encoder.encode(state.formulasReplaced ? promoteSharedFormulas(before, after, prefix) : after));
    return state;
  }
  const free = columns.every((column) => column.column === undefined && column.at > layout.widest);
  for (let at = dataStart; at < layout.dataEnd; ) {
    const end = endOfBlock(content, at, layout.dataEnd);
    const block = text(at, end);
    sink(encoder.encode(free ? appendToRows(block, marks, columns, styles) : patchRows(block, marks, columns, styles, "", state)));
    at = end;
  }
  sink(content.subarray(layout.dataEnd));
  return state;
}

/** Where the rows begin, in bytes, and the prefix of their elements; −1 where there are none. */
function findCells(content: Uint8Array, text: (from: number, to: number) => string): { dataStart: number; prefix: string } {
  for (let at = indexOf(content, "sheetData", 0, content.length); at >= 0; at = indexOf(content, "sheetData", at + 1, content.length)) {
    const tagEnd = content.indexOf(GREATER, at) + 1;
    // A comment may speak of it as well.
    const { dataStart, prefix } = startOfCells(text(0, tagEnd === 0 ? content.length : tagEnd));
    if (dataStart >= 0) return { dataStart: content.lastIndexOf(LESS, at), prefix };
  }
  return { dataStart: -1, prefix: "" };
}

/** The end of a block of whole rows, of sheets whose layout is plain. */
function endOfBlock(content: Uint8Array, from: number, dataEnd: number): number {
  if (dataEnd - from <= BLOCK * 2) return dataEnd;
  const found = indexOf(content, "</row>", from + BLOCK, dataEnd);
  return found < 0 ? dataEnd : found + "</row>".length;
}

/** Marks in columns where no row has anything: each goes before the end of its row. For sheets whose layout is plain. */
function appendToRows(
  block: string,
  marks: SheetMarks,
  columns: readonly PlacedColumn[],
  styles: Readonly<Record<MarkStyle, number>>,
): string {
  const out: string[] = [];
  let at = 0;
  for (let start = block.indexOf("<row "); start >= 0; ) {
    const tagEnd = block.indexOf(">", start) + 1;
    const number = Number.parseInt(block.slice(start + 8, start + 16), 10);
    const empty = block.charCodeAt(tagEnd - 2) === SLASH;
    const made = cellsOfRow(number, marks, columns, styles);
    const next = block.indexOf("<row ", tagEnd);
    if (made !== "") {
      const opened = block.slice(start, tagEnd).replace(SPANS, "");
      if (empty) {
        out.push(block.slice(at, start), opened.replace(/\s*\/>$/, ">"), made, "</row>");
        at = tagEnd;
      } else {
        const end = block.indexOf("</row", tagEnd);
        out.push(block.slice(at, start), opened, block.slice(tagEnd, end), made);
        at = end;
      }
    }
    start = next;
  }
  out.push(block.slice(at));
  return out.join("");
}

const SPANS = /\sspans\s*=\s*(?:"[^"]*"|'[^']*')/;

function cellsOfRow(row: number, marks: SheetMarks, columns: readonly PlacedColumn[], styles: Readonly<Record<MarkStyle, number>>): string {
  let made = "";
  for (const column of columns) {
    const mark = row === marks.headerRow ? { text: column.header, style: "header" as const } : column.cells.get(row);
    if (mark !== undefined) made += cellXml("", column.at, row, mark, styles);
  }
  return made;
}

/** The rows of a text with their marks. @param state goes from block to block */
function patchRows(
  xml: string,
  marks: SheetMarks,
  columns: readonly PlacedColumn[],
  styles: Readonly<Record<MarkStyle, number>>,
  prefix: string,
  state: { number: number; formulasReplaced: boolean },
): string {
  const out: string[] = [];
  let at = 0;
  state.number = visitRows(xml, state.number, (row) => {
    const wanted = columns.flatMap((column): { at: number; mark: Mark | undefined }[] => {
      if (row.number === marks.headerRow) return [{ at: column.at, mark: { text: column.header, style: "header" } }];
      const mark = column.cells.get(row.number);
      if (mark !== undefined) return [{ at: column.at, mark }];
      // A mark of an earlier time goes; a live formula in a spare row stays.
      const old = row.number > marks.headerRow ? row.cells.find((cell) => cell.column === column.at) : undefined;
      return old !== undefined && column.column !== undefined && isText(xml, old) ? [{ at: column.at, mark: undefined }] : [];
    });
    if (wanted.length === 0) return;
    const made = rowEdits(xml, row, wanted, styles, prefix);
    state.formulasReplaced ||= made.formulasReplaced;
    for (const edit of made.edits.sort((a, b) => a.start - b.start || a.end - b.end)) {
      out.push(xml.slice(at, edit.start), edit.text);
      at = edit.end;
    }
  });
  out.push(xml.slice(at));
  return out.join("");
}

/** What stands before the rows, as UTF-8 whatever it said, with room for the columns. */
function headWith(head: string, columns: readonly PlacedColumn[], prefix: string): string {
  const appended = columns.filter((column) => column.column === undefined).map((c) => ({ column: c.at, width: c.width }));
  return addWidths(widenDimension(asUtf8(head), Math.max(0, ...columns.map((c) => c.at)), prefix), appended, prefix);
}

type PlacedColumn = SheetMarks["columns"][number] & { readonly at: number };

/**
 * Where each column goes: behind the widest row, styled empty cells and merged ranges included. Where those reach the last column of
 * the format, behind the widest filled cell instead; where that leaves no room either, the column is left out.
 */
function placeColumns(marks: SheetMarks, { widest, widestFilled }: Widths): readonly PlacedColumn[] {
  const missing = marks.columns.filter((column) => column.column === undefined).length;
  const start = widest + missing <= LIMITS.lastColumn ? widest : widestFilled;
  let next = start + 1;
  return marks.columns.map((column) => ({ ...column, at: column.column ?? next++ })).filter((column) => column.at <= LIMITS.lastColumn);
}

function isText(xml: string, cell: Cell): boolean {
  const body = xml.slice(cell.start, cell.end);
  return !/<(?:[\w.-]+:)?f[\s/>]/.test(body) && /<(?:[\w.-]+:)?(?:v|is)[\s/>]/.test(body);
}

/**
 * Visits the rows of a text one at a time.
 * @param before the number of the row before
 * @returns the number of the last row
 */
function visitRows(xml: string, before: number, visit: (row: Row) => void): number {
  let open: { start: number; end: number } | undefined;
  let cell: { start: number; end: number } | undefined;
  let number = before;
  let cells: Cell[] = [];
  let lastColumn = 0;
  let named = false;
  let aside = 0;
  visitTags(xml, 0, (name, start, end, kind, nameEnd) => {
    if (name === "extLst") aside += kind === "open" ? 1 : kind === "close" ? -1 : 0;
    if (aside > 0) return false;
    if (name === "c" && open !== undefined) {
      if (kind !== "close") {
        const column = columnAt(xml, start, end, nameEnd);
        named = column !== undefined;
        lastColumn = column ?? lastColumn + 1;
      }
      if (kind === "open") cell = { start, end };
      else {
        cells.push({ column: lastColumn, start: cell?.start ?? start, end, openEnd: cell?.end ?? end, named });
        cell = undefined;
      }
    } else if (name === "row") {
      if (kind !== "close") {
        const r = attributeOf(xml.slice(start, end), "r");
        number = r === undefined ? number + 1 : Number(r);
        cells = [];
        lastColumn = 0;
      }
      if (kind === "open") open = { start, end };
      else {
        const tag = open ?? { start, end };
        visit({
          number,
          openStart: tag.start,
          openEnd: tag.end,
          contentEnd: open === undefined ? end : start,
          empty: kind === "empty",
          cells,
        });
        open = undefined;
      }
    }
    return name === "sheetData" && start > 0;
  });
  return number;
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
  const empty = row.empty;
  for (const { at, mark } of [...wanted].sort((a, b) => a.at - b.at)) {
    const text = mark === undefined ? "" : cellXml(prefix, at, row.number, mark, styles);
    const existing = row.cells.find((cell) => cell.column === at);
    if (existing !== undefined) {
      formulasReplaced ||= /<(?:[\w.-]+:)?f[\s/>]/.test(xml.slice(existing.start, existing.end));
      edits.push({ start: existing.start, end: existing.end, text });
    } else if (text !== "") {
      const after = row.cells.find((cell) => cell.column > at);
      const place = after?.start ?? (empty ? row.openEnd : row.contentEnd);
      inserts.set(place, (inserts.get(place) ?? "") + text);
    }
  }
  // Cells without reference would shift when one is inserted before them, so the row's cells get theirs.
  for (const cell of row.cells) {
    if (!cell.named && !edits.some((edit) => edit.start === cell.start)) {
      const nameEnd = cell.start + 1 + prefix.length + 1;
      edits.push({ start: nameEnd, end: nameEnd, text: ` r="${columnLetters(cell.column)}${row.number}"` });
    }
  }
  const head = xml.slice(row.openStart, row.openEnd);
  let opened = head.replace(SPANS, "");
  if (attributeOf(opened, "r") === undefined) opened = opened.replace(/^<([\w.:-]*row)/, `<$1 r="${row.number}"`);
  if (empty) {
    edits.push({
      start: row.openStart,
      end: row.openEnd,
      text: `${opened.replace(/\s*\/>$/, ">")}${inserts.get(row.openEnd) ?? ""}</${prefix}row>`,
    });
    inserts.delete(row.openEnd);
  } else if (opened !== head) edits.push({ start: row.openStart, end: row.openEnd, text: opened });
  for (const [place, text] of inserts) edits.push({ start: place, end: place, text });
  return { edits, formulasReplaced };
}

function cellXml(prefix: string, column: number, row: number, mark: Mark, styles: Readonly<Record<MarkStyle, number>>): string {
  const p = prefix;
  return `<${p}c r="${columnLetters(column)}${row}" s="${styles[mark.style]}" t="inlineStr"><${p}is><${p}t xml:space="preserve">${escapeXml(mark.text.slice(0, LIMITS.textLength))}</${p}t></${p}is></${p}c>`;
}

function widenDimension(head: string, column: number, prefix: string): string {
  return head.replace(
    new RegExp(`(<${prefix}dimension\\b[^>]*\\bref\\s*=\\s*["'])([A-Za-z]+\\d+)(?::([A-Za-z]+)(\\d+))?(["'])`),
    (_, open: string, first: string, lastColumn: string | undefined, lastRow: string | undefined, quote: string) => {
      const columnNow = columnNumber(lastColumn ?? first.replace(/\d+$/, ""));
      const row = lastRow ?? first.replace(/^[A-Za-z]+/, "");
      return `${open}${first}:${columnLetters(Math.max(columnNow, column))}${row}${quote}`;
    },
  );
}

function addWidths(head: string, columns: readonly { column: number; width: number }[], prefix: string): string {
  if (columns.length === 0) return head;
  const made = columns
    .map(({ column, width }) => `<${prefix}col min="${column}" max="${column}" width="${width}" customWidth="1"/>`)
    .join("");
  const list = new RegExp(`<${prefix}cols\\b[^>]*?(?:/>|>([\\s\\S]*?)</${prefix}cols\\s*>)`).exec(head);
  const written = list?.[1] ?? "";
  // A width that already reaches over our columns is the clerk's; two overlapping ones would damage the sheet.
  if ([...written.matchAll(/\bmax\s*=\s*["'](\d+)["']/g)].some((m) => Number(m[1]) >= (columns[0]?.column ?? 0))) return head;
  const [start, end] = list === null ? [head.length, head.length] : [list.index, list.index + list[0].length];
  return `${head.slice(0, start)}<${prefix}cols>${written}${made}</${prefix}cols>${head.slice(end)}`;
}
