/**
 * The gate in front of every upload. Nothing a package says of itself is believed: sizes are counted while inflating,
 * checksums are computed, names are looked at, and whatever does not fit is refused with a sentence for a clerk.
 */
import { Inflate } from "fflate";
import type { Refusal } from "../model.ts";

export const LIMITS = {
  fileBytes: 64 * 1024 * 1024,
  partBytes: 256 * 1024 * 1024,
  allBytes: 512 * 1024 * 1024,
  /** Counts from 1 MiB of content on; small parts may be as dense as they like. */
  ratio: 200,
  ratioFromBytes: 1024 * 1024,
  entries: 2000,
} as const;

export interface PackageEntry {
  readonly name: string;
  readonly method: 0 | 8;
  readonly crc: number;
  readonly compressedSize: number;
  readonly size: number;
  /** Offset of the compressed bytes. */
  readonly dataStart: number;
  /** Offset and length of the whole local record, to carry it over untouched. */
  readonly localStart: number;
  readonly localEnd: number;
  readonly flags: number;
  readonly time: number;
  readonly externalAttributes: number;
}

export class RefusedWorkbook extends Error {
  override name = "RefusedWorkbook";
  readonly refusal: Refusal;
  constructor(code: string, text: string) {
    super(text);
    this.refusal = { code, text };
  }
}

const refuse = (code: string, text: string): never => {
  throw new RefusedWorkbook(code, text);
};

const SAVE_AS = "Open it in the spreadsheet program and save it as Excel workbook (.xlsx) without password and macros.";

const startsWith = (bytes: Uint8Array, signature: readonly number[]): boolean => signature.every((value, index) => bytes[index] === value);

/** Refuses everything that is no ZIP, saying what it is. */
export function refuseOtherKinds(bytes: Uint8Array): void {
  if (bytes.length === 0) refuse("empty-file", "The file is empty. Save the workbook again and drop it again.");
  if (bytes.length > LIMITS.fileBytes)
    refuse("too-large", `The file has ${bytes.length} bytes; at most ${LIMITS.fileBytes} (64 MiB) are accepted.`);
  if (startsWith(bytes, [0xd0, 0xcf, 0x11, 0xe0, 0xa1, 0xb1, 0x1a, 0xe1])) {
    const encrypted = includesAscii(
      bytes,
      "E\u0000n\u0000c\u0000r\u0000y\u0000p\u0000t\u0000e\u0000d\u0000P\u0000a\u0000c\u0000k\u0000a\u0000g\u0000e",
      1 << 20,
    );
    if (encrypted) refuse("password-protected", `The workbook is protected with a password. ${SAVE_AS}`);
    refuse("old-format", `The file is an old .xls workbook. ${SAVE_AS}`);
  }
  if (!startsWith(bytes, [0x50, 0x4b])) {
    const head = new TextDecoder("latin1")
      .decode(bytes.subarray(0, 512))
      .replace(/^[\u00ef\u00bb\u00bf\s]+/, "")
      .toLowerCase();
    if (head.startsWith("<!doctype html") || head.startsWith("<html"))
      refuse("html-file", `The file is a web page under an .xlsx name. ${SAVE_AS}`);
    if (head.startsWith("<?xml") || head.startsWith("<")) refuse("xml-file", `The file is plain XML under an .xlsx name. ${SAVE_AS}`);
    if (/^[\x20-\x7e\t\r\n]*$/.test(head) && /[;,\t]/.test(head))
      refuse("csv-file", `The file is a text table (CSV) under an .xlsx name. ${SAVE_AS}`);
    refuse("not-a-workbook", `The file is no .xlsx workbook. ${SAVE_AS}`);
  }
}

function includesAscii(bytes: Uint8Array, text: string, within: number): boolean {
  const end = Math.min(bytes.length, within) - text.length;
  outer: for (let i = 0; i <= end; i += 1) {
    for (let j = 0; j < text.length; j += 1) if (bytes[i + j] !== text.charCodeAt(j)) continue outer;
    return true;
  }
  return false;
}

const view = (bytes: Uint8Array): DataView => new DataView(bytes.buffer, bytes.byteOffset, bytes.byteLength);

/** Offset of the end-of-central-directory record, or −1. An archive comment behind it is harmless. */
function findEnd(bytes: Uint8Array): number {
  const data = view(bytes);
  for (let at = bytes.length - 22; at >= Math.max(0, bytes.length - 65557); at -= 1)
    if (data.getUint32(at, true) === 0x06054b50 && at + 22 + data.getUint16(at + 20, true) === bytes.length) return at;
  return -1;
}

/** True once the end record is readable and its directory lies inside the file: what intake waits for. */
export function isCompletePackage(bytes: Uint8Array): boolean {
  if (bytes.length < 22) return false;
  const end = findEnd(bytes);
  if (end < 0) return false;
  const data = view(bytes);
  return data.getUint32(end + 12, true) + data.getUint32(end + 16, true) <= end;
}

