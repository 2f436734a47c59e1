import { attributeOf } from "./tags.ts";

const SHARED =
  /<(?:[\w.-]+:)?c\b[^>]*\br="([A-Z]+)(\d+)"[^>]*>\s*<(?:[\w.-]+:)?f\b([^>]*\bt="shared"[^>]*?)(?:\/>|>([^<]*)<\/(?:[\w.-]+:)?f>)/g;

/** Where a replaced cell was the master of a shared formula, the first cell left becomes the master. */
export function promoteSharedFormulas(before: string, after: string, prefix: string): string {
  const masters = new Map<string, { row: number; formula: string }>();
  for (const [, , row, attributes, formula] of before.matchAll(SHARED)) {
    const index = attributeOf(attributes ?? "", "si");
    if (index !== undefined && formula !== undefined && formula !== "") masters.set(index, { row: Number(row), formula });
  }
  const kept = new Set<string>();
  const last = new Map<string, string>();
  for (const [, column, row, attributes, formula] of after.matchAll(SHARED)) {
    const index = attributeOf(attributes ?? "", "si") ?? "";
    if (formula !== undefined && formula !== "") kept.add(index);
    last.set(index, `${column}${row}`);
  }
  const done = new Set<string>();
  return after.replaceAll(SHARED, (whole, column: string, row: string, attributes: string) => {
    const index = attributeOf(attributes, "si") ?? "";
    const master = masters.get(index);
    if (kept.has(index) || done.has(index) || master === undefined) return whole;
    done.add(index);
    const cellTag = whole.slice(0, whole.indexOf(">") + 1);
    return `${cellTag}<${prefix}f t="shared" ref="${column}${row}:${last.get(index)}" si="${index}">${shiftRows(master.formula, Number(row) - master.row)}</${prefix}f>`;
  });
}

/** Moves the relative row references of a formula; quoted text and absolute rows stay. */
export function shiftRows(formula: string, by: number): string {
  return formula
    .split(/("[^"]*")/)
    .map((part, i) =>
      i % 2 === 1
        ? part
        : part.replaceAll(
            /(?<![A-Za-z0-9_.])(\$?[A-Z]{1,3})(\d{1,7})(?![\d(A-Za-z_.])/g,
            (_, column: string, row: string) => `${column}${Number(row) + by}`,
          ),
    )
    .join("");
}
