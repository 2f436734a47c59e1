import { compareExact, type Exact, exact, multiplyExact, subtractExact } from "../../decimal.ts";
import type { Conditions, Measure, Requirement, VoidReason } from "../../model.ts";
import { convertExact, isUnit } from "../../quantity.ts";
import { type Comparison, compareWithLimits } from "../../rounding.ts";
import type { CheckContext, CheckedRow } from "../context.ts";
import type { Deviation } from "../deviation.ts";

/** Holds decimal text against the requirement and fills what every numeric check has in common. */
export function numericCheck(
  { requirement }: CheckContext,
  unrounded: string,
  field: string,
  rest: { conditions: Conditions; deviations?: readonly Deviation[]; steps: readonly string[] } & Pick<
    CheckedRow,
    "uncertaintyParts" | "censored"
  >,
  comparison: Comparison = compare(unrounded, requirement),
): CheckedRow {
  return {
    value: Number(unrounded),
    unit: requirement.unit,
    compared: comparison.compared,
    unrounded,
    outcome: comparison.outcome,
    deviations: NO_DEVIATIONS,
    field,
    ...rest,
    ...(comparison.reason === undefined ? NOTHING : { reason: comparison.reason }),
    steps: [...rest.steps, `compared as ${comparison.compared} ${requirement.unit} ${manner(requirement)}`],
  };
}

const NO_DEVIATIONS: readonly Deviation[] = [];
const NOTHING = {};

/** How a requirement compares, in words; the same for all its rows. */
const MANNERS = new WeakMap<Requirement, string>();
function manner(requirement: Requirement): string {
  const known = MANNERS.get(requirement);
  if (known !== undefined) return known;
  const made = `(${roundingText(requirement)}) with ${limitText(requirement)}`;
  MANNERS.set(requirement, made);
  return made;
}

/** Readings come with few digits and come again: so many are remembered for one requirement before they are forgotten. */
const MOST_REMEMBERED = 2000;
const COMPARISONS = new WeakMap<Requirement, Map<string, Comparison>>();

/** A value held against the limits of a requirement; what was compared once is not worked out again. */
export function compare(valueText: string, requirement: Requirement): Comparison {
  let known = COMPARISONS.get(requirement);
  if (known === undefined) {
    known = new Map();
    COMPARISONS.set(requirement, known);
  }
  const found = known.get(valueText);
  if (found !== undefined) return found;
  if (known.size >= MOST_REMEMBERED) known.clear();
  const made = compareWithLimits(valueText, requirement, requirement.rounding);
  known.set(valueText, made);
  return made;
}

interface ExactLimits {
  readonly min?: Exact;
  readonly max?: Exact;
}
const EXACT_LIMITS = new WeakMap<Requirement, ExactLimits>();

/** The limits of a requirement as exact numbers, made once for all its rows. */
export function exactLimits(requirement: Requirement): ExactLimits {
  const known = EXACT_LIMITS.get(requirement);
  if (known !== undefined) return known;
  const made = {
    ...(requirement.min === undefined ? {} : { min: exact(requirement.min) }),
    ...(requirement.max === undefined ? {} : { max: exact(requirement.max) }),
  };
  EXACT_LIMITS.set(requirement, made);
  return made;
}

export interface LimitTexts {
  readonly min?: string;
  readonly max?: string;
}

export const limitsOf = (r: LimitTexts): LimitTexts => ({
  ...(r.min === undefined ? {} : { min: r.min }),
  ...(r.max === undefined ? {} : { max: r.max }),
});

export function limitText(r: LimitTexts & { readonly unit: string }): string {
  if (r.min !== undefined && r.max !== undefined) return `${r.min} to ${r.max} ${r.unit}`;
  if (r.min !== undefined) return `at least ${r.min} ${r.unit}`;
  return r.max === undefined ? "no limit" : `at most ${r.max} ${r.unit}`;
}

function roundingText({ rounding, unit }: Requirement): string {
  if (rounding.method === "absolute") return "not rounded";
  if (rounding.method === "whole") return "whole counts only";
  return `rounded to ${rounding.step} ${unit}, ties ${rounding.ties === "even" ? "to even" : "away from zero"}`;
}

/** −1 below, 0 within, 1 above `required` ± `share` of it; both edges are within. Units may differ. */
export function againstRequired(actual: Measure, required: Measure, share: string): -1 | 0 | 1 {
  if (actual.unit === required.unit && isSameFigure(actual.text, required.text)) return 0;
  const wanted = exact(required.text);
  const is = sameUnit(actual, required);
  const band = multiplyExact(wanted, exact(share));
  const off = subtractExact(is, wanted);
  if (compareExact(off, band) > 0) return 1;
  return compareExact({ numerator: -off.numerator, denominator: off.denominator }, band) > 0 ? -1 : 0;
}

/** Doubles tell texts of at most fifteen characters apart exactly: "2" and "2.00" are one figure. */
const isSameFigure = (a: string, b: string): boolean => a === b || (a.length <= 15 && b.length <= 15 && Number(a) === Number(b));

/** `actual` in the unit of `other`, exact. Counts (turns, wraps) must already share their unit. */
export function sameUnit(actual: Measure, other: Measure): Exact {
  if (actual.unit === other.unit) return exact(actual.text);
  if (!isUnit(actual.unit) || !isUnit(other.unit)) throw new Error(`${actual.unit} and ${other.unit} do not compare`);
  return convertExact(exact(actual.text), actual.unit, other.unit);
}

/** A deviation where `actual` is off, with the direction for being below and for being above. */
export function offCondition(
  reason: VoidReason,
  name: string,
  actual: Measure | undefined,
  required: Measure | undefined,
  share: string,
  below: Deviation["direction"],
  above: Deviation["direction"],
): readonly Deviation[] {
  if (actual === undefined || required === undefined) return NO_DEVIATIONS;
  const side = againstRequired(actual, required, share);
  if (side === 0) return NO_DEVIATIONS;
  return [
    {
      reason,
      direction: side < 0 ? below : above,
      text: `${name} ${actual.text} ${actual.unit} is off the required ${required.text} ${required.unit}`,
    },
  ];
}
