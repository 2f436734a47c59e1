/** Seal and record of a document, held against each other and against the keys. */
import { fromBase64url, fromUtf8 } from "./bytes.ts";
import { error, type SealFinding } from "./compare.ts";
import { type Cryptography, keyName } from "./cryptography.ts";
import { isSignedBy, readJws } from "./jws.ts";
import { hashOf, partsOf, readSealFile, readStatement, SEAL_TYPE, type SealFile, type SealStatement } from "./statement.ts";
import { judgeKey, type KeyAnswer, type Trust } from "./trust.ts";

const MOST_PLACES = 20;

export interface OpenedSeal {
  readonly seal: SealFile;
  readonly statement: SealStatement;
  readonly publicKey: Uint8Array;
  readonly key: KeyAnswer;
  readonly record: "as-issued" | "differs" | "missing";
  readonly findings: readonly SealFinding[];
}

/** Is this JSON a record of a document of ours? */
export function recordOf(bytes: Uint8Array | undefined): Readonly<Record<string, unknown>> | undefined {
  if (bytes === undefined) return undefined;
  try {
    const value: unknown = JSON.parse(fromUtf8(bytes));
    if (typeof value !== "object" || value === null) return undefined;
    const record = value as Readonly<Record<string, unknown>>;
    return typeof record["schema"] === "string" && /^[a-z0-9-]+-record\/\d+$/.test(record["schema"]) ? record : undefined;
  } catch {
    return undefined;
  }
}

/** @returns a finding alone where the seal itself does not hold */
export async function openSeal(
  sealBytes: Uint8Array,
  recordBytes: Uint8Array | undefined,
  trust: Trust,
  cryptography: Cryptography,
): Promise<OpenedSeal | { readonly findings: readonly SealFinding[] }> {
  let parts: { seal: SealFile; statement: SealStatement; publicKey: Uint8Array; kid: string; signed: boolean };
  try {
    const seal = readSealFile(sealBytes);
    const jws = readJws(seal.jws);
    const publicKey = fromBase64url(seal.publicKey);
    const statement = readStatement(jws.payload);
    const named = (await keyName(cryptography, publicKey)) === jws.kid && jws.type === SEAL_TYPE;
    parts = { seal, statement, publicKey, kid: jws.kid, signed: named && (await isSignedBy(cryptography, jws, publicKey)) };
  } catch (problem) {
    if (!(problem instanceof RangeError)) throw problem;
    return { findings: [error("seal-damaged")] };
  }
  const { seal, statement, publicKey, kid, signed } = parts;
  if (!signed || (await hashOf(seal.content, cryptography)) !== statement.content) return { findings: [error("seal-broken")] };
  const { key, findings } = await judgeKey(kid, statement, trust, cryptography);
  const checked = await checkRecord(recordBytes, statement, cryptography);
  return { seal, statement, publicKey, key, record: checked.record, findings: [...findings, ...checked.findings] };
}

async function checkRecord(
  bytes: Uint8Array | undefined,
  statement: SealStatement,
  cryptography: Cryptography,
): Promise<{ record: OpenedSeal["record"]; findings: readonly SealFinding[] }> {
  if (bytes === undefined) return { record: "missing", findings: [error("record-missing")] };
  const record = recordOf(bytes);
  if (record === undefined) return { record: "differs", findings: [error("record-altered", "/")] };
  let parts: Readonly<Record<string, string>>;
  try {
    if ((await hashOf(record, cryptography)) === statement.record) return { record: "as-issued", findings: [] };
    parts = await partsOf(record, cryptography);
  } catch (problem) {
    // Half a letter, or nested without end: no record of ours has a form like that.
    if (!(problem instanceof RangeError)) throw problem;
    return { record: "differs", findings: [error("record-altered", "/")] };
  }
  const number = (record["issue"] as { readonly number?: unknown } | undefined)?.number;
  const of =
    typeof number === "string" && number !== statement.number ? [error("seal-of-another", undefined, statement.number, number)] : [];
  const places = [...new Set([...Object.keys(statement.parts), ...Object.keys(parts)])].filter(
    (place) => statement.parts[place] !== parts[place],
  );
  const altered = (places.length === 0 ? ["/"] : places.slice(0, MOST_PLACES)).map((place) => error("record-altered", place));
  return { record: "differs", findings: [...of, ...altered] };
}
