/**
 * The gate in front of every upload. Nothing a package says of itself is believed: sizes are counted while inflating,
 * checksums are computed, names are looked at, and whatever does not fit is refused with a sentence for a clerk.
 */

import { PORTABLE } from "./codec.ts";
import { refuseOtherKinds } from "./file-kinds.ts";
import { inflateEntry } from "./inflate.ts";
import { LIMITS, refuse, SAVE_AS, shown } from "./limits.ts";
import type { PackageEntry } from "./package-entry.ts";

const view = (bytes: Uint8Array): DataView => new DataView(bytes.buffer, bytes.byteOffset, bytes.byteLength);

const [LOCAL, CENTRAL, END, END64, LOCATOR64] = [0x04034b50, 0x02014b50, 0x06054b50, 0x06064b50, 0x07064b50] as const;

/** Offset of the end-of-central-directory record, or −1. An archive comment behind it is harmless. */
function findEnd(bytes: Uint8Array): number {
  const data = view(bytes);
  for (let at = bytes.length - 22; at >= Math.max(0, bytes.length - 65557); at -= 1)
    if (data.getUint32(at, true) === END && at + 22 + data.getUint16(at + 20, true) === bytes.length) return at;
  return -1;
}

/** True once the end record is readable and its directory lies inside the file: what intake waits for. */
export function isCompletePackage(bytes: Uint8Array): boolean {
  if (bytes.length < 22) return false;
  const end = findEnd(bytes);
  if (end < 0) return false;
  const data = view(bytes);
  const [size, start] = [data.getUint32(end + 12, true), data.getUint32(end + 16, true)];
  // With 64-bit sizes the figures stand elsewhere; the file has its end, the gate judges the rest.
  return size === 0xffffffff || start === 0xffffffff || start + size <= end;
}

interface Directory {
  readonly count: number;
  readonly start: number;
  readonly end: number;
}

function locateDirectory(bytes: Uint8Array, data: DataView): Directory {
  const end = findEnd(bytes);
  if (end < 0) return refuse("truncated", "The workbook is cut off: its end is missing. Copy or save it again.");
  const [count, size, start] = [data.getUint16(end + 10, true), data.getUint32(end + 12, true), data.getUint32(end + 16, true)];
  if (end >= 20 && data.getUint32(end - 20, true) === LOCATOR64) return locateDirectory64(data, end - 20);
  if (data.getUint32(end + 4, true) !== 0 || data.getUint16(end + 8, true) !== count)
    return refuse("damaged-package", "The package is split over several disks; a workbook in one file is accepted.");
  return bounded(data, { count, start, size, end });
}

function locateDirectory64(data: DataView, locator: number): Directory {
  const at = whole(data, locator + 8);
  if (at + 56 > locator || data.getUint32(at, true) !== END64 || at + 12 + whole(data, at + 4) !== locator)
    return refuse("damaged-package", "The 64-bit end record of the package is damaged. Save the workbook again.");
  const count = whole(data, at + 32);
  if (data.getUint32(at + 16, true) !== 0 || data.getUint32(at + 20, true) !== 0 || whole(data, at + 24) !== count)
    return refuse("damaged-package", "The package is split over several disks; a workbook in one file is accepted.");
  return bounded(data, { count, start: whole(data, at + 48), size: whole(data, at + 40), end: at });
}

/** A 64-bit figure; beyond 2^53 it is inexact and beyond every limit. */
const whole = (data: DataView, at: number): number => data.getUint32(at, true) + data.getUint32(at + 4, true) * 2 ** 32;

function bounded(data: DataView, { count, start, size, end }: Directory & { readonly size: number }): Directory {
  if (count > LIMITS.entries)
    return refuse("too-many-entries", `The package holds ${count} parts; at most ${LIMITS.entries} are accepted.`);
  if (start + size !== end) {
    const shifted = size >= 46 && size <= end && data.getUint32(end - size, true) === CENTRAL;
    if (shifted) return refuse("junk-before-package", JUNK);
    return refuse("damaged-package", "The directory of the package does not fit the file. Save the workbook again.");
  }
  return { count, start, end };
}

