/** Forward and reverse turns: what of them counts, and whether they were turned as required. */
import { addExact, compareExact, type Exact, exact, multiplyExact, subtractExact, toDecimalText } from "../../decimal.ts";
import type { EntryRow, TorsionProgramme } from "../../model.ts";
import type { Deviation } from "../deviation.ts";
import { demanded, text } from "../row.ts";

/** The figure that is held against the limit, decimal text; undefined where the row does not say how it was turned. */
export interface Counted {
  readonly text?: string;
  readonly step: string;
}

const ZERO = exact("0");
const below = (a: Exact, b: Exact): boolean => compareExact(a, b) < 0;

/**
 * What of a row counts under a programme. In a row without cycles the forward and reverse turns are those done in all; with cycles they
 * are those of one cycle.
 * @source ISO 9649:2016 (torsion in one direction, then the other; what is counted is left to the product standard; from memory)
 */
export function countedTurns(row: EntryRow, programme: TorsionProgramme): Counted {
  const total = demanded(row, "turns").text;
  const [forward, reverse, cycles] = [text(row, "forwardTurns"), text(row, "reverseTurns"), text(row, "cycles")];
  const unstated: Counted = { step: "the row does not say how many turns went forward and back" };
  if (forward === undefined && cycles === undefined) return unstated;
  switch (programme.counts) {
    case "reverse":
      return forward === undefined || reverse === undefined ? unstated : reverseTurns(total, forward, reverse, cycles);
    case "cycles":
      return wholeCycles(programme, forward, reverse, cycles);
    default:
      return { text: total, step: `${total} turns of both directions count` };
  }
}

function reverseTurns(total: string, forward: string, reverse: string, cycles: string | undefined): Counted {
  if (cycles === undefined) return { text: reverse, step: `only the ${reverse} turns back count` };
  const whole = multiplyExact(exact(cycles), addExact(exact(forward), exact(reverse)));
  // Of the cycle in which it ended, what went beyond the forward turns went back.
  const beyond = subtractExact(subtractExact(exact(total), whole), exact(forward));
  const back = addExact(multiplyExact(exact(cycles), exact(reverse)), below(beyond, ZERO) ? ZERO : beyond);
  const counted = toDecimalText(back);
  return { text: counted, step: `only turns back count: ${counted} of ${total}` };
}

function wholeCycles(
  { forwardTurns, reverseTurns: back }: TorsionProgramme,
  forward: string | undefined,
  reverse: string | undefined,
  cycles: string | undefined,
): Counted {
  if (cycles !== undefined) return { text: cycles, step: `${cycles} whole cycles count` };
  const done =
    !below(exact(forward ?? "0"), exact(forwardTurns)) &&
    reverse !== undefined &&
    back !== undefined &&
    !below(exact(reverse), exact(back));
  return { text: done ? "1" : "0", step: done ? "one whole cycle counts" : "no whole cycle was done" };
}

/** Turns of both directions that a piece must bear to survive; undefined where the programme has no end. */
export function turnsToSurvive({ forwardTurns, reverseTurns: back, cycles }: TorsionProgramme): string | undefined {
  if (back === undefined) return undefined;
  return toDecimalText(multiplyExact(exact(cycles ?? "1"), addExact(exact(forwardTurns), exact(back))));
}

/**
 * Turned otherwise than required. Which way that moves the count is not known, so it voids. A piece that broke on its way through the
 * first cycle has fewer turns than required, and nothing was off.
 */
export function programmeDeviation(row: EntryRow, programme: TorsionProgramme, unbroken: boolean): readonly Deviation[] {
  const [forward, reverse, cycles] = [text(row, "forwardTurns"), text(row, "reverseTurns"), text(row, "cycles")];
  const onTheWay = cycles === undefined && !unbroken;
  const wentBack = reverse !== undefined && compareExact(exact(reverse), ZERO) > 0;
  const off = differs(forward, programme.forwardTurns, onTheWay && !wentBack) || differs(reverse, programme.reverseTurns, onTheWay);
  if (!off) return [];
  return [
    {
      reason: "programme",
      direction: "unknown",
      text: `turned ${forward ?? "0"} forward and ${reverse ?? "0"} back instead of ${programmeText(programme)}`,
    },
  ];
}

function differs(actual: string | undefined, required: string | undefined, mayBeLess: boolean): boolean {
  if (actual === undefined || required === undefined) return false;
  const side = compareExact(exact(actual), exact(required));
  return mayBeLess ? side > 0 : side !== 0;
}

/** "3 forward, 3 back, 4 cycles" */
export function programmeText({ forwardTurns, reverseTurns: back, cycles }: TorsionProgramme): string {
  const returning = back === undefined ? "back until the break" : `${back} back`;
  return `${forwardTurns} forward, ${returning}${cycles === undefined ? "" : `, ${cycles} cycles`}`;
}

/** The programme of a row as it was turned; undefined where it went one way only. */
export function turnedText(row: EntryRow): string | undefined {
  const [forward, reverse, cycles] = [text(row, "forwardTurns"), text(row, "reverseTurns"), text(row, "cycles")];
  if (forward === undefined && reverse === undefined) return undefined;
  return `${forward ?? "0"} forward, ${reverse ?? "0"} back${cycles === undefined ? "" : `, ${cycles} cycles`}`;
}
