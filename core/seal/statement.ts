/** What the seal of a document says, and the file in which it travels. */
import { fromBase64url, fromUtf8, hex, utf8 } from "./bytes.ts";
import { canonicalJson } from "./canonical.ts";
import type { Cryptography } from "./cryptography.ts";
import type { PdfContent } from "./pdf-content.ts";
import type { XlsxContent } from "./xlsx-content.ts";

/** Names of the files attached to a PDF and of the hidden sheets of a workbook (without the ending). */
export const RECORD_NAME = "record";
export const SEAL_NAME = "seal";
/** The type in the header of the signed line. */
export const SEAL_TYPE = "coilbook-seal";
/** Stands in a sealed PDF as it was issued, so that a damaged one is still known as one of ours. */
export const SEAL_MARK = "coilbook-seal/1";

/** Hashes of equal blocks of a file, by which an altered file is told from one that was stored anew. */
export interface Blocks {
  /** Bytes the blocks cover, from the beginning. */
  readonly length: number;
  /** Bytes a block. */
  readonly size: number;
  /** 16 hexadecimal digits a block. */
  readonly hashes: string;
}

/** The signed statement: this record and this content belong together and were issued under this number. */
export interface SealStatement {
  readonly schema: "seal/1";
  readonly format: "pdf" | "xlsx";
  readonly number: string;
  readonly issuedOn: string;
  /** ISO time of the signature under the document. */
  readonly issuedAt: string;
  readonly lab: string;
  /** SHA-256 of the record in its canonical form (RFC 8785), hexadecimal. */
  readonly record: string;
  /** The first digits of the hash of each part of the record by its place (`customer`, `rows/3`), to name what was altered. */
  readonly parts: Readonly<Record<string, string>>;
  /** SHA-256 of the content in its canonical form, hexadecimal. */
  readonly content: string;
  /** PDF: SHA-256 of the certificate that signs the whole file. */
  readonly certificate?: string;
  /** PDF: the file before its seal. */
  readonly base?: Blocks;
}

/** The attached file: signed statement, key, and the content that the statement names by its hash. */
export interface SealFile {
  readonly schema: "seal-file/1";
  readonly jws: string;
  /** SubjectPublicKeyInfo, base64url. */
  readonly publicKey: string;
  readonly content: PdfContent | XlsxContent;
}

export const hashOf = async (value: unknown, cryptography: Cryptography): Promise<string> =>
  hex(await cryptography.sha256(utf8(canonicalJson(value))));

/** @throws RangeError on anything else than a seal of this kind */
export function readSealFile(bytes: Uint8Array): SealFile {
  let value: unknown;
  try {
    value = JSON.parse(fromUtf8(bytes));
  } catch {
    throw new RangeError("seal: accepted is JSON");
  }
  const seal = (typeof value === "object" && value !== null ? value : {}) as Partial<SealFile>;
  if (
    seal.schema !== "seal-file/1" ||
    typeof seal.jws !== "string" ||
    typeof seal.publicKey !== "string" ||
    typeof seal.content !== "object"
  )
    throw new RangeError('seal: accepted is the schema "seal-file/1"');
  // Nothing may stand in the file that the signature does not cover in the end.
  if (Object.keys(seal).length !== 4) throw new RangeError("seal: accepted are schema, jws, publicKey and content");
  fromBase64url(seal.publicKey);
  return seal as SealFile;
}

/** @throws RangeError on a statement that is not whole */
export function readStatement(payload: Readonly<Record<string, unknown>>): SealStatement {
  const statement = payload as unknown as SealStatement;
  const texts = ["number", "issuedOn", "issuedAt", "lab", "record", "content"] as const;
  if (
    statement.schema !== "seal/1" ||
    !["pdf", "xlsx"].includes(statement.format) ||
    texts.some((key) => typeof statement[key] !== "string") ||
    typeof statement.parts !== "object" ||
    statement.parts === null
  )
    throw new RangeError('seal: accepted is a statement of the schema "seal/1"');
  return statement;
}

const PART_DIGITS = 8;

/** Members of a record, those of its lists and objects one by one. */
export async function partsOf(record: object, cryptography: Cryptography): Promise<Readonly<Record<string, string>>> {
  const parts: Record<string, string> = {};
  const put = async (place: string, value: unknown): Promise<void> => {
    parts[place] = (await hashOf(value, cryptography)).slice(0, PART_DIGITS);
  };
  for (const [name, value] of Object.entries(record)) {
    if (value === undefined) continue;
    if (typeof value !== "object" || value === null) await put(name, value);
    else for (const [inner, member] of Object.entries(value as object)) if (member !== undefined) await put(`${name}/${inner}`, member);
  }
  return parts;
}

const MOST_BLOCKS = 64;
const SMALLEST_BLOCK = 512;
const DIGITS = 16;

export async function blocksOf(bytes: Uint8Array, cryptography: Cryptography): Promise<Blocks> {
  const size = Math.max(SMALLEST_BLOCK, Math.ceil(bytes.length / MOST_BLOCKS));
  return { length: bytes.length, size, hashes: (await hashes(bytes, bytes.length, size, cryptography)).join("") };
}

async function hashes(bytes: Uint8Array, length: number, size: number, cryptography: Cryptography): Promise<readonly string[]> {
  const found: string[] = [];
  for (let at = 0; at < length; at += size)
    found.push(hex(await cryptography.sha256(bytes.subarray(at, Math.min(at + size, length)))).slice(0, DIGITS));
  return found;
}

export interface Standing {
  /** True where at least half of the blocks stand where they stood: the file was altered in its place, not stored anew. */
  readonly inPlace: boolean;
  /** True where all stand. */
  readonly whole: boolean;
  /** First and last byte of the first block that differs. */
  readonly altered?: readonly [number, number];
}

/** @throws RangeError on blocks that cannot be */
export async function standing(bytes: Uint8Array, blocks: Blocks, cryptography: Cryptography): Promise<Standing> {
  const { length, size } = blocks;
  if (!Number.isInteger(length) || !Number.isInteger(size) || size < SMALLEST_BLOCK || length > 2 ** 31 || length / size > MOST_BLOCKS)
    throw new RangeError("seal: blocks that cannot be");
  const found = await hashes(bytes, length, size, cryptography);
  const stands = found.map((hash, index) => hash === blocks.hashes.slice(index * DIGITS, (index + 1) * DIGITS));
  const first = stands.indexOf(false);
  return {
    inPlace: stands.filter(Boolean).length * 2 >= stands.length,
    whole: first < 0,
    ...(first < 0 ? {} : { altered: [first * size, Math.min((first + 1) * size, length) - 1] as const }),
  };
}
