/** A ZIP writer that can be told to write what no honest program writes. */
import { deflateRawSync, crc32 as zlibCrc } from "node:zlib";

export interface RawEntry {
  readonly name: string;
  readonly content: Uint8Array | string;
  readonly method?: number;
  readonly flags?: number;
  readonly localFlags?: number;
  readonly localName?: string;
  readonly crc?: number;
  /** Bytes in place of the packed ones. */
  readonly packed?: Uint8Array;
  /** What the headers say, whatever the truth. */
  readonly size?: number;
  readonly packedSize?: number;
  /** Sizes behind the data instead of before it. */
  readonly descriptor?: boolean;
  /** Sizes and place as 64-bit figures in the extra field. */
  readonly zip64?: boolean;
  /** Unix mode in the upper half. */
  readonly attributes?: number;
  /** Where the directory says the local header is. */
  readonly place?: number;
}

export interface RawOptions {
  readonly comment?: string;
  readonly before?: Uint8Array;
  /** Offsets counted from behind `before`, as a self-extracting archive does. */
  readonly shifted?: boolean;
  readonly zip64End?: boolean;
  readonly count?: number;
}

const bytesOf = (content: Uint8Array | string): Uint8Array => (typeof content === "string" ? new TextEncoder().encode(content) : content);

const crc32 = (content: Uint8Array): number => {
  if (typeof zlibCrc === "function") return zlibCrc(content);
  let c = 0xffffffff;
  for (const byte of content) {
    c ^= byte;
    for (let k = 0; k < 8; k += 1) c = c & 1 ? (c >>> 1) ^ 0xedb88320 : c >>> 1;
  }
  return (c ^ 0xffffffff) >>> 0;
};

export function rawZip(entries: readonly RawEntry[], options: RawOptions = {}): Uint8Array {
  const chunks: Buffer[] = options.before === undefined ? [] : [Buffer.from(options.before)];
  const shift = options.shifted ? (options.before?.length ?? 0) : 0;
  const length = (): number => chunks.reduce((sum, chunk) => sum + chunk.length, 0);
  const directory: Buffer[] = [];
  let offset = options.before?.length ?? 0;
  for (const entry of entries) {
    const content = bytesOf(entry.content);
    const method = entry.method ?? 8;
    const packed = entry.packed !== undefined ? Buffer.from(entry.packed) : method === 8 ? deflateRawSync(content) : Buffer.from(content);
    const name = Buffer.from(entry.name, "utf8");
    const crc = entry.crc ?? crc32(content);
    const [size, packedSize] = [entry.size ?? content.length, entry.packedSize ?? packed.length];
    const flags = (entry.flags ?? 0x800) | (entry.descriptor ? 8 : 0);
    const localName = Buffer.from(entry.localName ?? entry.name, "utf8");
    const local = Buffer.alloc(30);
    local.writeUInt32LE(0x04034b50, 0);
    local.writeUInt16LE(20, 4);
    local.writeUInt16LE(entry.localFlags ?? flags, 6);
    local.writeUInt16LE(method, 8);
    if (!entry.descriptor) {
      local.writeUInt32LE(crc, 14);
      local.writeUInt32LE(packedSize, 18);
      local.writeUInt32LE(size, 22);
    }
    local.writeUInt16LE(localName.length, 26);
    const place = entry.place ?? offset - shift;
    const descriptor = entry.descriptor ? Buffer.alloc(16) : Buffer.alloc(0);
    if (entry.descriptor) {
      descriptor.writeUInt32LE(0x08074b50, 0);
      descriptor.writeUInt32LE(crc, 4);
      descriptor.writeUInt32LE(packedSize, 8);
      descriptor.writeUInt32LE(size, 12);
    }
    chunks.push(local, localName, packed, descriptor);
    offset += 30 + localName.length + packed.length + descriptor.length;
    const extra = entry.zip64 ? Buffer.alloc(28) : Buffer.alloc(0);
    if (entry.zip64) {
      extra.writeUInt16LE(1, 0);
      extra.writeUInt16LE(24, 2);
      extra.writeBigUInt64LE(BigInt(size), 4);
      extra.writeBigUInt64LE(BigInt(packedSize), 12);
      extra.writeBigUInt64LE(BigInt(place), 20);
    }
    const central = Buffer.alloc(46);
    central.writeUInt32LE(0x02014b50, 0);
    central.writeUInt16LE(20, 4);
    central.writeUInt16LE(20, 6);
    central.writeUInt16LE(flags, 8);
    central.writeUInt16LE(method, 10);
    central.writeUInt32LE(crc, 16);
    central.writeUInt32LE(entry.zip64 ? 0xffffffff : packedSize, 20);
    central.writeUInt32LE(entry.zip64 ? 0xffffffff : size, 24);
    central.writeUInt16LE(name.length, 28);
    central.writeUInt16LE(extra.length, 30);
    central.writeUInt32LE(entry.attributes ?? 0, 38);
    central.writeUInt32LE(entry.zip64 ? 0xffffffff : place, 42);
    directory.push(central, name, extra);
  }
  const start = length();
  chunks.push(...directory);
  const size = length() - start;
  const count = options.count ?? entries.length;
  if (options.zip64End) {
    const end64 = Buffer.alloc(56);
    end64.writeUInt32LE(0x06064b50, 0);
    end64.writeBigUInt64LE(44n, 4);
    end64.writeBigUInt64LE(BigInt(count), 24);
    end64.writeBigUInt64LE(BigInt(count), 32);
    end64.writeBigUInt64LE(BigInt(size), 40);
    end64.writeBigUInt64LE(BigInt(start - shift), 48);
    const locator = Buffer.alloc(20);
    locator.writeUInt32LE(0x07064b50, 0);
    locator.writeBigUInt64LE(BigInt(start + size), 8);
    locator.writeUInt32LE(1, 16);
    chunks.push(end64, locator);
  }
  const comment = Buffer.from(options.comment ?? "", "utf8");
  const end = Buffer.alloc(22);
  end.writeUInt32LE(0x06054b50, 0);
  end.writeUInt16LE(options.zip64End ? 0xffff : count, 8);
  end.writeUInt16LE(options.zip64End ? 0xffff : count, 10);
  end.writeUInt32LE(options.zip64End ? 0xffffffff : size, 12);
  end.writeUInt32LE(options.zip64End ? 0xffffffff : start - shift, 16);
  end.writeUInt16LE(comment.length, 20);
  chunks.push(end, comment);
  return new Uint8Array(Buffer.concat(chunks));
}
