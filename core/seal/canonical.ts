/** One text for one content: JSON with sorted names and no blanks. @source RFC 8785 (JSON Canonicalization Scheme) */

const LONE_SURROGATE = /[\ud800-\udbff](?![\udc00-\udfff])|(?<![\ud800-\udbff])[\udc00-\udfff]/;

/**
 * Members that are undefined are left out, as in JSON.
 * @throws RangeError on what has no form in JSON: numbers that are not finite, half a surrogate pair, functions, values too deep
 */
export function canonicalJson(value: unknown, depth = 0): string {
  if (depth > 100) throw new RangeError("nested deeper than 100 levels");
  if (value === null || typeof value === "boolean") return String(value);
  if (typeof value === "number") {
    if (!Number.isFinite(value)) throw new RangeError(`no number of JSON: ${value}`);
    return JSON.stringify(value);
  }
  if (typeof value === "string") {
    if (LONE_SURROGATE.test(value)) throw new RangeError("half a surrogate pair is no text");
    return JSON.stringify(value);
  }
  if (Array.isArray(value)) return `[${value.map((item) => canonicalJson(item, depth + 1)).join(",")}]`;
  if (typeof value !== "object") throw new RangeError(`no value of JSON: ${typeof value}`);
  const members = Object.entries(value as Readonly<Record<string, unknown>>)
    .filter(([, member]) => member !== undefined)
    // The default order of texts is that of their UTF-16 units, which is what the scheme asks for.
    .sort(([a], [b]) => (a < b ? -1 : a > b ? 1 : 0));
  return `{${members.map(([name, member]) => `${canonicalJson(name)}:${canonicalJson(member, depth + 1)}`).join(",")}}`;
}
