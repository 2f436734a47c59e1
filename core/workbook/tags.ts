/** Where the tags of an XML text stand, to change it in place. For texts that the reader has found well-formed. */

export type TagKind = "open" | "close" | "empty";

/**
 * Visits the tags from a place on; comments, CDATA and processing instructions are passed over. Places instead of objects, because
 * a large sheet has millions of tags.
 * @param visit gets the tag's name without prefix, its start, its end and where its name ends; true stops the walk
 */
export function visitTags(
  xml: string,
  from: number,
  visit: (name: string, start: number, end: number, kind: TagKind, nameEnd: number) => boolean | undefined,
): void {
  let known = "";
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
    let start = close ? at + 2 : at + 1;
    let to = start;
    for (let c = xml.charCodeAt(to); c !== 47 && c !== 62 && c > 32 && to < end; c = xml.charCodeAt(to)) {
      to += 1;
      if (c === 58) start = to;
    }
    if (known.length !== to - start || !xml.startsWith(known, start)) known = xml.slice(start, to);
    if (visit(known, at, end, close ? "close" : xml.charCodeAt(end - 2) === 47 ? "empty" : "open", to) === true) return;
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
  let [dataStart, prefix] = [-1, ""];
  visitTags(xml, 0, (name, start, _, __, nameEnd) => {
    if (name !== "sheetData") return false;
    [dataStart, prefix] = [start, xml.slice(start + 1, nameEnd - name.length)];
    return true;
  });
  return { dataStart, prefix };
}
