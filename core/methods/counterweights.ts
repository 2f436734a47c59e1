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

/** Nodes the search by number may visit before the table of totals takes over, and the most totals that table may hold. */
const MOST_NODES = 300_000;
const MOST_TOTALS = 500_000;

/**
 * The fewest weights, then the least total, for which (hanger + chosen) x ratio lies in the band, edges included. Exact.
 * @throws CalcError `no-combination`; `wrong-input` where the shelf has too many different weights to search
 */
export function counterweights({ min, max, weights, hanger, ratio }: CounterweightQuestion): Counterweights {
  const most = divideExact(grams(max), exact(ratio));
  const least = min === undefined ? divideExact(most, exact("2")) : divideExact(grams(min), exact(ratio));
  const hanging = hanger === undefined ? exact("0") : grams(hanger);
  const shelf = weights.map(grams);
  // One whole-number scale for everything, so that totals compare and serve as keys.
  const scale = [most, least, hanging, ...shelf].reduce((common, value) => lcm(common, value.denominator), 1n);
  const whole = (value: Exact): bigint => (value.numerator * scale) / value.denominator;
  const band = { low: whole(least) - whole(hanging), high: whole(most) - whole(hanging) };
  const masses = shelf.map(whole);
  const found = fewestBySearch(masses, band);
  const choice = found === "too-long" ? fewestByTotals(masses, band) : found;
  if (choice === undefined)
    throw new CalcError("no-combination", "no choice of the weights, each used once, lies within min and max on the wire");
  const total = choice.reduce((sum, index) => sum + (masses[index] ?? 0n), whole(hanging));
  const chosen = [...choice].sort((a, b) => a - b).flatMap((index) => weights[index] ?? []);
  return { chosen, total: { numerator: total, denominator: scale } };
}

interface Band {
  readonly low: bigint;
  readonly high: bigint;
}

/** Tries one weight, then two, and so on; ends soon where few weights do. Indices into `masses`, or undefined for no choice. */
function fewestBySearch(masses: readonly bigint[], { low, high }: Band): readonly number[] | undefined | "too-long" {
  const heaviestFirst = masses.map((_, index) => index).sort((a, b) => (massAt(a) < massAt(b) ? 1 : massAt(a) > massAt(b) ? -1 : a - b));
  function massAt(index: number): bigint {
    return masses[index] ?? 0n;
  }
  const sums = [0n];
  for (const index of heaviestFirst) sums.push((sums.at(-1) ?? 0n) + massAt(index));
  const n = masses.length;
  /** Sum of the places from `from` to before `to` of the sorted shelf. */
  const sumOf = (from: number, to: number): bigint => (sums[to] ?? 0n) - (sums[from] ?? 0n);
  let nodes = 0;
  let best: { total: bigint; indices: readonly number[] } | undefined;

  function choose(place: number, left: number, total: bigint, indices: readonly number[]): void {
    nodes += 1;
    if (left === 0) {
      if (total >= low && total <= high && (best === undefined || total < best.total)) best = { total, indices };
      return;
    }
    for (let at = place; at + left <= n && nodes <= MOST_NODES && best?.total !== low; at += 1) {
      if (total + sumOf(at, at + left) < low) return;
      const lightest = total + massAt(heaviestFirst[at] ?? 0) + sumOf(n - left + 1, n);
      if (lightest > high || (best !== undefined && lightest >= best.total)) continue;
      const index = heaviestFirst[at] ?? 0;
      choose(at + 1, left - 1, total + massAt(index), [...indices, index]);
    }
  }
  for (let count = 0; count <= n; count += 1) {
    if (sumOf(n - count, n) > high) return undefined;
    choose(0, count, 0n, []);
    if (nodes > MOST_NODES) return "too-long";
    if (best !== undefined) return best.indices;
  }
  return undefined;
}

/** The way to a total with as few weights as possible. */
interface Way {
  readonly count: number;
  readonly weight: number;
  readonly before: Way | undefined;
}

/** Every total up to the band's end, weight by weight: for shelves of many round weights, whose totals coincide. */
function fewestByTotals(masses: readonly bigint[], { low, high }: Band): readonly number[] | undefined {
  const ways = new Map<bigint, Way | undefined>([[0n, undefined]]);
  masses.forEach((mass, weight) => {
    for (const [total, before] of [...ways]) {
      const sum = total + mass;
      const count = (before?.count ?? 0) + 1;
      if (sum <= high && (!ways.has(sum) || (ways.get(sum)?.count ?? 0) > count)) ways.set(sum, { count, weight, before });
    }
    if (ways.size > MOST_TOTALS)
      throw new CalcError("wrong-input", `weights: ${masses.length} weights make more than ${MOST_TOTALS} different totals; name fewer`);
  });
  let best: { total: bigint; way: Way | undefined } | undefined;
  for (const [total, way] of ways) {
    if (total < low || total > high) continue;
    const fewer = (way?.count ?? 0) - (best?.way?.count ?? 0);
    if (best === undefined || fewer < 0 || (fewer === 0 && total < best.total)) best = { total, way };
  }
  if (best === undefined) return undefined;
  const indices: number[] = [];
  for (let way = best.way; way !== undefined; way = way.before) indices.push(way.weight);
  return indices;
}

const grams = (mass: Measure): Exact => convertExact(exact(mass.text), mass.unit as Unit, "g");
const lcm = (a: bigint, b: bigint): bigint => (a / gcd(a, b)) * b;
const gcd = (a: bigint, b: bigint): bigint => (b === 0n ? a : gcd(b, a % b));
