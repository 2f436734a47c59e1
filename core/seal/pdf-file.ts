/** A PDF by its cross-reference tables and streams, newest entry first, as a viewer reads it. Nothing is repaired. @source ISO 32000-1, 7.5 */
import { latin1 } from "./bytes.ts";
import { inflate } from "./inflate.ts";
import {
  isArray,
  isKind,
  nameOf,
  type PdfDictionary,
  PdfLexer,
  PdfProblem,
  type PdfReference,
  type PdfStream,
  type PdfValue,
} from "./pdf-objects.ts";

type Place = { readonly offset: number } | { readonly container: number; readonly index: number } | "free";

const MOST_OBJECTS = 2_000_000;
const MOST_SECTIONS = 1000;

export class PdfFile {
  readonly bytes: Uint8Array;
  /** The trailer of the newest section. */
  readonly trailer: ReadonlyMap<string, PdfValue>;
  /** Where the newest cross-reference section begins, bytes. */
  readonly newestSection: number;
  /** True where the newest section is a stream. */
  readonly usesStreams: boolean;
  /** One more than the highest object number. */
  readonly size: number;
  readonly #places = new Map<number, Place>();
  readonly #cache = new Map<number, PdfValue>();
  readonly #containers = new Map<number, { readonly data: Uint8Array; readonly offsets: ReadonlyMap<number, number> }>();
  readonly #reading = new Set<number>();

