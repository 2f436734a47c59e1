import { describe } from "./describe.ts";
import { toleranceFactor } from "./tolerance-factor.ts";

export interface ToleranceInterval {
  readonly n: number;
  readonly mean: number;
  readonly sd: number;
  readonly k: number;
  /** Left out where only the upper limit was asked for, and the other way round. */
  readonly lower?: number;
  readonly upper?: number;
}

/**
 * Limits that hold a share of a normal population with a confidence: mean ∓ k s, k exact.
 * @param values decimal texts, at least two
 * @param side `both` shares the rest between the two ends
 * @throws RangeError for fewer than two values, or where coverage or confidence is not between 0 and 1
 * @source NIST/SEMATECH e-Handbook 7.2.6.3
 */
export function toleranceInterval(
  values: readonly string[],
  coverage: number,
  confidence: number,
  side: "both" | "lower" | "upper",
): ToleranceInterval {
  const n = values.length;
  const k = toleranceFactor({ n, coverage, confidence, sides: side === "both" ? 2 : 1 });
  const { mean, sd = 0 } = describe(values);
  return {
    n,
    mean,
    sd,
    k,
    ...(side === "upper" ? {} : { lower: mean - k * sd }),
    ...(side === "lower" ? {} : { upper: mean + k * sd }),
  };
}
