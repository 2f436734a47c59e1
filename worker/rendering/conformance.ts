/**
 * Corrects a page as the browser prints it, so that it keeps for decades and can be read aloud: PDF/A-3a and PDF/UA-1, with the record
 * of the document inside.
 * @source ISO 19005-3 and ISO 14289-1; five classes of fault were found in printed files by a rule engine for both
 */
import { createHash } from "node:crypto";
import { nameOfLetter } from "./letters.ts";
import { markArtifacts } from "./pdf/artifacts.ts";
import { colourProfile } from "./pdf/colour-profile.ts";
import { dictionaryAt, nextNumber, type PdfFile, readPdf, setDictionary, setStream, streamAt, writePdf } from "./pdf/file.ts";
import { xmpPacket } from "./pdf/metadata.ts";
import { dictionaryOf, entriesOf, referenceIn, textString } from "./pdf/syntax.ts";

/** A file inside the document. */
export interface Attachment {
  readonly name: string;
  readonly description: string;
  /** `application/json` */
  readonly type: string;
  readonly bytes: Uint8Array;
}

export interface DocumentFacts {
  readonly title: string;
  readonly author: string;
  readonly language: string;
  /** `YYYY-MM-DD` */
  readonly issuedOn: string;
  readonly attachments: readonly Attachment[];
  /** Letters that no font of ours draws: the page is looked at for empty boxes in their place. */
  readonly strangeLetters: readonly string[];
}

/** The same for every document. */
let profileBytes: Buffer | undefined;

/**
 * The same input gives the same bytes.
 * @param printed a tagged PDF out of the browser
 * @throws Error where the printer wrote something this cannot follow, or drew an empty box instead of a letter
 */
export function toConforming(printed: Uint8Array, facts: DocumentFacts): Uint8Array {
  const file = readPdf(printed);
  const rootNumber = referenceIn(file.trailer.get("Root"));
  if (rootNumber === undefined) throw new Error("printed page: no catalog");
  const root = dictionaryAt(file, rootNumber);
  markPages(file, facts.strangeLetters);
  nameLinks(file);
  const producer = describe(file, facts);
  const add = (put: (number: number) => void): number => {
    const number = nextNumber(file);
    put(number);
    return number;
  };

  const metadata = add((number) =>
    setStream(file, number, xmpPacket({ ...facts, producer }), entriesOf("<</Type /Metadata /Subtype /XML>>"), false),
  );
  profileBytes ??= colourProfile();
  const profile = profileBytes;
  const colours = add((number) => setStream(file, number, profile, entriesOf("<</N 3>>"), true));
  const files = facts.attachments.map((attachment) => attach(file, add, attachment, facts.issuedOn));

  root.set("Metadata", `${metadata} 0 R`);
  root.set(
    "OutputIntents",
    `[<</Type /OutputIntent /S /GTS_PDFA1 /OutputConditionIdentifier (sRGB IEC61966-2.1) /Info (sRGB IEC61966-2.1) /DestOutputProfile ${colours} 0 R>>]`,
  );
  root.set("MarkInfo", "<</Marked true>>");
  root.set("Lang", textString(facts.language));
  root.set("ViewerPreferences", "<</DisplayDocTitle true>>");
  if (files.length > 0) {
    root.set("AF", `[${files.map(({ number }) => `${number} 0 R`).join(" ")}]`);
    // A name tree is sorted by its keys (ISO 32000-1, 7.9.6).
    const sorted = [...files].sort((a, b) => (a.name < b.name ? -1 : 1));
    const names = root.has("Names") ? namesOf(file, root.get("Names") as string) : new Map<string, string>();
    names.set("EmbeddedFiles", `<</Names [${sorted.map(({ name, number }) => `${textString(name)} ${number} 0 R`).join(" ")}]>>`);
    root.set("Names", dictionaryOf(names));
  }
  setDictionary(file, rootNumber, root);
  return writePdf(file, (body) => createHash("sha256").update(body).digest("hex").slice(0, 32).toUpperCase());
}

const namesOf = (file: PdfFile, value: string): Map<string, string> => {
  const number = referenceIn(value);
  return number === undefined ? entriesOf(value) : dictionaryAt(file, number);
};

const isType = (body: Buffer, type: string): boolean => body.subarray(0, 2000).includes(type);

