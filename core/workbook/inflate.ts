import { Inflate } from "fflate";
import type { Codec } from "./codec.ts";
import { LIMITS, RefusedWorkbook, refuse } from "./limits.ts";
import type { PackageEntry } from "./package-entry.ts";

/** So small that even the densest input unpacks to a few MiB between two looks at the limits. */
const STEP = 8 * 1024;
const MEBIBYTE = 1024 * 1024;

/** Up to here a part is unpacked in one go where the machine can do that; beyond, piece by piece, so that it is never held as a whole. */
export const AT_ONCE = 64 * MEBIBYTE;

/**
 * Unpacks one part; a large one piece by piece, so that no more than a piece is held.
 * @param sink gets each piece; it is valid only during the call
 * @throws RefusedWorkbook beyond the limits, on a wrong length or checksum; by then the sink may have seen the wrong pieces
 */
export function inflateInto(bytes: Uint8Array, entry: PackageEntry, codec: Codec, sink: (piece: Uint8Array) => void): void {
  const packed = packedOf(bytes, entry);
  const whole = atOnce(packed, entry, codec);
  if (whole !== undefined) {
    checkSum(entry, codec.crc32(whole, 0));
    sink(whole);
    return;
  }
  let total = 0;
  let crc = 0;
  const take = (piece: Uint8Array): void => {
    total += piece.length;
    if (total > entry.size) refuse("damaged-package", `The part ${entry.name} is longer than the directory of the package says.`);
    if (isTooDense(total, packed.length)) tooDense(entry);
    crc = codec.crc32(piece, crc);
    sink(piece);
  };
  if (entry.method === 0) for (let at = 0; at < packed.length; at += STEP * 8) take(packed.subarray(at, at + STEP * 8));
  else unpack(packed, entry, take);
  if (total !== entry.size) refuse("damaged-package", `The part ${entry.name} is shorter than the directory of the package says.`);
  checkSum(entry, crc);
}

function packedOf(bytes: Uint8Array, entry: PackageEntry): Uint8Array {
  if (entry.size > LIMITS.partBytes)
    refuse("too-large", `The part ${entry.name} unpacks to ${entry.size} bytes; at most ${LIMITS.partBytes / MEBIBYTE} MiB are accepted.`);
  return bytes.subarray(entry.dataStart, entry.dataStart + entry.compressedSize);
}

const isTooDense = (size: number, packed: number): boolean => size > LIMITS.ratioFromBytes && size > packed * LIMITS.ratio;

const tooDense = (entry: PackageEntry): never =>
  refuse("too-dense", `The part ${entry.name} unpacks to more than ${LIMITS.ratio} times its size; at most ${LIMITS.ratio} are accepted.`);

function checkSum(entry: PackageEntry, crc: number): void {
  if (crc !== entry.crc) refuse("wrong-checksum", `The part ${entry.name} is damaged (its checksum is wrong). Save the workbook again.`);
}

/**
 * The content unpacked by the machine's own means, where it has them, the part is not large and what it claims is no bomb. Whatever
 * goes wrong is left to the other way, which says what it is.
 */
function atOnce(packed: Uint8Array, entry: PackageEntry, codec: Codec): Uint8Array | undefined {
  if (entry.method === 0 || codec.inflate === undefined || entry.size > AT_ONCE || isTooDense(entry.size, packed.length)) return undefined;
  const whole = codec.inflate(packed, entry.size);
  return whole !== undefined && whole.length === entry.size ? whole : undefined;
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
export function inflateEntry(bytes: Uint8Array, entry: PackageEntry, codec: Codec): Uint8Array {
  const pieces: Uint8Array[] = [];
  let total = 0;
  inflateInto(bytes, entry, codec, (piece) => {
    // Whatever comes as a whole is nobody else's; pieces are used again by whoever unpacks.
    pieces.push(piece.length === entry.size && entry.method === 8 ? piece : piece.slice());
    total += piece.length;
  });
  const [first] = pieces;
  if (pieces.length === 1 && first !== undefined) return first;
  const content = new Uint8Array(total);
  let at = 0;
  for (const piece of pieces) {
    content.set(piece, at);
    at += piece.length;
  }
  return content;
}
