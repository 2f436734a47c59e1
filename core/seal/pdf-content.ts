/**
 * What a PDF shows, independent of how it is stored: the words of every page, and a hash of everything the page is drawn with: its
 * operators, fonts, pictures and annotations. Storing a file anew keeps both; changing what is seen changes one of them.
 */
import { hex, latin1, utf8 } from "./bytes.ts";
import type { Cryptography } from "./cryptography.ts";
import { catalogOf, type PdfFile } from "./pdf-file.ts";
import { isArray, isKind, nameOf, PdfLexer, PdfProblem, type PdfStream, type PdfValue } from "./pdf-objects.ts";
import { type CodeMap, readCodeMap } from "./to-unicode.ts";

export interface PageContent {
  /** Pieces of text in the order they are drawn. */
  readonly words: readonly string[];
  /** SHA-256, hexadecimal. */
  readonly drawing: string;
}
export interface PdfContent {
  readonly pages: readonly PageContent[];
  /** SHA-256 over what acts on the whole document: layers, actions, other form fields and files, and what is read aloud. */
  readonly document: string;
}

/** Record and seal have their own checks. */
const OWN_FILES = ["record.json", "seal.json"];
const MOST_PAGES = 20_000;
const INHERITED = ["Resources", "MediaBox", "CropBox", "Rotate"];
/** Storage, and ties to the structure tree or to the page itself; none of it is seen. */
const UNSEEN = new Set([
  "Length",
  "Filter",
  "DecodeParms",
  "DL",
  "Parent",
  "P",
  "StructParent",
  "StructParents",
  "Metadata",
  "PieceInfo",
  "LastModified",
]);

export interface PdfPage {
  readonly reference: PdfValue;
  readonly entries: ReadonlyMap<string, PdfValue>;
}

/** The pages in order, with what they inherit. @throws PdfProblem */
export function pagesOf(file: PdfFile): readonly PdfPage[] {
  const pages: PdfPage[] = [];
  const open = new Set<unknown>();
  const walk = (node: PdfValue, inherited: ReadonlyMap<string, PdfValue>): void => {
    const entries = file.dictionary(node);
    if (open.has(entries) || pages.length > MOST_PAGES) throw new PdfProblem("a tree of pages without end");
    open.add(entries);
    const own = new Map([...inherited].filter(([key]) => INHERITED.includes(key)));
    for (const [key, value] of entries) own.set(key, value);
    if (nameOf(file.resolve(entries.get("Type"))) === "Pages") for (const kid of file.array(entries.get("Kids"))) walk(kid, own);
    else pages.push({ reference: node, entries: own });
    open.delete(entries);
  };
  walk(catalogOf(file).entries.get("Pages") ?? null, new Map());
  if (pages.length === 0) throw new PdfProblem("no page");
  return pages;
}

/** @throws PdfProblem on content that cannot be followed */
export async function readPdfContent(file: PdfFile, cryptography: Cryptography): Promise<PdfContent> {
  const pages = pagesOf(file);
  const printer = new Fingerprinter(file, cryptography, pages);
  const fonts = new Map<unknown, CodeMap | undefined>();
  const contents: PageContent[] = [];
  for (const { entries } of pages) {
    const data = contentOf(file, entries.get("Contents"));
    const words: string[] = [];
    const drawn = readOperators(file, data, file.dictionary(entries.get("Resources")), fonts, words, new Set());
    const parts: string[] = [drawn];
    for (const key of ["MediaBox", "CropBox", "Rotate", "UserUnit", "Group", "AA"]) parts.push(await printer.print(entries.get(key)));
    parts.push(await printer.print(usedResources(file, entries.get("Resources"))));
    for (const annotation of file.array(entries.get("Annots")))
      if (!isSealWidget(file, annotation)) parts.push(await printer.print(annotation));
    contents.push({ words, drawing: hex(await cryptography.sha256(utf8(parts.join("\n")))) });
  }
  return { pages: contents, document: await documentPrint(file, cryptography, printer) };
}

