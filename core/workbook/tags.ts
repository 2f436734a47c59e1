/** Where the tags of an XML text stand, to change it in place. For texts that the reader has found well-formed. */

export interface Tag {
  /** Without prefix. */
  readonly name: string;
  readonly start: number;
  readonly end: number;
  readonly kind: "open" | "close" | "empty";
}

/** The tags from a place on; comments, CDATA and processing instructions are passed over. */
export function* tagsOf(xml: string, from = 0): Generator<Tag> {
  for (let at = xml.indexOf("<", from); at >= 0; at = xml.indexOf("<", at)) {
    const second = xml.charCodeAt(at + 1);
    if (second === 33 || second === 63) {
      const closing = second === 63 ? "?>" : xml.startsWith("<!--", at) ? "-->" : "]]>";
      const found = xml.indexOf(closing, at + 2);
      if (found < 0) return;
      at = found + closing.length;
      continue;
    }
    const end = tagEnd(xml, at);
    const close = second === 47;
    const kind = close ? "close" : xml.charCodeAt(end - 2) === 47 ? "empty" : "open";
    let start = close ? at + 2 : at + 1;
    let to = start;
    for (let c = xml.charCodeAt(to); to < end - 1 && c !== 47 && c !== 62 && c > 32; c = xml.charCodeAt(to)) {
      to += 1;
      if (c === 58) start = to;
    }
    yield { name: xml.slice(start, to), start: at, end, kind };
    at = end;
  }
}

/** The end of a tag; a `>` inside an attribute value does not end it. */
function tagEnd(xml: string, start: number): number {
  let quote = 0;
  for (let i = start + 1; i < xml.length; i += 1) {
    const c = xml.charCodeAt(i);
    if (quote !== 0) {
      if (c === quote) quote = 0;
    } else if (c === 34 || c === 39) quote = c;
    else if (c === 62) return i + 1;
  }
  return xml.length;
}

const PATTERNS = new Map<string, RegExp>();

/** The value of an attribute as written, by its whole name. */
export function attributeOf(tag: string, name: string): string | undefined {
  let pattern = PATTERNS.get(name);
  if (pattern === undefined) {
    pattern = new RegExp(`\\s${name}\\s*=\\s*(?:"([^"]*)"|'([^']*)')`);
    PATTERNS.set(name, pattern);
  }
  const found = pattern.exec(tag);
  return found?.[1] ?? found?.[2];
}

/** Where the list of rows begins, and the prefix its elements carry (`x:` or nothing); −1 where there is none. */
export function startOfCells(xml: string): { readonly dataStart: number; readonly prefix: string } {
  for (const tag of tagsOf(xml))
    if (tag.name === "sheetData") return { dataStart: tag.start, prefix: xml.slice(tag.start + 1, xml.indexOf("sheetData", tag.start)) };
  return { dataStart: -1, prefix: "" };
}
