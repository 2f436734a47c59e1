import { refuse } from "./limits.ts";

export const isTrue = (value: string | undefined): boolean => value === "1" || value === "true" || value === "on";

/** True for UTF-16, by its mark or its first character. */
export function isWide(content: Uint8Array): boolean {
  const [a, b] = content;
  return (a === 0xff && b === 0xfe) || (a === 0xfe && b === 0xff) || (a === 0x3c && b === 0) || (a === 0 && b === 0x3c);
}

/**
 * Text of an XML part: UTF-8, or UTF-16 with or without its mark. The mark is taken away.
 * @throws RefusedWorkbook where a sequence is wrong
 */
export function decodeXml(content: Uint8Array, name: string): string {
  const [a, b] = content;
  const encoding =
    (a === 0xff && b === 0xfe) || (a === 0x3c && b === 0)
      ? "utf-16le"
      : (a === 0xfe && b === 0xff) || (a === 0 && b === 0x3c)
        ? "utf-16be"
        : "utf-8";
  try {
    return new TextDecoder(encoding, { fatal: true }).decode(content);
  } catch {
    return refuse("malformed-text", `The part ${name} holds text that is not valid ${encoding.toUpperCase()}.`);
  }
}

/** `_x0041_` is how the format writes a character that XML cannot carry. */
export const decodeEscapes = (text: string): string =>
  text.includes("_x") ? text.replaceAll(/_x([0-9A-Fa-f]{4})_/g, (_, hex: string) => String.fromCharCode(Number.parseInt(hex, 16))) : text;

/** Text for an XML element: markup escaped, characters XML cannot carry (and the carriage return, which it would turn into a line end) as `_xHHHH_`, and that form itself protected. */
export function escapeXml(text: string): string {
  return text
    .replaceAll(/_(?=x[0-9A-Fa-f]{4}_)/g, "_x005F_")
    .replaceAll("&", "&amp;")
    .replaceAll("<", "&lt;")
    .replaceAll(">", "&gt;")
    .replaceAll('"', "&quot;")
    .replaceAll(/[\u0000-\u0008\u000b-\u001f\ufffe\uffff]/g, (c) => `_x${c.charCodeAt(0).toString(16).toUpperCase().padStart(4, "0")}_`)
    .replaceAll(/[\ud800-\udbff](?![\udc00-\udfff])|(?<![\ud800-\udbff])[\udc00-\udfff]/g, "\ufffd");
}

/** `C` to 3. @throws RangeError for anything but one to three letters */
export function columnNumber(letters: string): number {
  if (!/^[A-Za-z]{1,3}$/.test(letters)) throw new RangeError(`not column letters: "${letters}"`);
  let number = 0;
  for (const letter of letters.toUpperCase()) number = number * 26 + letter.charCodeAt(0) - 64;
  return number;
}

/** The parts are written as UTF-8; a declaration that says something else would make them unreadable. */
export const asUtf8 = (xml: string): string =>
  /^<\?xml[^>]*?encoding\s*=\s*["']utf-?8["']/i.test(xml)
    ? xml
    : xml.replace(/^<\?xml[^>]*\?>/, '<?xml version="1.0" encoding="UTF-8" standalone="yes"?>');

const LETTERS: string[] = [];

/** 3 to `C`. */
export function columnLetters(number: number): string {
  const known = LETTERS[number];
  if (known !== undefined) return known;
  let letters = "";
  for (let rest = number; rest > 0; rest = Math.floor((rest - 1) / 26)) letters = String.fromCharCode(65 + ((rest - 1) % 26)) + letters;
  if (number <= REMEMBERED_COLUMNS) LETTERS[number] = letters;
  return letters;
}

const REMEMBERED_COLUMNS = 16_384;
