/** Bytes as text and back, the same in the program and in a browser. */

const encoder = new TextEncoder();
const decoder = new TextDecoder("utf-8", { fatal: true, ignoreBOM: true });

export const utf8 = (text: string): Uint8Array => encoder.encode(text);

/** @throws TypeError on bytes that are no UTF-8 */
export const fromUtf8 = (bytes: Uint8Array): string => decoder.decode(bytes);

export function hex(bytes: Uint8Array): string {
  let text = "";
  for (const byte of bytes) text += byte.toString(16).padStart(2, "0");
  return text;
}

/** One character a byte. */
export function latin1(bytes: Uint8Array, from = 0, to = bytes.length): string {
  let text = "";
  // A few bytes are dealt with faster one by one than as arguments of a call.
  if (to - from < 64) {
    for (let at = from; at < Math.min(to, bytes.length); at += 1) text += String.fromCharCode(bytes[at] as number);
    return text;
  }
  for (let at = from; at < to; at += 8192) text += String.fromCharCode(...bytes.subarray(at, Math.min(at + 8192, to)));
  return text;
}

/** @throws RangeError on a character above U+00FF */
export function fromLatin1(text: string): Uint8Array {
  const bytes = new Uint8Array(text.length);
  for (let i = 0; i < text.length; i += 1) {
    const code = text.charCodeAt(i);
    if (code > 255) throw new RangeError(`not one byte: U+${code.toString(16)}`);
    bytes[i] = code;
  }
  return bytes;
}

export function concat(pieces: readonly Uint8Array[]): Uint8Array {
  const whole = new Uint8Array(pieces.reduce((sum, piece) => sum + piece.length, 0));
  let at = 0;
  for (const piece of pieces) {
    whole.set(piece, at);
    at += piece.length;
  }
  return whole;
}

export function equalBytes(a: Uint8Array, b: Uint8Array): boolean {
  if (a.length !== b.length) return false;
  for (let i = 0; i < a.length; i += 1) if (a[i] !== b[i]) return false;
  return true;
}

/** How often an ASCII text stands in the bytes; counting ends at `atMost`. */
export function occurrences(bytes: Uint8Array, text: string, atMost = 4): number {
  const [first, wanted] = [text.charCodeAt(0), fromLatin1(text)];
  let found = 0;
  for (let at = bytes.indexOf(first); at >= 0 && found < atMost; at = bytes.indexOf(first, at + 1)) {
    let i = 1;
    while (i < wanted.length && bytes[at + i] === wanted[i]) i += 1;
    if (i === wanted.length) found += 1;
  }
  return found;
}

const BASE64 = "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789-_";

/** Base 64 for addresses, without padding (RFC 4648, 5). */
export function base64url(bytes: Uint8Array): string {
  let text = "";
  for (let i = 0; i < bytes.length; i += 3) {
    const group = ((bytes[i] ?? 0) << 16) | ((bytes[i + 1] ?? 0) << 8) | (bytes[i + 2] ?? 0);
    const digits = Math.min(3, bytes.length - i) + 1;
    for (let d = 0; d < digits; d += 1) text += BASE64[(group >> (18 - 6 * d)) & 63];
  }
  return text;
}

/**
 * Accepts the one canonical form only: two texts never mean the same bytes, so that no bit of a seal can change unseen.
 * @throws RangeError on any other text
 */
export function fromBase64url(text: string): Uint8Array {
  const bytes = new Uint8Array(Math.floor((text.length * 3) / 4));
  let [group, bits, at] = [0, 0, 0];
  for (const letter of text) {
    const value = BASE64.indexOf(letter);
    if (value < 0) throw new RangeError("not base64url");
    group = ((group << 6) | value) & 0xfffff;
    bits += 6;
    if (bits >= 8) {
      bits -= 8;
      bytes[at] = (group >> bits) & 255;
      at += 1;
    }
  }
  if (base64url(bytes) !== text) throw new RangeError("not the canonical form of base64url");
  return bytes;
}
