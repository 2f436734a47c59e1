import { LIMITS } from "./limits.ts";
import type { MarkStyle } from "./patch-styles.ts";
import { attributeOf, startOfCells, visitTags } from "./tags.ts";
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

/** Writes the marks of one sheet into its XML; what is not marked stays as it is written. */
export function patchSheet(
  xml: string,
  marks: SheetMarks,
  styles: Readonly<Record<MarkStyle, number>>,
): { readonly xml: string; readonly formulasReplaced: boolean } {
  const { dataStart, prefix } = startOfCells(xml);
  if (dataStart < 0) return { xml, formulasReplaced: false };
  const columns = placeColumns(xml, marks, dataStart);
  const out: string[] = [];
  let at = dataStart;
  let formulasReplaced = false;
  visitRows(xml, dataStart, (row) => {
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
    formulasReplaced ||= made.formulasReplaced;
    for (const edit of made.edits.sort((a, b) => a.start - b.start || a.end - b.end)) {
      out.push(xml.slice(at, edit.start), edit.text);
      at = edit.end;
    }
  });
  out.push(xml.slice(at));
  let cells = out.join("");
  if (formulasReplaced) cells = promoteSharedFormulas(xml, cells, prefix);
  const appended = columns.filter((column) => column.column === undefined).map((c) => ({ column: c.at, width: c.width }));
  let head = widenDimension(xml.slice(0, dataStart), Math.max(0, ...columns.map((c) => c.at)), prefix);
  head = addWidths(head, appended, prefix);
  return { xml: head + cells, formulasReplaced };
}

type PlacedColumn = SheetMarks["columns"][number] & { readonly at: number };

/**
 * Where each column goes: behind the widest row, styled empty cells and merged ranges included. Where those reach the last column of
 * the format, behind the widest filled cell instead; where that leaves no room either, the column is left out.
 */
function placeColumns(xml: string, marks: SheetMarks, dataStart: number): readonly PlacedColumn[] {
  const missing = marks.columns.filter((column) => column.column === undefined).length;
  let [widest, widestFilled] = [0, 0];
  let dataEnd = dataStart;
  if (missing > 0) {
    let [column, aside] = [0, 0];
    visitTags(xml, dataStart, (name, start, end, kind, nameEnd) => {
      if (name === "extLst") aside += kind === "open" ? 1 : kind === "close" ? -1 : 0;
      if (aside > 0) return false;
      if (name === "row") column = 0;
      else if (name === "c" && kind !== "close") {
        column = columnAt(xml, start, end, nameEnd) ?? column + 1;
        widest = Math.max(widest, column);
        if (kind === "open") widestFilled = Math.max(widestFilled, column);
      } else if (name === "sheetData" && start > dataStart) {
        dataEnd = start;
        return true;
      }
      return false;
    });
    for (const [, last] of xml.slice(dataEnd).matchAll(/<(?:[\w.-]+:)?mergeCell\b[^>]*\bref\s*=\s*["'][^"':]*:\$?([A-Za-z]{1,3})/g))
      widest = Math.max(widest, columnNumber(last as string));
  }
  const start = widest + missing <= LIMITS.lastColumn ? widest : widestFilled;
  let next = start + 1;
  return marks.columns.map((column) => ({ ...column, at: column.column ?? next++ })).filter((column) => column.at <= LIMITS.lastColumn);
}

function isText(xml: string, cell: Cell): boolean {
  const body = xml.slice(cell.start, cell.end);
  return !/<(?:[\w.-]+:)?f[\s/>]/.test(body) && /<(?:[\w.-]+:)?(?:v|is)[\s/>]/.test(body);
}

/** Visits the rows of the sheet one at a time, so that a large one is never held as a whole tree. */
function visitRows(xml: string, dataStart: number, visit: (row: Row) => void): void {
  let open: { start: number; end: number } | undefined;
  let cell: { start: number; end: number } | undefined;
  let number = 0;
  let cells: Cell[] = [];
  let lastColumn = 0;
  let named = false;
  let aside = 0;
  visitTags(xml, dataStart, (name, start, end, kind, nameEnd) => {
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
    return name === "sheetData" && start > dataStart;
  });
}

/** The column that a cell's tag names. Nearly all tags begin `<c r="A1"`; the letters are then read where they stand. */
function columnAt(xml: string, start: number, end: number, nameEnd: number): number | undefined {
  if (xml.startsWith(' r="', nameEnd)) {
    let column = 0;
    for (let i = nameEnd + 4; ; i += 1) {
      const letter = xml.charCodeAt(i) & ~32;
      if (letter < 65 || letter > 90) return column;
      column = column * 26 + letter - 64;
    }
  }
  const letters = attributeOf(xml.slice(start, end), "r")?.replace(/\d+$/, "");
  return letters === undefined ? undefined : columnNumber(letters);
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
  let opened = head.replace(/\sspans\s*=\s*(?:"[^"]*"|'[^']*')/, "");
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
