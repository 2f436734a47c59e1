/** What the codes of a font mean, by the map it carries. @source ISO 32000-1, 9.10.3; Adobe Technical Note 5014 (CMap files) */
import { isArray, isKind, PdfLexer, type PdfValue } from "./pdf-objects.ts";

export interface CodeMap {
  /** Bytes a code. */
  readonly width: number;
  readonly texts: ReadonlyMap<number, string>;
}

const MOST_CODES = 70_000;

const numberOf = (bytes: Uint8Array): number => bytes.reduce((value, byte) => value * 256 + byte, 0);

function utf16(bytes: Uint8Array): string {
  let text = "";
  for (let i = 0; i + 1 < bytes.length; i += 2) text += String.fromCharCode(((bytes[i] as number) << 8) | (bytes[i + 1] as number));
  return text;
}

/** The text `steps` places after the one given: its last unit counts on. */
const counted = (text: string, steps: number): string =>
  text === "" ? "" : text.slice(0, -1) + String.fromCharCode(text.charCodeAt(text.length - 1) + steps);

/** @throws PdfProblem where the map is no PDF syntax */
export function readCodeMap(map: Uint8Array): CodeMap {
  const lexer = new PdfLexer(map);
  const texts = new Map<number, string>();
  let width = 1;
  let operands: PdfValue[] = [];
  const put = (code: number, text: string): void => {
    if (texts.size < MOST_CODES) texts.set(code, text);
  };
  for (let value = lexer.read(false); value !== undefined; value = lexer.read(false)) {
    if (!isKind(value, "operator")) {
      operands.push(value);
      continue;
    }
    if (value.word === "endcodespacerange")
      for (const limit of operands) width = isKind(limit, "text") ? Math.max(width, limit.bytes.length) : width;
    if (value.word === "endbfchar")
      for (let i = 0; i + 1 < operands.length; i += 2) {
        const [code, text] = [operands[i], operands[i + 1]];
        if (isKind(code, "text") && isKind(text, "text")) put(numberOf(code.bytes), utf16(text.bytes));
      }
    if (value.word === "endbfrange")
      for (let i = 0; i + 2 < operands.length; i += 3) {
        const [first, last, text] = [operands[i], operands[i + 1], operands[i + 2]];
        if (!isKind(first, "text") || !isKind(last, "text")) continue;
        const [from, to] = [numberOf(first.bytes), numberOf(last.bytes)];
        for (let code = from; code <= to && code - from < MOST_CODES; code += 1) {
          const listed = isArray(text) ? text[code - from] : undefined;
          if (isKind(listed, "text")) put(code, utf16(listed.bytes));
          else if (isKind(text, "text")) put(code, counted(utf16(text.bytes), code - from));
        }
      }
    operands = [];
  }
  return { width, texts };
}