/** Resource groups by name; a list of procedure sets has had no meaning since PDF 1.4. */
function usedResources(file: PdfFile, resources: PdfValue | undefined): PdfValue {
  const groups = [...file.dictionary(resources)].filter(([key, value]) => key !== "ProcSet" && file.dictionary(value).size > 0);
  return { kind: "dictionary", entries: new Map(groups) };
}

const isSealWidget = (file: PdfFile, annotation: PdfValue): boolean => {
  const entries = file.dictionary(annotation);
  const rectangle = file.array(entries.get("Rect")).map((side) => file.resolve(side));
  return (
    nameOf(file.resolve(entries.get("Subtype"))) === "Widget" &&
    nameOf(file.resolve(entries.get("FT"))) === "Sig" &&
    rectangle[0] === rectangle[2] &&
    rectangle[1] === rectangle[3] &&
    !entries.has("AP")
  );
};

async function documentPrint(file: PdfFile, cryptography: Cryptography, printer: Fingerprinter): Promise<string> {
  const catalog = catalogOf(file).entries;
  const parts: string[] = [];
  for (const key of ["OCProperties", "OpenAction", "AA"]) parts.push(await printer.print(catalog.get(key)));
  parts.push(await printer.print(file.dictionary(catalog.get("Names")).get("JavaScript")));
  const form = file.dictionary(catalog.get("AcroForm"));
  parts.push(await printer.print(form.get("XFA")));
  for (const field of file.array(form.get("Fields"))) if (!isSealWidget(file, field)) parts.push(await printer.print(field));
  parts.push(spokenTexts(file).join("\n"));
  for (const [name, content] of attachmentsOf(file))
    if (!OWN_FILES.includes(name)) parts.push(`${JSON.stringify(name)} ${hex(await cryptography.sha256(content))}`);
  return hex(await cryptography.sha256(utf8(parts.join("\n"))));
}

const SPOKEN = ["Alt", "ActualText", "E"];
const MOST_ELEMENTS = 2_000_000;

/** Texts of the structure tree that a reader's program says in place of what is drawn. */
function spokenTexts(file: PdfFile): readonly string[] {
  const texts: string[] = [];
  const waiting: { readonly value: PdfValue; readonly depth: number }[] = [
    { value: catalogOf(file).entries.get("StructTreeRoot") ?? null, depth: 0 },
  ];
  let met = 0;
  for (let next = waiting.pop(); next !== undefined; next = waiting.pop()) {
    met += 1;
    if (met > MOST_ELEMENTS || next.depth > 1000) throw new PdfProblem("a structure tree without end");
    const entries = file.dictionary(next.value);
    for (const key of SPOKEN) {
      const text = file.resolve(entries.get(key));
      if (isKind(text, "text")) texts.push(`${key} ${hex(text.bytes)}`);
    }
    const kids = file.resolve(entries.get("K"));
    const listed = isArray(kids) ? kids : [entries.get("K") ?? null];
    for (const kid of [...listed].reverse())
      if (typeof kid === "object" && kid !== null) waiting.push({ value: kid, depth: next.depth + 1 });
  }
  return texts;
}

/** Files inside a PDF by name. @throws PdfProblem */
export function attachmentsOf(file: PdfFile): ReadonlyMap<string, Uint8Array> {
  const found = new Map<string, Uint8Array>();
  const walk = (node: PdfValue, depth: number): void => {
    if (depth > 20 || found.size > 1000) throw new PdfProblem("a tree of names without end");
    const entries = file.dictionary(node);
    const names = file.array(entries.get("Names"));
    for (let i = 0; i + 1 < names.length; i += 2) {
      const name = file.resolve(names[i]);
      const stream = file.resolve(file.dictionary(file.dictionary(names[i + 1]).get("EF")).get("F"));
      if (!isKind(name, "text") || !isKind(stream, "stream")) continue;
      // Which of two files of one name a reader would see is anybody's guess.
      if (found.has(latin1(name.bytes))) throw new PdfProblem(`two files named ${latin1(name.bytes)}`);
      found.set(latin1(name.bytes), file.decode(stream));
    }
    for (const kid of file.array(entries.get("Kids"))) walk(kid, depth + 1);
  };
  walk(file.dictionary(catalogOf(file).entries.get("Names")).get("EmbeddedFiles") ?? null, 0);
  return found;
}

