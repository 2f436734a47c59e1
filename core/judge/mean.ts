import { addExact, divideExact, exact, numberText, toDecimalText } from "../decimal.ts";
import type { OrderItem, Requirement, Result } from "../model.ts";
import { compareWithLimits } from "../rounding.ts";
import { limitsOf } from "./checks/shared.ts";
import { decideWithUncertainty } from "./decision.ts";
import { optional } from "./row.ts";

/** The mean of a coil's pieces, held against the limit as one result. */
export interface MeanResult {
  readonly testPiece: string;
  readonly outcome: "conforms" | "does-not-conform" | "undecided";
  readonly reason?: string;
  /** Decimal text, as compared. */
  readonly compared: string;
}

/**
 * The mean of the valid first-line pieces against the limit; undefined where none has a number. Counts stopped at the requirement are lower
 * bounds and enter no mean. The uncertainty is the largest of the pieces: what they share of it, a mean does not lessen.
 * @source JCGM 100:2008, 5.2 (fully correlated inputs)
 */
export function meanResult(
  firstLine: readonly Result[],
  requirement: Requirement,
  rule: OrderItem["decisionRule"],
): MeanResult | undefined {
  const pieces = firstLine.filter((r) => r.counts && typeof r.value === "number" && !r.censored);
  if (pieces.length === 0) return undefined;
  const sum = pieces.reduce((total, r) => addExact(total, exact(numberText(Number(r.value)))), exact("0"));
  const mean = toDecimalText(divideExact(sum, exact(String(pieces.length))), 15);
  const limits = limitsOf(requirement);
  const comparison = compareWithLimits(mean, limits, requirement.rounding);
  const named = { testPiece: pieces.map((r) => r.testPiece).join(", "), compared: comparison.compared };
  if (rule === "simple" || requirement.rounding.method === "whole")
    return { ...named, outcome: comparison.outcome, ...optional("reason", comparison.reason) };
  const uncertainties = pieces.flatMap((r) => r.uncertainty ?? []);
  if (uncertainties.length < pieces.length) return { ...named, outcome: "undecided", reason: "no-uncertainty" };
  const decision = decideWithUncertainty(mean, limits, Math.max(...uncertainties), rule, comparison.outcome);
  const reason = decision.outcome === "conforms" ? undefined : (decision.reason ?? comparison.reason);
  return { ...named, outcome: decision.outcome, ...optional("reason", reason) };
}
