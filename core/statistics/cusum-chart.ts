import { toNumber } from "../decimal.ts";
import { onOneScale } from "./one-scale.ts";

export interface CusumQuestion {
  /** Decimal texts, in order, like the other three. */
  readonly values: readonly string[];
  readonly target: string;
  /** Allowance k in the values' unit, not below zero. Usual: half a sigma (memory). */
  readonly allowance: string;
  /** Decision interval h in the values' unit, above zero. Usual: 4 or 5 sigma (memory). */
  readonly decisionInterval: string;
}

export interface CusumPoint {
  /** From 1. */
  readonly index: number;
  /** Sum of what lies above target + k, and of what lies below target - k; neither falls below zero. */
  readonly high: number;
  readonly low: number;
  /** Sums strictly above h: both where the values jump from one side to the other. */
  readonly signals: readonly ("high" | "low")[];
}

/**
 * Tabular CUSUM: high = max(0, high before + x - target - k), low = max(0, low before + target - k - x). Exact sums.
 * @throws RangeError where the allowance is below zero or the decision interval is not above it
 * @source NIST/SEMATECH e-Handbook 6.3.2.3
 */
export function cusumChart({ values, target, allowance, decisionInterval }: CusumQuestion): readonly CusumPoint[] {
  const { numbers, scale } = onOneScale([target, allowance, decisionInterval, ...values]);
  const [level = 0n, k = 0n, h = 0n, ...readings] = numbers;
  if (k < 0n || h <= 0n)
    throw new RangeError(`allowance must not be below zero, decision interval above it, got ${allowance} and ${decisionInterval}`);
  let high = 0n;
  let low = 0n;
  return readings.map((reading, at): CusumPoint => {
    high = atLeastZero(high + reading - level - k);
    low = atLeastZero(low + level - k - reading);
    return {
      index: at + 1,
      high: toNumber({ numerator: high, denominator: scale }),
      low: toNumber({ numerator: low, denominator: scale }),
      signals: [...(high > h ? (["high"] as const) : []), ...(low > h ? (["low"] as const) : [])],
    };
  });
}

const atLeastZero = (sum: bigint): bigint => (sum > 0n ? sum : 0n);
