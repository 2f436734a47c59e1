/** A signed JSON object in one line: JWS, compact, Ed25519 and nothing else. @source RFC 7515; RFC 9864 names the algorithm */
import { base64url, fromBase64url, fromUtf8, utf8 } from "./bytes.ts";
import { canonicalJson } from "./canonical.ts";
import type { Cryptography } from "./cryptography.ts";

const ALGORITHM = "Ed25519";

export interface ReadJws {
  /** Name of the key. */
  readonly kid: string;
  readonly type: string;
  readonly payload: Readonly<Record<string, unknown>>;
  /** The bytes that are signed. */
  readonly signed: Uint8Array;
  readonly signature: Uint8Array;
}

/** @param sign Ed25519 over the bytes, 64 bytes */
export async function writeJws(
  type: string,
  kid: string,
  payload: object,
  sign: (bytes: Uint8Array) => Uint8Array | Promise<Uint8Array>,
): Promise<string> {
  const part = (value: object): string => base64url(utf8(canonicalJson(value)));
  const signed = `${part({ alg: ALGORITHM, kid, typ: type })}.${part(payload)}`;
  return `${signed}.${base64url(await sign(utf8(signed)))}`;
}

/** @throws RangeError on anything but the one form that `writeJws` gives */
export function readJws(text: string): ReadJws {
  const parts = text.split(".");
  if (parts.length !== 3) throw new RangeError("not a compact JWS");
  const [header, payload, signature] = parts.map(fromBase64url) as [Uint8Array, Uint8Array, Uint8Array];
  const [head, body] = [jsonObject(header), jsonObject(payload)];
  const { alg, kid, typ } = head;
  if (alg !== ALGORITHM) throw new RangeError(`JWS algorithm, found ${JSON.stringify(alg)}, accepted is "${ALGORITHM}"`);
  if (typeof kid !== "string" || typeof typ !== "string" || Object.keys(head).length !== 3)
    throw new RangeError("JWS header, accepted are alg, kid and typ");
  if (signature.length !== 64) throw new RangeError(`JWS signature, found ${signature.length} bytes, accepted are 64`);
  return { kid, type: typ, payload: body, signed: utf8(`${parts[0]}.${parts[1]}`), signature };
}

export const isSignedBy = (cryptography: Cryptography, jws: ReadJws, publicKey: Uint8Array): Promise<boolean> =>
  cryptography.verify("Ed25519", publicKey, jws.signature, jws.signed);

function jsonObject(bytes: Uint8Array): Readonly<Record<string, unknown>> {
  let value: unknown;
  try {
    value = JSON.parse(fromUtf8(bytes));
  } catch {
    throw new RangeError("JWS part, accepted is JSON");
  }
  if (typeof value !== "object" || value === null || Array.isArray(value)) throw new RangeError("JWS part, accepted is a JSON object");
  return value as Readonly<Record<string, unknown>>;
}
