import { toNumber } from "../decimal.ts";
import { describe, deviations } from "./describe.ts";
import { tQuantile } from "./distributions.ts";

export interface Grubbs {
  /** Largest distance from the mean in standard deviations (n − 1). */
  readonly G: number;
  readonly critical: number;
  /** From 1: the first of the points farthest from the mean. */
  readonly index: number;
  /** True where G is above the critical value. */
  readonly outlier: boolean;
}

/**
 * Grubbs' test of the point farthest from the mean.
 * @param values decimal texts, at least three
 * @param alpha level of significance, between 0 and 1
 * @param sides 1 takes alpha / n, 2 takes alpha / 2n
 * @returns undefined where the values do not differ
 * @throws RangeError for fewer than three values
 * @source NIST/SEMATECH e-Handbook 1.3.5.17.1
 */
export function grubbs(values: readonly string[], alpha: number, sides: 1 | 2): Grubbs | undefined {
  const n = values.length;
  if (n < 3) throw new RangeError(`Grubbs' test needs three values, got ${n}`);
  const { sd = 0 } = describe(values);
  if (sd === 0) return undefined;
  const { deviations: off, scale } = deviations(values);
  const size = (index: number): bigint => {
    const d = off[index] ?? 0n;
    return d < 0n ? -d : d;
  };
  const farthest = off.reduce((best, _, index) => (size(index) > size(best) ? index : best), 0);
  const G = toNumber({ numerator: size(farthest), denominator: scale * BigInt(n) }) / sd;
  // The lower tail keeps the digits of a small alpha.
  const t = -tQuantile(alpha / (sides * n), n - 2);
  const critical = ((n - 1) / Math.sqrt(n)) * Math.sqrt((t * t) / (n - 2 + t * t));
  return { G, critical, index: farthest + 1, outlier: G > critical };
}
