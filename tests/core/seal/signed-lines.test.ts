/** The one form of a record, and the signed line over it, against another implementation of each. */
import { generateKeyPairSync, sign } from "node:crypto";
import canonicalize from "canonicalize";
import fc from "fast-check";
import { CompactSign, calculateJwkThumbprint, compactVerify, exportJWK } from "jose";
import { describe, expect, it } from "vitest";
import { base64url, fromBase64url, utf8 } from "../../../core/seal/bytes.ts";
import { canonicalJson } from "../../../core/seal/canonical.ts";
import { keyName } from "../../../core/seal/cryptography.ts";
import { isSignedBy, readJws, writeJws } from "../../../core/seal/jws.ts";
import { nodeCryptography } from "../../../worker/seal/node-cryptography.ts";

describe("one form of a record", () => {
  // RFC 8785, 3.2.2 to 3.2.4 and appendix B (numbers); the sorting example is that of 3.2.3.
  it.each([
    [
      '{"numbers":[333333333.33333329,1E30,4.50,2e-3,0.000000000000000000000000001],"string":"\\u20ac$\\u000F\\u000aA\'\\u0042\\u0022\\u005c\\\\\\"\\/","literals":[null,true,false]}',
      '{"literals":[null,true,false],"numbers":[333333333.3333333,1e+30,4.5,0.002,1e-27],"string":"€$\\u000f\\nA\'B\\"\\\\\\\\\\"/"}',
    ],
    [
      '{"\\u20ac":"Euro Sign","\\r":"Carriage Return","\\ufb33":"Hebrew Letter Dalet With Dagesh","1":"One","\\ud83d\\ude00":"Emoji: Grinning Face","\\u0080":"Control","\\u00f6":"Latin Small Letter O With Diaeresis"}',
      '{"\\r":"Carriage Return","1":"One","\u0080":"Control","ö":"Latin Small Letter O With Diaeresis","€":"Euro Sign","😀":"Emoji: Grinning Face","\ufb33":"Hebrew Letter Dalet With Dagesh"}',
    ],
    ["[-0,0,1e21,9007199254740992]", "[0,0,1e+21,9007199254740992]"],
    ["{}", "{}"],
  ])("%s", (given, wanted) => expect(canonicalJson(JSON.parse(given))).toBe(wanted));

  it("of any value, the same as another implementation", () => {
    fc.assert(
      fc.property(fc.jsonValue({ noUnicodeString: false } as object), (value) => {
        expect(canonicalJson(value)).toBe(canonicalize(value));
      }),
      { numRuns: 500 },
    );
  });

  it.each([[Number.NaN], [Number.POSITIVE_INFINITY], ["\ud800"], [{ "\udc00": 1 }], [() => 1], [undefined]])("%s has none", (value) => {
    expect(() => canonicalJson(value)).toThrow(RangeError);
  });
});

describe("base64url", () => {
  it("reads what it writes, and no second text for the same bytes", () => {
    fc.assert(
      fc.property(fc.uint8Array({ maxLength: 80 }), (bytes) => {
        const text = base64url(bytes);
        expect(text).toBe(Buffer.from(bytes).toString("base64url"));
        expect([...fromBase64url(text)]).toEqual([...bytes]);
      }),
    );
    // The last letter of two bytes carries two bits that mean nothing: only one of four letters is accepted.
    expect(() => fromBase64url("AAB")).toThrow(/canonical/);
    for (const wrong of ["AA==", "A", "A A", "+/+/"]) expect(() => fromBase64url(wrong)).toThrow(RangeError);
  });
});

describe("the signed line", () => {
  const pair = generateKeyPairSync("ed25519");
  const spki = new Uint8Array(pair.publicKey.export({ format: "der", type: "spki" }));
  const signer = (bytes: Uint8Array): Uint8Array => new Uint8Array(sign(null, bytes, pair.privateKey));

  it("is read by another library, and names its key as RFC 7638 does", async () => {
    const kid = await keyName(nodeCryptography, spki);
    expect(kid).toBe(await calculateJwkThumbprint(await exportJWK(pair.publicKey)));
    const line = await writeJws("a-type", kid, { b: "2", a: "1" }, signer);
    const { payload } = await compactVerify(line, pair.publicKey);
    expect(new TextDecoder().decode(payload)).toBe('{"a":"1","b":"2"}');
    expect(await isSignedBy(nodeCryptography, readJws(line), spki)).toBe(true);
  });

  it("of another library is read, where it says no more than ours", async () => {
    const theirs = (header: object): Promise<string> =>
      new CompactSign(utf8('{"a":"1"}')).setProtectedHeader({ alg: "Ed25519", ...header }).sign(pair.privateKey);
    expect(readJws(await theirs({ kid: "k", typ: "t" })).payload).toEqual({ a: "1" });
    await expect(theirs({ kid: "k" }).then(readJws)).rejects.toThrow(/header/);
    await expect(theirs({ kid: "k", typ: "t", b64x: "1" }).then(readJws)).rejects.toThrow(/header/);
  });

  it.each(["none", "HS256", "EdDSA", "ES256"])("with the algorithm %s is refused", (alg) => {
    const head = base64url(utf8(JSON.stringify({ alg, kid: "k", typ: "t" })));
    expect(() => readJws(`${head}.${base64url(utf8("{}"))}.${base64url(new Uint8Array(64))}`)).toThrow(`found "${alg}"`);
  });

  it("holds for nothing but its own text", async () => {
    const line = await writeJws("t", "k", { figure: "1875" }, signer);
    const [head = "", body = "", signature = ""] = line.split(".");
    for (let at = 0; at < line.length; at += 1) {
      const changed = line.slice(0, at) + (line[at] === "A" ? "B" : "A") + line.slice(at + 1);
      let holds = false;
      try {
        holds = await isSignedBy(nodeCryptography, readJws(changed), spki);
      } catch (error) {
        expect(error).toBeInstanceOf(RangeError);
      }
      expect(holds, `letter ${at}`).toBe(false);
    }
    const other = new Uint8Array(generateKeyPairSync("ed25519").publicKey.export({ format: "der", type: "spki" }));
    expect(await isSignedBy(nodeCryptography, readJws(`${head}.${body}.${signature}`), other)).toBe(false);
  });
});