/** The entries in the order of the central directory, every trick refused. */
export function readDirectory(bytes: Uint8Array): readonly PackageEntry[] {
  refuseOtherKinds(bytes);
  const end = findEnd(bytes);
  if (end < 0) return refuse("truncated", "The workbook is cut off: its end is missing. Copy or save it again.");
  const data = view(bytes);
  const count = data.getUint16(end + 10, true);
  const size = data.getUint32(end + 12, true);
  const start = data.getUint32(end + 16, true);
  if (count === 0xffff || size === 0xffffffff || start === 0xffffffff)
    return refuse("unsupported-package", `The package uses 64-bit sizes, which no workbook of this size needs. ${SAVE_AS}`);
  if (data.getUint16(end + 4, true) !== 0 || data.getUint16(end + 8, true) !== count)
    return refuse("damaged-package", "The package is split over several disks.");
  if (count > LIMITS.entries)
    return refuse("too-many-entries", `The package holds ${count} parts; at most ${LIMITS.entries} are accepted.`);
  if (start + size !== end)
    return refuse("damaged-package", "The directory of the package does not fit the file. Save the workbook again.");
  const entries: PackageEntry[] = [];
  const names = new Set<string>();
  let at = start;
  for (let i = 0; i < count; i += 1) {
    const entry = readEntry(bytes, data, at, end, start);
    at = entry.next;
    const folded = entry.entry.name.toLowerCase();
    if (names.has(folded)) refuse("doubled-entry", `The package holds the part ${entry.entry.name} twice.`);
    names.add(folded);
    entries.push(entry.entry);
  }
  if (at !== end) refuse("damaged-package", "The directory of the package does not end where it says.");
  refuseOverlaps(entries);
  refuseContents(entries, bytes);
  return entries;
}

function readEntry(bytes: Uint8Array, data: DataView, at: number, end: number, directory: number): { entry: PackageEntry; next: number } {
  if (at + 46 > end || data.getUint32(at, true) !== 0x02014b50)
    return refuse("damaged-package", "The directory of the package is damaged. Save the workbook again.");
  const flags = data.getUint16(at + 8, true);
  const method = data.getUint16(at + 10, true);
  const nameLength = data.getUint16(at + 28, true);
  const next = at + 46 + nameLength + data.getUint16(at + 30, true) + data.getUint16(at + 32, true);
  if (next > end) return refuse("damaged-package", "The directory of the package is damaged. Save the workbook again.");
  const name = new TextDecoder("utf-8").decode(bytes.subarray(at + 46, at + 46 + nameLength));
  checkName(name, data.getUint32(at + 38, true));
  if ((flags & 0x2041) !== 0) refuse("encrypted-entry", `The part ${name} is encrypted. ${SAVE_AS}`);
  if (method !== 0 && method !== 8)
    refuse("unknown-method", `The part ${name} is packed with method ${method}; stored and deflate are accepted.`);
  const compressedSize = data.getUint32(at + 20, true);
  const localStart = data.getUint32(at + 42, true);
  if (localStart + 30 > directory || data.getUint32(localStart, true) !== 0x04034b50)
    return refuse("damaged-package", `The part ${name} is not where the directory says.`);
  const localNameLength = data.getUint16(localStart + 26, true);
  const dataStart = localStart + 30 + localNameLength + data.getUint16(localStart + 28, true);
  const localName = new TextDecoder("utf-8").decode(bytes.subarray(localStart + 30, localStart + 30 + localNameLength));
  if (localName !== name) refuse("damaged-package", `The part ${name} has another name in its own header.`);
  if (dataStart + compressedSize > directory) return refuse("damaged-package", `The part ${name} runs into the directory.`);
  return {
    next,
    entry: {
      name,
      method: method as 0 | 8,
      crc: data.getUint32(at + 16, true),
      compressedSize,
      size: data.getUint32(at + 24, true),
      dataStart,
      localStart,
      localEnd: dataStart + compressedSize,
      flags,
      time: data.getUint32(at + 12, true),
      externalAttributes: data.getUint32(at + 38, true),
    },
  };
}

function checkName(name: string, attributes: number): void {
  const bad =
    name === "" ||
    name.startsWith("/") ||
    /[\\\u0000-\u001f\ufffd]/.test(name) ||
    /^[A-Za-z]:/.test(name) ||
    name.split("/").includes("..");
  const link = ((attributes >>> 16) & 0xf000) === 0xa000;
  if (bad || link)
    refuse("bad-entry-name", `The package holds a part with a name that is not allowed: "${name.replaceAll(/[^\x20-\x7e]/g, "?")}".`);
}

