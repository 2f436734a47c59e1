import { type Codec, PORTABLE } from "./codec.ts";
import { AT_ONCE, inflateEntry, inflateInto } from "./inflate.ts";
import { LIMITS, RefusedWorkbook, refuse, shown } from "./limits.ts";
import { readDirectory } from "./package.ts";
import type { PackageEntry } from "./package-entry.ts";
import { decodeEscapes, decodeXml, isTrue, isWide } from "./xml.ts";
import { type XmlHandlers, XmlWalker } from "./xml-walker.ts";

/** The parts of a package by name; names are compared without case, as the format demands. */
export class PackageParts {
  readonly entries: readonly PackageEntry[];
  readonly bytes: Uint8Array;
  readonly codec: Codec;
  readonly #byName: ReadonlyMap<string, PackageEntry>;
  readonly #walked = new Set<PackageEntry>();

  /** @throws RefusedWorkbook where the gate does not let the package in */
  constructor(bytes: Uint8Array, codec: Codec = PORTABLE) {
    this.bytes = bytes;
    this.codec = codec;
    this.entries = readDirectory(bytes);
    this.#byName = new Map(this.entries.map((entry) => [entry.name.toLowerCase(), entry]));
  }

  has(name: string): boolean {
    return this.#byName.has(name.toLowerCase());
  }

  /**
   * Walks an XML part while it is unpacked.
   * @param whole walks a part that is not large instead, given as a whole; the walker must have seen every byte or its like
   * @throws RefusedWorkbook where it is missing, damaged or too large
   */
  walk(name: string, handlers: XmlHandlers, whole?: (content: Uint8Array, walker: XmlWalker) => void): void {
    const entry = this.#entry(name);
    const walker = new XmlWalker(entry.name, handlers);
    if (whole !== undefined && entry.size <= AT_ONCE) whole(inflateEntry(this.bytes, entry, this.codec), walker);
    else inflateInto(this.bytes, entry, this.codec, (piece) => walker.push(piece));
    walker.end();
    this.#walked.add(entry);
  }

  /** The entry of a part. @throws RefusedWorkbook where it is missing */
  entryOf(name: string): PackageEntry {
    return this.#entry(name);
  }

  /** An XML part as a whole. @throws RefusedWorkbook as `walk` does */
  text(name: string): string {
    const entry = this.#entry(name);
    return decodeXml(inflateEntry(this.bytes, entry, this.codec), entry.name);
  }

  /** An XML part as UTF-8. @throws RefusedWorkbook as `walk` does */
  utf8(name: string): Uint8Array {
    const entry = this.#entry(name);
    const content = inflateEntry(this.bytes, entry, this.codec);
    return isWide(content) ? new TextEncoder().encode(decodeXml(content, entry.name)) : content;
  }

  /** Unpacks the parts nobody walked, to hold them to the limits and to their checksums. @throws RefusedWorkbook */
  checkRest(): void {
    for (const entry of this.entries) if (!this.#walked.has(entry)) inflateInto(this.bytes, entry, this.codec, () => undefined);
  }

  #entry(name: string): PackageEntry {
    return this.#byName.get(name.toLowerCase()) ?? refuse("missing-part", `The workbook lacks its part ${shown(name)}. Save it again.`);
  }
}

export interface SheetReference {
  readonly name: string;
  readonly part: string;
  readonly hidden: boolean;
}

export interface WorkbookParts {
  readonly workbookPart: string;
  readonly sheets: readonly SheetReference[];
  readonly date1904: boolean;
  readonly sharedStrings?: string;
  readonly styles?: string;
  readonly externalLinks: boolean;
}

interface Relationship {
  readonly id: string;
  readonly type: string;
  readonly target: string;
  readonly external: boolean;
}

/** Follows the relationships: sheets are found by them, never by the names of their parts. @throws RefusedWorkbook */
export function locateParts(parts: PackageParts): WorkbookParts {
  refuseMacroTypes(parts);
  const workbookPart = relationships(parts, "_rels/.rels", "").find((r) => r.type.endsWith("/officeDocument"))?.target;
  if (workbookPart === undefined || !parts.has(workbookPart))
    return refuse("not-a-workbook", "The package names no workbook. Save it as Excel workbook (.xlsx).");
  const { folder, relationshipsPart } = besides(workbookPart);
  const related = relationships(parts, relationshipsPart, folder);
  const { sheets, date1904 } = readSheetList(parts, workbookPart, related);
  refuseSameNames(sheets);
  const target = (kind: string): string | undefined => related.find((r) => r.type.endsWith(kind) && !r.external)?.target;
  const [sharedStrings, styles] = [target("/sharedStrings"), target("/styles")];
  return {
    workbookPart,
    sheets,
    date1904,
    ...(sharedStrings === undefined ? {} : { sharedStrings }),
    ...(styles === undefined ? {} : { styles }),
    externalLinks: related.some((r) => r.type.endsWith("/externalLink")),
  };
}

