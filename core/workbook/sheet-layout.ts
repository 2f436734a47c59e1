/** How the rows of a sheet are laid out, as far as marks beside them have to know. */
import { attributeOf, visitTags } from "./tags.ts";
import { columnNumber } from "./xml.ts";
import { GREATER, LESS, QUOTE, SLASH, SPACE } from "./xml-bytes.ts";

export interface Widths {
  /** The last column that any row or merged range reaches, styled empty cells included. */
  readonly widest: number;
  /** The last column with something in it. */
  readonly widestFilled: number;
}

export interface PlainLayout extends Widths {
  /** Where the closing tag of the rows begins. */
  readonly dataEnd: number;
  /** True where a formula is shared by several cells. */
  readonly shared: boolean;
}

const EXTENSION = "extLst";
const LETTER_C = 99;
const LETTER_E = 101;
const LETTER_F = 102;
const LETTER_R = 114;

/**
 * Looks over the rows without taking them apart.
 * @param dataStart where the tag that holds the rows begins
 * @returns undefined where they are not written as nearly all programs do: names on rows and cells first, nothing but elements
 */
export function layoutOf(content: Uint8Array, dataStart: number): PlainLayout | undefined {
  const bytes = content;
  let [widest, widestFilled, shared] = [0, 0, false];
  for (let i = dataStart + 1; i < bytes.length; i += 1) {
    if (bytes[i] !== LESS) continue;
    const first = bytes[i + 1];
    if (first === LETTER_C) {
      if (bytes[i + 2] !== SPACE) continue;
      if (bytes[i + 3] !== LETTER_R || bytes[i + 4] !== 61 || bytes[i + 5] !== QUOTE) return undefined;
      let column = 0;
      i += 6;
      for (let letter = (bytes[i] as number) & ~32; letter >= 65 && letter <= 90; letter = (bytes[i] as number) & ~32) {
        column = column * 26 + letter - 64;
        i += 1;
      }
      if (column > widest) widest = column;
      if (column > widestFilled) {
        while (i < bytes.length && bytes[i] !== GREATER) i += 1;
        if (bytes[i - 1] !== SLASH) widestFilled = column;
      }
    } else if (first === LETTER_R) {
      if (bytes[i + 2] !== 111) continue;
      if (bytes[i + 4] !== SPACE || bytes[i + 5] !== LETTER_R || bytes[i + 6] !== 61 || bytes[i + 7] !== QUOTE) return undefined;
    } else if (first === LETTER_F) {
      // <f t="shared" …>
      if (bytes[i + 2] === SPACE) shared ||= isAt(bytes, "shared", i, 64);
    } else if (first === LETTER_E) {
      if (isText(bytes, EXTENSION, i + 1)) return undefined;
    } else if (first === 33 || first === 63) return undefined;
    else if (first === SLASH && isText(bytes, "sheetData", i + 2)) return { widest, widestFilled, shared, dataEnd: i };
  }
  return undefined;
}

function isText(bytes: Uint8Array, text: string, at: number): boolean {
  for (let i = 0; i < text.length; i += 1) if (bytes[at + i] !== text.charCodeAt(i)) return false;
  return true;
}

/** True where the text begins within so many bytes, before the tag ends. */
function isAt(bytes: Uint8Array, text: string, from: number, within: number): boolean {
  for (let at = from; at < from + within && bytes[at] !== GREATER; at += 1) if (isText(bytes, text, at)) return true;
  return false;
}

/** The same of rows written in any way. @param xml from the tag that holds the rows to the end of the part */
export function widthsOf(xml: string): Widths {
  let [widest, widestFilled, column, aside, dataEnd] = [0, 0, 0, 0, 0];
  visitTags(xml, 0, (name, start, end, kind, nameEnd) => {
    if (name === EXTENSION) aside += kind === "open" ? 1 : kind === "close" ? -1 : 0;
    if (aside > 0) return false;
    if (name === "row") column = 0;
    else if (name === "c" && kind !== "close") {
      column = columnAt(xml, start, end, nameEnd) ?? column + 1;
      widest = Math.max(widest, column);
      if (kind === "open") widestFilled = Math.max(widestFilled, column);
    } else if (name === "sheetData" && start > 0) {
      dataEnd = start;
      return true;
    }
    return false;
  });
  return { ...widestMerged(widest, xml.slice(dataEnd)), widestFilled };
}

/** @param behind what stands behind the rows, merged ranges among it */
export function widestMerged(before: number, behind: string): Pick<Widths, "widest"> {
  let widest = before;
  for (const [, last] of behind.matchAll(/<(?:[\w.-]+:)?mergeCell\b[^>]*\bref\s*=\s*["'][^"':]*:\$?([A-Za-z]{1,3})/g))
    widest = Math.max(widest, columnNumber(last as string));
  return { widest };
}

/** The column that a cell's tag names. Nearly all tags begin `<c r="A1"`; the letters are then read where they stand. */
export function columnAt(xml: string, start: number, end: number, nameEnd: number): number | undefined {
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