function refuseOverlaps(entries: readonly PackageEntry[]): void {
  const sorted = [...entries].sort((a, b) => a.localStart - b.localStart);
  let end = 0;
  for (const entry of sorted) {
    if (end === 0 && entry.localStart !== 0)
      refuse("junk-before-package", "There is something in front of the first part of the package. Save the workbook again.");
    if (entry.localStart < end) refuse("overlapping-entry", `The part ${entry.name} overlaps another part.`);
    end = entry.localEnd;
  }
}

function refuseContents(entries: readonly PackageEntry[], bytes: Uint8Array): void {
  const names = entries.map((entry) => entry.name.toLowerCase());
  if (names.some((name) => name.endsWith("vbaproject.bin") || name.startsWith("xl/macrosheets/")))
    refuse("macro-carrying", `The workbook carries macros. ${SAVE_AS}`);
  const mimetype = entries.find((entry) => entry.name === "mimetype");
  if (mimetype) {
    const kind = new TextDecoder().decode(inflateEntry(bytes, mimetype));
    if (kind.includes("opendocument")) refuse("opendocument", `The file is an OpenDocument file (.ods). ${SAVE_AS}`);
  }
  if (names.includes("encryptedpackage")) refuse("password-protected", `The workbook is protected with a password. ${SAVE_AS}`);
  if (!names.includes("[content_types].xml")) refuse("not-a-workbook", `The file is a ZIP archive, but no .xlsx workbook. ${SAVE_AS}`);
}

/**
 * The content of one part.
 * @throws RefusedWorkbook beyond the limits, on a wrong length or checksum
 */
export function inflateEntry(bytes: Uint8Array, entry: PackageEntry): Uint8Array {
  const packed = bytes.subarray(entry.dataStart, entry.dataStart + entry.compressedSize);
  const content = entry.method === 0 ? packed : inflateWithin(packed, entry);
  if (content.length !== entry.size) refuse("damaged-package", `The part ${entry.name} has another length than the directory says.`);
  if (crc32(content) !== entry.crc)
    refuse("wrong-checksum", `The part ${entry.name} is damaged (its checksum is wrong). Save the workbook again.`);
  return content;
}

function inflateWithin(packed: Uint8Array, entry: PackageEntry): Uint8Array {
  if (entry.size > LIMITS.partBytes) return refuse("too-large", `The part ${entry.name} unpacks to more than 256 MiB.`);
  const chunks: Uint8Array[] = [];
  let total = 0;
  let finished = false;
  const stream = new Inflate((chunk, final) => {
    total += chunk.length;
    if (total > LIMITS.partBytes || total > entry.size) refuse("too-large", `The part ${entry.name} unpacks to more than it says.`);
    if (total > LIMITS.ratioFromBytes && total > packed.length * LIMITS.ratio)
      refuse("too-dense", `The part ${entry.name} unpacks to more than ${LIMITS.ratio} times its size.`);
    chunks.push(chunk);
    finished = final;
  });
  try {
    const step = 64 * 1024;
    for (let at = 0; at < packed.length; at += step) stream.push(packed.subarray(at, at + step), at + step >= packed.length);
  } catch (error) {
    if (error instanceof RefusedWorkbook) throw error;
    return refuse("damaged-package", `The part ${entry.name} cannot be unpacked. Save the workbook again.`);
  }
  if (!finished && packed.length > 0 && total !== entry.size) return refuse("truncated", `The part ${entry.name} is cut off.`);
  const content = new Uint8Array(total);
  let at = 0;
  for (const chunk of chunks) {
    content.set(chunk, at);
    at += chunk.length;
  }
  return content;
}

const CRC_TABLE = Uint32Array.from({ length: 256 }, (_, n) => {
  let c = n;
  for (let k = 0; k < 8; k += 1) c = c & 1 ? 0xedb88320 ^ (c >>> 1) : c >>> 1;
  return c >>> 0;
});

export function crc32(bytes: Uint8Array): number {
  let c = 0xffffffff;
  for (let i = 0; i < bytes.length; i += 1) c = (CRC_TABLE[(c ^ (bytes[i] as number)) & 0xff] as number) ^ (c >>> 8);
  return (c ^ 0xffffffff) >>> 0;
}

/** Text of an XML part: UTF-8 or UTF-16 with its mark; a wrong sequence is refused. */
export function decodeXml(content: Uint8Array, name: string): string {
  const encoding = startsWith(content, [0xff, 0xfe]) ? "utf-16le" : startsWith(content, [0xfe, 0xff]) ? "utf-16be" : "utf-8";
  try {
    return new TextDecoder(encoding, { fatal: true }).decode(content);
  } catch {
    return refuse("malformed-text", `The part ${name} holds text that is not valid ${encoding.toUpperCase()}.`);
  }
}
