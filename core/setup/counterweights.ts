import { addExact, compareExact, divideExact, type Exact, exact, multiplyExact } from "../decimal.ts";

/** A weight on the shelf: its name (painted on it) and its mass, exact, in the unit of the band. */
export interface Weight {
  readonly name: string;
  readonly mass: Exact;
}

export interface WeightQuestion {
  /** Mass that must act on the wire; without `min`, half of `max`. */
  readonly min?: Exact;
  readonly max: Exact;
  readonly weights: readonly Weight[];
  readonly hanger?: Exact;
  /** Lever ratio between what hangs and what acts on the wire; 1 without a lever. */
  readonly ratio?: Exact;
}

export interface ChosenWeights {
  /** Heaviest first. */
  readonly chosen: readonly Weight[];
  /** Hanger and chosen weights. */
  readonly total: Exact;
}

const ZERO = exact("0");
const ONE = exact("1");

/**
 * The fewest weights, then the least total, whose mass acts inside the band; each weight is used once. Undefined where none does.
 * The search walks sizes upward and cuts branches that can no longer reach the band, so a shelf of 40 weights answers at once.
 */
export function chooseWeights({ min, max, weights, hanger = ZERO, ratio = ONE }: WeightQuestion): ChosenWeights | undefined {
  const least = min ?? divideExact(max, exact("2"));
  const shelf = [...weights].sort((a, b) => compareExact(b.mass, a.mass));
  const acting = (mass: Exact): Exact => multiplyExact(addExact(hanger, mass), ratio);
  for (let count = 0; count <= shelf.length; count += 1) {
    let best: { chosen: readonly Weight[]; mass: Exact } | undefined;
    const walk = (from: number, left: number, mass: Exact, chosen: readonly Weight[]): void => {
      if (compareExact(acting(mass), max) > 0) return;
      if (left === 0) {
        if (compareExact(acting(mass), least) >= 0 && (best === undefined || compareExact(mass, best.mass) < 0)) best = { chosen, mass };
        return;
      }
      for (let i = from; i + left <= shelf.length; i += 1) {
        const weight = shelf[i] as Weight;
        // The heaviest that is left, `left` times over, cannot reach the band any more: nothing behind it can.
        if (compareExact(acting(addExact(mass, multiplyExact(weight.mass, exact(String(left))))), least) < 0) return;
        if (i > from && compareExact(weight.mass, (shelf[i - 1] as Weight).mass) === 0) continue;
        walk(i + 1, left - 1, addExact(mass, weight.mass), [...chosen, weight]);
      }
    };
    walk(0, count, ZERO, []);
    if (best !== undefined) return { chosen: best.chosen, total: addExact(hanger, best.mass) };
  }
  return undefined;
}