const JUNK =
  "There is something in front of the first part of the package; a package that begins with its first part is accepted. Save the workbook again.";

/**
 * The entries in the order of the central directory, every trick refused.
 * @throws RefusedWorkbook
 */
export function readDirectory(bytes: Uint8Array): readonly PackageEntry[] {
  const data = view(bytes);
  const isZip = bytes.length >= 2 && data.getUint16(0) === 0x504b;
  if (!isZip && bytes.length <= LIMITS.fileBytes && isCompletePackage(bytes) && holdsDirectory(bytes, data))
    refuse("junk-before-package", JUNK);
  refuseOtherKinds(bytes);
  const directory = locateDirectory(bytes, data);
  const entries: PackageEntry[] = [];
  const names = new Set<string>();
  let at = directory.start;
  let sum = 0;
  for (let i = 0; i < directory.count; i += 1) {
    const { entry, next } = readEntry(bytes, data, at, directory);
    at = next;
    // A folder entry ends in a slash; it must not stand for a part of the same name.
    const folded = entry.name.normalize("NFC").toLowerCase().replace(/\/$/, "");
    if (names.has(folded)) refuse("doubled-entry", `The package holds the part ${shown(entry.name)} twice; each name is accepted once.`);
    names.add(folded);
    entries.push(entry);
    sum += entry.size;
  }
  if (at !== directory.end) refuse("damaged-package", "The directory of the package does not end where it says. Save the workbook again.");
  if (sum > LIMITS.allBytes)
    refuse("too-large", `The workbook unpacks to ${sum} bytes; at most ${LIMITS.allBytes} (512 MiB) are accepted.`);
  refuseOverlaps(entries);
  refuseContents(entries, bytes);
  return entries;
}

function holdsDirectory(bytes: Uint8Array, data: DataView): boolean {
  const end = findEnd(bytes);
  const size = data.getUint32(end + 12, true);
  return size >= 46 && size <= end && data.getUint32(end - size, true) === CENTRAL;
}

function readEntry(bytes: Uint8Array, data: DataView, at: number, directory: Directory): { entry: PackageEntry; next: number } {
  const damaged = (): never => refuse("damaged-package", "The directory of the package is damaged. Save the workbook again.");
  if (at + 46 > directory.end || data.getUint32(at, true) !== CENTRAL) return damaged();
  const flags = data.getUint16(at + 8, true);
  const method = data.getUint16(at + 10, true);
  const nameEnd = at + 46 + data.getUint16(at + 28, true);
  const extraEnd = nameEnd + data.getUint16(at + 30, true);
  const next = extraEnd + data.getUint16(at + 32, true);
  if (next > directory.end) return damaged();
  const decoder = new TextDecoder("utf-8", { ignoreBOM: true });
  const name = decoder.decode(bytes.subarray(at + 46, nameEnd));
  const externalAttributes = data.getUint32(at + 38, true);
  checkName(name, externalAttributes);
  if (method !== 0 && method !== 8)
    refuse("unknown-method", `The part ${shown(name)} is packed with method ${method}; stored (0) and deflate (8) are accepted.`);
  const { size, compressedSize, localStart } = sizes(data, at, nameEnd, extraEnd) ?? damaged();
  if (localStart + 30 > directory.start || data.getUint32(localStart, true) !== LOCAL)
    return refuse("damaged-package", `The part ${shown(name)} is not where the directory says. Save the workbook again.`);
  if (((flags | data.getUint16(localStart + 6, true)) & 0x2041) !== 0)
    refuse("encrypted-entry", `The part ${shown(name)} is encrypted. ${SAVE_AS}`);
  const localNameEnd = localStart + 30 + data.getUint16(localStart + 26, true);
  const dataStart = localNameEnd + data.getUint16(localStart + 28, true);
  if (dataStart + compressedSize > directory.start)
    return refuse("damaged-package", `The part ${shown(name)} runs into the directory. Save the workbook again.`);
  if (decoder.decode(bytes.subarray(localStart + 30, localNameEnd)) !== name || data.getUint16(localStart + 8, true) !== method)
    return refuse("damaged-package", `The part ${shown(name)} has another name or method in its own header. Save the workbook again.`);
  if (method === 0 && size !== compressedSize)
    return refuse("damaged-package", `The part ${shown(name)} is stored with two different lengths. Save the workbook again.`);
  const entry: PackageEntry = {
    name,
    method: method as 0 | 8,
    crc: data.getUint32(at + 16, true),
    compressedSize,
    size,
    dataStart,
    localStart,
    localEnd: dataStart + compressedSize,
    time: data.getUint32(at + 12, true),
    externalAttributes,
  };
  return { next, entry };
}

