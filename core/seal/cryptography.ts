/** The two things a check needs from outside: a hash and the check of a signature. Web Cryptography gives both, here and in a browser. */
import { base64url, utf8 } from "./bytes.ts";

export interface Cryptography {
  sha256(bytes: Uint8Array): Promise<Uint8Array>;
  /** @param publicKey SubjectPublicKeyInfo, DER; a key of another kind gives false */
  verify(algorithm: "Ed25519" | "RSA-SHA256", publicKey: Uint8Array, signature: Uint8Array, message: Uint8Array): Promise<boolean>;
}

/** The part of Web Cryptography that is used. */
export interface Subtle {
  digest(algorithm: string, data: Uint8Array): Promise<ArrayBuffer>;
  importKey(format: "spki", keyData: Uint8Array, algorithm: object, extractable: boolean, usages: readonly "verify"[]): Promise<object>;
  verify(algorithm: string, key: object, signature: Uint8Array, data: Uint8Array): Promise<boolean>;
}

export function webCryptography(subtle: Subtle): Cryptography {
  return {
    async sha256(bytes) {
      return new Uint8Array(await subtle.digest("SHA-256", bytes));
    },
    async verify(algorithm, publicKey, signature, message) {
      const name = algorithm === "Ed25519" ? "Ed25519" : "RSASSA-PKCS1-v1_5";
      let key: object;
      try {
        key = await subtle.importKey("spki", publicKey, algorithm === "Ed25519" ? { name } : { name, hash: "SHA-256" }, false, ["verify"]);
      } catch (error) {
        // A browser without Ed25519 must say so, and not call a good seal a bad one.
        if ((error as Error).name === "NotSupportedError") throw error;
        return false;
      }
      return subtle.verify(name, key, signature, message);
    },
  };
}

/** What precedes the 32 bytes of an Ed25519 key in its SubjectPublicKeyInfo. @source RFC 8410, 4 */
const ED25519_PREFIX = [0x30, 0x2a, 0x30, 0x05, 0x06, 0x03, 0x2b, 0x65, 0x70, 0x03, 0x21, 0x00];

export const isEd25519Key = (publicKey: Uint8Array): boolean =>
  publicKey.length === 44 && ED25519_PREFIX.every((byte, index) => publicKey[index] === byte);

/**
 * The name of a key is its own thumbprint, so that no other key can bear it.
 * @source RFC 7638 (JWK thumbprint), RFC 8037 (Ed25519 as a JWK)
 * @throws RangeError on a key of another kind
 */
export async function keyName(cryptography: Cryptography, publicKey: Uint8Array): Promise<string> {
  if (!isEd25519Key(publicKey)) throw new RangeError("not an Ed25519 public key");
  const jwk = `{"crv":"Ed25519","kty":"OKP","x":"${base64url(publicKey.subarray(12))}"}`;
  return base64url(await cryptography.sha256(utf8(jwk)));
}
