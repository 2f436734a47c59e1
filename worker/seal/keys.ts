/**
 * The laboratory's keys, in the data folder: a folder a key, every file readable by its owner only. A key signs what is issued while it
 * is in force; a retired one signs nothing new and stays, so that everything it signed can be checked for ever.
 */
import { createPrivateKey, createPublicKey, generateKeyPairSync, type KeyObject, sign } from "node:crypto";
import { chmodSync, existsSync, mkdirSync, readdirSync, readFileSync, renameSync, rmSync, writeFileSync } from "node:fs";
import { join } from "node:path";
import { keyName } from "../../core/seal/cryptography.ts";
import type { TrustedKey } from "../../core/seal/trust.ts";
import { RuleRefusal, UsageError } from "../errors.ts";
import { flushFolder, writeAtomically } from "../files.ts";
import { nodeCryptography } from "./node-cryptography.ts";

export interface KeyState {
  /** Thumbprint (RFC 7638). */
  readonly kid: string;
  readonly madeAt: string;
  readonly madeBy: string;
  readonly retiredAt?: string;
  readonly retiredBy?: string;
}

/** A key with what it signs with. */
export interface SealKey {
  readonly state: KeyState;
  /** SubjectPublicKeyInfo, DER. */
  readonly publicKey: Uint8Array;
  /** DER. */
  readonly certificate: Uint8Array;
  /** Ed25519, 64 bytes. */
  signRecord(bytes: Uint8Array): Uint8Array;
  /** RSA PKCS #1 v1.5 with SHA-256: the same bytes give the same signature. */
  signFile(bytes: Uint8Array): Uint8Array;
}

const FILES = {
  state: "key.json",
  record: "record-key.pem",
  file: "file-key.pem",
  publicKey: "public.pem",
  certificate: "certificate.pem",
} as const;
const OWNER_ONLY = 0o600;
const MADE_BY_ITSELF = "Coilbook";

const keysFolder = (data: string): string => join(data, "keys");

const pem = (label: string, der: Uint8Array): string =>
  `-----BEGIN ${label}-----\n${(
    Buffer.from(der)
      .toString("base64")
      .match(/.{1,64}/g) ?? []
  ).join("\n")}\n-----END ${label}-----\n`;

const derOf = (text: string): Uint8Array => new Uint8Array(Buffer.from(text.replaceAll(/-----[^-]+-----/g, ""), "base64"));

const spki = (key: KeyObject): Uint8Array => new Uint8Array(key.export({ format: "der", type: "spki" }));

/** Every key by age. @throws UsageError on a folder that is no key */
export function listKeys(data: string): readonly KeyState[] {
  const folder = keysFolder(data);
  if (!existsSync(folder)) return [];
  return readdirSync(folder)
    .filter((name) => /^\d+$/.test(name))
    .sort((a, b) => Number(a) - Number(b))
    .map((name) => {
      const file = join(folder, name, FILES.state);
      try {
        return JSON.parse(readFileSync(file, "utf8")) as KeyState;
      } catch (error) {
        throw new UsageError(`${file}: is no key of this program (${(error as Error).message})`);
      }
    });
}

const folderOf = (data: string, kid: string): string =>
  join(keysFolder(data), String(listKeys(data).findIndex((key) => key.kid === kid) + 1));

export const publicKeyText = (data: string, kid: string): string => readFileSync(join(folderOf(data, kid), FILES.publicKey), "utf8");
export const certificateText = (data: string, kid: string): string => readFileSync(join(folderOf(data, kid), FILES.certificate), "utf8");

/** The keys a check believes, with the time from which each signs nothing new. */
export const trustedKeys = (data: string): readonly TrustedKey[] =>
  listKeys(data).map((state) => ({
    publicKey: spki(createPublicKey(publicKeyText(data, state.kid))),
    ...(state.retiredAt === undefined ? {} : { retiredAt: state.retiredAt }),
  }));

/** @throws UsageError where the text is no Ed25519 public key */
export function readPublicKey(text: string, where: string): TrustedKey {
  let key: KeyObject;
  try {
    key = createPublicKey(text);
  } catch {
    throw new UsageError(`--key: ${where} holds no public key; accepted is the PEM file that "coilbook key list" names`);
  }
  if (key.asymmetricKeyType !== "ed25519")
    throw new UsageError(`--key: ${where} holds a key of the kind ${key.asymmetricKeyType}; accepted is Ed25519`);
  return { publicKey: spki(key) };
}

