/** Values of PDF syntax, read and written. Strict: what a viewer would have to guess is refused. @source ISO 32000-1, 7.2 and 7.3 */
import { hex, latin1 } from "./bytes.ts";

export type PdfValue =
  | null
  | boolean
  | number
  | PdfName
  | PdfText
  | PdfReference
  | PdfDictionary
  | PdfStream
  | PdfOperator
  | readonly PdfValue[];
export interface PdfName {
  readonly kind: "name";
  readonly name: string;
}
export interface PdfText {
  readonly kind: "text";
  readonly bytes: Uint8Array;
}
export interface PdfReference {
  readonly kind: "reference";
  readonly number: number;
  readonly generation: number;
}
export interface PdfDictionary {
  readonly kind: "dictionary";
  readonly entries: ReadonlyMap<string, PdfValue>;
}
export interface PdfStream {
  readonly kind: "stream";
  readonly entries: ReadonlyMap<string, PdfValue>;
  readonly raw: Uint8Array;
}
/** A bare word: an operator of a page, or `obj`, `R`, `xref`. */
export interface PdfOperator {
  readonly kind: "operator";
  readonly word: string;
}

/** Why a PDF cannot be read. */
export class PdfProblem extends Error {
  override name = "PdfProblem";
}

export const name = (text: string): PdfName => ({ kind: "name", name: text });
export const dictionary = (entries: Readonly<Record<string, PdfValue>>): PdfDictionary => ({
  kind: "dictionary",
  entries: new Map(Object.entries(entries)),
});
export const reference = (number: number): PdfReference => ({ kind: "reference", number, generation: 0 });

export const isKind = <K extends "name" | "text" | "reference" | "dictionary" | "stream" | "operator">(
  value: PdfValue | undefined,
  kind: K,
): value is Extract<PdfValue, { readonly kind: K }> =>
  typeof value === "object" && value !== null && !Array.isArray(value) && (value as { readonly kind?: string }).kind === kind;

export const isArray = (value: PdfValue | undefined): value is readonly PdfValue[] => Array.isArray(value);
export const nameOf = (value: PdfValue | undefined): string | undefined => (isKind(value, "name") ? value.name : undefined);

const BLANK = new Set([0, 9, 10, 12, 13, 32]);
const DELIMITER = new Set([..."()<>[]{}/%"].map((c) => c.charCodeAt(0)));
const ESCAPES: Readonly<Record<string, number>> = { n: 10, r: 13, t: 9, b: 8, f: 12 };
const DEEPEST = 200;

export class PdfLexer {
  readonly #bytes: Uint8Array;
  at: number;

  constructor(bytes: Uint8Array, at = 0) {
    this.#bytes = bytes;
    this.at = at;
  }

