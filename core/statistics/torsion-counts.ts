import { type Exact, exact, multiplyExact, toDecimalText } from "../decimal.ts";
import { scaleTurns } from "../formulas/torsion.ts";
import type { Measure } from "../model.ts";
import { type Description, describe } from "./describe.ts";

export interface TorsionCount {
  /** Turns to the break, decimal text. */
  readonly turns: string;
  readonly diameter: Measure;
  readonly freeLength: Measure;
  /** True for a piece stopped unbroken: a lower bound, in no statistic. */
  readonly atLeast?: boolean;
}

const HUNDRED = exact("100");

/**
 * Turns on a free length of 100 diameters: N x 100 d / L. Exact. The only form in which counts of different lengths compare.
 * @throws RangeError where the free length is zero
 * @source JIS C 3110:2019, 8.1.4 (turns in proportion to the spacing of the grips, read)
 */
export function turnsPer100Diameters({ turns, diameter, freeLength }: TorsionCount): Exact {
  const hundredDiameters = toDecimalText(multiplyExact(exact(diameter.text), HUNDRED), 40);
  return scaleTurns(turns, freeLength, { text: hundredDiameters, unit: diameter.unit });
}

export interface TorsionSummary {
  /** Turns per 100 d of the pieces that broke, decimal texts of at most 15 digits, in the order given. */
  readonly values: readonly string[];
  /** Pieces stopped unbroken, left out. */
  readonly censored: number;
  /** Left out where no piece broke. */
  readonly description?: Description;
}

/** Counts of any free lengths and diameters in one measure: turns per 100 d, with their number, mean and standard deviation. */
export function summarizeTorsion(counts: readonly TorsionCount[]): TorsionSummary {
  const broken = counts.filter((count) => !count.atLeast);
  const values = broken.map((count) => toDecimalText(turnsPer100Diameters(count), 15));
  return {
    values,
    censored: counts.length - broken.length,
    ...(values.length === 0 ? {} : { description: describe(values) }),
  };
}
