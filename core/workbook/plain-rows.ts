/**
 * Reads rows as nearly every program writes them straight from the bytes. A row with anything out of the ordinary (an unknown
 * attribute, a reference, CDATA, a comment, an extension) is left to the walk over all XML, and so is whatever is wrong in it.
 */
import { BOOLEAN, type CellStore, DATE_TEXT, ERROR, NUMBER, TEXT } from "./cell-store.ts";
import { LIMITS } from "./limits.ts";
import { decodeEscapes } from "./xml.ts";
import { AMP, ascii, GREATER, isBlank, LESS, QUOTE, SLASH, SPACE } from "./xml-bytes.ts";

/** What the rows of a sheet are read with. */
export interface PlainRowsContext {
  readonly store: CellStore;
  readonly strings: readonly string[];
  /** How many formats there are; a cell beyond them is not plain. */
  readonly formats: number;
  /** A prefix that may stand before an attribute of a row. */
  readonly declares: (prefix: string) => boolean;
}

/** A row that was read; its cells lie in the store and wait to be closed or taken back. */
export interface PlainRow {
  number: number;
  hidden: boolean;
  /** Behind its closing tag. */
  end: number;
  /** Characters of its values, texts and formulas. */
  characters: number;
}

const LETTER_C = 99;
const LETTER_V = 118;
const R = 114;
const UPPER_A = 65;
const UPPER_Z = 90;
const ZERO = 48;
const CLOSING_SQUARE = 93;
/** Attributes of a row that change nothing of what its cells hold. */
const ROW_ATTRIBUTES = [
  "r",
  "hidden",
  "spans",
  "s",
  "customFormat",
  "ht",
  "customHeight",
  "outlineLevel",
  "collapsed",
  "thickTop",
  "thickBot",
  "ph",
  "dyDescent",
] as const;
/** A longer value is no number that a program would write. */
const LONGEST_NUMBER = 40;

export class PlainRows {
  readonly #bytes: Uint8Array;
  readonly #context: PlainRowsContext;
  readonly #decoder = new TextDecoder("utf-8", { fatal: true, ignoreBOM: true });
  readonly row: PlainRow = { number: 0, hidden: false, end: 0, characters: 0 };
  #at = 0;
  #column = 0;
  #style = 0;
  #type = 0;
  #value = "";

  constructor(bytes: Uint8Array, context: PlainRowsContext) {
    this.#bytes = bytes;
    this.#context = context;
  }

