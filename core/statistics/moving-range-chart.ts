import { compareExact, type Exact, exact, multiplyExact, toNumber } from "../decimal.ts";
import { controlChartFactors } from "./control-chart-factors.ts";
import { onOneScale } from "./one-scale.ts";

export interface MovingRangeChart {
  /** The mean moving range. */
  readonly centre: number;
  readonly upper: number;
  readonly lower: 0;
  /** In order; the first belongs to the second value. */
  readonly ranges: readonly number[];
  /** Points strictly above the upper limit, numbered like the values: from 2. */
  readonly signals: readonly number[];
}

/**
 * Chart of the distances between neighbours, the companion of the individuals chart: centre their mean, upper limit D4 x mean.
 * @param values decimal texts
 * @returns undefined for fewer than two values, which have no range
 * @source NIST/SEMATECH e-Handbook 6.3.2.2; D4 = 3.267 as printed for n = 2
 */
export function movingRangeChart(values: readonly string[]): MovingRangeChart | undefined {
  if (values.length < 2) return undefined;
  const { numbers, scale } = onOneScale(values);
  const ranges = numbers.slice(1).map((number, index): Exact => {
    const step = number - (numbers[index] ?? number);
    return { numerator: step < 0n ? -step : step, denominator: scale };
  });
  const sum = ranges.reduce((total, range) => total + range.numerator, 0n);
  const centre: Exact = { numerator: sum, denominator: scale * BigInt(ranges.length) };
  const upper = multiplyExact(centre, exact(controlChartFactors(2).D4));
  return {
    centre: toNumber(centre),
    upper: toNumber(upper),
    lower: 0,
    ranges: ranges.map(toNumber),
    signals: ranges.flatMap((range, index) => (compareExact(range, upper) > 0 ? [index + 2] : [])),
  };
}
