/**
 * A walk over the bytes of an XML part as they are unpacked: nothing is kept but the tag in hand, so a part of any size costs the
 * same memory. Strict: what is not well-formed is refused. There is no document type, hence no entity beyond the five of XML itself.
 */
import { RefusedWorkbook } from "./limits.ts";
import {
  AMP,
  APOSTROPHE,
  ascii,
  EQUALS,
  GREATER,
  indexOf,
  isBlank,
  isName,
  LESS,
  NO_NAME,
  QUESTION,
  QUOTE,
  SLASH,
  SPACE,
  wholeCharacters,
} from "./xml-bytes.ts";
import { NameTable, type XmlName } from "./xml-names.ts";

const DEEPEST = 256;
/** What is looked at in one go; it is copied once. */
const PIECE = 64 * 1024;
/** Longest single tag or reference; the format's own stay far below. */
const LONGEST_TAG = 1024 * 1024;

/** The attributes of the tag in hand; valid only inside `open`. */
export interface XmlAttributes {
  /** By name as written, else by name without prefix. */
  get(name: string): string | undefined;
  /** By name without prefix, where a prefix is written (`r:id`). */
  prefixed(local: string): string | undefined;
}

export interface XmlHandlers {
  /** @param name without prefix */
  open?(name: string, attributes: XmlAttributes): void;
  close?(name: string): void;
  /** May come in several pieces. */
  text?(text: string): void;
}

const ENTITIES: ReadonlyMap<string, string> = new Map([
  ["amp", "&"],
  ["lt", "<"],
  ["gt", ">"],
  ["quot", '"'],
  ["apos", "'"],
]);

export class XmlWalker implements XmlAttributes {
  readonly #part: string;
  readonly #handlers: XmlHandlers;
  readonly #decoder = new TextDecoder("utf-8", { fatal: true, ignoreBOM: true });
  readonly #names = new NameTable();
  readonly #stack: XmlName[] = [];
  readonly #prefixes = new Set(["xml", "xmlns"]);
  #transcode: InstanceType<typeof TextDecoder> | undefined;
  #buffer = new Uint8Array(128 * 1024);
  #length = 0;
  #started = false;
  #rootSeen = false;
  #declarationAllowed = true;
  /** What the walk is inside of, where it did not end within the bytes at hand. */
  #inside: "" | "comment" | "cdata" | "instruction" = "";
  // The attributes of the tag in hand.
  #count = 0;
  readonly #keys: XmlName[] = [];
  readonly #from: number[] = [];
  readonly #to: number[] = [];
  readonly #decoded: (string | undefined)[] = [];

  /** @param part the part's name, for the sentence of a refusal */
  constructor(part: string, handlers: XmlHandlers) {
    this.#part = part;
    this.#handlers = handlers;
  }

  /** @throws RefusedWorkbook on a DOCTYPE, on malformed XML or text, on nesting deeper than 256 */
  push(chunk: Uint8Array): void {
    for (let at = 0; at < chunk.length; at += PIECE) this.#push(chunk.subarray(at, at + PIECE));
  }

