import { compareExact, divideExact, type Exact, exact, multiplyExact, subtractExact, toNumber } from "../decimal.ts";
import type { Provenance } from "../model.ts";
import { provenanceOfPlan, Z1_9_AQLS, Z1_9_PLANS } from "./data/ansi-z1-9.ts";
import { describe, deviations, squareRoot } from "./describe.ts";
import { onOneScale } from "./one-scale.ts";
import { oneSidedConfidence } from "./tolerance-factor.ts";

export interface VariablesPlan {
  /** Of the plan used, after the arrow. */
  readonly letter: string;
  readonly n: number;
  /** Acceptability constant of the standard deviation method, decimal text. */
  readonly k: string;
  readonly provenance: Provenance;
}

/**
 * Plan of the standard deviation method for one limit, normal inspection. An arrow leads to the plan below, sample size included.
 * @param letter B to P without O, as the standard's own table of lot sizes gives it (not held; ISO 2859-1 letters are others)
 * @param aql decimal text, per cent
 * @throws RangeError for a letter or AQL that is not listed
 * @source ANSI/ASQC Z1.9 and MIL-STD-414, table B-1
 */
export function variablesPlan(letter: string, aql: string): VariablesPlan {
  const wanted = exact(aql);
  const column = Z1_9_AQLS.findIndex((listed) => compareExact(exact(listed), wanted) === 0);
  if (column < 0) throw new RangeError(`aql ${aql} is not listed; listed are ${Z1_9_AQLS.join(", ")}`);
  const start = Z1_9_PLANS.findIndex(([name]) => name === letter);
  if (start < 0) throw new RangeError(`letter ${letter} is not listed; listed are ${Z1_9_PLANS.map(([name]) => name).join(" ")}`);
  const plan = Z1_9_PLANS.slice(start).find(([, , k]) => k[column] !== "");
  if (plan === undefined) throw new RangeError(`no plan below letter ${letter} at aql ${aql}`);
  const [name, n, k] = plan;
  return { letter: name, n, k: k[column] ?? "", provenance: provenanceOfPlan(name, column) };
}

/** One limit: form 1 is for a single one. */
export type SingleLimit = { readonly lower: string } | { readonly upper: string };

export interface VariablesDecision {
  readonly accept: boolean;
  readonly mean: number;
  /** The standard deviation (n − 1), or the mean range. */
  readonly spread: number;
  /** Distance of the mean from the limit in spreads, positive inside; left out where the values do not differ. */
  readonly qualityIndex?: number;
}

/**
 * Form 1, standard deviation method: accept when (U − mean) / s ≥ k, or (mean − L) / s ≥ k. Compared exactly; without spread the
 * mean itself must not be beyond the limit.
 * @param values decimal texts, at least two, all of the sample
 * @param k acceptability constant, decimal text
 * @throws RangeError for fewer than two values
 * @source ANSI/ASQC Z1.9 and MIL-STD-414, section B, form 1
 */
export function acceptByDeviation(values: readonly string[], limit: SingleLimit, k: string): VariablesDecision {
  const n = needed(values);
  const { deviations: off, scale } = deviations(values);
  const unit = scale * n;
  const variance: Exact = { numerator: off.reduce((sum, d) => sum + d * d, 0n), denominator: unit * unit * (n - 1n) };
  const distance = distanceInside(values, limit);
  const constant = exact(k);
  // distance ≥ k s without the root: the squares are compared where both sides have one sign, else the signs decide.
  const squares = compareExact(multiplyExact(distance, distance), multiplyExact(multiplyExact(constant, constant), variance));
  const accept = constant.numerator >= 0n ? distance.numerator >= 0n && squares >= 0 : distance.numerator >= 0n || squares <= 0;
  const spread = squareRoot(variance);
  return { accept, mean: describe(values).mean, spread, ...(spread === 0 ? {} : { qualityIndex: toNumber(distance) / spread }) };
}

/** Up to here the sample is one group, from here on groups of five. */
const FIRST_GROUPED_SAMPLE = 10;
const GROUP = 5;

/**
 * Form 1, range method: accept when (U − mean) / mean range ≥ k, or (mean − L) / mean range ≥ k. Exact. Samples of fewer than ten
 * have one range; larger ones the mean of the ranges of groups of five, in the order of testing.
 * @param values decimal texts, at least two, in the order of testing
 * @param k acceptability constant of the range method, decimal text; its table is not held
 * @throws RangeError for fewer than two values, or from ten on for a number that is no multiple of five
 * @source ANSI/ASQC Z1.9 and MIL-STD-414, section C, form 1 (memory)
 */
export function acceptByRange(values: readonly string[], limit: SingleLimit, k: string): VariablesDecision {
  needed(values);
  const n = values.length;
  if (n >= FIRST_GROUPED_SAMPLE && n % GROUP !== 0) throw new RangeError(`the range method takes groups of five, got ${n} values`);
  const size = n < FIRST_GROUPED_SAMPLE ? n : GROUP;
  const { numbers, scale } = onOneScale(values);
  let sum = 0n;
  for (let at = 0; at < n; at += size) {
    sum += rangeOf(numbers.slice(at, at + size));
  }
  const meanRange: Exact = { numerator: sum, denominator: scale * BigInt(n / size) };
  const distance = distanceInside(values, limit);
  return {
    accept: compareExact(distance, multiplyExact(exact(k), meanRange)) >= 0,
    mean: describe(values).mean,
    spread: toNumber(meanRange),
    ...(sum === 0n ? {} : { qualityIndex: toNumber(divideExact(distance, meanRange)) }),
  };
}

/**
 * Probability that a plan of the standard deviation method with one limit accepts a lot, normal values.
 * @param share of the lot beyond the limit, between 0 and 1
 * @throws RangeError for n below 2 or a share not between 0 and 1
 * @source P(T ≥ k √n), T non-central t with n − 1 degrees and noncentrality z √n (derived from the definition)
 */
export function variablesAcceptanceProbability(n: number, k: number, share: number): number {
  if (n < 2 || !(share > 0 && share < 1)) throw new RangeError(`n from 2 and a share in (0, 1), got ${n} and ${share}`);
  return 1 - oneSidedConfidence(n, 1 - share)(k);
}

function rangeOf(group: readonly bigint[]): bigint {
  let [least = 0n] = group;
  let most = least;
  for (const number of group) {
    if (number < least) least = number;
    if (number > most) most = number;
  }
  return most - least;
}

function needed(values: readonly string[]): bigint {
  if (values.length < 2) throw new RangeError(`acceptance by variables needs two values, got ${values.length}`);
  return BigInt(values.length);
}

function distanceInside(values: readonly string[], limit: SingleLimit): Exact {
  const { numbers, scale } = onOneScale(values);
  const mean: Exact = { numerator: numbers.reduce((a, b) => a + b), denominator: scale * BigInt(values.length) };
  return "upper" in limit ? subtractExact(exact(limit.upper), mean) : subtractExact(mean, exact(limit.lower));
}
