import { addExact, compareExact, type Exact, exact, multiplyExact, subtractExact, toDecimalText, toNumber } from "../decimal.ts";
import { normalCdf } from "../statistics/distributions.ts";

export type DecisionRule = "simple" | "guarded" | "guarded-open";

export interface Decision {
  readonly outcome: "conforms" | "does-not-conform" | "undecided";
  /** Decimal text; stands wherever that limit does. */
  readonly acceptanceMin?: string;
  readonly acceptanceMax?: string;
  /** Normal model, u = U / 2. */
  readonly conformanceProbability: number;
  /** True where the guard bands leave nothing to accept. */
  readonly emptyZone: boolean;
}

/**
 * Decides on the unrounded value with a guard band w = r U on each side.
 * `guarded`: inside the acceptance limits conforms (edges included), else it does not. `guarded-open`: between the acceptance limit and
 * up to w outside the tolerance limit (edge included) nothing is decided.
 * @param U expanded uncertainty, k = 2, in the value's unit, decimal text
 * @source ILAC-G8:09/2019, 4.2.1 to 4.2.3; JCGM 106:2012, conformance probability (memory)
 */
export function decide(
  valueText: string,
  limits: { readonly min?: string; readonly max?: string },
  U: string,
  rule: DecisionRule,
  r = "1",
): Decision {
  const value = exact(valueText);
  const w = rule === "simple" ? exact("0") : multiplyExact(exact(r), exact(U));
  const min = limits.min === undefined ? undefined : exact(limits.min);
  const max = limits.max === undefined ? undefined : exact(limits.max);
  const acceptMin = min && addExact(min, w);
  const acceptMax = max && subtractExact(max, w);
  const inside = within(value, acceptMin, acceptMax);
  const nearby = within(value, min && subtractExact(min, w), max && addExact(max, w));
  const outcome = inside ? "conforms" : rule === "guarded-open" && nearby ? "undecided" : "does-not-conform";
  return {
    outcome,
    ...(acceptMin ? { acceptanceMin: toDecimalText(acceptMin, 20) } : {}),
    ...(acceptMax ? { acceptanceMax: toDecimalText(acceptMax, 20) } : {}),
    conformanceProbability: conformanceProbability(Number(valueText), limits, Number(U) / 2),
    emptyZone: acceptMin !== undefined && acceptMax !== undefined && compareExact(acceptMin, acceptMax) > 0,
  };
}

function within(value: Exact, min: Exact | undefined, max: Exact | undefined): boolean {
  return (min === undefined || compareExact(value, min) >= 0) && (max === undefined || compareExact(value, max) <= 0);
}

/** @param u standard uncertainty; 0 makes the answer 1 or 0. @source JCGM 106:2012, normal model (memory) */
export function conformanceProbability(y: number, limits: { readonly min?: string; readonly max?: string }, u: number): number {
  const [low, high] = [
    limits.min === undefined ? undefined : toNumber(exact(limits.min)),
    limits.max === undefined ? undefined : toNumber(exact(limits.max)),
  ];
  if (u === 0) return (low === undefined || y >= low) && (high === undefined || y <= high) ? 1 : 0;
  const upper = high === undefined ? 1 : normalCdf((high - y) / u);
  const lower = low === undefined ? 0 : normalCdf((low - y) / u);
  return upper - lower;
}
