/**
 * A reader of finished PDFs that knows nothing of how they were made: it opens them with a library of its own and says what an archive
 * or a screen reader would miss. Each fault is a code of this file.
 * @source ISO 19005-3 (6.1.3 ID, 6.2.3 output intent, 6.6.2 XMP, 6.6.4 level, 6.8 associated files), ISO 14289-1 (5, 7.1 marks and
 * language, 7.3 figures, 7.5 tables, 7.18.5 links)
 */
import { inflateSync } from "node:zlib";
import { PDFArray, PDFDict, PDFDocument, PDFHexString, PDFName, type PDFObject, PDFRawStream, PDFRef, PDFString } from "@cantoo/pdf-lib";

const PAINTS = new Set(["Tj", "TJ", "'", '"', "f", "F", "f*", "S", "s", "B", "B*", "b", "b*", "Do", "sh", "BI"]);

/** @source ISO 32000-1, 14.8.4 (standard structure types); others need a role map */
const STANDARD = new Set(
  "Document Part Art Sect Div BlockQuote Caption TOC TOCI Index NonStruct Private P H H1 H2 H3 H4 H5 H6 L LI Lbl LBody Table TR TH TD THead TBody TFoot Span Quote Note Reference BibEntry Code Link Annot Ruby Warichu RB RT RP WT WP Figure Formula Form".split(
    " ",
  ),
);

/** Every fault found, sorted; nothing where the file is as it should be. */
export async function structureFaults(bytes: Uint8Array): Promise<readonly string[]> {
  const pdf = await PDFDocument.load(bytes, { updateMetadata: false });
  const { context, catalog } = pdf;
  const faults = new Set<string>();
  const look = (object: PDFObject | undefined): PDFObject | undefined => (object instanceof PDFRef ? context.lookup(object) : object);
  const get = (from: PDFObject | undefined, ...path: readonly string[]): PDFObject | undefined =>
    path.reduce<PDFObject | undefined>((at, key) => (at instanceof PDFDict ? look(at.get(PDFName.of(key))) : undefined), look(from));
  const items = (from: PDFObject | undefined): readonly (PDFObject | undefined)[] => {
    const found = look(from);
    return found instanceof PDFArray ? found.asArray().map(look) : found === undefined ? [] : [found];
  };
  const text = (from: PDFObject | undefined): string =>
    from instanceof PDFString || from instanceof PDFHexString ? from.decodeText() : "";
  const need = (fault: string, holds: boolean): void => {
    if (!holds) faults.add(fault);
  };

  need("no-id", items(context.trailerInfo.ID).length === 2);
  const [intent] = items(get(catalog, "OutputIntents"));
  const profile = get(intent, "DestOutputProfile");
  need("no-output-intent", String(get(intent, "S")) === "/GTS_PDFA1" && profile instanceof PDFRawStream);
  if (profile instanceof PDFRawStream) need("no-colour-profile", Buffer.from(decoded(profile)).subarray(36, 40).toString() === "acsp");
  const metadata = get(catalog, "Metadata");
  const xmp = metadata instanceof PDFRawStream ? Buffer.from(decoded(metadata)).toString("utf8") : "";
  need("no-xmp", xmp !== "");
  need("no-pdfa-level", /<pdfaid:part>3</.test(xmp) && /<pdfaid:conformance>A</.test(xmp));
  need("no-pdfua-part", /<pdfuaid:part>1</.test(xmp));
  need("no-extension-schema", /<pdfaSchema:namespaceURI>http:\/\/www\.aiim\.org\/pdfua\/ns\/id\/</.test(xmp));
  need("no-title", /<dc:title>/.test(xmp) && text(get(context.trailerInfo.Info as PDFObject, "Title")) !== "");
  need("no-mark-info", String(get(catalog, "MarkInfo", "Marked")) === "true");
  need("no-language", text(get(catalog, "Lang")) !== "");
  need("title-not-shown", String(get(catalog, "ViewerPreferences", "DisplayDocTitle")) === "true");
  need("no-bookmarks", get(catalog, "Outlines") instanceof PDFDict);

  const files = items(get(catalog, "AF"));
  need("no-associated-file", files.length > 0);
  for (const file of files) {
    need("no-relationship", String(get(file, "AFRelationship")) === "/Data");
    need(
      "no-file-type",
      String(get(file, "EF", "F") instanceof PDFRawStream && (get(file, "EF", "F") as PDFRawStream).dict.get(PDFName.of("Subtype"))) !==
        "undefined",
    );
  }
  need("file-not-listed", get(catalog, "Names", "EmbeddedFiles") instanceof PDFDict);

  for (const page of pdf.getPages()) {
    need("no-tab-order", String(get(page.node, "Tabs")) === "/S" || get(page.node, "Annots") === undefined);
    const parts = items(get(page.node, "Contents")).map((part) => (part instanceof PDFRawStream ? decoded(part) : new Uint8Array()));
    if (paintsUnmarked(Buffer.concat(parts).toString("latin1"))) faults.add("untagged-content");
    for (const annotation of items(get(page.node, "Annots")))
      if (String(get(annotation, "Subtype")) === "/Link") need("link-without-contents", text(get(annotation, "Contents")) !== "");
  }

  const tree = get(catalog, "StructTreeRoot");
  need("no-structure", tree instanceof PDFDict);
  const walk = (element: PDFObject | undefined): void => {
    if (!(element instanceof PDFDict)) return;
    const kind = String(get(element, "S"));
    if (get(element, "K") !== undefined && kind !== "undefined")
      need("unknown-structure-type", STANDARD.has(kind.slice(1)) || get(tree, "RoleMap", kind.slice(1)) !== undefined);
    if (kind === "/Figure") need("figure-without-alt", text(get(element, "Alt")) !== "");
    if (kind === "/TH")
      need(
        "header-without-scope",
        items(get(element, "A")).some((attribute) => get(attribute, "Scope") !== undefined),
      );
    for (const child of items(get(element, "K"))) walk(child);
  };
  for (const child of items(get(tree, "K"))) walk(child);

  for (const [, object] of context.enumerateIndirectObjects())
    if (object instanceof PDFDict && String(get(object, "Type")) === "/Font" && String(get(object, "Subtype")) === "/Type0") {
      const [descendant] = items(get(object, "DescendantFonts"));
      const descriptor = get(descendant, "FontDescriptor");
      need(
        "font-not-embedded",
        ["FontFile", "FontFile2", "FontFile3"].some((name) => get(descriptor, name) !== undefined),
      );
      need("font-without-unicode", get(object, "ToUnicode") !== undefined);
    }
  return [...faults].sort();
}

function decoded(stream: PDFRawStream): Uint8Array {
  const filter = String(stream.dict.get(PDFName.of("Filter")) ?? "");
  return filter === "/FlateDecode" ? inflateSync(stream.contents) : stream.contents;
}

/** Something is painted outside every tag and every artifact. A section counts where it has an MCID or is an artifact. */
function paintsUnmarked(content: string): boolean {
  const sections: boolean[] = [];
  let since = "";
  for (const [token] of content.matchAll(/\((?:\\[\s\S]|[^\\)])*\)|<[0-9A-F\s]*>|[^\s()<>[\]]+|<<|>>|[[\]]/gi)) {
    if (token === "BDC" || token === "BMC") sections.push(/\/MCID|\/Artifact/.test(since));
    else if (token === "EMC") sections.pop();
    else if (PAINTS.has(token) && !sections.includes(true)) return true;
    else if (!/^[A-Za-z'"*]+$/.test(token)) {
      since += ` ${token}`;
      continue;
    }
    since = "";
  }
  return false;
}