  /** Blanks and comments. */
  skip(): void {
    for (; this.at < this.#bytes.length; this.at += 1) {
      const byte = this.#bytes[this.at] as number;
      if (byte === 37) while (this.at < this.#bytes.length && this.#bytes[this.at] !== 10 && this.#bytes[this.at] !== 13) this.at += 1;
      else if (!BLANK.has(byte)) return;
    }
  }

  /** The next value, or undefined at the end; `1 0 R` is a reference where `references` is set. @throws PdfProblem */
  read(references: boolean, depth = 0): PdfValue | undefined {
    if (depth > DEEPEST) throw new PdfProblem(`nested deeper than ${DEEPEST} levels at byte ${this.at}`);
    this.skip();
    const byte = this.#bytes[this.at];
    if (byte === undefined) return undefined;
    switch (String.fromCharCode(byte)) {
      case "/":
        return this.#name();
      case "(":
        return this.#literal();
      case "[":
        return this.#array(references, depth);
      case "<":
        return this.#bytes[this.at + 1] === 60 ? this.#dictionary(references, depth) : this.#hexadecimal();
      case ")":
      case ">":
      case "]":
      case "{":
      case "}":
        throw new PdfProblem(`"${String.fromCharCode(byte)}" where a value should stand, at byte ${this.at}`);
      default:
        return this.#word(references);
    }
  }

  #regular(): string {
    const from = this.at;
    while (this.at < this.#bytes.length && !BLANK.has(this.#bytes[this.at] as number) && !DELIMITER.has(this.#bytes[this.at] as number))
      this.at += 1;
    return latin1(this.#bytes, from, this.at);
  }

  #name(): PdfName {
    this.at += 1;
    return name(this.#regular().replaceAll(/#([0-9A-Fa-f]{2})/g, (_, code: string) => String.fromCharCode(Number.parseInt(code, 16))));
  }

  #word(references: boolean): PdfValue {
    const word = this.#regular();
    if (/^[+-]?(?:\d+\.?\d*|\.\d+)$/.test(word)) {
      const generation = references && /^\d+$/.test(word) ? this.#reference() : undefined;
      if (generation !== undefined) return { kind: "reference", number: Number(word), generation };
      return Number(word);
    }
    if (word === "true" || word === "false") return word === "true";
    return word === "null" ? null : { kind: "operator", word };
  }

  /** What follows the number of a reference: its generation and `R`. @returns undefined where it is no reference */
  #reference(): number | undefined {
    let at = this.at;
    const blanks = (): boolean => {
      const from = at;
      while (BLANK.has(this.#bytes[at] ?? -1)) at += 1;
      return at > from;
    };
    if (!blanks()) return undefined;
    const from = at;
    let generation = 0;
    for (let byte = this.#bytes[at] ?? 0; byte >= 48 && byte <= 57 && at - from < 5; byte = this.#bytes[at] ?? 0) {
      generation = generation * 10 + byte - 48;
      at += 1;
    }
    if (at === from || !blanks() || this.#bytes[at] !== 82) return undefined;
    const after = this.#bytes[at + 1];
    if (after !== undefined && !BLANK.has(after) && !DELIMITER.has(after)) return undefined;
    this.at = at + 1;
    return generation;
  }

  #array(references: boolean, depth: number): readonly PdfValue[] {
    this.at += 1;
    const items: PdfValue[] = [];
    for (;;) {
      this.skip();
      if (this.#bytes[this.at] === 93) {
        this.at += 1;
        return items;
      }
      const item = this.read(references, depth + 1);
      if (item === undefined) throw new PdfProblem("an array without end");
      items.push(item);
    }
  }

  #dictionary(references: boolean, depth: number): PdfDictionary {
    this.at += 2;
    const entries = new Map<string, PdfValue>();
    for (;;) {
      this.skip();
      if (this.#bytes[this.at] === 62 && this.#bytes[this.at + 1] === 62) {
        this.at += 2;
        return { kind: "dictionary", entries };
      }
      const key = this.read(references, depth + 1);
      if (!isKind(key, "name")) throw new PdfProblem(`a dictionary whose key is no name, at byte ${this.at}`);
      if (entries.has(key.name)) throw new PdfProblem(`a dictionary that names /${key.name} twice, at byte ${this.at}`);
      const value = this.read(references, depth + 1);
      if (value === undefined) throw new PdfProblem("a dictionary without end");
      entries.set(key.name, value);
    }
  }

  #hexadecimal(): PdfText {
    const end = this.#bytes.indexOf(62, this.at);
    const digits = latin1(this.#bytes, this.at + 1, end < 0 ? this.at + 1 : end).replaceAll(/[\0\t\n\f\r ]/g, "");
    if (end < 0 || !/^[0-9A-Fa-f]*$/.test(digits)) throw new PdfProblem(`a hexadecimal text that is none, at byte ${this.at}`);
    this.at = end + 1;
    const bytes = new Uint8Array(Math.ceil(digits.length / 2));
    for (let i = 0; i < bytes.length; i += 1) bytes[i] = Number.parseInt(digits.slice(i * 2, i * 2 + 2).padEnd(2, "0"), 16);
    return { kind: "text", bytes };
  }

  #literal(): PdfText {
    const out: number[] = [];
    let depth = 0;
    for (this.at += 1; ; this.at += 1) {
      const byte = this.#bytes[this.at];
      if (byte === undefined) throw new PdfProblem("a text without end");
      if (byte === 40) depth += 1;
      if (byte === 41) {
        if (depth === 0) break;
        depth -= 1;
      }
      if (byte === 92) this.#escape(out);
      else if (byte === 13) {
        if (this.#bytes[this.at + 1] === 10) this.at += 1;
        out.push(10);
      } else out.push(byte);
    }
    this.at += 1;
    return { kind: "text", bytes: Uint8Array.from(out) };
  }

  #escape(out: number[]): void {
    this.at += 1;
    const byte = this.#bytes[this.at] ?? 0;
    const letter = String.fromCharCode(byte);
    const octal = /^[0-7]{1,3}/.exec(latin1(this.#bytes, this.at, this.at + 3))?.[0];
    if (octal !== undefined) {
      out.push(Number.parseInt(octal, 8) & 255);
      this.at += octal.length - 1;
    } else if (letter in ESCAPES) out.push(ESCAPES[letter] as number);
    else if (byte === 13 && this.#bytes[this.at + 1] === 10) this.at += 1;
    else if (byte !== 10 && byte !== 13) out.push(byte);
  }
}

const number = (value: number): string => (Number.isInteger(value) ? String(value) : value.toFixed(6).replace(/\.?0+$/, ""));

/** A name as it is written. */
const written = (text: string): string =>
  `/${[...text].map((c) => (/[!-~]/.test(c) && !/[#()<>[\]{}/%]/.test(c) ? c : `#${c.charCodeAt(0).toString(16).padStart(2, "0")}`)).join("")}`;

/** A value as PDF text, one character a byte; texts in hexadecimal. @throws PdfProblem on a stream, which stands by itself */
export function serialize(value: PdfValue): string {
  if (value === null) return "null";
  if (typeof value === "boolean") return String(value);
  if (typeof value === "number") return number(value);
  if (isArray(value)) return `[${value.map(serialize).join(" ")}]`;
  switch (value.kind) {
    case "name":
      return written(value.name);
    case "text":
      return `<${hex(value.bytes)}>`;
    case "reference":
      return `${value.number} ${value.generation} R`;
    case "dictionary":
      return `<<${[...value.entries].map(([key, entry]) => `${written(key)} ${serialize(entry)}`).join(" ")}>>`;
    case "operator":
      return value.word;
    default:
      throw new PdfProblem("a stream inside another value");
  }
}