  /** @throws PdfProblem where the file does not hold together */
  constructor(bytes: Uint8Array) {
    this.bytes = bytes;
    if (latin1(bytes, 0, 5) !== "%PDF-") throw new PdfProblem("does not begin with %PDF-");
    const tail = latin1(bytes, Math.max(0, bytes.length - 64), bytes.length);
    const start = /startxref[\r\n ]+(\d+)[\r\n ]+%%EOF[\r\n ]*$/.exec(tail)?.[1];
    if (start === undefined) throw new PdfProblem("does not end with the place of its cross-reference table");
    this.newestSection = Number(start);
    let next: number | undefined = this.newestSection;
    let newest: { trailer: ReadonlyMap<string, PdfValue>; stream: boolean } | undefined;
    const seen = new Set<number>();
    while (next !== undefined) {
      if (seen.has(next) || seen.size > MOST_SECTIONS) throw new PdfProblem("cross-reference tables that lead in a circle");
      seen.add(next);
      const section = this.#section(next);
      newest ??= section;
      const hybrid = section.trailer.get("XRefStm");
      if (typeof hybrid === "number") this.#section(hybrid);
      const before = section.trailer.get("Prev");
      next = typeof before === "number" ? before : undefined;
    }
    if (newest === undefined) throw new PdfProblem("no cross-reference table");
    this.trailer = newest.trailer;
    this.usesStreams = newest.stream;
    if (this.trailer.has("Encrypt")) throw new PdfProblem("is encrypted");
    const size = this.trailer.get("Size");
    this.size = Math.max(typeof size === "number" ? size : 0, ...[...this.#places.keys()].map((key) => key + 1));
  }

  #section(at: number): { trailer: ReadonlyMap<string, PdfValue>; stream: boolean } {
    const lexer = new PdfLexer(this.bytes, at);
    const first = lexer.read(false);
    if (isKind(first, "operator") && first.word === "xref") return { trailer: this.#table(lexer), stream: false };
    const object = this.#objectAt(at, undefined);
    if (!isKind(object, "stream") || nameOf(object.entries.get("Type")) !== "XRef")
      throw new PdfProblem(`no cross-reference table at byte ${at}`);
    this.#stream(object);
    return { trailer: object.entries, stream: true };
  }

  #put(number: number, place: Place): void {
    if (this.#places.size > MOST_OBJECTS) throw new PdfProblem(`more than ${MOST_OBJECTS} objects`);
    if (!this.#places.has(number)) this.#places.set(number, place);
  }

  #table(lexer: PdfLexer): ReadonlyMap<string, PdfValue> {
    for (;;) {
      const first = lexer.read(false);
      if (isKind(first, "operator") && first.word === "trailer") break;
      const count = lexer.read(false);
      if (typeof first !== "number" || typeof count !== "number" || count > MOST_OBJECTS)
        throw new PdfProblem(`a cross-reference table that is none, at byte ${lexer.at}`);
      for (let i = 0; i < count; i += 1) {
        const [offset, generation, word] = [lexer.read(false), lexer.read(false), lexer.read(false)];
        if (typeof offset !== "number" || typeof generation !== "number" || !isKind(word, "operator") || !/^[nf]$/.test(word.word))
          throw new PdfProblem(`a cross-reference entry that is none, at byte ${lexer.at}`);
        this.#put(first + i, word.word === "n" ? { offset } : "free");
      }
    }
    const trailer = lexer.read(true);
    if (!isKind(trailer, "dictionary")) throw new PdfProblem("no trailer");
    return trailer.entries;
  }

  #stream(stream: PdfStream): void {
    const widths = stream.entries.get("W");
    const size = stream.entries.get("Size");
    const index = stream.entries.get("Index") ?? [0, size ?? 0];
    if (!isArray(widths) || widths.length !== 3 || !isArray(index)) throw new PdfProblem("a cross-reference stream that is none");
    const [a, b, c] = widths.map((width) => (typeof width === "number" && width >= 0 && width <= 8 ? width : 0)) as [
      number,
      number,
      number,
    ];
    const data = this.decode(stream);
    let at = 0;
    const field = (width: number, otherwise: number): number => {
      if (width === 0) return otherwise;
      let value = 0;
      for (let i = 0; i < width; i += 1) value = value * 256 + (data[at + i] ?? 0);
      at += width;
      return value;
    };
    for (let pair = 0; pair + 1 < index.length; pair += 2) {
      const [first, count] = [index[pair], index[pair + 1]];
      if (typeof first !== "number" || typeof count !== "number") throw new PdfProblem("a cross-reference stream that is none");
      for (let i = 0; i < count && at < data.length; i += 1) {
        const [type, second, third] = [field(a, 1), field(b, 0), field(c, 0)];
        if (type === 1) this.#put(first + i, { offset: second });
        else if (type === 2) this.#put(first + i, { container: second, index: third });
        else this.#put(first + i, "free");
      }
    }
  }

  /** The object a value leads to; null where there is none. @throws PdfProblem */
  resolve(value: PdfValue | undefined): PdfValue {
    let current: PdfValue = value ?? null;
    for (let hops = 0; isKind(current, "reference"); hops += 1) {
      if (hops > 32) throw new PdfProblem(`references in a circle at object ${current.number}`);
      current = this.#load(current);
    }
    return current;
  }

  dictionary(value: PdfValue | undefined): ReadonlyMap<string, PdfValue> {
    const found = this.resolve(value);
    return isKind(found, "dictionary") || isKind(found, "stream") ? found.entries : new Map();
  }

  array(value: PdfValue | undefined): readonly PdfValue[] {
    const found = this.resolve(value);
    return isArray(found) ? found : [];
  }

  #load({ number }: PdfReference): PdfValue {
    const known = this.#cache.get(number);
    if (known !== undefined) return known;
    const place = this.#places.get(number);
    if (place === undefined || place === "free") return null;
    if (this.#reading.has(number)) throw new PdfProblem(`object ${number} needs itself`);
    this.#reading.add(number);
    const value = "offset" in place ? this.#objectAt(place.offset, number) : this.#contained(place.container, number);
    this.#reading.delete(number);
    this.#cache.set(number, value);
    return value;
  }

  #contained(container: number, number: number): PdfValue {
    let held = this.#containers.get(container);
    if (held === undefined) {
      const stream = this.#load({ kind: "reference", number: container, generation: 0 });
      if (!isKind(stream, "stream")) throw new PdfProblem(`object ${container} holds no objects`);
      const data = this.decode(stream);
      const [first, count] = [stream.entries.get("First"), stream.entries.get("N")];
      if (typeof first !== "number" || typeof count !== "number") throw new PdfProblem(`object ${container} holds no objects`);
      const lexer = new PdfLexer(data);
      const offsets = new Map<number, number>();
      for (let i = 0; i < count; i += 1) {
        const [key, offset] = [lexer.read(false), lexer.read(false)];
        if (typeof key !== "number" || typeof offset !== "number") throw new PdfProblem(`object ${container} holds no objects`);
        offsets.set(key, first + offset);
      }
      held = { data, offsets };
      this.#containers.set(container, held);
    }
    const offset = held.offsets.get(number);
    if (offset === undefined) throw new PdfProblem(`object ${number} is not where the file says`);
    return new PdfLexer(held.data, offset).read(true) ?? null;
  }

