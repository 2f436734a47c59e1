/**
 * The signature over the parts of a workbook: a part of our own behind all others, holding one signed line with the hash of every part
 * and of the package without it. A check puts the package together again and compares every byte.
 */

import { inflateSync } from "fflate";
import { readDirectory } from "../workbook/package.ts";
import type { PackageEntry } from "../workbook/package-entry.ts";
import { writePackage } from "../workbook/zip-write.ts";
import { fromUtf8, hex, utf8 } from "./bytes.ts";
import type { Cryptography } from "./cryptography.ts";
import { type Blocks, blocksOf } from "./statement.ts";

/** Name of the part. */
export const PACKAGE_PART = "coilbook/seal.jws";
export const PACKAGE_TYPE = "coilbook-package";

/** The content of one part of a package whose lengths and checksums were checked before. */
export function partContent(bytes: Uint8Array, entry: PackageEntry): Uint8Array {
  const packed = bytes.subarray(entry.dataStart, entry.dataStart + entry.compressedSize);
  return entry.method === 0 ? packed : inflateSync(packed, { out: new Uint8Array(entry.size) });
}

/** @source PKWARE APPNOTE 4.4.7; ISO 3309 */
export function crc32(bytes: Uint8Array): number {
  let crc = 0xffffffff;
  for (const byte of bytes) {
    crc ^= byte;
    for (let bit = 0; bit < 8; bit += 1) crc = crc & 1 ? (crc >>> 1) ^ 0xedb88320 : crc >>> 1;
  }
  return (crc ^ 0xffffffff) >>> 0;
}

export interface PackageStatement {
  readonly schema: "seal-package/1";
  /** SHA-256 of the package without this part, hexadecimal. */
  readonly package: string;
  /** SHA-256 of every other part's content by name. */
  readonly parts: Readonly<Record<string, string>>;
  readonly blocks: Blocks;
}

/** @param base a package as `writePackage` makes it */
export async function packageStatement(base: Uint8Array, cryptography: Cryptography): Promise<PackageStatement> {
  const entries = readDirectory(base);
  const parts: Record<string, string> = {};
  for (const entry of entries) parts[entry.name] = hex(await cryptography.sha256(partContent(base, entry)));
  const end = Math.max(...entries.map((entry) => entry.localEnd));
  return {
    schema: "seal-package/1",
    package: hex(await cryptography.sha256(base)),
    parts,
    // The directory at the end moves when a part is added, so only the parts themselves are covered.
    blocks: await blocksOf(base.subarray(0, end), cryptography),
  };
}

/** The package with the signed line as its last part, stored as it is. */
export const withPackageSeal = (base: Uint8Array, jws: string): Uint8Array => {
  const content = utf8(jws);
  return writePackage([...readDirectory(base).map((entry) => ({ entry, from: base })), { entry: stored(content), from: content }]);
};

const stored = (content: Uint8Array): PackageEntry => ({
  name: PACKAGE_PART,
  method: 0,
  crc: crc32(content),
  compressedSize: content.length,
  size: content.length,
  dataStart: 0,
  localStart: 0,
  localEnd: 0,
  // 1 January 1980, as for every part that is made.
  time: 0x00210000,
  externalAttributes: 0,
});

export interface OpenedPackage {
  readonly entries: readonly PackageEntry[];
  /** The signed line, where the part is there. */
  readonly jws?: string;
  /** The package without the part; undefined where the file is not put together as we do. */
  readonly base?: Uint8Array;
}

/** @throws RefusedWorkbook where the package is damaged; TypeError where the line is no text */
export function openPackage(bytes: Uint8Array): OpenedPackage {
  const entries = readDirectory(bytes);
  const seal = entries.find((entry) => entry.name === PACKAGE_PART);
  if (seal === undefined) return { entries };
  const jws = fromUtf8(partContent(bytes, seal));
  const base = writePackage(entries.filter((entry) => entry !== seal).map((entry) => ({ entry, from: bytes })));
  const again = withPackageSeal(base, jws);
  const same = again.length === bytes.length && again.every((byte, index) => byte === bytes[index]);
  return { entries, jws, ...(same ? { base } : {}) };
}