  /** Behind the blanks that begin here. */
  behindBlanks(from: number): number {
    let at = from;
    while (at < this.#bytes.length && isBlank(this.#bytes[at] as number)) at += 1;
    return at;
  }

  /**
   * Reads the row that begins here.
   * @param before the number of the row before, for a row without its own
   * @returns false where it is not plain; `row` is then worth nothing, and the cells in the store are the caller's to take back
   */
  read(from: number, before: number): boolean {
    if (!this.#is("<row", from)) return false;
    this.row.number = before + 1;
    this.row.hidden = false;
    this.row.characters = 0;
    this.#at = from + 4;
    if (!this.#rowAttributes() || this.row.number > LIMITS.lastRow) return false;
    if (this.#bytes[this.#at] === SLASH) {
      if (this.#bytes[this.#at + 1] !== GREATER) return false;
      this.row.end = this.#at + 2;
      return true;
    }
    this.#at += 1;
    this.#column = 0;
    for (;;) {
      if (this.#bytes[this.#at] !== LESS) return false;
      if (this.#bytes[this.#at + 1] === SLASH) {
        if (!this.#is("</row>", this.#at)) return false;
        this.row.end = this.#at + 6;
        return true;
      }
      if (!this.#cell()) return false;
    }
  }

  #is(text: string, at: number): boolean {
    for (let i = 0; i < text.length; i += 1) if (this.#bytes[at + i] !== text.charCodeAt(i)) return false;
    return true;
  }

  /** To the `>` or `/` of the tag. */
  #rowAttributes(): boolean {
    let seen = 0;
    for (;;) {
      const byte = this.#bytes[this.#at];
      if (byte === GREATER || byte === SLASH) return true;
      if (byte !== SPACE) return false;
      const start = this.#at + 1;
      let equals = start;
      while (equals < start + 24 && this.#bytes[equals] !== 61) equals += 1;
      if (this.#bytes[equals] !== 61 || this.#bytes[equals + 1] !== QUOTE) return false;
      let name = ascii(this.#bytes, start, equals);
      const colon = name.indexOf(":");
      if (colon >= 0) {
        if (!name.endsWith(":dyDescent") || !this.#context.declares(name.slice(0, colon))) return false;
        name = name.slice(colon + 1);
      } else if (name === "dyDescent") return false;
      const index = ROW_ATTRIBUTES.indexOf(name as "r");
      if (index < 0 || (seen & (1 << index)) !== 0) return false;
      seen |= 1 << index;
      const end = this.#quoted(equals + 2);
      if (end < 0) return false;
      if (index === 0) {
        const number = this.#whole(equals + 2, end, LIMITS.lastRow);
        if (number < 1) return false;
        this.row.number = number;
      } else if (index === 1) {
        const value = ascii(this.#bytes, equals + 2, end);
        if (value === "1" || value === "true") this.row.hidden = true;
        else if (value !== "0" && value !== "false") return false;
      }
      this.#at = end + 1;
    }
  }

  /** The closing quotation mark of a value of printable ASCII, or −1. */
  #quoted(from: number): number {
    for (let at = from; at < from + 256; at += 1) {
      const byte = this.#bytes[at] as number;
      if (byte === QUOTE) return at;
      if (!(byte >= SPACE && byte <= 0x7e) || byte === AMP || byte === LESS) return -1;
    }
    return -1;
  }

  /** Digits without a leading zero, or −1. */
  #whole(from: number, to: number, most: number): number {
    if (to === from || to - from > 9 || (this.#bytes[from] === ZERO && to - from > 1)) return -1;
    let number = 0;
    for (let at = from; at < to; at += 1) {
      const digit = (this.#bytes[at] as number) - ZERO;
      if (!(digit >= 0 && digit <= 9)) return -1;
      number = number * 10 + digit;
    }
    return number <= most ? number : -1;
  }

  /** One `<c>`, from its `<` to behind its end. */
  #cell(): boolean {
    const bytes = this.#bytes;
    let at = this.#at;
    if (bytes[at + 1] !== 99) return false;
    at += 2;
    let column = this.#column + 1;
    let seen = 0;
    this.#style = 0;
    this.#type = NUMBER;
    let shared = false;
    let inline = false;
    for (;;) {
      const byte = bytes[at];
      if (byte === GREATER || byte === SLASH) break;
      if (byte !== SPACE || bytes[at + 2] !== 61 || bytes[at + 3] !== QUOTE) return false;
      const name = bytes[at + 1];
      at += 4;
      if (name === R) {
        if ((seen & 1) !== 0) return false;
        seen |= 1;
        column = 0;
        let letter = bytes[at] as number;
        for (let i = 0; i < 3 && letter >= UPPER_A && letter <= UPPER_Z; i += 1) {
          column = column * 26 + letter - UPPER_A + 1;
          at += 1;
          letter = bytes[at] as number;
        }
        let row = 0;
        const digits = at;
        let digit = (bytes[at] as number) - ZERO;
        while (digit >= 0 && digit <= 9) {
          row = row * 10 + digit;
          at += 1;
          digit = (bytes[at] as number) - ZERO;
        }
        if (at - digits > 7 || row !== this.row.number || bytes[at] !== QUOTE) return false;
        at += 1;
      } else if (name === 115) {
        if ((seen & 2) !== 0) return false;
        seen |= 2;
        const start = at;
        while (bytes[at] !== QUOTE && at < start + 6) at += 1;
        const style = this.#whole(start, at, LIMITS.formats);
        if (style < 0 || bytes[at] !== QUOTE) return false;
        this.#style = style;
        at += 1;
      } else if (name === 116) {
        if ((seen & 4) !== 0) return false;
        seen |= 4;
        const first = bytes[at] as number;
        if (bytes[at + 1] === QUOTE) {
          if (first === 115) shared = true;
          else if (first === 98) this.#type = BOOLEAN;
          else if (first === 101) this.#type = ERROR;
          else if (first === 100) this.#type = DATE_TEXT;
          else if (first !== 110) return false;
          at += 2;
        } else if (this.#is('str"', at)) {
          this.#type = TEXT;
          at += 4;
        } else if (this.#is('inlineStr"', at)) {
          this.#type = TEXT;
          inline = true;
          at += 10;
        } else return false;
      } else return false;
    }
    if (column <= this.#column || column > LIMITS.lastColumn) return false;
    this.#column = column;
    if (bytes[at] === SLASH) {
      if (bytes[at + 1] !== GREATER) return false;
      this.#at = at + 2;
      return true;
    }
    this.#at = at + 1;
    return this.#content(column, shared, inline);
  }

  /** From behind the opening tag of a cell to behind its closing tag. */
  #content(column: number, shared: boolean, inline: boolean): boolean {
    const { store, strings, formats } = this.#context;
    const bytes = this.#bytes;
    let formula: string | undefined;
    // A value comes first nearly always; the other ways are not even tried then.
    const begin = this.#at;
    const isValue = bytes[begin] === LESS && bytes[begin + 1] === LETTER_V && bytes[begin + 2] === GREATER;
    const opened = isValue ? 0 : this.#is("<f>", this.#at) ? 3 : this.#is('<f aca="false">', this.#at) ? 15 : 0;
    if (opened > 0) {
      this.#at += opened;
      if (!this.#text() || /[[|]/.test(this.#value) || !this.#is("</f>", this.#at)) return false;
      formula = this.#value;
      this.#at += 4;
      if (formula === "") return false;
    }
    let value: string | undefined;
    if (inline) {
      if (formula !== undefined) return false;
      if (this.#is("<is><t>", this.#at)) this.#at += 7;
      else if (this.#is('<is><t xml:space="preserve">', this.#at)) this.#at += 28;
      else return false;
      if (!this.#text() || !this.#is("</t></is>", this.#at)) return false;
      this.#at += 9;
      value = this.#value.includes("_x") ? decodeEscapes(this.#value) : this.#value;
      if (value.length > LIMITS.textLength) return false;
      if (value === "") value = undefined;
    } else if (isValue || this.#is("<v>", this.#at)) {
      const from = this.#at + 3;
      if (shared) {
        let to = from;
        while (to < from + 10 && bytes[to] !== LESS) to += 1;
        const index = this.#whole(from, to, strings.length - 1);
        if (index < 0) return false;
        value = strings[index] as string;
        this.#at = to;
        this.row.characters += to - from;
        if (value === "" && formula === undefined) value = undefined;
      } else if (this.#type === TEXT) {
        this.#at = from;
        if (!this.#text()) return false;
        value = this.#value.includes("_x") ? decodeEscapes(this.#value) : this.#value;
        if (value.length > LIMITS.textLength) return false;
        if (value === "" && formula === undefined) value = undefined;
      } else {
        let to = from;
        let byte = bytes[to] as number;
        while (byte > SPACE && byte <= 0x7e && byte !== LESS && byte !== AMP && byte !== CLOSING_SQUARE) {
          to += 1;
          byte = bytes[to] as number;
        }
        if (byte !== LESS || to === from || to - from > LONGEST_NUMBER) return false;
        value = numberText(bytes, from, to);
        this.#at = to;
        this.row.characters += to - from;
      }
      if (!this.#closes(LETTER_V)) return false;
    } else if (formula !== undefined) return false;
    if (!this.#closes(LETTER_C)) return false;
    if (value === undefined) return formula === undefined;
    if (this.#style !== 0 && this.#style >= formats) return false;
    store.push(column, this.#style, shared ? TEXT : this.#type, value, formula);
    return true;
  }

  /** Past the closing tag of an element named by one letter. */
  #closes(letter: number): boolean {
    const at = this.#at;
    const bytes = this.#bytes;
    if (bytes[at] !== LESS || bytes[at + 1] !== SLASH || bytes[at + 2] !== letter || bytes[at + 3] !== GREATER) return false;
    this.#at = at + 4;
    return true;
  }

  /** The text from here to the next tag, without references. Beyond ASCII it is decoded strictly. */
  #text(): boolean {
    const bytes = this.#bytes;
    const from = this.#at;
    let to = from;
    let wide = false;
    for (let byte = bytes[to] as number; byte !== LESS; byte = bytes[to] as number) {
      if (!(byte >= SPACE) || byte === AMP || byte === CLOSING_SQUARE || byte === 0x7f) return false;
      if (byte > 0x7f) wide = true;
      to += 1;
    }
    this.#at = to;
    this.row.characters += to - from;
    if (!wide) {
      this.#value = ascii(bytes, from, to);
      return true;
    }
    try {
      this.#value = this.#decoder.decode(bytes.subarray(from, to));
    } catch {
      return false;
    }
    return !/[\ufffe\uffff]/.test(this.#value);
  }
}

/** The figures of a day book come back again and again; those are kept as one text each. */
const KNOWN = 4096;
const known: (string | undefined)[] = new Array<string | undefined>(KNOWN).fill(undefined);

function numberText(bytes: Uint8Array, from: number, to: number): string {
  let hash = to - from;
  for (let at = from; at < to; at += 1) hash = (hash * 31 + (bytes[at] as number)) | 0;
  const slot = hash & (KNOWN - 1);
  const found = known[slot];
  if (found !== undefined && found.length === to - from) {
    let i = 0;
    while (i < found.length && found.charCodeAt(i) === bytes[from + i]) i += 1;
    if (i === found.length) return found;
  }
  const text = ascii(bytes, from, to);
  known[slot] = text;
  return text;
}
