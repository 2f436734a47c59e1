import { compareExact, exact } from "../decimal.ts";
import type { Provenance } from "../model.ts";

/** By how much a product analysis may leave the range of the heat analysis, mass fraction in per cent. */
export interface ProductTolerance {
  readonly standard: string;
  readonly over?: string;
  readonly under?: string;
  readonly provenance: Provenance;
}

/** A row without `upTo` holds for every limit. Rows of one element ascend. */
interface ToleranceRow {
  readonly element: string;
  /** The limit that is left must be at most this. */
  readonly upTo?: string;
  readonly over?: string;
  readonly under?: string;
}

/** @source ASTM A232/A232M-05, product analysis (read) */
const A232: readonly ToleranceRow[] = [
  { element: "C", over: "0.02", under: "0.02" },
  { element: "Mn", over: "0.03", under: "0.03" },
  { element: "P", over: "0.005" },
  { element: "S", over: "0.005" },
  { element: "Si", over: "0.02", under: "0.02" },
  { element: "Cr", over: "0.05", under: "0.05" },
  { element: "V", under: "0.01" },
];

/** @source ASTM A510, product analysis table (memory; high for C, Mn, P, S) */
const A510: readonly ToleranceRow[] = [
  { element: "C", upTo: "0.25", over: "0.02", under: "0.02" },
  { element: "C", upTo: "0.55", over: "0.03", under: "0.03" },
  { element: "C", over: "0.04", under: "0.04" },
  { element: "Mn", upTo: "0.90", over: "0.03", under: "0.03" },
  { element: "Mn", upTo: "1.65", over: "0.06", under: "0.06" },
  { element: "P", over: "0.008" },
  { element: "S", over: "0.008" },
  { element: "Si", upTo: "0.35", over: "0.02", under: "0.02" },
  { element: "Si", upTo: "0.60", over: "0.05", under: "0.05" },
  { element: "Cu", under: "0.02" },
];

/**
 * Which table a specification refers to. EN 10270-1 refers to standards whose figures the reference does not hold.
 * @source A232: its own table (read); A227, A228, A229: their general requirements A510 (memory, medium)
 */
const TABLES: Readonly<Record<string, { standard: string; rows: readonly ToleranceRow[]; provenance: Provenance }>> = {
  "ASTM A232": { standard: "ASTM A232", rows: A232, provenance: "read" },
  "ASTM A227": { standard: "ASTM A510", rows: A510, provenance: "memory" },
  "ASTM A228": { standard: "ASTM A510", rows: A510, provenance: "memory" },
  "ASTM A229": { standard: "ASTM A510", rows: A510, provenance: "memory" },
};

/**
 * The tolerance of one element; undefined where none is held. The row goes by the larger limit of the heat's range.
 * @param limits of the heat analysis, per cent
 */
export function productTolerance(
  specification: string,
  element: string,
  limits: { readonly min?: string; readonly max?: string },
): ProductTolerance | undefined {
  const table = TABLES[specification];
  const limit = limits.max ?? limits.min;
  if (table === undefined || limit === undefined) return undefined;
  const row = table.rows.find((r) => r.element === element && (r.upTo === undefined || compareExact(exact(limit), exact(r.upTo)) <= 0));
  if (row === undefined) return undefined;
  return {
    standard: table.standard,
    ...(row.over === undefined ? {} : { over: row.over }),
    ...(row.under === undefined ? {} : { under: row.under }),
    provenance: table.provenance,
  };
}
