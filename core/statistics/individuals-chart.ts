import { compareExact, divideExact, type Exact, exact, subtractExact, toNumber } from "../decimal.ts";
import { controlChartFactors } from "./control-chart-factors.ts";
import { describe } from "./describe.ts";
import { onOneScale } from "./one-scale.ts";

export const RUN_RULES = ["beyond-3-sigma", "2-of-3-beyond-2-sigma", "4-of-5-beyond-1-sigma", "run-of-8", "trend-of-6"] as const;
export type RunRule = (typeof RUN_RULES)[number];

export interface Signal {
  /** From 1: the point that completes the pattern. */
  readonly index: number;
  readonly rule: RunRule;
}

export interface IndividualsChart {
  readonly centre: number;
  /** Left out for one value, which has no moving range. */
  readonly upper?: number;
  readonly lower?: number;
  readonly movingRangeMean?: number;
  readonly signals: readonly Signal[];
}

/** As printed, 1.128 (the exact value is 1.128379). */
const D2 = exact(controlChartFactors(2).d2);
const absolute = (value: Exact): Exact => (value.numerator < 0n ? { ...value, numerator: -value.numerator } : value);
const distance = (a: bigint, b: bigint): bigint => (a > b ? a - b : b - a);
const times = (value: Exact, factor: bigint): Exact => ({ numerator: value.numerator * factor, denominator: value.denominator });

/**
 * Chart of individual values with limits from the mean moving range: centre ∓ 3 MR / 1.128.
 * @param values decimal texts
 * @throws RangeError for no values
 * @source NIST/SEMATECH e-Handbook 6.3.2.2
 */
export function individualsChart(values: readonly string[]): IndividualsChart {
  const { n, mean } = describe(values);
  if (n === 1) return { centre: mean, signals: [] };
  const { numbers, scale } = onOneScale(values);
  const count = BigInt(n);
  const sum = numbers.reduce((total, number) => total + number, 0n);
  const centre: Exact = { numerator: sum, denominator: scale * count };
  const ranges = numbers.slice(1).reduce((total, number, index) => total + distance(number, numbers[index] ?? number), 0n);
  const movingRange: Exact = { numerator: ranges, denominator: scale * (count - 1n) };
  const sigma = divideExact(movingRange, D2);
  const limit = (side: 1n | -1n): number => toNumber(subtractExact(centre, times(sigma, -3n * side)));
  return {
    centre: mean,
    upper: limit(1n),
    lower: limit(-1n),
    movingRangeMean: toNumber(movingRange),
    signals: runSignals(
      numbers.map((numerator) => ({ numerator, denominator: scale })),
      centre,
      sigma,
    ),
  };
}

/**
 * Signals of five run rules, by index and in the order of RUN_RULES. Beyond means strictly; where several of a window must be
 * beyond, the last point itself is and all that count lie on its side; a point on the centre line ends a run, equal neighbours a trend.
 * @source Western Electric rules; NIST/SEMATECH e-Handbook 6.3.2 (rules read, their edges by the contract)
 */
export function runSignals(points: readonly Exact[], centre: Exact, sigma: Exact): readonly Signal[] {
  const off = points.map((point) => subtractExact(point, centre));
  /** The zone a point lies strictly beyond, 0 to 3, signed by its side; `side` alone tells whether it lies on the centre line. */
  const zones = off.map((distance) => {
    const size = absolute(distance);
    return [3, 2, 1].find((zone) => compareExact(size, times(sigma, BigInt(zone))) > 0) ?? 0;
  });
  const sides = off.map((distance) => (distance.numerator > 0n ? 1 : distance.numerator < 0n ? -1 : 0));
  const steps = points.map((point, index) => {
    const before = points[index - 1];
    return before === undefined ? 0 : compareExact(point, before);
  });
  const enough = (index: number, zone: number, window: number, needed: number): boolean => {
    const beyond = (at: number): boolean => (zones[at] ?? 0) >= zone && sides[at] === sides[index];
    return beyond(index) && range(Math.max(0, index - window + 1), index).filter(beyond).length >= needed;
  };
  /** The last `length` marks are equal and not zero. */
  const same = (marks: readonly number[], index: number, length: number): boolean =>
    index + 1 >= length && marks[index] !== 0 && range(index - length + 1, index).every((at) => marks[at] === marks[index]);
  const tests: Readonly<Record<RunRule, (index: number) => boolean>> = {
    "beyond-3-sigma": (index) => zones[index] === 3,
    "2-of-3-beyond-2-sigma": (index) => enough(index, 2, 3, 2),
    "4-of-5-beyond-1-sigma": (index) => enough(index, 1, 5, 4),
    "run-of-8": (index) => same(sides, index, 8),
    "trend-of-6": (index) => same(steps, index, 5),
  };
  return points.flatMap((_, index) => RUN_RULES.filter((rule) => tests[rule](index)).map((rule) => ({ index: index + 1, rule })));
}

const range = (from: number, to: number): readonly number[] => Array.from({ length: to - from + 1 }, (_, step) => from + step);
