/**
 * The reference tables as the tests read them, and what a table answers at a diameter, worked out apart from the product:
 * integers of 0.00001 of the table's unit, no code of core/spec.
 */
import { readFileSync } from "node:fs";
import { fileURLToPath } from "node:url";

export type Row = Readonly<Record<string, string>> & { readonly line: number };

/** The rows of a reference table, by column name; `line` counts from 1 with the header. */
export function readReference(name: string): readonly Row[] {
  const text = readFileSync(fileURLToPath(new URL(`../../data/reference/${name}.csv`, import.meta.url)), "utf8");
  const [header = [], ...lines] = parseCsv(text);
  return lines.map(
    (cells, index) => Object.assign(Object.fromEntries(header.map((key, at) => [key, cells[at] ?? ""])), { line: index + 2 }) as Row,
  );
}

function parseCsv(text: string): string[][] {
  return text
    .split(/\r?\n/)
    .filter((line) => line !== "")
    .map((line) => [...line.matchAll(/(?:^|,)(?:"((?:[^"]|"")*)"|([^,]*))/g)].map((m) => (m[1] ?? m[2] ?? "").replaceAll('""', '"')));
}

const SCALE = 100_000;
export const toInteger = (text: string): number => Math.round(Number(text) * SCALE);
export const toText = (value: number): string => (value / SCALE).toFixed(5).replace(/0+$/, "").replace(/\.$/, "");

export type Provenance = "read" | "memory" | "own";

/** One cell of the reference: the limits of one grade at one tabulated size or in one size range. */
export interface Cell {
  readonly line: number;
  readonly grade: string;
  readonly size?: string;
  readonly low?: string;
  readonly lowIncluded?: boolean;
  readonly high?: string;
  readonly highIncluded?: boolean;
  readonly min?: string;
  readonly max?: string;
  readonly provenance: Provenance;
}

export interface Family {
  /** File and, where one file holds several, which. */
  readonly name: string;
  readonly specification: string;
  readonly property: string;
  readonly unit: string;
  readonly diameterUnit: "mm" | "in";
  readonly between: "bands" | "linear" | "next-larger" | "next-smaller" | "listed";
  readonly betweenProvenance?: Provenance;
  /** Smallest step at which a diameter is another one, in the table's unit. */
  readonly step?: string;
  readonly cells: readonly Cell[];
}

export type Expected =
  | { readonly min?: string; readonly max?: string; readonly provenance: Provenance }
  | { readonly error: "no-rule" | "outside-scope" };

const bottom = (cell: Cell): number =>
  (cell.size ?? cell.low) === undefined ? Number.NEGATIVE_INFINITY : toInteger(cell.size ?? cell.low ?? "");
const top = (cell: Cell): number =>
  (cell.size ?? cell.high) === undefined ? Number.POSITIVE_INFINITY : toInteger(cell.size ?? cell.high ?? "");

function holds(cell: Cell, d: number): boolean {
  if (cell.size !== undefined) return d === bottom(cell);
  return (
    (d > bottom(cell) || (d === bottom(cell) && cell.lowIncluded === true)) &&
    (d < top(cell) || (d === top(cell) && cell.highIncluded === true))
  );
}
const isBelow = (cell: Cell, d: number): boolean => top(cell) < d || (top(cell) === d && !holds(cell, d));
const isAbove = (cell: Cell, d: number): boolean => bottom(cell) > d || (bottom(cell) === d && !holds(cell, d));

const worst = (...list: (Provenance | undefined)[]): Provenance =>
  (["memory", "read", "own"] as const).find((p) => list.includes(p)) ?? "own";

const limitsOf = (cell: Cell, rule?: Provenance): Expected => ({
  ...(cell.min === undefined ? {} : { min: cell.min }),
  ...(cell.max === undefined ? {} : { max: cell.max }),
  provenance: worst(cell.provenance, rule),
});

/** What the table says for a grade at a diameter of `d` / 100000 units: a cell, a value between two, or the kind of silence. */
export function expectedAt(family: Family, grade: string, d: number): Expected {
  const own = family.cells.filter((cell) => cell.grade === grade);
  const here = own.find((cell) => holds(cell, d));
  if (here !== undefined) return limitsOf(here);
  const hole = own.some((cell) => isBelow(cell, d)) && own.some((cell) => isAbove(cell, d));
  const silence: Expected = { error: hole ? "no-rule" : "outside-scope" };
  if (family.between === "bands" || family.between === "listed") return silence;
  const sizes = [...new Set(family.cells.map((cell) => toInteger(cell.size ?? "")))].sort((a, b) => a - b);
  const rule = family.betweenProvenance;
  const lower = sizes.findLast((size) => size < d);
  const upper = sizes.find((size) => size > d);
  const at = (size: number | undefined): Cell | undefined => own.find((cell) => size !== undefined && toInteger(cell.size ?? "") === size);
  if (sizes.includes(d)) return family.between === "next-smaller" && own.some((cell) => isBelow(cell, d)) ? { error: "no-rule" } : silence;
  if (family.between === "next-smaller") {
    const cell = at(lower);
    if (cell !== undefined) return limitsOf(cell, rule);
    return { error: own.some((other) => isBelow(other, d)) ? "no-rule" : "outside-scope" };
  }
  const [low, high] = [at(lower), at(upper)];
  if (family.between === "next-larger") return high !== undefined && own.some((cell) => isBelow(cell, d)) ? limitsOf(high, rule) : silence;
  if (low === undefined || high === undefined) return silence;
  const share = (d - bottom(low)) / (bottom(high) - bottom(low));
  const mixed = (a: string | undefined, b: string | undefined): string => String(Number(a) + (Number(b) - Number(a)) * share);
  return { min: mixed(low.min, high.min), max: mixed(low.max, high.max), provenance: worst(low.provenance, high.provenance, rule) };
}

/** Both ends of a cell's range, its middle, and the nearest diameters outside it. */
export function probes(family: Family, cell: Cell): readonly number[] {
  const step = toInteger(family.step ?? "0.0001");
  const ends = [bottom(cell), top(cell)].filter(Number.isFinite);
  const around = ends.flatMap((end) => [end - step, end, end + step]);
  const middle = ends.length === 2 && family.step === undefined ? [Math.round(((ends[0] ?? 0) + (ends[1] ?? 0)) / 2)] : [];
  return [...new Set([...around, ...middle])].filter((d) => d > 0);
}
