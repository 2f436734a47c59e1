import { type Exact, toNumber } from "../decimal.ts";
import { onOneScale } from "./one-scale.ts";

export interface Description {
  readonly n: number;
  readonly mean: number;
  /** n − 1; left out for one value. */
  readonly sd?: number;
  /** Autocorrelation of neighbours; left out where the values do not differ. */
  readonly lag1?: number;
}

/**
 * The values as whole numbers of one common unit, less n times their mean: sums of products stay exact and cheap.
 * The deviation of a value is its entry / (n × scale).
 */
export function deviations(values: readonly string[]): { deviations: readonly bigint[]; scale: bigint; sum: bigint } {
  const { numbers: whole, scale } = onOneScale(values);
  const sum = whole.reduce((total, value) => total + value, 0n);
  const n = BigInt(values.length);
  return { deviations: whole.map((value) => value * n - sum), scale, sum };
}

/**
 * Number, mean, standard deviation and lag-1 autocorrelation of decimal texts: exact sums, one square root at the end.
 * @throws RangeError for no values
 * @source NIST Statistical Reference Datasets, univariate summary statistics (definitions and certified values)
 */
export function describe(values: readonly string[]): Description {
  if (values.length === 0) throw new RangeError("no values");
  const n = values.length;
  const { deviations: off, scale, sum } = deviations(values);
  const mean = toNumber({ numerator: sum, denominator: scale * BigInt(n) });
  if (n === 1) return { n, mean };
  const squares = off.reduce((total, d) => total + d * d, 0n);
  const unit = scale * BigInt(n);
  const sd = squareRoot({ numerator: squares, denominator: unit * unit * BigInt(n - 1) });
  if (squares === 0n) return { n, mean, sd };
  const neighbours = off.slice(1).reduce((total, d, index) => total + d * (off[index] ?? 0n), 0n);
  return { n, mean, sd, lag1: toNumber({ numerator: neighbours, denominator: squares }) };
}

/** The nearest double, or its neighbour, to the square root: taken on whole numbers of at least 40 digits. */
export function squareRoot(value: Exact): number {
  if (value.numerator === 0n) return 0;
  const digits = BigInt(Math.max(0, 40 + value.denominator.toString().length - value.numerator.toString().length));
  const shift = 10n ** digits;
  const root = wholeRoot((value.numerator * shift * shift) / value.denominator);
  return toNumber({ numerator: root, denominator: shift });
}

/** Newton's method on whole numbers: the largest whole number whose square is not above `value`. */
function wholeRoot(value: bigint): bigint {
  let root = 1n << BigInt(Math.ceil(value.toString(2).length / 2));
  for (;;) {
    const next = (root + value / root) / 2n;
    if (next >= root) return root;
    root = next;
  }
}
