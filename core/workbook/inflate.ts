import { Inflate } from "fflate";
import { LIMITS, RefusedWorkbook, refuse } from "./limits.ts";
import type { PackageEntry } from "./package-entry.ts";

/** So small that even the densest input unpacks to a few MiB between two looks at the limits. */
const STEP = 8 * 1024;
const MEBIBYTE = 1024 * 1024;

/**
 * Unpacks one part piece by piece; no more than a piece is held.
 * @param sink gets each piece; it is valid only during the call
 * @throws RefusedWorkbook beyond the limits, on a wrong length or checksum; by then the sink has seen the wrong pieces
 */
export function inflateInto(bytes: Uint8Array, entry: PackageEntry, sink: (piece: Uint8Array) => void): void {
  const packed = bytes.subarray(entry.dataStart, entry.dataStart + entry.compressedSize);
  if (entry.size > LIMITS.partBytes)
    refuse("too-large", `The part ${entry.name} unpacks to ${entry.size} bytes; at most ${LIMITS.partBytes / MEBIBYTE} MiB are accepted.`);
  let total = 0;
  let crc = CRC_START;
  const take = (piece: Uint8Array): void => {
    total += piece.length;
    if (total > entry.size) refuse("damaged-package", `The part ${entry.name} is longer than the directory of the package says.`);
    if (total > LIMITS.ratioFromBytes && total > packed.length * LIMITS.ratio)
      refuse(
        "too-dense",
        `The part ${entry.name} unpacks to more than ${LIMITS.ratio} times its size; at most ${LIMITS.ratio} are accepted.`,
      );
    crc = crcOf(piece, crc);
    sink(piece);
  };
  if (entry.method === 0) for (let at = 0; at < packed.length; at += STEP * 8) take(packed.subarray(at, at + STEP * 8));
  else unpack(packed, entry, take);
  if (total !== entry.size) refuse("damaged-package", `The part ${entry.name} is shorter than the directory of the package says.`);
  if ((crc ^ CRC_START) >>> 0 !== entry.crc)
    refuse("wrong-checksum", `The part ${entry.name} is damaged (its checksum is wrong). Save the workbook again.`);
}

function unpack(packed: Uint8Array, entry: PackageEntry, take: (piece: Uint8Array) => void): void {
  const stream = new Inflate((piece) => take(piece));
  try {
    for (let at = 0; at < packed.length; at += STEP) stream.push(packed.subarray(at, at + STEP), at + STEP >= packed.length);
  } catch (error) {
    // What the sink refuses is thrown through the library; everything else is the library's own complaint about the bytes.
    if (error instanceof RefusedWorkbook || !isInflateError(error)) throw error;
    refuse("damaged-package", `The part ${entry.name} cannot be unpacked. Save the workbook again.`);
  }
}

/** The library's errors carry a number as `code`; a length or index it cannot bear is a RangeError. */
const isInflateError = (error: unknown): boolean => error instanceof RangeError || typeof (error as { code?: unknown }).code === "number";

/** The whole content of one part. @throws RefusedWorkbook as `inflateInto` does */
export function inflateEntry(bytes: Uint8Array, entry: PackageEntry): Uint8Array {
  const pieces: Uint8Array[] = [];
  let total = 0;
  inflateInto(bytes, entry, (piece) => {
    pieces.push(piece.slice());
    total += piece.length;
  });
  const content = new Uint8Array(total);
  let at = 0;
  for (const piece of pieces) {
    content.set(piece, at);
    at += piece.length;
  }
  return content;
}

const CRC_START = 0xffffffff;

/** Four tables, so that four bytes are taken at a time. */
const CRC_TABLES = (() => {
  const tables = [0, 1, 2, 3].map(() => new Int32Array(256)) as [Int32Array, Int32Array, Int32Array, Int32Array];
  for (let n = 0; n < 256; n += 1) {
    let c = n;
    for (let k = 0; k < 8; k += 1) c = c & 1 ? 0xedb88320 ^ (c >>> 1) : c >>> 1;
    tables[0][n] = c;
  }
  for (let n = 0; n < 256; n += 1)
    for (let t = 1; t < 4; t += 1) {
      const before = tables[t - 1]?.[n] as number;
      (tables[t] as Int32Array)[n] = (tables[0][before & 0xff] as number) ^ (before >>> 8);
    }
  return tables;
})();

function crcOf(bytes: Uint8Array, start: number): number {
  const [t0, t1, t2, t3] = CRC_TABLES;
  let c = start | 0;
  let i = 0;
  for (const end = bytes.length - 3; i < end; i += 4) {
    c ^= (bytes[i] as number) | ((bytes[i + 1] as number) << 8) | ((bytes[i + 2] as number) << 16) | ((bytes[i + 3] as number) << 24);
    c = (t3[c & 0xff] as number) ^ (t2[(c >>> 8) & 0xff] as number) ^ (t1[(c >>> 16) & 0xff] as number) ^ (t0[c >>> 24] as number);
  }
  for (; i < bytes.length; i += 1) c = (t0[(c ^ (bytes[i] as number)) & 0xff] as number) ^ (c >>> 8);
  return c;
}

/** CRC-32 as ZIP uses it. @source PKWARE APPNOTE 6.3, 4.4.7 (reflected polynomial 0xedb88320, start and end complemented) */
export const crc32 = (bytes: Uint8Array): number => (crcOf(bytes, CRC_START) ^ CRC_START) >>> 0;