  #objectAt(offset: number, expected: number | undefined): PdfValue {
    const lexer = new PdfLexer(this.bytes, offset);
    const [number, generation, word] = [lexer.read(false), lexer.read(false), lexer.read(false)];
    if (typeof number !== "number" || typeof generation !== "number" || !isKind(word, "operator") || word.word !== "obj")
      throw new PdfProblem(`no object at byte ${offset}`);
    if (expected !== undefined && number !== expected) throw new PdfProblem(`object ${expected} is not where the file says`);
    const value = lexer.read(true) ?? null;
    const end = lexer.read(false);
    if (isKind(end, "operator") && end.word === "endobj") return value;
    if (!isKind(value, "dictionary") || !isKind(end, "operator") || end.word !== "stream")
      throw new PdfProblem(`object ${number} has no end`);
    let from = lexer.at;
    if (this.bytes[from] === 13) from += 1;
    if (this.bytes[from] === 10) from += 1;
    const length = this.resolve(value.entries.get("Length"));
    if (typeof length !== "number" || length < 0 || from + length > this.bytes.length)
      throw new PdfProblem(`object ${number} has no length`);
    lexer.at = from + length;
    const after = lexer.read(false);
    if (!isKind(after, "operator") || after.word !== "endstream") throw new PdfProblem(`object ${number} does not end where it says`);
    return { kind: "stream", entries: value.entries, raw: this.bytes.subarray(from, from + length) };
  }

  /** The content of a stream. @throws PdfProblem on a filter that is not followed */
  decode(stream: PdfStream): Uint8Array {
    const decoded = this.decodeKnown(stream);
    if (decoded.left.length > 0) throw new PdfProblem(`the filter ${decoded.left.join(", ")} is not followed`);
    return decoded.data;
  }

  /** Filters are undone as far as they are known; pictures keep theirs. */
  decodeKnown(stream: PdfStream): { readonly data: Uint8Array; readonly left: readonly string[] } {
    const listed = (key: string): readonly PdfValue[] => {
      const value = this.resolve(stream.entries.get(key));
      return value === null ? [] : isArray(value) ? value : [value];
    };
    const filters = listed("Filter").map((filter) => nameOf(this.resolve(filter)) ?? "");
    const parameters = listed("DecodeParms").map((value) => this.dictionary(value));
    let data = stream.raw;
    for (const [index, filter] of filters.entries()) {
      if (filter === "FlateDecode") data = unpredicted(inflate(data), parameters[index] ?? new Map());
      else if (filter === "ASCIIHexDecode") data = fromAsciiHex(data);
      else return { data, left: filters.slice(index) };
    }
    return { data, left: [] };
  }
}

function fromAsciiHex(data: Uint8Array): Uint8Array {
  const text = new PdfLexer(Uint8Array.from([60, ...data, ...(data.includes(62) ? [] : [62])])).read(false);
  if (!isKind(text, "text")) throw new PdfProblem("a hexadecimal stream that is none");
  return text.bytes;
}

/** Undoes the PNG predictors. @source ISO 32000-1, 7.4.4.4; PNG (RFC 2083), 6 */
function unpredicted(data: Uint8Array, parameters: ReadonlyMap<string, PdfValue>): Uint8Array {
  const number = (key: string, otherwise: number): number => {
    const value = parameters.get(key);
    return typeof value === "number" ? value : otherwise;
  };
  const predictor = number("Predictor", 1);
  if (predictor === 1) return data;
  if (predictor < 10) throw new PdfProblem(`the predictor ${predictor} is not followed`);
  const unit = Math.max(1, Math.ceil((number("Colors", 1) * number("BitsPerComponent", 8)) / 8));
  const width = Math.ceil((number("Columns", 1) * number("Colors", 1) * number("BitsPerComponent", 8)) / 8);
  const rows = Math.ceil(data.length / (width + 1));
  const out = new Uint8Array(rows * width);
  for (let row = 0; row < rows; row += 1) {
    const kind = data[row * (width + 1)] as number;
    for (let i = 0; i < width; i += 1) {
      const raw = data[row * (width + 1) + 1 + i] ?? 0;
      const left = i >= unit ? (out[row * width + i - unit] as number) : 0;
      const up = row > 0 ? (out[(row - 1) * width + i] as number) : 0;
      const corner = row > 0 && i >= unit ? (out[(row - 1) * width + i - unit] as number) : 0;
      const guess =
        kind === 1 ? left : kind === 2 ? up : kind === 3 ? Math.floor((left + up) / 2) : kind === 4 ? paeth(left, up, corner) : 0;
      out[row * width + i] = (raw + guess) & 255;
    }
  }
  return out;
}

function paeth(left: number, up: number, corner: number): number {
  const guess = left + up - corner;
  const [a, b, c] = [Math.abs(guess - left), Math.abs(guess - up), Math.abs(guess - corner)];
  return a <= b && a <= c ? left : b <= c ? up : corner;
}

/** The catalog. @throws PdfProblem where there is none */
export function catalogOf(file: PdfFile): PdfDictionary {
  const root = file.resolve(file.trailer.get("Root"));
  if (!isKind(root, "dictionary")) throw new PdfProblem("no catalog");
  return root;
}
