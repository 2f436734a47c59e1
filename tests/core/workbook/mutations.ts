/** Mutated workbooks for the fuzz run, each reproducible from its number. */
import { corpusBook } from "./corpus-book.ts";
import { type RawEntry, rawZip } from "./raw-zip.ts";

/** Numbers that come out the same for the same seed (a linear congruential generator; no secret depends on it). */
export function numbersFrom(seed: number): (below: number) => number {
  let state = (seed * 2654435761 + 12345) >>> 0;
  return (below) => {
    state = (Math.imul(state, 1664525) + 1013904223) >>> 0;
    return Math.floor((state / 2 ** 32) * below);
  };
}

/** What often breaks readers: markup, references, numbers at the edges, pieces of the format. */
const SPLINTERS: readonly string[] = [
  "<",
  ">",
  "&",
  "]]>",
  "<![CDATA[",
  "<!--",
  "-->",
  "<?",
  "?>",
  "<!DOCTYPE x>",
  "&#0;",
  "&#x10FFFF;",
  "&lt;",
  '"',
  "'",
  "=",
  "/",
  "</row>",
  "<row>",
  '<row r="2">',
  '<row r="1048577"/>',
  '<c r="XFD1"/>',
  '<c r="ZZZZ1"/>',
  "</c>",
  "<v>",
  "</v>",
  "</sheetData>",
  "<sheetData>",
  "<extLst>",
  ' r="0"',
  ' s="99999"',
  ' t="s"',
  ' t="inlineStr"',
  ' xml:space="preserve"',
  "\u0000",
  "\u0001",
  "\ufeff",
  "\ufffe",
  "é",
  "𝔓",
  "-1",
  "1e999",
  "99999999999999999999",
  "_x0000_",
  "_xD800_",
  "x:",
  "xmlns:x='y'",
];

const mutateText = (xml: string, random: (below: number) => number): string => {
  let text = xml;
  for (let n = random(3) + 1; n > 0; n -= 1) {
    const at = random(text.length + 1);
    const length = random(4) === 0 ? random(200) : random(6);
    const splinter = SPLINTERS[random(SPLINTERS.length)] as string;
    switch (random(5)) {
      case 0:
        text = text.slice(0, at) + text.slice(at + length);
        break;
      case 1:
        text = text.slice(0, at) + splinter + text.slice(at);
        break;
      case 2:
        text = text.slice(0, at) + splinter + text.slice(at + splinter.length);
        break;
      case 3:
        text = text.slice(0, at) + text.slice(at, at + length).repeat(random(20) + 2) + text.slice(at);
        break;
      default: {
        const from = random(text.length + 1);
        text = text.slice(0, at) + text.slice(from, from + random(80)) + text.slice(at);
      }
    }
  }
  return text;
};

const mutateBytes = (bytes: Uint8Array, random: (below: number) => number): Uint8Array => {
  let changed = Uint8Array.from(bytes);
  for (let n = random(4) + 1; n > 0; n -= 1) {
    const at = random(changed.length);
    switch (random(4)) {
      case 0:
        changed[at] = random(256);
        break;
      case 1:
        changed[at] = (changed[at] as number) ^ (1 << random(8));
        break;
      case 2:
        changed = changed.slice(0, at);
        break;
      default: {
        const length = random(16) + 1;
        changed.set(changed.slice(random(changed.length), changed.length).subarray(0, Math.min(length, changed.length - at)), at);
      }
    }
    if (changed.length === 0) break;
  }
  return changed;
};

let parts: readonly RawEntry[] | undefined;
const baseParts = (): readonly RawEntry[] => {
  if (parts === undefined)
    corpusBook({
      strings: "<si><t>P1</t></si><si><r><t>ri</t></r><r><t>ch</t></r></si>",
      moreRows: '<row r="3" spans="1:3"><c r="A3" t="s"><v>0</v></c><c r="B3" t="s"><v>1</v></c><c r="E3"><f>12+12</f><v>24</v></c></row>',
      parts: (made) => {
        parts = made;
        return made;
      },
    });
  return parts ?? [];
};

/** The workbook number `seed`: a fault in the XML of one part, in the headers of the package, or anywhere in its bytes. */
export function mutated(seed: number): Uint8Array {
  const random = numbersFrom(seed);
  const base = baseParts();
  const kind = random(10);
  if (kind < 6) {
    const target = random(4) === 0 ? random(base.length) : base.findIndex((part) => part.name.includes("sheet1"));
    return rawZip(base.map((part, i) => (i === target ? { ...part, content: mutateText(String(part.content), random) } : part)));
  }
  if (kind < 8) {
    const target = random(base.length);
    const fault = (
      [
        { size: random(2 ** 31) },
        { packedSize: random(100_000) },
        { flags: random(65_536) },
        { method: random(20) },
        { crc: random(2 ** 31) },
        { place: random(10_000) },
        { descriptor: true },
        { zip64: true, size: random(2 ** 31) },
        { localName: SPLINTERS[random(SPLINTERS.length)] as string },
        { attributes: random(2 ** 31) },
      ] as const
    )[random(10)] as Partial<RawEntry>;
    return rawZip(base.map((part, i) => (i === target ? { ...part, ...fault } : part)));
  }
  return mutateBytes(rawZip(base), random);
}
