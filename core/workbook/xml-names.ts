export interface XmlName {
  readonly full: string;
  readonly prefix: string;
  /** Without prefix. Prefixes are the writer's choice; the element names of the format are unique. */
  readonly local: string;
}

interface Slot extends XmlName {
  readonly bytes: Uint8Array;
}

const SLOTS = 1024;

/** Remembers the names met, so that a name that comes back a million times is decoded once. A newer name takes the place of an older one. */
export class NameTable {
  readonly #slots: (Slot | undefined)[] = new Array<Slot | undefined>(SLOTS).fill(undefined);

  find(bytes: Uint8Array, from: number, to: number): XmlName | undefined {
    const slot = this.#slots[hash(bytes, from, to)];
    if (slot === undefined || slot.bytes.length !== to - from) return undefined;
    for (let i = from; i < to; i += 1) if (slot.bytes[i - from] !== bytes[i]) return undefined;
    return slot;
  }

  add(bytes: Uint8Array, from: number, to: number, full: string): XmlName {
    const colon = full.indexOf(":");
    const slot = {
      full,
      prefix: colon < 0 ? "" : full.slice(0, colon),
      local: full.slice(colon + 1),
      bytes: bytes.slice(from, to),
    };
    this.#slots[hash(bytes, from, to)] = slot;
    return slot;
  }
}

function hash(bytes: Uint8Array, from: number, to: number): number {
  let h = to - from;
  for (let i = from; i < to; i += 1) h = (h * 31 + (bytes[i] as number)) | 0;
  return h & (SLOTS - 1);
}
