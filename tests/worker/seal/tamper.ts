/** Ways to change a sealed document, as somebody without the key could. */
import { unzipSync, zipSync } from "fflate";
import { fromLatin1, hex, latin1 } from "../../../core/seal/bytes.ts";
import { pagesOf } from "../../../core/seal/pdf-content.ts";
import { catalogOf, PdfFile } from "../../../core/seal/pdf-file.ts";
import { isKind, PdfLexer, type PdfValue, serialize } from "../../../core/seal/pdf-objects.ts";
import { PACKAGE_PART } from "../../../core/seal/xlsx-package.ts";
import { readDirectory } from "../../../core/workbook/package.ts";
import { writePackage } from "../../../core/workbook/zip-write.ts";

/** An update behind the file in the form's own way: some objects get another body. */
export function updatePdf(bytes: Uint8Array, bodies: ReadonlyMap<number, string>): Uint8Array {
  const file = new PdfFile(bytes);
  let body = "";
  let rows = "";
  for (const [number, text] of bodies) {
    rows += `${number} 1\n${String(bytes.length + body.length).padStart(10, "0")} 00000 n \n`;
    body += `${number} 0 obj\n${text}\nendobj\n`;
  }
  const root = file.trailer.get("Root") as PdfValue;
  const at = bytes.length + body.length;
  const added = `${body}xref\n${rows}trailer\n<</Size ${file.size} /Prev ${file.newestSection} /Root ${serialize(root)}>>\nstartxref\n${at}\n%%EOF\n`;
  return Uint8Array.from([...bytes, ...fromLatin1(added)]);
}

export const streamBody = (content: string): string => `<</Length ${content.length}>>\nstream\n${content}\nendstream`;

/** Number and content of the stream that draws a page. */
export function pageStream(bytes: Uint8Array, page: number): { readonly number: number; readonly content: string } {
  const file = new PdfFile(bytes);
  const contents = pagesOf(file)[page]?.entries.get("Contents");
  const stream = file.resolve(contents);
  if (!isKind(contents, "reference") || !isKind(stream, "stream")) throw new Error("a page without one stream");
  return { number: contents.number, content: latin1(file.decode(stream)) };
}

/** Every text a page draws, as its glyph codes with their places in the stream. */
export function drawnTexts(content: string): readonly { readonly from: number; readonly to: number; readonly codes: string }[] {
  const lexer = new PdfLexer(fromLatin1(content));
  const texts: { from: number; to: number; codes: string }[] = [];
  for (;;) {
    lexer.skip();
    const from = lexer.at;
    const value = lexer.read(false);
    if (value === undefined) return texts;
    if (isKind(value, "text")) texts.push({ from, to: lexer.at, codes: hex(value.bytes) });
  }
}

/** The stream with one of its texts drawn by other glyphs. */
export const redrawn = (content: string, text: { readonly from: number; readonly to: number }, codes: string): string =>
  `${content.slice(0, text.from)}<${codes}>${content.slice(text.to)}`;

/** The number of the stream behind an attached file. */
export function attachedStream(bytes: Uint8Array, name: string): number {
  const file = new PdfFile(bytes);
  const names = file.array(file.dictionary(file.dictionary(catalogOf(file).entries.get("Names")).get("EmbeddedFiles")).get("Names"));
  for (let i = 0; i + 1 < names.length; i += 2) {
    const label = file.resolve(names[i]);
    const stream = file.dictionary(file.dictionary(names[i + 1]).get("EF")).get("F");
    if (isKind(label, "text") && latin1(label.bytes) === name && isKind(stream, "reference")) return stream.number;
  }
  throw new Error(`no attached file ${name}`);
}

/** The parts of a workbook changed, put together as our own program would; without the signature over the parts. */
export function changeXlsx(bytes: Uint8Array, part: string, change: (xml: string) => string, keepSignature = false): Uint8Array {
  const parts = unzipSync(bytes);
  parts[part] = new TextEncoder().encode(change(new TextDecoder().decode(parts[part])));
  const names = readDirectory(bytes).map((entry) => entry.name);
  return writePackage(
    names.filter((name) => keepSignature || name !== PACKAGE_PART).map((name) => ({ name, content: parts[name] as Uint8Array })),
  );
}

/** The same parts packed by another program. */
export const repack = (bytes: Uint8Array): Uint8Array => zipSync(unzipSync(bytes), { level: 9 });

export function flipBit(bytes: Uint8Array, bit: number): Uint8Array {
  const flipped = bytes.slice();
  flipped[bit >> 3] = (flipped[bit >> 3] as number) ^ (1 << (bit & 7));
  return flipped;
}