  #push(chunk: Uint8Array): void {
    if (this.#started) this.#take(chunk);
    else {
      this.#append(chunk);
      if (this.#length >= 4) this.#begin();
    }
  }

  /** True where the walk of UTF-8 stands between two tags inside so many elements, with nothing in hand. */
  isBetween(depth: number): boolean {
    return this.#started && this.#transcode === undefined && this.#inside === "" && this.#length === 0 && this.#stack.length === depth;
  }

  /** True for a prefix that was declared before here. */
  declares(prefix: string): boolean {
    return this.#prefixes.has(prefix);
  }

  /** Says that nothing follows. @throws RefusedWorkbook where something is left open */
  end(): void {
    if (!this.#started) this.#begin();
    if (this.#transcode !== undefined) this.#takeText("", true);
    this.#walk(true);
    if (this.#inside !== "" || this.#length > 0 || this.#stack.length > 0) this.#malformed("it is cut off");
    if (!this.#rootSeen) this.#malformed("it is empty");
  }

  get(name: string): string | undefined {
    for (let i = 0; i < this.#count; i += 1) if (this.#keys[i]?.full === name) return this.#value(i);
    return this.prefixed(name);
  }

  prefixed(local: string): string | undefined {
    for (let i = 0; i < this.#count; i += 1) {
      const key = this.#keys[i] as XmlName;
      if (key.local === local && key.prefix !== "") return this.#value(i);
    }
    return undefined;
  }

  #value(i: number): string {
    const known = this.#decoded[i];
    if (known !== undefined) return known;
    return ascii(this.#buffer, this.#from[i] as number, this.#to[i] as number);
  }

  /** Byte order mark, or the first characters, tell UTF-16 from UTF-8. */
  #begin(): void {
    this.#started = true;
    const [a, b, c, d] = this.#buffer.subarray(0, Math.min(4, this.#length));
    const little = (a === 0xff && b === 0xfe) || (a === LESS && b === 0 && c !== 0 && d === 0);
    const big = (a === 0xfe && b === 0xff) || (a === 0 && b === LESS && c === 0 && d !== 0);
    const first = this.#buffer.slice(0, this.#length);
    this.#length = 0;
    if (little || big) {
      this.#transcode = new TextDecoder(little ? "utf-16le" : "utf-16be", { fatal: true });
      this.#take(first);
    } else this.#take(a === 0xef && b === 0xbb && c === 0xbf ? first.subarray(3) : first);
  }

  #take(chunk: Uint8Array): void {
    if (this.#transcode === undefined) {
      this.#append(chunk);
      this.#walk(false);
    } else this.#takeText(chunk, false);
  }

  #takeText(chunk: Uint8Array | "", final: boolean): void {
    let text = "";
    try {
      text = this.#transcode?.decode(chunk === "" ? new Uint8Array(0) : chunk, { stream: !final }) ?? "";
    } catch {
      this.#malformedText("UTF-16");
    }
    this.#append(new TextEncoder().encode(text));
    this.#walk(false);
  }

  #append(chunk: Uint8Array): void {
    if (this.#length + chunk.length > this.#buffer.length) {
      const grown = new Uint8Array(Math.max(this.#buffer.length * 2, this.#length + chunk.length));
      grown.set(this.#buffer.subarray(0, this.#length));
      this.#buffer = grown;
    }
    this.#buffer.set(chunk, this.#length);
    this.#length += chunk.length;
  }

  /** Goes as far as whole tokens reach and keeps the rest. */
  #walk(final: boolean): void {
    let at = 0;
    while (at < this.#length) {
      const next =
        this.#inside !== "" ? this.#passOver(at) : this.#buffer[at] === LESS ? this.#markup(at, final) : this.#textRun(at, final);
      if (next === at) break;
      at = next;
    }
    this.#buffer.copyWithin(0, at, this.#length);
    this.#length -= at;
    if (this.#length > LONGEST_TAG) this.#malformed("a tag is too long");
  }

  #markup(at: number, final: boolean): number {
    const bytes = this.#buffer;
    if (at + 1 >= this.#length) return at;
    const second = bytes[at + 1];
    if (second === SLASH) return this.#closeTag(at);
    if (second === QUESTION) return this.#instruction(at);
    if (second !== 33) return this.#openTag(at);
    if (at + 9 > this.#length && !final) return at;
    const head = ascii(bytes, at, Math.min(at + 9, this.#length));
    this.#declarationAllowed = false;
    if (head.startsWith("<!--")) {
      this.#inside = "comment";
      return at + 4;
    }
    if (head === "<![CDATA[") {
      if (this.#stack.length === 0) this.#malformed("there is text outside its root");
      this.#inside = "cdata";
      return at + 9;
    }
    if (/^<!doctype/i.test(head))
      throw new RefusedWorkbook("doctype", `The part ${this.#part} carries a document type declaration, which no workbook needs.`);
    return this.#malformed("there is an unknown declaration");
  }

  /** Inside a comment, CDATA or an instruction: to its end, or as far as it is certain. */
  #passOver(at: number): number {
    const closing = this.#inside === "comment" ? "--" : this.#inside === "cdata" ? "]]>" : "?>";
    const found = indexOf(this.#buffer, closing, at, this.#length);
    // A reference may end in the middle of a character; the last bytes wait for the next chunk.
    const end = found >= 0 ? found : wholeCharacters(this.#buffer, at, this.#length - 3);
    const text = end > at ? this.#decode(at, end, false) : "";
    if (this.#inside === "cdata" && text !== "") this.#handlers.text?.(text);
    if (found < 0) return Math.max(at, end);
    if (this.#inside === "comment") {
      if (found + 2 >= this.#length) return found;
      if (this.#buffer[found + 2] !== GREATER) this.#malformed("a comment holds --");
    }
    const after = found + (this.#inside === "instruction" ? 2 : 3);
    this.#inside = "";
    return after;
  }

  #instruction(at: number): number {
    const end = indexOf(this.#buffer, "?>", at + 2, this.#length);
    let nameEnd = at + 2;
    while (nameEnd < this.#length && NO_NAME[this.#buffer[nameEnd] as number] === 0) nameEnd += 1;
    if (nameEnd + 1 >= this.#length) return at;
    const name = this.#decode(at + 2, nameEnd, false);
    if (!isName(name)) this.#malformed("an instruction has no name");
    if (name.toLowerCase() !== "xml") {
      if (!isBlank(this.#buffer[nameEnd] as number) && end !== nameEnd) this.#malformed("an instruction is not separated from its name");
      this.#declarationAllowed = false;
      this.#inside = "instruction";
      return nameEnd;
    }
    if (!this.#declarationAllowed || name !== "xml") this.#malformed("an XML declaration stands where none may");
    if (end < 0) return at;
    this.#declarationAllowed = false;
    const declared =
      /^\s+version\s*=\s*(?:"1\.\d+"|'1\.\d+')(?:\s+encoding\s*=\s*(?:"([A-Za-z][\w.-]*)"|'([A-Za-z][\w.-]*)'))?(?:\s+standalone\s*=\s*(?:"(?:yes|no)"|'(?:yes|no)'))?\s*$/.exec(
        this.#decode(nameEnd, end, false),
      );
    if (declared === null) return this.#malformed("its XML declaration is wrong");
    const encoding = (declared[1] ?? declared[2] ?? "utf-8").toLowerCase();
    if (!/^(utf-?8|us-ascii|ascii|utf-?16(le|be)?|ucs-2|iso-10646-ucs-2)$/.test(encoding)) this.#malformedText(encoding);
    return end + 2;
  }

  #textRun(at: number, final: boolean): number {
    const bytes = this.#buffer;
    let end = at;
    let plain = true;
    while (end < this.#length) {
      const byte = bytes[end] as number;
      if (byte === LESS) break;
      if (byte < SPACE || byte > 0x7e || byte === AMP || byte === 93) plain = false;
      end += 1;
    }
    if (end === this.#length && !final) {
      // What a longer run might turn into something else (a reference, a line end, `]]>`, a character) waits.
      if (end - at < 64 * 1024) return at;
      end = wholeCharacters(bytes, at, end - 3);
      const safe = end;
      for (let i = safe - 1; i > safe - 16 && i > at; i -= 1) if (bytes[i] === AMP || bytes[i] === 93) end = i;
    }
    this.#declarationAllowed = false;
    const text = plain ? ascii(bytes, at, end) : this.#decode(at, end, true);
    if (this.#stack.length > 0) {
      if (!plain && text.includes("]]>") && indexOf(bytes, "]]>", at, end) >= 0) this.#malformed("a text holds ]]>");
      this.#handlers.text?.(text);
    } else if (!/^[ \t\r\n]*$/.test(text)) this.#malformed("there is text outside its root");
    return end;
  }

  #closeTag(at: number): number {
    const nameEnd = this.#nameEnd(at + 2);
    let end = nameEnd;
    while (end < this.#length && isBlank(this.#buffer[end] as number)) end += 1;
    if (end >= this.#length) return at;
    const name = this.#name(at + 2, nameEnd);
    if (this.#buffer[end] !== GREATER) this.#malformed(`the closing tag of ${name.full} is wrong`);
    const open = this.#stack.pop();
    if (open === undefined || open.full !== name.full)
      this.#malformed(`</${name.full}> closes ${open === undefined ? "nothing" : `<${open.full}>`}`);
    this.#handlers.close?.(name.local);
    return end + 1;
  }

  #openTag(at: number): number {
    const bytes = this.#buffer;
    let i = this.#nameEnd(at + 1);
    const nameEnd = i;
    this.#count = 0;
    let prefixed = false;
    for (;;) {
      const before = i;
      while (i < this.#length && isBlank(bytes[i] as number)) i += 1;
      if (i + 1 >= this.#length && bytes[i] !== GREATER) return at;
      if (i >= this.#length) return at;
      if (bytes[i] === GREATER || bytes[i] === SLASH) break;
      if (i === before) this.#malformed("a tag is wrong");
      const keyStart = i;
      i = this.#nameEnd(i);
      const keyEnd = i;
      while (i < this.#length && isBlank(bytes[i] as number)) i += 1;
      if (i >= this.#length) return at;
      if (bytes[i] !== EQUALS) this.#malformed("an attribute has no value");
      i += 1;
      while (i < this.#length && isBlank(bytes[i] as number)) i += 1;
      if (i >= this.#length) return at;
      const quote = bytes[i] as number;
      if (quote !== QUOTE && quote !== APOSTROPHE) this.#malformed("an attribute value has no quotation marks");
      i += 1;
      const from = i;
      let plain = true;
      while (i < this.#length && bytes[i] !== quote) {
        const byte = bytes[i] as number;
        if (byte === LESS) this.#malformed("an attribute value holds <");
        if (byte < SPACE || byte > 0x7e || byte === AMP) plain = false;
        i += 1;
      }
      if (i >= this.#length) return at;
      const key = this.#name(keyStart, keyEnd);
      for (let k = 0; k < this.#count; k += 1)
        if (this.#keys[k]?.full === key.full) this.#malformed(`the attribute ${key.full} stands twice in one tag`);
      if (this.#count >= 1000) this.#malformed("a tag has too many attributes");
      this.#keys[this.#count] = key;
      this.#from[this.#count] = from;
      this.#to[this.#count] = i;
      this.#decoded[this.#count] = plain ? undefined : this.#decode(from, i, true, true);
      if (key.prefix === "xmlns") this.#prefixes.add(key.local);
      else if (key.prefix !== "") prefixed = true;
      this.#count += 1;
      i += 1;
    }
    const empty = bytes[i] === SLASH;
    if (empty && bytes[i + 1] !== GREATER) this.#malformed("a tag is wrong");
    this.#opened(this.#name(at + 1, nameEnd), empty, prefixed);
    return i + (empty ? 2 : 1);
  }

  #opened(name: XmlName, empty: boolean, prefixedAttributes: boolean): void {
    this.#declarationAllowed = false;
    if (this.#stack.length === 0) {
      if (this.#rootSeen) this.#malformed("it has two roots");
      this.#rootSeen = true;
    }
    const unbound =
      name.prefix !== "" && !this.#prefixes.has(name.prefix)
        ? name.prefix
        : prefixedAttributes
          ? this.#keys.slice(0, this.#count).find((key) => key.prefix !== "" && !this.#prefixes.has(key.prefix))?.prefix
          : undefined;
    if (unbound !== undefined) this.#malformed(`the prefix ${unbound} is not declared`);
    if (this.#stack.length >= DEEPEST)
      throw new RefusedWorkbook("too-deep", `The part ${this.#part} nests deeper than ${DEEPEST}; at most ${DEEPEST} is accepted.`);
    this.#handlers.open?.(name.local, this);
    if (empty) this.#handlers.close?.(name.local);
    else this.#stack.push(name);
  }

  #nameEnd(start: number): number {
    let end = start;
    while (end < this.#length && NO_NAME[this.#buffer[end] as number] === 0) end += 1;
    return end;
  }

  #name(start: number, end: number): XmlName {
    const found = this.#names.find(this.#buffer, start, end);
    if (found !== undefined) return found;
    const full = this.#decode(start, end, false);
    if (!isName(full)) this.#malformed("a name is wrong");
    return this.#names.add(this.#buffer, start, end, full);
  }

  /** @param references true where `&…;` stands for a character */
  #decode(from: number, to: number, references: boolean, inAttribute = false): string {
    let text: string;
    try {
      text = this.#decoder.decode(this.#buffer.subarray(from, to));
    } catch {
      return this.#malformedText("UTF-8");
    }
    if (/[\u0000-\u0008\u000b\u000c\u000e-\u001f\ufffe\uffff]/.test(text)) this.#malformed("it holds a control character");
    if (text.includes("\r")) text = text.replaceAll(/\r\n?/g, "\n");
    if (inAttribute) text = text.replaceAll(/[\t\n]/g, " ");
    if (!references || !text.includes("&")) return text;
    return text.replaceAll(/&(?:#(\d{1,8})|#x([0-9A-Fa-f]{1,8})|(\w+))?(;?)/g, (whole, decimal, hex, name, end) => {
      if (end !== ";") return this.#malformed("an & stands alone");
      if (name !== undefined) return ENTITIES.get(name) ?? this.#malformed(`the entity ${whole.slice(0, 40)} is not known`);
      const code = decimal !== undefined ? Number(decimal) : Number.parseInt(hex, 16);
      const allowed =
        code === 9 ||
        code === 10 ||
        code === 13 ||
        (code >= 32 && code < 0xd800) ||
        (code > 0xdfff && code < 0xfffe) ||
        (code > 0xffff && code <= 0x10ffff);
      return allowed ? String.fromCodePoint(code) : this.#malformed(`the reference ${whole} stands for no character`);
    });
  }

  #malformed(what: string): never {
    throw new RefusedWorkbook(
      "malformed-xml",
      `The part ${this.#part} is damaged: ${what.replaceAll(/[^\x20-\x7e]/g, "?").slice(0, 160)}. Save the workbook again.`,
    );
  }

  #malformedText(encoding: string): never {
    throw new RefusedWorkbook(
      "malformed-text",
      `The part ${this.#part} holds text that is not valid ${encoding.toUpperCase()}; UTF-8 and UTF-16 are accepted.`,
    );
  }
}
