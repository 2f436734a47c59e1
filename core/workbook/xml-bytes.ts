/** Bytes of UTF-8 as the XML walk looks at them. */

const [TAB, LF, CR] = [9, 10, 13] as const;
export const [SPACE, QUOTE, AMP, APOSTROPHE, SLASH, LESS, EQUALS, GREATER, QUESTION] = [32, 34, 38, 39, 47, 60, 61, 62, 63] as const;

/** True for the four characters XML takes for blanks. */
export const isBlank = (byte: number): boolean => byte === SPACE || byte === LF || byte === CR || byte === TAB;

/** ASCII characters that cannot stand in a name; everything from 0x80 may. */
export const NO_NAME = new Uint8Array(256);
for (let c = 0; c < 0x80; c += 1) if (!/[\w.:-]/.test(String.fromCharCode(c))) NO_NAME[c] = 1;

/** True for a name with at most one prefix. */
export const isName = (name: string): boolean =>
  /^[A-Za-z_\u00c0-\uffff][\w.\-\u00b7-\uffff]*(?::[A-Za-z_\u00c0-\uffff][\w.\-\u00b7-\uffff]*)?$/.test(name);

/** The text of bytes that are known to be below 0x80. */
export function ascii(bytes: Uint8Array, from: number, to: number): string {
  if (to - from <= 24) {
    let text = "";
    for (let i = from; i < to; i += 1) text += String.fromCharCode(bytes[i] as number);
    return text;
  }
  if (to - from < 4096) return String.fromCharCode.apply(undefined, bytes.subarray(from, to) as unknown as number[]);
  return new TextDecoder("latin1").decode(bytes.subarray(from, to));
}

/** Where an ASCII text begins between two places, or −1. */
export function indexOf(bytes: Uint8Array, text: string, from: number, to: number): number {
  const first = text.charCodeAt(0);
  for (let at = bytes.indexOf(first, from); at >= 0 && at + text.length <= to; at = bytes.indexOf(first, at + 1)) {
    let k = 1;
    while (k < text.length && bytes[at + k] === text.charCodeAt(k)) k += 1;
    if (k === text.length) return at;
  }
  return -1;
}

/** The end at or before `to` that cuts no character and no line end in two. */
export function wholeCharacters(bytes: Uint8Array, from: number, to: number): number {
  let end = Math.max(from, to);
  while (end > from && ((bytes[end] as number) & 0xc0) === 0x80) end -= 1;
  while (end > from && bytes[end - 1] === CR) end -= 1;
  return end;
}