/** Makes a key and puts it into its place in one step; two programs at once make two, and none is lost. */
export async function makeKey(data: string, lab: string, now: Date, by: string, validFrom = now): Promise<KeyState> {
  const { privateKey, publicKey } = generateKeyPairSync("ed25519");
  // The library for certificates is large and needed once in years.
  const { makeCertificate } = await import("./certificate.ts");
  const made = await makeCertificate(lab, new Date(validFrom.getTime() - DAY_MS));
  const state: KeyState = { kid: await keyName(nodeCryptography, spki(publicKey)), madeAt: now.toISOString(), madeBy: by };
  const folder = keysFolder(data);
  mkdirSync(folder, { recursive: true, mode: 0o700 });
  const temporary = join(folder, `.${state.kid}`);
  mkdirSync(temporary, { mode: 0o700 });
  const write = (name: string, text: string): void => writeFileSync(join(temporary, name), text, { mode: OWNER_ONLY, flush: true });
  write(FILES.record, privateKey.export({ format: "pem", type: "pkcs8" }).toString());
  write(FILES.file, pem("PRIVATE KEY", made.privateKey));
  write(FILES.publicKey, publicKey.export({ format: "pem", type: "spki" }).toString());
  write(FILES.certificate, pem("CERTIFICATE", made.certificate));
  write(FILES.state, `${JSON.stringify(state)}\n`);
  flushFolder(temporary);
  for (let number = listKeys(data).length + 1; ; number += 1) {
    try {
      renameSync(temporary, join(folder, String(number)));
      flushFolder(folder);
      return state;
    } catch (error) {
      // The place was taken in between: a folder that holds something is never replaced.
      if (!["ENOTEMPTY", "EEXIST"].includes((error as NodeJS.ErrnoException).code ?? "") || number > 10_000) {
        rmSync(temporary, { recursive: true, force: true });
        throw error;
      }
    }
  }
}

const inForceAt = (key: KeyState, at: string): boolean => key.retiredAt === undefined || at < key.retiredAt;

/**
 * The key for a document issued at that time: the newest made by then and not retired, else the oldest made later. The same time gives
 * the same key, so that a document written again has the same bytes.
 */
export function keyFor(keys: readonly KeyState[], issuedAt: string): KeyState | undefined {
  const able = keys.filter((key) => inForceAt(key, issuedAt));
  return able.filter((key) => key.madeAt <= issuedAt).at(-1) ?? able[0];
}

/** So long before it is made a certificate begins, for clocks that differ. */
const DAY_MS = 86_400_000;

const making = new Map<string, Promise<KeyState>>();

/** As `keyFor`; the first key of a laboratory is made when its first document is sealed. */
export async function demandKey(data: string, lab: string, issuedAt: string, now: Date): Promise<SealKey> {
  const held = keyFor(listKeys(data), issuedAt);
  if (held !== undefined) return openKey(data, held);
  // Two documents at once wait for one key.
  const made = making.get(data) ?? makeKey(data, lab, now, MADE_BY_ITSELF, new Date(issuedAt));
  making.set(data, made);
  try {
    await made;
  } finally {
    making.delete(data);
  }
  const key = keyFor(listKeys(data), issuedAt);
  if (key === undefined) throw new UsageError(`${keysFolder(data)}: every key was retired before ${issuedAt}`);
  return openKey(data, key);
}

function openKey(data: string, state: KeyState): SealKey {
  const read = (name: string): string => readFileSync(join(folderOf(data, state.kid), name), "utf8");
  const [record, file] = [createPrivateKey(read(FILES.record)), createPrivateKey(read(FILES.file))];
  return {
    state,
    publicKey: spki(createPublicKey(read(FILES.publicKey))),
    certificate: derOf(read(FILES.certificate)),
    signRecord: (bytes) => new Uint8Array(sign(null, bytes, record)),
    signFile: (bytes) => new Uint8Array(sign("sha256", bytes, file)),
  };
}

/** @param named the key's name or its beginning, at least six characters @throws UsageError, RuleRefusal */
export function retireKey(data: string, named: string, now: Date, by: string): KeyState {
  const keys = listKeys(data);
  const found = keys.filter((key) => key.kid.startsWith(named));
  const [key] = found;
  if (named.length < 6 || key === undefined || found.length > 1)
    throw new UsageError(
      `key ${named}: found ${found.length}, accepted is the name of one key; there are ${keys.map((k) => k.kid).join(", ") || "none"}`,
    );
  if (key.retiredAt !== undefined) throw new RuleRefusal(`key ${key.kid}: was retired on ${key.retiredAt} by ${key.retiredBy ?? ""}`);
  const retired: KeyState = { ...key, retiredAt: now.toISOString(), retiredBy: by };
  const file = join(folderOf(data, key.kid), FILES.state);
  writeAtomically(file, `${JSON.stringify(retired)}\n`, OWNER_ONLY);
  chmodSync(file, OWNER_ONLY);
  return retired;
}
