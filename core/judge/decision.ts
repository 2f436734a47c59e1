import { numberText } from "../decimal.ts";
import { decide } from "../decision/decision-rule.ts";

export interface Decision {
  readonly outcome: "conforms" | "does-not-conform" | "undecided";
  readonly step: string;
}

/** The order's decision rule on an unrounded result, with one sentence for `why`. */
export function decideWithUncertainty(
  unrounded: string,
  limits: { min?: string; max?: string },
  uncertainty: number,
  rule: "guarded" | "guarded-open",
): Decision {
  const decided = decide(unrounded, limits, numberText(uncertainty, 15), rule);
  const zone = [decided.acceptanceMin && `at least ${decided.acceptanceMin}`, decided.acceptanceMax && `at most ${decided.acceptanceMax}`]
    .filter(Boolean)
    .join(" and ");
  const empty = decided.emptyZone ? "; the guard bands leave no acceptance zone" : "";
  return {
    outcome: decided.outcome,
    step: `${rule}: U (k = 2) ${uncertainty.toPrecision(3)}, acceptance ${zone}, unrounded ${unrounded}: ${decided.outcome}, conformance probability ${decided.conformanceProbability.toFixed(4)}${empty}`,
  };
}