/** The folder of a part, ending in a slash, and the part that lists its relationships. */
export function besides(part: string): { readonly folder: string; readonly relationshipsPart: string } {
  const slash = part.lastIndexOf("/") + 1;
  return { folder: part.slice(0, slash), relationshipsPart: `${part.slice(0, slash)}_rels/${part.slice(slash)}.rels` };
}

function readSheetList(
  parts: PackageParts,
  workbookPart: string,
  related: readonly Relationship[],
): { sheets: readonly SheetReference[]; date1904: boolean } {
  const byId = new Map(related.map((relation) => [relation.id, relation]));
  const sheets: SheetReference[] = [];
  const used = new Set<string>();
  let date1904 = false;
  let depth = 0;
  parts.walk(workbookPart, {
    open(name, attributes) {
      depth += 1;
      if (depth === 1 && name !== "workbook")
        refuse("not-a-workbook", `The part ${shown(workbookPart)} is no workbook. Save it as Excel workbook (.xlsx).`);
      if (name === "workbookPr") date1904 ||= isTrue(attributes.get("date1904"));
      // Sheets stand in the third level; further down an extension may use the same word.
      if (name !== "sheet" || depth !== 3) return;
      const label = decodeEscapes(attributes.get("name") ?? "");
      const relation = byId.get(attributes.prefixed("id") ?? "");
      if (relation === undefined || relation.external || !parts.has(relation.target))
        return refuse("missing-part", `The sheet ${shown(label)} has no content. Save the workbook again.`);
      if (used.has(relation.target.toLowerCase()))
        refuse("doubled-sheet", `Two sheets share the content ${shown(relation.target)}. Save the workbook again.`);
      used.add(relation.target.toLowerCase());
      if (/\/(?:xl)?(?:intlMacrosheet|macrosheet)$/i.test(relation.type)) refuse("macro-carrying", MACROS);
      if (!relation.type.endsWith("/worksheet")) return;
      sheets.push({ name: label, part: relation.target, hidden: (attributes.get("state") ?? "visible") !== "visible" });
    },
    close() {
      depth -= 1;
    },
  });
  if (sheets.length === 0) refuse("no-sheets", "The workbook holds no sheet with cells; at least one is needed.");
  return { sheets, date1904 };
}

function refuseSameNames(sheets: readonly SheetReference[]): void {
  const seen = new Set<string>();
  for (const { name } of sheets) {
    const folded = name.trim().toLowerCase();
    if (seen.has(folded))
      refuse("doubled-sheet", `There are two sheets named ${shown(name)}; the names differ only by case or blanks. Rename or delete one.`);
    seen.add(folded);
  }
}

const MACROS = "The workbook carries macros. Save it as Excel workbook (.xlsx) without macros.";

function refuseMacroTypes(parts: PackageParts): void {
  parts.walk("[Content_Types].xml", {
    open(_, attributes) {
      const type = attributes.get("ContentType") ?? "";
      if (/macroEnabled|vbaProject|macrosheet/i.test(type)) refuse("macro-carrying", MACROS);
      if (/ms-excel\.sheet\.binary/i.test(type))
        refuse("binary-workbook", "The file is a binary workbook (.xlsb) under an .xlsx name. Save it as Excel workbook (.xlsx).");
    },
  });
}

function relationships(parts: PackageParts, name: string, folder: string): readonly Relationship[] {
  const found: Relationship[] = [];
  const ids = new Set<string>();
  parts.walk(name, {
    open(element, attributes) {
      if (element !== "Relationship") return;
      const target = attributes.get("Target") ?? "";
      const external = attributes.get("TargetMode") === "External";
      const id = attributes.get("Id") ?? "";
      if (ids.has(id))
        throw new RefusedWorkbook(
          "damaged-package",
          `The part ${shown(name)} uses the identifier ${shown(id)} twice. Save the workbook again.`,
        );
      ids.add(id);
      if (ids.size > LIMITS.relationships)
        refuse(
          "damaged-package",
          `The part ${shown(name)} lists more than ${LIMITS.relationships} relationships; at most so many are accepted.`,
        );
      found.push({ id, type: attributes.get("Type") ?? "", target: external ? target : resolve(folder, target), external });
    },
  });
  return found;
}

/** The part a relationship names, whether relative or from the root. Never leaves the package: it is only a name to look up. */
function resolve(folder: string, target: string): string {
  const path = target.startsWith("/") ? [] : folder.split("/").filter((step) => step !== "");
  for (const step of target.split("/")) {
    if (step === "..") path.pop();
    else if (step !== "." && step !== "") path.push(step);
  }
  return path.join("/");
}
