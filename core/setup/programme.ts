/** Programmes of forward and reverse turns, as the card words them. */
import { addExact, exact, multiplyExact, toDecimalText } from "../decimal.ts";
import type { TorsionProgramme } from "../model.ts";

export interface Programme {
  /** Turns of one cycle, decimal text. */
  readonly forward: string;
  /** Left out where it turns back until the break. */
  readonly reverse?: string;
  /** Left out where the cycles go on to the break. */
  readonly cycles?: string;
  /** What of it is held against the limit. */
  readonly counts: TorsionProgramme["counts"];
  /** What the counter gains in a cycle: both directions add up. */
  readonly perCycle?: string;
  /** What the counter shows after the last cycle. */
  readonly total?: string;
}

/** @source the counter adds the turns of both directions: common practice, no source */
export function programmeOf({ forwardTurns, reverseTurns, cycles, counts }: TorsionProgramme): Programme {
  const perCycle = reverseTurns === undefined ? undefined : addExact(exact(forwardTurns), exact(reverseTurns));
  return {
    forward: forwardTurns,
    counts,
    ...(reverseTurns === undefined ? {} : { reverse: reverseTurns }),
    ...(perCycle === undefined ? {} : { perCycle: toDecimalText(perCycle) }),
    ...(cycles === undefined ? {} : { cycles }),
    ...(cycles === undefined || perCycle === undefined ? {} : { total: toDecimalText(multiplyExact(perCycle, exact(cycles))) }),
  };
}