function contentOf(file: PdfFile, contents: PdfValue | undefined): Uint8Array {
  const found = file.resolve(contents);
  const streams = (isArray(found) ? found.map((part) => file.resolve(part)) : [found]).filter((s): s is PdfStream => isKind(s, "stream"));
  const pieces = streams.map((stream) => file.decode(stream));
  const whole = new Uint8Array(pieces.reduce((sum, piece) => sum + piece.length + 1, 0));
  let at = 0;
  for (const piece of pieces) {
    whole.set(piece, at);
    at += piece.length;
    // A line end between two streams, so that no word grows together.
    whole[at] = 10;
    at += 1;
  }
  return whole;
}

const numberText = (value: number): string => String(Number(value.toFixed(5)) + 0);

function plain(value: PdfValue): string {
  if (value === null || typeof value === "boolean") return String(value);
  if (typeof value === "number") return numberText(value);
  if (isArray(value)) return `[${value.map(plain).join(" ")}]`;
  switch (value.kind) {
    case "name":
      return `/${JSON.stringify(value.name)}`;
    case "text":
      return `<${hex(value.bytes)}>`;
    case "operator":
      return value.word;
    case "dictionary":
      return `<<${[...value.entries]
        .map(([key, entry]) => `${JSON.stringify(key)} ${plain(entry)}`)
        .sort()
        .join(" ")}>>`;
    default:
      throw new PdfProblem("a reference inside the content of a page");
  }
}

/** Walks the operators. @param words gets the texts shown @returns the operators in one canonical text */
function readOperators(
  file: PdfFile,
  data: Uint8Array,
  resources: ReadonlyMap<string, PdfValue>,
  fonts: Map<unknown, CodeMap | undefined>,
  words: string[],
  within: Set<unknown>,
): string {
  const lexer = new PdfLexer(data);
  const drawn: string[] = [];
  const held: (CodeMap | undefined)[] = [];
  let font: CodeMap | undefined;
  let operands: PdfValue[] = [];
  let open = "";
  const flush = (): void => {
    if (open.trim() !== "") words.push(open.normalize("NFC").replaceAll(/\s+/g, " ").trim());
    open = "";
  };
  for (let value = lexer.read(false); value !== undefined; value = lexer.read(false)) {
    drawn.push(plain(value));
    if (!isKind(value, "operator")) {
      operands.push(value);
      continue;
    }
    const last = operands.at(-1);
    switch (value.word) {
      case "BI":
        throw new PdfProblem("a picture inside the content of a page");
      case "q":
        held.push(font);
        break;
      case "Q":
        font = held.pop();
        break;
      case "Tf":
        font = fontOf(file, resources, nameOf(operands[0]), fonts);
        break;
      case "Tj":
        open += shown(font, last);
        break;
      case "TJ":
        // A step back of a fifth of the letter height or more is a blank that was not written.
        for (const part of isArray(last) ? last : []) open += typeof part === "number" ? (part < -200 ? " " : "") : shown(font, part);
        break;
      case "'":
      case '"':
        flush();
        open += shown(font, last);
        break;
      case "Td":
        // A step along the line is kerning: the printer writes its blanks as glyphs.
        if (last !== 0) flush();
        break;
      case "TD":
      case "T*":
      case "Tm":
      case "BT":
      case "ET":
        flush();
        break;
      case "Do":
        flush();
        drawForm(file, resources, nameOf(last), fonts, words, within);
        break;
      default:
    }
    operands = [];
  }
  flush();
  return drawn.join(" ");
}