function markPages(file: PdfFile, strange: readonly string[]): void {
  for (const [number, body] of file.objects) {
    if (!isType(body, "/Type /Page") || dictionaryAt(file, number).get("Type") !== "/Page") continue;
    const contents = referenceIn(dictionaryAt(file, number).get("Contents"));
    if (contents === undefined) throw new Error(`printed page: object ${number} is a page whose content is no single stream`);
    const before = streamAt(file, contents).toString("latin1");
    if (strange.length > 0 && hasEmptyBox(before, compositeFonts(file, number)))
      throw new Error(
        `page: no font here draws ${strange.map(nameOfLetter).join(", ")}; accepted are Latin, Greek, Cyrillic, Hebrew and Arabic letters, and what a font of this machine draws`,
      );
    const after = markArtifacts(before);
    if (after !== before) setStream(file, contents, Buffer.from(after, "latin1"), dictionaryAt(file, contents), true);
  }
}

/** Names of the page's fonts whose glyphs are numbered by two bytes. */
function compositeFonts(file: PdfFile, page: number): ReadonlySet<string> {
  const resources = dictionaryAt(file, page).get("Resources") ?? "<<>>";
  const reference = referenceIn(resources);
  const fonts = (reference === undefined ? entriesOf(resources) : dictionaryAt(file, reference)).get("Font") ?? "<<>>";
  return new Set(
    [...entriesOf(fonts)].flatMap(([name, value]) => {
      const number = referenceIn(value);
      return number !== undefined && dictionaryAt(file, number).get("Subtype") === "/Type0" ? [name] : [];
    }),
  );
}

/** Glyph 0 of a font is the box that stands for a letter it does not have. @source ISO 14289-1, 7.21.8 */
function hasEmptyBox(content: string, composite: ReadonlySet<string>): boolean {
  let font = "";
  for (const [, name, hex] of content.matchAll(/\/(\w+) [\d.]+ Tf|<([0-9A-Fa-f]+)>/g)) {
    if (name !== undefined) font = name;
    else if (hex !== undefined && composite.has(font) && hex.match(/.{4}/g)?.includes("0000")) return true;
  }
  return false;
}

/** A link says in words where it leads. @source ISO 14289-1, 7.18.5 */
function nameLinks(file: PdfFile): void {
  for (const [number, body] of file.objects) {
    if (!isType(body, "/Annots") && !isType(body, "/Subtype /Link")) continue;
    const entries = dictionaryAt(file, number);
    if (entries.get("Subtype") === "/Link") setDictionary(file, number, namedLink(entries));
  }
}

function namedLink(link: Map<string, string>): Map<string, string> {
  const action = link.get("A");
  const address = action === undefined ? undefined : /\/URI\s*(\((?:\\.|[^\\)])*\))/.exec(action)?.[1];
  if (!link.has("Contents")) link.set("Contents", address ?? "(-)");
  return link;
}

/** The file's own card; the description in XMP says the same. @returns the producer */
function describe(file: PdfFile, { title, author, issuedOn }: DocumentFacts): string {
  const number = referenceIn(file.trailer.get("Info"));
  if (number === undefined) throw new Error("printed page: no information dictionary");
  const given = dictionaryAt(file, number).get("Producer") ?? "()";
  const at = `(D:${issuedOn.replaceAll("-", "")}000000+00'00')`;
  setDictionary(
    file,
    number,
    new Map([
      ["Title", textString(title)],
      ["Author", textString(author)],
      ["Creator", "(Coilbook)"],
      ["Producer", given],
      ["CreationDate", at],
      ["ModDate", at],
    ]),
  );
  return given.slice(1, -1);
}

function attach(
  file: PdfFile,
  add: (put: (number: number) => void) => number,
  { name, description, type, bytes }: Attachment,
  issuedOn: string,
): { readonly name: string; readonly number: number } {
  const checksum = createHash("md5").update(bytes).digest("hex").toUpperCase();
  const embedded = add((number) =>
    setStream(
      file,
      number,
      bytes,
      new Map([
        ["Type", "/EmbeddedFile"],
        ["Subtype", `/${type.replaceAll("/", "#2F")}`],
        ["Params", `<</Size ${bytes.length} /ModDate (D:${issuedOn.replaceAll("-", "")}000000+00'00') /CheckSum <${checksum}>>>`],
      ]),
      true,
    ),
  );
  const number = add((at) =>
    setDictionary(
      file,
      at,
      new Map([
        ["Type", "/Filespec"],
        ["F", textString(name)],
        ["UF", textString(name)],
        ["Desc", textString(description)],
        ["AFRelationship", "/Data"],
        ["EF", `<</F ${embedded} 0 R /UF ${embedded} 0 R>>`],
      ]),
    ),
  );
  return { name, number };
}
