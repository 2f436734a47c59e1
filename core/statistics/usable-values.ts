import { shortestText } from "../decimal.ts";
import type { Result } from "../model.ts";

export interface UsableValues {
  /** Decimal texts, unrounded, in the order given. */
  readonly values: readonly string[];
  /** How many results stayed out, and why. */
  readonly leftOut: { readonly censored: number; readonly notCounting: number; readonly words: number };
}

/**
 * The values of results that may enter a statistic: those that count and are numbers, without counts stopped unbroken, which are lower
 * bounds and would pull every mean down, and without pieces of a check wire.
 * @param results of one property in one unit
 * @source the contract: a count stopped at the requirement decides a minimum and never enters statistics
 */
export function usableValues(results: readonly Result[]): UsableValues {
  const values: string[] = [];
  const leftOut = { censored: 0, notCounting: 0, words: 0 };
  for (const result of results) {
    if (!result.counts || result.role === "check") leftOut.notCounting += 1;
    else if (result.censored) leftOut.censored += 1;
    else if (typeof result.value !== "number") leftOut.words += 1;
    else values.push(shortestText(result.value));
  }
  return { values, leftOut };
}
