/**
 * Seals a PDF by one update behind its last byte: the signed statement as an attached file, and a signature over the whole file
 * (PAdES baseline B). Nothing that was there is touched. @source ISO 32000-1, 7.5.6 and 12.8; ETSI EN 319 142-1
 */
import { fromLatin1, hex, latin1 } from "../../core/seal/bytes.ts";
import { canonicalJson } from "../../core/seal/canonical.ts";
import { signedAttributes, writeCms } from "../../core/seal/cms.ts";
import { attachmentsOf, pagesOf, readPdfContent } from "../../core/seal/pdf-content.ts";
import { catalogOf, PdfFile } from "../../core/seal/pdf-file.ts";
import { dictionary, isArray, isKind, name, type PdfDictionary, type PdfValue, reference, serialize } from "../../core/seal/pdf-objects.ts";
import { blocksOf, RECORD_NAME, SEAL_MARK, SEAL_NAME } from "../../core/seal/statement.ts";
import type { SealKey } from "./keys.ts";
import { nodeCryptography } from "./node-cryptography.ts";
import { recordInside, type Sealing, sealText } from "./statement.ts";

/** Bytes kept free for the signature; ours has about 2,000. */
const SIGNATURE_BYTES = 4096;
const NUMBER = "0000000000";
/** Print and Locked. A hidden widget would break PDF/A (ISO 19005-3, 6.3.2). */
const WIDGET_FLAGS = 132;

const text = (value: string): PdfValue => {
  const bytes: number[] = /^[\x20-\x7e]*$/.test(value) ? [] : [0xfe, 0xff];
  for (let i = 0; i < value.length; i += 1) {
    if (bytes.length > 0 && bytes[0] === 0xfe) bytes.push(value.charCodeAt(i) >> 8);
    bytes.push(value.charCodeAt(i) & 255);
  }
  return { kind: "text", bytes: Uint8Array.from(bytes) };
};

const pdfDate = (iso: string): string => `D:${iso.slice(0, 19).replaceAll(/[-:T]/g, "")}+00'00'`;

const changed = (entries: ReadonlyMap<string, PdfValue>, changes: Readonly<Record<string, PdfValue>>): PdfDictionary => ({
  kind: "dictionary",
  entries: new Map([...entries, ...Object.entries(changes)]),
});

/** Objects of an update with their places. */
class Update {
  readonly #base: Uint8Array;
  #body: string;
  readonly #offsets = new Map<number, number>();
  #next: number;

  constructor(base: Uint8Array, next: number) {
    this.#base = base;
    this.#next = next;
    this.#body = `${base.at(-1) === 10 ? "" : "\n"}%${SEAL_MARK}\n`;
  }

  take(): number {
    this.#next += 1;
    return this.#next - 1;
  }

  put(number: number, value: PdfValue): void {
    this.raw(number, serialize(value));
  }

  raw(number: number, body: string): void {
    this.#offsets.set(number, this.#base.length + this.#body.length);
    this.#body += `${number} 0 obj\n${body}\nendobj\n`;
  }

  attach(number: number, content: Uint8Array, at: string): void {
    const entries = dictionary({
      Type: name("EmbeddedFile"),
      Subtype: name("application/json"),
      Length: content.length,
      Params: dictionary({ Size: content.length, ModDate: text(pdfDate(at)) }),
    });
    this.raw(number, `${serialize(entries)}\nstream\n${latin1(content)}\nendstream`);
  }

