/** The two lists that cells point into: shared texts and number formats. */
import { LIMITS, refuse } from "./limits.ts";
import type { PackageParts } from "./parts.ts";
import { decodeEscapes } from "./xml.ts";

const aSharedText = (): string => "A shared text";

/** Every shared text in order; phonetic guides left out. @throws RefusedWorkbook beyond the limits */
export function readSharedStrings(parts: PackageParts, part: string): { readonly strings: readonly string[]; readonly characters: number } {
  const strings: string[] = [];
  let characters = 0;
  let current: string | undefined;
  let inText = false;
  let phonetic = 0;
  parts.walk(part, {
    open(name) {
      if (name === "si") {
        current = "";
        if (strings.length >= LIMITS.cells)
          refuse("too-many-texts", `The workbook holds more than ${LIMITS.cells} shared texts; at most ${LIMITS.cells} are accepted.`);
      } else if (name === "rPh") phonetic += 1;
      else if (name === "t") inText = phonetic === 0;
    },
    close(name) {
      if (name === "si" && current !== undefined) {
        strings.push(checkedText(current, aSharedText));
        current = undefined;
      } else if (name === "rPh") phonetic -= 1;
      else if (name === "t") inText = false;
    },
    text(text) {
      characters = countedCharacters(characters, text.length);
      if (inText && current !== undefined) current = grown(current, text, aSharedText);
    },
  });
  return { strings, characters };
}

/** The sum with so many characters more. @throws RefusedWorkbook beyond what one worker can hold */
export function countedCharacters(before: number, more: number): number {
  const sum = before + more;
  return sum <= LIMITS.allCharacters
    ? sum
    : refuse("too-large", `The workbook holds more than ${LIMITS.allCharacters} characters; at most so many are accepted.`);
}

/** Escapes may take seven characters for one. */
const LONGEST_ESCAPED = LIMITS.textLength * 7;

/** A piece more of a text. @throws RefusedWorkbook as soon as the text can only be too long */
export function grown(text: string, piece: string, what: () => string): string {
  if (text.length + piece.length > LONGEST_ESCAPED) tooLong(what);
  return text + piece;
}

/** The text as meant. @throws RefusedWorkbook where it is longer than a cell may hold */
export function checkedText(text: string, what: () => string): string {
  const decoded = decodeEscapes(text);
  if (decoded.length > LIMITS.textLength) tooLong(what);
  return decoded;
}

const tooLong = (what: () => string): never =>
  refuse("text-too-long", `${what()} is longer than ${LIMITS.textLength} characters; at most ${LIMITS.textLength} are accepted.`);

/** The built-in number formats that matter for dates and percentages. @source ECMA-376 part 1, 18.8.30 */
const BUILT_IN_FORMATS: Readonly<Record<number, string>> = {
  1: "0",
  2: "0.00",
  3: "#,##0",
  4: "#,##0.00",
  9: "0%",
  10: "0.00%",
  11: "0.00E+00",
  14: "mm-dd-yy",
  15: "d-mmm-yy",
  16: "d-mmm",
  17: "mmm-yy",
  18: "h:mm AM/PM",
  19: "h:mm:ss AM/PM",
  20: "h:mm",
  21: "h:mm:ss",
  22: "m/d/yy h:mm",
  37: "#,##0 ;(#,##0)",
  38: "#,##0 ;[Red](#,##0)",
  39: "#,##0.00;(#,##0.00)",
  40: "#,##0.00;[Red](#,##0.00)",
  45: "mm:ss",
  46: "[h]:mm:ss",
  47: "mmss.0",
  48: "##0.0E+0",
  49: "@",
};

/** Numbers whose format depends on the language of the program; all of them are dates or times. @source ECMA-376 part 1, 18.8.30 */
const isLanguageDate = (id: number): boolean => (id >= 27 && id <= 36) || (id >= 50 && id <= 58);

/** Number format code by style index; undefined is General. */
export function readFormats(parts: PackageParts, part: string): readonly (string | undefined)[] {
  const codes = new Map<number, string>();
  const formats: (string | undefined)[] = [];
  let inCellFormats = false;
  const bounded = (): void => {
    if (codes.size > LIMITS.formats || formats.length > LIMITS.formats)
      refuse("damaged-package", `The workbook describes more than ${LIMITS.formats} formats; at most so many are accepted.`);
  };
  parts.walk(part, {
    open(name, attributes) {
      bounded();
      if (name === "numFmt") codes.set(Number(attributes.get("numFmtId")), attributes.get("formatCode") ?? "");
      else if (name === "cellXfs") inCellFormats = true;
      else if (name === "xf" && inCellFormats) {
        const id = Number(attributes.get("numFmtId") ?? 0);
        formats.push(codes.get(id) ?? BUILT_IN_FORMATS[id] ?? (isLanguageDate(id) ? "yyyy-mm-dd" : undefined));
      }
    },
    close(name) {
      if (name === "cellXfs") inCellFormats = false;
    },
  });
  return formats;
}
