/** Rows of a specification as short English texts. */
import type { Table, TableRow } from "./schema.ts";

/** The keys that say for which diameters a row stands. */
export const EDGES = ["size", "over", "from", "upTo", "below"] as const;
const EDGE_WORDS = { size: "", over: "over ", from: "from ", upTo: "up to ", below: "below " } as const;
/** "over 2.00 upTo 2.10 mm" as people say it. */
export function sizeText(row: TableRow, unit: string): string {
  const parts = EDGES.flatMap((edge) => (row[edge] === undefined ? [] : [`${EDGE_WORDS[edge]}${row[edge]}`]));
  return parts.length === 0 ? "all sizes" : `${parts.join(" ")} ${unit}`;
}

/** `min 40, max 60`; `freeLength times 100, atMost 300 mm`: the keys of the data with their values, min before max. */
export function wordsOf(value: object): string {
  return Object.entries(value)
    .filter(([, inner]) => inner !== undefined && inner !== "")
    .sort(([x], [y]) => (x < y ? 1 : -1))
    .map(([key, inner]) => ` ${key}${typeof inner === "object" && inner !== null ? wordsOf(inner) : ` ${String(inner)}`}`)
    .join(",");
}

/** The limits of a row with their unit, then its conditions. */
export function limitsText(row: Partial<TableRow>, unit: string): string {
  const { min, max, plusMinus, mandrelTimes, radius, indicative, undecided } = row;
  const numbers = wordsOf({ min, max, plusMinus }).trim();
  const rest = wordsOf({ mandrelTimes, radius, indicative, undecided }).trim();
  const parts = [...(numbers === "" ? [] : [`${numbers}${unit === "" ? "" : ` ${unit}`}`]), ...(rest === "" ? [] : [rest])];
  return parts.length === 0 ? "no number" : parts.join("; ");
}

/** Where a row comes from. */
export const aboutText = (row: { provenance: string; source?: string | undefined; note?: string | undefined }): string =>
  [row.provenance, row.source, row.note].filter((text) => text !== undefined).join(", ");

/** What a table says beside its rows: unit, rule between sizes, conditions. */
export function rulesText({
  property: _p,
  grades: _g,
  rows: _r,
  clause: _c,
  betweenProvenance: _b,
  diameterUnit: _d,
  ...rules
}: Table): string {
  return wordsOf(rules).trim();
}
