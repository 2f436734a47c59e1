/** A printed PDF as its numbered objects, to be changed and written again. Only what the browser's printer writes is understood. */
import { deflateSync, inflateSync } from "node:zlib";
import { dictionaryOf, entriesOf } from "./syntax.ts";

export interface PdfFile {
  /** Bodies between `obj` and `endobj`, by number. */
  readonly objects: Map<number, Buffer>;
  readonly trailer: Map<string, string>;
}

const latin = (text: string): Buffer => Buffer.from(text, "latin1");

/** @throws Error where the file has no plain cross-reference table */
export function readPdf(bytes: Uint8Array): PdfFile {
  const file = Buffer.from(bytes.buffer, bytes.byteOffset, bytes.byteLength);
  const start = /startxref\s+(\d+)\s+%%EOF\s*$/.exec(file.subarray(-64).toString("latin1"))?.[1];
  const table = file.subarray(Number(start)).toString("latin1");
  const head = /^xref\n0 (\d+)\n/.exec(table);
  if (start === undefined || head === null) throw new Error("printed page: no cross-reference table at its end");
  const offsets: { readonly number: number; readonly at: number }[] = [];
  for (let number = 1; number < Number(head[1]); number += 1) {
    const entry = table.slice(head[0].length + number * 20, head[0].length + number * 20 + 18);
    if (entry.endsWith("n")) offsets.push({ number, at: Number(entry.slice(0, 10)) });
  }
  offsets.sort((a, b) => a.at - b.at);
  const objects = new Map<number, Buffer>();
  offsets.forEach(({ number, at }, index) => {
    const whole = file.subarray(at, offsets[index + 1]?.at ?? Number(start));
    const from = whole.indexOf(" obj") + 5;
    const to = whole.lastIndexOf("endobj");
    if (from < 5 || to < from) throw new Error(`printed page: object ${number} has no end`);
    objects.set(number, whole.subarray(from, to));
  });
  return { objects, trailer: entriesOf(table.slice(table.indexOf("trailer") + 7)) };
}

export const nextNumber = (file: PdfFile): number => Math.max(...file.objects.keys()) + 1;

/** @throws Error where there is no such object, or it is no dictionary */
export function dictionaryAt(file: PdfFile, number: number): Map<string, string> {
  const body = file.objects.get(number);
  if (body === undefined) throw new Error(`printed page: object ${number} is missing`);
  const stream = body.indexOf("stream");
  return entriesOf(body.subarray(0, stream < 0 ? body.length : stream).toString("latin1"));
}

export function setDictionary(file: PdfFile, number: number, entries: ReadonlyMap<string, string>): void {
  file.objects.set(number, latin(`${dictionaryOf(entries)}\n`));
}

/** @throws Error on a stream that is neither plain nor deflated */
export function streamAt(file: PdfFile, number: number): Buffer {
  const entries = dictionaryAt(file, number);
  const body = file.objects.get(number) as Buffer;
  const from = body.indexOf("stream") + 6;
  const begin = from + (body[from] === 0x0d ? 2 : 1);
  const raw = body.subarray(begin, begin + Number(entries.get("Length")));
  const filter = entries.get("Filter");
  if (filter === undefined) return raw;
  if (filter !== "/FlateDecode") throw new Error(`printed page: object ${number} has the filter ${filter}; accepted is /FlateDecode`);
  return inflateSync(raw);
}

export function setStream(
  file: PdfFile,
  number: number,
  content: Uint8Array,
  entries: ReadonlyMap<string, string>,
  deflate: boolean,
): void {
  const bytes = deflate ? deflateSync(content) : content;
  const dictionary = new Map(entries);
  dictionary.delete("Filter");
  if (deflate) dictionary.set("Filter", "/FlateDecode");
  dictionary.set("Length", String(bytes.length));
  file.objects.set(number, Buffer.concat([latin(`${dictionaryOf(dictionary)}\nstream\n`), bytes, latin("\nendstream\n")]));
}

/** Objects by number, one cross-reference table. @param identifier makes the file's ID out of everything before the table */
export function writePdf(file: PdfFile, identifier: (body: Buffer) => string): Uint8Array {
  // Four bytes above 127 tell transfer programs that the file is binary (ISO 32000-1, 7.5.2).
  const parts: Buffer[] = [latin("%PDF-1.7\n%\xd3\xeb\xe9\xe1\n")];
  let at = parts[0]?.length ?? 0;
  const numbers = [...file.objects.keys()].sort((a, b) => a - b);
  const offsets = new Map<number, number>();
  for (const number of numbers) {
    const head = latin(`${number} 0 obj\n`);
    const body = file.objects.get(number) as Buffer;
    const foot = latin("endobj\n");
    offsets.set(number, at);
    parts.push(head, body, foot);
    at += head.length + body.length + foot.length;
  }
  const size = (numbers.at(-1) ?? 0) + 1;
  let table = `xref\n0 ${size}\n`;
  for (let number = 0; number < size; number += 1) {
    const offset = offsets.get(number);
    table += offset === undefined ? "0000000000 65535 f \n" : `${String(offset).padStart(10, "0")} 00000 n \n`;
  }
  const id = `<${identifier(Buffer.concat(parts))}>`;
  const trailer = new Map(file.trailer);
  trailer.set("Size", String(size));
  trailer.set("ID", `[${id} ${id}]`);
  trailer.delete("Prev");
  return new Uint8Array(Buffer.concat([...parts, latin(`${table}trailer\n${dictionaryOf(trailer)}\nstartxref\n${at}\n%%EOF\n`)]));
}
