import { SaxesParser } from "saxes";
import { RefusedWorkbook } from "./package.ts";

const DEEPEST = 256;

export interface XmlHandlers {
  open?(name: string, attributes: Readonly<Record<string, string>>): void;
  close?(name: string): void;
  text?(text: string): void;
}

/** The name without its namespace prefix. Prefixes are the writer's choice; the element names of the format are unique. */
export const localName = (name: string): string => {
  const colon = name.indexOf(":");
  return colon < 0 ? name : name.slice(colon + 1);
};

/**
 * Walks a part. Names come without prefix; attributes keep theirs.
 * @throws RefusedWorkbook on a DOCTYPE, on malformed XML, on nesting deeper than 256
 */
export function parseXml(text: string, part: string, handlers: XmlHandlers): void {
  const parser = new SaxesParser({ xmlns: false });
  let depth = 0;
  parser.on("doctype", () => {
    throw new RefusedWorkbook("doctype", `The part ${part} carries a document type declaration, which no workbook needs.`);
  });
  parser.on("error", (error) => {
    throw new RefusedWorkbook("malformed-xml", `The part ${part} is damaged: ${error.message.replaceAll(/\s+/g, " ").slice(0, 160)}.`);
  });
  parser.on("opentag", (tag) => {
    depth += 1;
    if (depth > DEEPEST) throw new RefusedWorkbook("too-deep", `The part ${part} nests deeper than ${DEEPEST}.`);
    handlers.open?.(localName(tag.name), tag.attributes as Record<string, string>);
  });
  parser.on("closetag", (tag) => {
    depth -= 1;
    handlers.close?.(localName(tag.name));
  });
  if (handlers.text) {
    parser.on("text", (value) => handlers.text?.(value));
    parser.on("cdata", (value) => handlers.text?.(value));
  }
  parser.write(text).close();
}

/** An attribute by its local name, whatever its prefix. */
export function attribute(attributes: Readonly<Record<string, string>>, name: string): string | undefined {
  if (attributes[name] !== undefined) return attributes[name];
  for (const [key, value] of Object.entries(attributes)) if (key.endsWith(`:${name}`)) return value;
  return undefined;
}

export const isTrue = (value: string | undefined): boolean => value === "1" || value === "true" || value === "on";

/** `_x0041_` is how the format writes a character that XML cannot carry. */
export const decodeEscapes = (text: string): string =>
  text.includes("_x") ? text.replaceAll(/_x([0-9A-Fa-f]{4})_/g, (_, hex: string) => String.fromCharCode(Number.parseInt(hex, 16))) : text;

/** Text for an XML element: markup escaped, characters XML cannot carry as `_xHHHH_`, and that form itself protected. */
export function escapeXml(text: string): string {
  return text
    .replaceAll(/_(?=x[0-9A-Fa-f]{4}_)/g, "_x005F_")
    .replaceAll("&", "&amp;")
    .replaceAll("<", "&lt;")
    .replaceAll(">", "&gt;")
    .replaceAll('"', "&quot;")
    .replaceAll(
      /[\u0000-\u0008\u000b\u000c\u000e-\u001f\ufffe\uffff]/g,
      (c) => `_x${c.charCodeAt(0).toString(16).toUpperCase().padStart(4, "0")}_`,
    )
    .replaceAll(/[\ud800-\udbff](?![\udc00-\udfff])|(?<![\ud800-\udbff])[\udc00-\udfff]/g, "\ufffd");
}

/** `C` to 3. @throws RangeError for anything but one to three letters */
export function columnNumber(letters: string): number {
  if (!/^[A-Za-z]{1,3}$/.test(letters)) throw new RangeError(`not column letters: "${letters}"`);
  let number = 0;
  for (const letter of letters.toUpperCase()) number = number * 26 + letter.charCodeAt(0) - 64;
  return number;
}

export function columnLetters(number: number): string {
  let letters = "";
  for (let rest = number; rest > 0; rest = Math.floor((rest - 1) / 26)) letters = String.fromCharCode(65 + ((rest - 1) % 26)) + letters;
  return letters;
}