function drawForm(
  file: PdfFile,
  resources: ReadonlyMap<string, PdfValue>,
  called: string | undefined,
  fonts: Map<unknown, CodeMap | undefined>,
  words: string[],
  within: Set<unknown>,
): void {
  const form = file.resolve(file.dictionary(resources.get("XObject")).get(called ?? ""));
  if (!isKind(form, "stream") || nameOf(file.resolve(form.entries.get("Subtype"))) !== "Form") return;
  if (within.has(form) || within.size > 20) throw new PdfProblem("a form that draws itself");
  within.add(form);
  const own = file.dictionary(form.entries.get("Resources"));
  // What it is drawn with is hashed with the resources; here only its words count.
  readOperators(file, file.decode(form), own.size > 0 ? own : resources, fonts, words, within);
  within.delete(form);
}

function fontOf(
  file: PdfFile,
  resources: ReadonlyMap<string, PdfValue>,
  called: string | undefined,
  fonts: Map<unknown, CodeMap | undefined>,
): CodeMap | undefined {
  const entries = file.dictionary(file.dictionary(resources.get("Font")).get(called ?? ""));
  if (fonts.has(entries)) return fonts.get(entries);
  const map = file.resolve(entries.get("ToUnicode"));
  const wide = nameOf(file.resolve(entries.get("Subtype"))) === "Type0";
  const read = isKind(map, "stream") ? readCodeMap(file.decode(map)) : undefined;
  // The kind of the font decides how many bytes a code has; the map only names what it means.
  const font = { width: wide ? 2 : 1, texts: read?.texts ?? new Map<number, string>() };
  fonts.set(entries, font);
  return font;
}

function shown(font: CodeMap | undefined, value: PdfValue | undefined): string {
  if (!isKind(value, "text")) return "";
  const width = font?.width ?? 1;
  let text = "";
  for (let i = 0; i + width <= value.bytes.length; i += width) {
    let code = 0;
    for (let k = 0; k < width; k += 1) code = code * 256 + (value.bytes[i + k] as number);
    text += font?.texts.get(code) ?? (width === 1 ? String.fromCharCode(code) : "\ufffd");
  }
  return text;
}

/** One text for a value and everything it leads to; streams count by their content, pages by their place. */
class Fingerprinter {
  readonly #file: PdfFile;
  readonly #cryptography: Cryptography;
  readonly #pages: Map<unknown, number>;
  readonly #known = new Map<number, string>();
  readonly #open = new Set<number>();

  constructor(file: PdfFile, cryptography: Cryptography, pages: readonly PdfPage[]) {
    this.#file = file;
    this.#cryptography = cryptography;
    this.#pages = new Map(pages.map((page, index) => [isKind(page.reference, "reference") ? page.reference.number : page, index]));
  }

  async print(value: PdfValue | undefined): Promise<string> {
    if (value === undefined || value === null) return "null";
    if (isArray(value)) {
      const items: string[] = [];
      for (const item of value) items.push(await this.print(item));
      return `[${items.join(" ")}]`;
    }
    if (typeof value !== "object") return plain(value);
    if (value.kind === "reference") return this.#reference(value.number);
    if (value.kind !== "dictionary" && value.kind !== "stream") return plain(value);
    const entries: string[] = [];
    const left = value.kind === "stream" ? this.#file.decodeKnown(value) : undefined;
    for (const [key, entry] of value.entries) if (!UNSEEN.has(key)) entries.push(`${JSON.stringify(key)} ${await this.print(entry)}`);
    const text = `<<${entries.sort().join(" ")}>>`;
    if (left === undefined) return text;
    return `${text}stream ${left.left.join("+")} ${hex(await this.#cryptography.sha256(left.data))}`;
  }

  async #reference(number: number): Promise<string> {
    const page = this.#pages.get(number);
    if (page !== undefined) return `page ${page}`;
    if (this.#open.has(number)) return "circle";
    const known = this.#known.get(number);
    if (known !== undefined) return known;
    this.#open.add(number);
    const printed = await this.print(this.#file.resolve({ kind: "reference", number, generation: 0 }));
    this.#open.delete(number);
    // A long text is kept by its hash, so that shared objects do not multiply.
    const text = printed.length > 128 ? hex(await this.#cryptography.sha256(utf8(printed))) : printed;
    if (this.#open.size === 0) this.#known.set(number, text);
    return text;
  }
}
