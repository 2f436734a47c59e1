/** The few pieces of DER that a signature needs. @source ITU-T X.690 */
import { concat } from "./bytes.ts";

export function der(tag: number, ...contents: readonly Uint8Array[]): Uint8Array {
  const content = concat(contents);
  const length: number[] = [];
  if (content.length < 128) length.push(content.length);
  else {
    for (let rest = content.length; rest > 0; rest >>= 8) length.unshift(rest & 255);
    length.unshift(0x80 | length.length);
  }
  return concat([Uint8Array.from([tag, ...length]), content]);
}

export const sequence = (...contents: readonly Uint8Array[]): Uint8Array => der(0x30, ...contents);
export const octets = (content: Uint8Array): Uint8Array => der(0x04, content);
export const integer = (small: number): Uint8Array => der(0x02, Uint8Array.of(small));
export const NULL = Uint8Array.of(0x05, 0x00);

/** DER sorts a set by the encodings of its members. */
export const setOf = (tag: number, members: readonly Uint8Array[]): Uint8Array => der(tag, ...[...members].sort(compareBytes));

function compareBytes(a: Uint8Array, b: Uint8Array): number {
  for (let i = 0; i < Math.min(a.length, b.length); i += 1) if (a[i] !== b[i]) return (a[i] as number) - (b[i] as number);
  return a.length - b.length;
}

export function objectIdentifier(text: string): Uint8Array {
  const [first = 0, second = 0, ...rest] = text.split(".").map(Number);
  const bytes = [first * 40 + second];
  for (const arc of rest) {
    const groups = [arc & 127];
    for (let left = Math.floor(arc / 128); left > 0; left = Math.floor(left / 128)) groups.unshift((left & 127) | 128);
    bytes.push(...groups);
  }
  return der(0x06, Uint8Array.from(bytes));
}

export interface DerElement {
  readonly tag: number;
  readonly content: Uint8Array;
  /** With tag and length. */
  readonly whole: Uint8Array;
}

/** The elements that stand one after the other. @throws RangeError on a length that does not fit */
export function derElements(bytes: Uint8Array): readonly DerElement[] {
  const elements: DerElement[] = [];
  for (let at = 0; at < bytes.length; ) {
    const { element, next } = derElement(bytes, at);
    elements.push(element);
    at = next;
  }
  return elements;
}

/** The element that begins at a place; what follows it may be anything. @throws RangeError */
export function derElement(bytes: Uint8Array, at: number): { readonly element: DerElement; readonly next: number } {
  const [tag, short] = [bytes[at], bytes[at + 1]];
  if (tag === undefined || short === undefined) throw new RangeError("DER: an element without end");
  let [from, length] = [at + 2, short];
  if (short >= 128) {
    if (short === 128 || short > 132) throw new RangeError("DER: a length that is not accepted");
    length = 0;
    for (let i = 0; i < short - 128; i += 1) length = length * 256 + (bytes[from + i] ?? 0);
    from += short - 128;
  }
  if (from + length > bytes.length) throw new RangeError("DER: an element longer than what holds it");
  return { element: { tag, content: bytes.subarray(from, from + length), whole: bytes.subarray(at, from + length) }, next: from + length };
}