/** Sizes and place of an entry. @source PKWARE APPNOTE 6.3, 4.5.3: 64-bit figures stand in extra field 1, only those marked, in this order */
function sizes(
  data: DataView,
  at: number,
  from: number,
  to: number,
): { size: number; compressedSize: number; localStart: number } | undefined {
  const figures = [data.getUint32(at + 24, true), data.getUint32(at + 20, true), data.getUint32(at + 42, true)];
  if (figures.includes(0xffffffff)) {
    let field = from;
    while (field + 4 <= to && data.getUint16(field, true) !== 1) field += 4 + data.getUint16(field + 2, true);
    if (field + 4 > to) return undefined;
    const fieldEnd = field + 4 + data.getUint16(field + 2, true);
    let place = field + 4;
    for (let i = 0; i < 3; i += 1) {
      if (figures[i] !== 0xffffffff) continue;
      if (place + 8 > Math.min(fieldEnd, to)) return undefined;
      figures[i] = whole(data, place);
      place += 8;
    }
  }
  const [size, compressedSize, localStart] = figures as [number, number, number];
  return { size, compressedSize, localStart };
}

function checkName(name: string, attributes: number): void {
  const bad =
    name === "" ||
    name.startsWith("/") ||
    /[\\\u0000-\u001f\u007f\ufffd]/.test(name) ||
    /^[A-Za-z]:/.test(name) ||
    name.split("/").some((step) => step === ".." || step === ".");
  const link = ((attributes >>> 16) & 0xf000) === 0xa000;
  if (bad || link)
    refuse(
      "bad-entry-name",
      `The package holds a part with a name that is not allowed: "${shown(name)}"${link ? ", a link" : ""}; plain relative names are accepted.`,
    );
}

function refuseOverlaps(entries: readonly PackageEntry[]): void {
  const sorted = [...entries].sort((a, b) => a.localStart - b.localStart);
  let end = 0;
  for (const entry of sorted) {
    if (end === 0 && entry.localStart !== 0) refuse("junk-before-package", JUNK);
    if (entry.localStart < end)
      refuse("overlapping-entry", `The part ${shown(entry.name)} overlaps another part. Save the workbook again.`);
    end = entry.localEnd;
  }
}

function refuseContents(entries: readonly PackageEntry[], bytes: Uint8Array): void {
  const names = new Set(entries.map((entry) => entry.name.toLowerCase()));
  if ([...names].some((name) => name.endsWith("vbaproject.bin") || name.startsWith("xl/macrosheets/")))
    refuse("macro-carrying", `The workbook carries macros. ${SAVE_AS}`);
  const mimetype = entries.find((entry) => entry.name === "mimetype");
  const kind = mimetype !== undefined && mimetype.size < 256 ? new TextDecoder().decode(inflateEntry(bytes, mimetype, PORTABLE)) : "";
  if (kind.includes("opendocument") || (names.has("content.xml") && names.has("meta-inf/manifest.xml")))
    refuse("opendocument", `The file is an OpenDocument file (.ods). ${SAVE_AS}`);
  if (names.has("encryptedpackage")) refuse("password-protected", `The workbook is protected with a password. ${SAVE_AS}`);
  if (!names.has("[content_types].xml")) refuse("not-a-workbook", `The file is a ZIP archive, but no .xlsx workbook. ${SAVE_AS}`);
}
