/** Whose keys are believed, and which documents were called back. */
import { error, type SealFinding } from "./compare.ts";
import { type Cryptography, keyName } from "./cryptography.ts";
import { isSignedBy, readJws } from "./jws.ts";
import type { SealStatement } from "./statement.ts";

export interface TrustedKey {
  /** SubjectPublicKeyInfo, DER. */
  readonly publicKey: Uint8Array;
  /** ISO time from which it signs nothing new. */
  readonly retiredAt?: string;
}

export interface Trust {
  /** `given`: named by the reader. `lab`: those of the laboratory. `none`: the file's own key is only reported. */
  readonly source: "given" | "lab" | "none";
  readonly keys: readonly TrustedKey[];
  /** What was called back or replaced: the signed list, or what the laboratory's own ledger says. */
  readonly withdrawn?: string | readonly WithdrawnDocument[];
}

export interface WithdrawnDocument {
  readonly number: string;
  /** `YYYY-MM-DD` */
  readonly on: string;
  readonly state: "withdrawn" | "replaced";
  readonly replacedBy?: string;
}

export interface WithdrawnList {
  readonly schema: "withdrawn/1";
  readonly lab: string;
  readonly at: string;
  readonly documents: readonly WithdrawnDocument[];
}
export const WITHDRAWN_TYPE = "coilbook-withdrawn";

export interface KeyAnswer {
  readonly kid: string;
  /** `unknown`: nobody vouches for it. */
  readonly trust: "given" | "lab" | "unknown";
  readonly retiredAt?: string;
}

/** What is wrong, or to be known, about the key of a seal. */
export async function judgeKey(
  kid: string,
  statement: SealStatement,
  trust: Trust,
  cryptography: Cryptography,
): Promise<{ readonly key: KeyAnswer; readonly findings: readonly SealFinding[] }> {
  if (trust.source === "none")
    return { key: { kid, trust: "unknown" }, findings: [{ code: "key-not-compared", severity: "warning", found: kid }] };
  const names: string[] = [];
  for (const candidate of trust.keys) {
    const name = await keyName(cryptography, candidate.publicKey);
    names.push(name);
    if (name !== kid) continue;
    const retired = candidate.retiredAt;
    return {
      key: { kid, trust: trust.source, ...(retired === undefined ? {} : { retiredAt: retired }) },
      findings:
        retired !== undefined && statement.issuedAt >= retired ? [error("key-retired", undefined, retired, statement.issuedAt)] : [],
    };
  }
  return { key: { kid, trust: "unknown" }, findings: [error("wrong-key", undefined, names.join(", "), kid)] };
}

/** The entry of a document in a signed list; a list that none of the keys signed says nothing. */
export async function withdrawnEntry(
  number: string,
  trust: Trust,
  cryptography: Cryptography,
): Promise<{ readonly entry?: WithdrawnDocument; readonly findings: readonly SealFinding[] }> {
  if (trust.withdrawn === undefined) return { findings: [] };
  const documents =
    typeof trust.withdrawn === "string" ? (await readWithdrawn(trust.withdrawn, trust.keys, cryptography))?.documents : trust.withdrawn;
  if (documents === undefined) return { findings: [{ code: "list-not-signed", severity: "warning" }] };
  const entry = documents.find((document) => document.number === number);
  if (entry === undefined) return { findings: [] };
  return { entry, findings: [error(`document-${entry.state}`, undefined, entry.on, entry.replacedBy ?? "")] };
}

/** @returns undefined where no key of these signed it */
export async function readWithdrawn(
  jws: string,
  keys: readonly TrustedKey[],
  cryptography: Cryptography,
): Promise<WithdrawnList | undefined> {
  let read: ReturnType<typeof readJws>;
  try {
    read = readJws(jws.trim());
  } catch {
    return undefined;
  }
  if (read.type !== WITHDRAWN_TYPE || read.payload["schema"] !== "withdrawn/1") return undefined;
  for (const { publicKey } of keys)
    if ((await keyName(cryptography, publicKey)) === read.kid && (await isSignedBy(cryptography, read, publicKey)))
      return read.payload as unknown as WithdrawnList;
  return undefined;
}
