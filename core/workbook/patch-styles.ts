/** Adds the styles of our marks to a workbook's style sheet; a second time it finds them again and adds nothing. */
export type MarkStyle = "plain" | "header" | "conforms" | "does-not-conform" | "open" | "void" | "error";

/** Pale fills; the words and the bold type carry the meaning, so that a black-and-white print says the same. */
const FILLS: Readonly<Partial<Record<MarkStyle, string>>> = {
  header: "FFD9E1E8",
  "does-not-conform": "FFF3D6D3",
  open: "FFFBF0D0",
  void: "FFEAEAEA",
  error: "FFF9DFC4",
};
const BOLD: ReadonlySet<MarkStyle> = new Set(["header", "conforms", "does-not-conform", "error"]);
const ORDER: readonly MarkStyle[] = ["plain", "header", "conforms", "does-not-conform", "open", "void", "error"];

export function addStyles(xml: string): { readonly xml: string; readonly ids: Readonly<Record<MarkStyle, number>> } {
  const prefix = /<([\w.-]+:)?styleSheet\b/.exec(xml)?.[1] ?? "";
  let text = xml;
  const add = (list: string, element: string, item: string): number => {
    const result = append(text, prefix, list, element, item);
    text = result.xml;
    return result.index;
  };
  const p = prefix;
  const ids = {} as Record<MarkStyle, number>;
  for (const style of ORDER) {
    const font = add(
      "fonts",
      "font",
      `<${p}font>${BOLD.has(style) ? `<${p}b/>` : ""}<${p}sz val="10"/><${p}color rgb="FF1B1B1B"/><${p}name val="Calibri"/></${p}font>`,
    );
    const color = FILLS[style];
    const fill =
      color === undefined
        ? 0
        : add(
            "fills",
            "fill",
            `<${p}fill><${p}patternFill patternType="solid"><${p}fgColor rgb="${color}"/><${p}bgColor indexed="64"/></${p}patternFill></${p}fill>`,
          );
    ids[style] = add(
      "cellXfs",
      "xf",
      `<${p}xf numFmtId="49" fontId="${font}" fillId="${fill}" borderId="0" xfId="0" applyNumberFormat="1" applyFont="1" applyFill="1" applyAlignment="1"><${p}alignment vertical="top" wrapText="1"/></${p}xf>`,
    );
  }
  return { xml: text, ids };
}

/** The index of `item` in a list of the style sheet, added at its end where it is not yet there. */
function append(xml: string, prefix: string, list: string, element: string, item: string): { xml: string; index: number } {
  const open = new RegExp(`<${prefix}${list}\\b[^>]*>`).exec(xml);
  const close = `</${prefix}${list}>`;
  const end = open === null ? -1 : xml.indexOf(close, open.index);
  if (open === null || end < 0) return { xml, index: 0 };
  const start = open.index + open[0].length;
  const items = topLevel(xml.slice(start, end), `${prefix}${element}`);
  const found = items.indexOf(item);
  if (found >= 0) return { xml, index: found };
  const opened = open[0].replace(/\bcount\s*=\s*(["'])\d+\1/, `count="${items.length + 1}"`);
  return { xml: xml.slice(0, open.index) + opened + xml.slice(start, end) + item + xml.slice(end), index: items.length };
}

/** The elements of a list, in order, as written. */
function topLevel(inner: string, element: string): readonly string[] {
  const found: string[] = [];
  const tag = new RegExp(`<(/?)${element}(?=[\\s/>])[^>]*?(/?)>`, "g");
  let depth = 0;
  let start = 0;
  for (const match of inner.matchAll(tag)) {
    if (match[1] === "/") {
      depth -= 1;
      if (depth === 0) found.push(inner.slice(start, match.index + match[0].length));
    } else {
      if (depth === 0) start = match.index;
      if (match[2] === "/") {
        if (depth === 0) found.push(match[0]);
      } else depth += 1;
    }
  }
  return found;
}
