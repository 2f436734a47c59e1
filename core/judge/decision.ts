import { numberText } from "../decimal.ts";
import { decide } from "../decision/decision-rule.ts";

export interface Decision {
  readonly outcome: "conforms" | "does-not-conform" | "undecided";
  /** `empty-zone`, `guard-band`, `open-zone`; undefined where it conforms or lies outside the limit itself. */
  readonly reason?: "empty-zone" | "guard-band" | "open-zone";
  /** Of the true value lying within the limits, 0 to 1. */
  readonly conformanceProbability: number;
  readonly step: string;
}

/**
 * The order's decision rule on an unrounded result, with one sentence for `why`.
 * @param uncertainty expanded, k = 2, in the result's unit
 * @param simply what the result is by simple acceptance: inside the limits it is the guard band that refuses it
 */
export function decideWithUncertainty(
  unrounded: string,
  limits: { min?: string; max?: string },
  uncertainty: number,
  rule: "guarded" | "guarded-open",
  simply: "conforms" | "does-not-conform" | "undecided",
): Decision {
  const decided = decide(unrounded, limits, numberText(uncertainty, 15), rule);
  const zone = [decided.acceptanceMin && `at least ${decided.acceptanceMin}`, decided.acceptanceMax && `at most ${decided.acceptanceMax}`]
    .filter(Boolean)
    .join(" and ");
  const said = decided.emptyZone
    ? `acceptance would be ${zone}: the guard bands leave no acceptance zone, nothing can conform`
    : `acceptance ${zone}`;
  const reason = reasonOf(decided, simply);
  return {
    outcome: decided.outcome,
    ...(reason === undefined ? {} : { reason }),
    conformanceProbability: decided.conformanceProbability,
    step: `${rule}: U (k = 2) ${uncertainty.toPrecision(3)}, ${said}, unrounded ${unrounded}: ${decided.outcome}, conformance probability ${decided.conformanceProbability.toFixed(4)}`,
  };
}

/** An empty zone is said first: no wire, however good, could have been accepted. */
function reasonOf({ outcome, emptyZone }: ReturnType<typeof decide>, simply: string): Decision["reason"] {
  if (outcome === "conforms") return undefined;
  if (emptyZone && simply === "conforms") return "empty-zone";
  if (outcome === "undecided") return "open-zone";
  return simply === "conforms" ? "guard-band" : undefined;
}

/** Reasons that speak of the decision rule and not of the wire: no retest follows from them. */
export const OF_THE_RULE: ReadonlySet<string> = new Set(["guard-band", "empty-zone"]);
