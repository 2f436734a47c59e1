import { compareExact, divideExact, type Exact, exact } from "./decimal.ts";

/** `even`: a tie goes to the even multiple; `away`: away from zero; `none`: everything goes toward zero. */
export type Ties = "even" | "away" | "none";

/** How a result is made comparable with a limit. `absolute` compares the unrounded value. */
export interface Rounding {
  readonly method: "round" | "absolute" | "whole";
  /** The rounding interval as decimal text, above zero; unused by `absolute`; 1 for `whole`. */
  readonly step: string;
  readonly ties: Ties;
}

/**
 * The multiple of `step` nearest to `value`, as decimal text with the places of `step`. Exact.
 * @throws RangeError when `step` is not above zero.
 * @source ASTM E29-22, 6.4 rounding method; ISO 80000-1:2009, Annex B rule A (clause numbers from memory)
 */
export function roundToStep(value: Exact, step: string, ties: Ties): string {
  const interval = exact(step);
  if (interval.numerator <= 0n) throw new RangeError(`rounding interval must be above zero, got ${step}`);
  const quotient = divideExact(value, interval);
  const negative = quotient.numerator < 0n;
  const size = negative ? -quotient.numerator : quotient.numerator;
  let count = size / quotient.denominator;
  const twiceRest = 2n * (size % quotient.denominator);
  if (ties !== "none") {
    if (twiceRest > quotient.denominator) count += 1n;
    else if (twiceRest === quotient.denominator && (ties === "away" || count % 2n === 1n)) count += 1n;
  }
  const places = decimalPlaces(step);
  const digits = ((count * interval.numerator * 10n ** BigInt(places)) / interval.denominator).toString().padStart(places + 1, "0");
  const cut = digits.length - places;
  const body = places === 0 ? digits : `${digits.slice(0, cut)}.${digits.slice(cut)}`;
  return negative && count > 0n ? `-${body}` : body;
}

/** The count of digits behind the point as written: `4.0` has one. */
export const decimalPlaces = (text: string): number => text.split(".")[1]?.length ?? 0;

/** The last place in which a limit is written, as a rounding interval: `4.0` gives `0.1`, a whole number `1`. */
export function stepOfLimit(...limits: readonly (string | undefined)[]): string {
  const places = Math.max(0, ...limits.map((limit) => (limit === undefined ? 0 : decimalPlaces(limit))));
  return places === 0 ? "1" : `0.${"0".repeat(places - 1)}1`;
}

export interface Comparison {
  readonly outcome: "conforms" | "does-not-conform";
  /** What was held against the limit: rounded by `round`, cut by `whole`, as given by `absolute`. */
  readonly compared: string;
  readonly reason?: "below-min" | "above-max";
}

/** The value as it is held against a limit, decimal text. `valueText` is kept as written by `absolute`. */
export function comparedText(valueText: string, rounding: Rounding): string {
  if (rounding.method === "absolute") return valueText;
  return rounding.method === "whole"
    ? roundToStep(exact(valueText), rounding.step, "none")
    : roundToStep(exact(valueText), rounding.step, rounding.ties);
}

/**
 * Holds a value against limits, both edges included.
 * @source ASTM E29-22, clause 5 (absolute) and 6 (rounding); from memory
 */
export function compareWithLimits(
  valueText: string,
  limits: { readonly min?: string; readonly max?: string },
  rounding: Rounding,
): Comparison {
  const compared = comparedText(valueText, rounding);
  const value = exact(compared);
  if (limits.min !== undefined && compareExact(value, exact(limits.min)) < 0)
    return { outcome: "does-not-conform", compared, reason: "below-min" };
  if (limits.max !== undefined && compareExact(value, exact(limits.max)) > 0)
    return { outcome: "does-not-conform", compared, reason: "above-max" };
  return { outcome: "conforms", compared };
}