  /** The whole file with its new table, in the manner of the one before. */
  finish(file: PdfFile): Uint8Array {
    const kept = [...file.trailer].filter(([key]) => ["Root", "Info", "ID"].includes(key));
    const table = file.usesStreams ? this.take() : undefined;
    const at = this.#base.length + this.#body.length;
    if (table !== undefined) this.#offsets.set(table, at);
    const trailer = { Size: this.#next, Prev: file.newestSection, ...Object.fromEntries(kept) };
    const numbers = [...this.#offsets.keys()].sort((a, b) => a - b);
    let section: string;
    if (table === undefined) {
      const rows = numbers.map((number) => `${number} 1\n${String(this.#offsets.get(number)).padStart(10, "0")} 00000 n \n`);
      section = `xref\n${rows.join("")}trailer\n${serialize(dictionary(trailer))}\n`;
    } else {
      const entry = (offset: number): string =>
        String.fromCharCode(1, (offset >> 24) & 255, (offset >> 16) & 255, (offset >> 8) & 255, offset & 255, 0);
      const data = numbers.map((number) => entry(this.#offsets.get(number) as number)).join("");
      const head = { Type: name("XRef"), W: [1, 4, 1], Index: numbers.flatMap((number) => [number, 1]), Length: data.length, ...trailer };
      section = `${table} 0 obj\n${serialize(dictionary(head))}\nstream\n${data}\nendstream\nendobj\n`;
    }
    const added = fromLatin1(`${this.#body}${section}startxref\n${at}\n%%EOF\n`);
    const whole = new Uint8Array(this.#base.length + added.length);
    whole.set(this.#base);
    whole.set(added, this.#base.length);
    return whole;
  }
}

/** @throws PdfProblem on a file that does not hold together; Error where it is sealed already */
export async function sealPdf(base: Uint8Array, sealing: Sealing, key: SealKey): Promise<Uint8Array> {
  const file = new PdfFile(base);
  const attached = attachmentsOf(file);
  if (attached.has(`${SEAL_NAME}.json`)) throw new Error(`document ${sealing.number}: is sealed already`);
  const certificate = hex(await nodeCryptography.sha256(key.certificate));
  const held = attached.get(`${RECORD_NAME}.json`);
  const seal = await sealText(
    "pdf",
    held === undefined ? sealing : { ...sealing, record: recordInside(held, sealing) },
    key,
    await readPdfContent(file, nodeCryptography),
    {
      certificate,
      base: await blocksOf(base, nodeCryptography),
    },
  );
  const update = new Update(base, file.size);
  const files: { readonly name: string; readonly number: number }[] = [
    attach(update, `${SEAL_NAME}.json`, seal, `Seal of the record (${SEAL_MARK})`, "Supplement", sealing.issuedAt),
  ];
  const record = `${RECORD_NAME}.json`;
  if (!attached.has(record))
    files.push(
      attach(update, record, fromLatin1(utf8AsLatin(canonicalJson(sealing.record))), "Record of the document", "Data", sealing.issuedAt),
    );
  const catalog = catalogOf(file).entries;
  if (file.dictionary(catalog.get("AcroForm")).size > 0) throw new Error(`document ${sealing.number}: holds a form already`);
  const [signature, widget] = [update.take(), update.take()];
  const root = file.trailer.get("Root");
  const page = pagesOf(file)[0];
  if (!isKind(root, "reference") || !isKind(page?.reference, "reference"))
    throw new Error(`document ${sealing.number}: no catalog or no page`);
  update.put(
    root.number,
    changed(catalog, { ...withFiles(file, catalog, files), AcroForm: dictionary({ Fields: [reference(widget)], SigFlags: 3 }) }),
  );
  const own = file.dictionary(page.reference);
  update.put(page.reference.number, changed(own, { Annots: [...file.array(own.get("Annots")), reference(widget)] }));
  update.put(
    widget,
    dictionary({
      Type: name("Annot"),
      Subtype: name("Widget"),
      FT: name("Sig"),
      T: text("Seal"),
      TU: text(`Seal of ${sealing.lab}`),
      Rect: [0, 0, 0, 0],
      F: WIDGET_FLAGS,
      P: page.reference,
      V: reference(signature),
    }),
  );
  const head = dictionary({
    Type: name("Sig"),
    Filter: name("Adobe.PPKLite"),
    SubFilter: name("ETSI.CAdES.detached"),
    Name: text(sealing.lab),
    M: text(pdfDate(sealing.issuedAt)),
  });
  const gap = `<${"0".repeat(SIGNATURE_BYTES * 2)}>`;
  update.raw(signature, `${serialize(head).slice(0, -2)} /ByteRange [0 ${NUMBER} ${NUMBER} ${NUMBER}] /Contents ${gap}>>`);
  return signWhole(update.finish(file), base.length, gap.length, key);
}

const utf8AsLatin = (value: string): string => Buffer.from(value, "utf8").toString("latin1");

function attach(
  update: Update,
  called: string,
  content: Uint8Array,
  description: string,
  relationship: "Data" | "Supplement",
  at: string,
): { readonly name: string; readonly number: number } {
  const [stream, number] = [update.take(), update.take()];
  update.attach(stream, content, at);
  update.put(
    number,
    dictionary({
      Type: name("Filespec"),
      F: text(called),
      UF: text(called),
      Desc: text(description),
      AFRelationship: name(relationship),
      EF: dictionary({ F: reference(stream), UF: reference(stream) }),
    }),
  );
  return { name: called, number };
}

/** The tree of attached files, flat and sorted (ISO 32000-1, 7.9.6), and the list of associated files. */
function withFiles(
  file: PdfFile,
  catalog: ReadonlyMap<string, PdfValue>,
  added: readonly { readonly name: string; readonly number: number }[],
): Readonly<Record<string, PdfValue>> {
  const names = file.dictionary(catalog.get("Names"));
  const tree = file.dictionary(names.get("EmbeddedFiles"));
  if (tree.has("Kids")) throw new Error("attached files in more than one list");
  const pairs: { readonly key: string; readonly value: readonly [PdfValue, PdfValue] }[] = added.map((one) => ({
    key: one.name,
    value: [text(one.name), reference(one.number)],
  }));
  const held = file.array(tree.get("Names"));
  for (let i = 0; i + 1 < held.length; i += 2) {
    const [label, value] = [file.resolve(held[i]), held[i + 1] as PdfValue];
    if (isKind(label, "text")) pairs.push({ key: latin1(label.bytes), value: [label, value] });
  }
  pairs.sort((a, b) => (a.key < b.key ? -1 : 1));
  const associated = file.resolve(catalog.get("AF"));
  return {
    Names: changed(names, { EmbeddedFiles: dictionary({ Names: pairs.flatMap((pair) => pair.value) }) }),
    AF: [...(isArray(associated) ? associated : []), ...added.map((one) => reference(one.number))],
  };
}

/** Fills in the byte range and the signature; nothing moves. */
async function signWhole(whole: Uint8Array, from: number, gapLength: number, key: SealKey): Promise<Uint8Array> {
  const tail = latin1(whole, from);
  const gapAt = from + tail.indexOf("/Contents <") + "/Contents ".length;
  const rangeAt = from + tail.indexOf(`[0 ${NUMBER}`);
  const range = `[0 ${[gapAt, gapAt + gapLength, whole.length - gapAt - gapLength].map((n) => String(n).padStart(NUMBER.length, " ")).join(" ")}]`;
  whole.set(fromLatin1(range), rangeAt);
  const signed = new Uint8Array(whole.length - gapLength);
  signed.set(whole.subarray(0, gapAt));
  signed.set(whole.subarray(gapAt + gapLength), gapAt);
  const attributes = signedAttributes(await nodeCryptography.sha256(signed), await nodeCryptography.sha256(key.certificate));
  const cms = writeCms(attributes, key.certificate, key.signFile(attributes));
  if (cms.length > SIGNATURE_BYTES) throw new Error(`the signature has ${cms.length} bytes; ${SIGNATURE_BYTES} are kept free`);
  whole.set(fromLatin1(hex(cms)), gapAt + 1);
  return whole;
}
