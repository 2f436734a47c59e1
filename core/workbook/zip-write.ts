import { type Codec, deflateWhole, PORTABLE, startDeflating } from "./codec.ts";
import type { PackageEntry } from "./package-entry.ts";

/** A part as it goes into a package: new content, content packed before, or the untouched bytes of an entry that was read. */
export type OutgoingPart =
  | { readonly name: string; readonly content: Uint8Array }
  | { readonly name: string; readonly packed: PackedPart }
  | { readonly entry: PackageEntry; readonly from: Uint8Array };

/** 1 January 1980, the first day a ZIP can name: packages made from the same parts have the same bytes. */
const FIXED_TIME = 0x00210000;

/** From here on time counts more than the twentieth part that a harder try would save, bytes. */
const LARGE = 4 * 1024 * 1024;

/** Puts a package together, one part after the other as they come; carried-over entries keep their compressed bytes. */
export function writePackage(parts: Iterable<OutgoingPart>, codec: Codec = PORTABLE): Uint8Array {
  const encoder = new TextEncoder();
  const chunks: Uint8Array[] = [];
  const directory: Uint8Array[] = [];
  let offset = 0;
  const push = (chunk: Uint8Array): void => {
    chunks.push(chunk);
    offset += chunk.length;
  };
  for (const part of parts) {
    const made =
      "entry" in part ? carried(part.entry, part.from) : "packed" in part ? fresh(part.packed) : fresh(packedWhole(part.content, codec));
    const name = encoder.encode("entry" in part ? part.entry.name : part.name);
    const start = offset;
    const header = new Uint8Array(30);
    const data = new DataView(header.buffer);
    data.setUint32(0, 0x04034b50, true);
    data.setUint16(4, 20, true);
    data.setUint16(6, 0x0800, true);
    writeCommon(data, 8, made, name.length);
    push(header);
    push(name);
    for (const piece of made.pieces) push(piece);
    const central = new Uint8Array(46 + name.length);
    const view = new DataView(central.buffer);
    view.setUint32(0, 0x02014b50, true);
    view.setUint16(4, 20, true);
    view.setUint16(6, 20, true);
    view.setUint16(8, 0x0800, true);
    writeCommon(view, 10, made, name.length);
    view.setUint32(38, made.externalAttributes, true);
    view.setUint32(42, start, true);
    central.set(name, 46);
    directory.push(central);
  }
  const directoryStart = offset;
  for (const entry of directory) push(entry);
  const end = new Uint8Array(22);
  const data = new DataView(end.buffer);
  data.setUint32(0, 0x06054b50, true);
  data.setUint16(8, directory.length, true);
  data.setUint16(10, directory.length, true);
  data.setUint32(12, offset - directoryStart, true);
  data.setUint32(16, directoryStart, true);
  push(end);
  const whole = new Uint8Array(offset);
  let at = 0;
  for (const chunk of chunks) {
    whole.set(chunk, at);
    at += chunk.length;
  }
  return whole;
}

/** Deflated content in pieces; sizes in bytes. */
export interface PackedPart {
  readonly pieces: readonly Uint8Array[];
  readonly packedSize: number;
  readonly crc: number;
  readonly size: number;
}

interface Packed extends PackedPart {
  readonly method: number;
  readonly time: number;
  readonly externalAttributes: number;
}

const levelFor = (size: number): number => (size > LARGE ? 3 : 6);

/** New content of a part, packed while it is made, so that it is never held as a whole. @param size about how long it will be, bytes */
export function packPart(codec: Codec, size: number, make: (sink: (piece: Uint8Array) => void) => void): PackedPart {
  const pieces: Uint8Array[] = [];
  let [packedSize, crc, total] = [0, 0, 0];
  const deflating = startDeflating(codec, levelFor(size), (piece) => {
    pieces.push(piece);
    packedSize += piece.length;
  });
  make((piece) => {
    crc = codec.crc32(piece, crc);
    total += piece.length;
    deflating.push(piece);
  });
  deflating.end();
  return { pieces, packedSize, crc, size: total };
}

function packedWhole(content: Uint8Array, codec: Codec): PackedPart {
  const packed = deflateWhole(codec, content, levelFor(content.length));
  return { pieces: [packed], packedSize: packed.length, crc: codec.crc32(content, 0), size: content.length };
}

const fresh = (part: PackedPart): Packed => ({ ...part, method: 8, time: FIXED_TIME, externalAttributes: 0 });

const carried = (entry: PackageEntry, from: Uint8Array): Packed => ({
  pieces: [from.subarray(entry.dataStart, entry.dataStart + entry.compressedSize)],
  packedSize: entry.compressedSize,
  method: entry.method,
  crc: entry.crc,
  size: entry.size,
  time: entry.time,
  externalAttributes: entry.externalAttributes,
});

/** Method, time, checksum, sizes and name length stand alike in both headers. */
function writeCommon(data: DataView, at: number, part: Packed, nameLength: number): void {
  data.setUint16(at, part.method, true);
  data.setUint32(at + 2, part.time, true);
  data.setUint32(at + 6, part.crc, true);
  data.setUint32(at + 10, part.packedSize, true);
  data.setUint32(at + 14, part.size, true);
  data.setUint16(at + 18, nameLength, true);
}
