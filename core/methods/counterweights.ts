import { CalcError } from "../calc-error.ts";
import { divideExact, type Exact, exact } from "../decimal.ts";
import type { Measure } from "../model.ts";
import { convertExact, type Unit } from "../quantity.ts";

export interface CounterweightQuestion {
  /** Masses that must act on the wire; without `min`, half of `max`. */
  readonly min?: Measure | undefined;
  readonly max: Measure;
  /** On the shelf, each used at most once. */
  readonly weights: readonly Measure[];
  readonly hanger?: Measure | undefined;
  /** How much more acts on the wire than hangs: a lever's ratio. Decimal text. */
  readonly ratio: string;
}

export interface Counterweights {
  /** In the order of the shelf. */
  readonly chosen: readonly Measure[];
  /** Hanger and chosen, exact, g. */
  readonly total: Exact;
}

/** The cheapest way to a total: as few weights as possible. */
interface Way {
  readonly count: number;
  readonly weight: number;
  readonly before: Way | undefined;
}

/** Beyond this many different totals the search would not end in reasonable time and memory. */
const MOST_TOTALS = 1_000_000;

/**
 * The fewest weights, then the least total, for which (hanger + chosen) x ratio lies in the band, edges included. Exact.
 * @throws CalcError `no-combination`; `wrong-input` where the shelf has too many different weights to search
 */
export function counterweights({ min, max, weights, hanger, ratio }: CounterweightQuestion): Counterweights {
  const most = divideExact(grams(max), exact(ratio));
  const least = min === undefined ? divideExact(most, exact("2")) : divideExact(grams(min), exact(ratio));
  const hanging = hanger === undefined ? exact("0") : grams(hanger);
  const shelf = weights.map(grams);
  // One whole-number scale for everything, so that totals are keys.
  const scale = [most, least, hanging, ...shelf].reduce((common, value) => lcm(common, value.denominator), 1n);
  const whole = (value: Exact): bigint => (value.numerator * scale) / value.denominator;
  const [low, high] = [whole(least), whole(most)];
  const ways = allTotals(whole(hanging), shelf.map(whole), high);

  let best: { total: bigint; way: Way } | undefined;
  for (const [total, way] of ways) {
    if (total < low || total > high) continue;
    if (best === undefined || way.count < best.way.count || (way.count === best.way.count && total < best.total)) best = { total, way };
  }
  if (best === undefined)
    throw new CalcError("no-combination", "no choice of the weights, each used once, lies within min and max on the wire");
  const used: number[] = [];
  for (let way: Way | undefined = best.way; way !== undefined; way = way.before) if (way.weight >= 0) used.push(way.weight);
  const chosen = used.sort((a, b) => a - b).flatMap((index) => weights[index] ?? []);
  return { chosen, total: { numerator: best.total, denominator: scale } };
}

/** Every total up to `high` with the fewest weights that make it. */
function allTotals(start: bigint, shelf: readonly bigint[], high: bigint): ReadonlyMap<bigint, Way> {
  const ways = new Map<bigint, Way>([[start, { count: 0, weight: -1, before: undefined }]]);
  shelf.forEach((mass, weight) => {
    for (const [total, before] of [...ways]) {
      const sum = total + mass;
      const known = ways.get(sum);
      if (sum <= high && (known === undefined || known.count > before.count + 1))
        ways.set(sum, { count: before.count + 1, weight, before });
    }
    if (ways.size > MOST_TOTALS)
      throw new CalcError("wrong-input", `weights: ${shelf.length} weights make more than ${MOST_TOTALS} different totals; name fewer`);
  });
  return ways;
}

const grams = (mass: Measure): Exact => convertExact(exact(mass.text), mass.unit as Unit, "g");
const lcm = (a: bigint, b: bigint): bigint => (a / gcd(a, b)) * b;
const gcd = (a: bigint, b: bigint): bigint => (b === 0n ? a : gcd(b, a % b));
