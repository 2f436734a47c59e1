/** Programmes of forward and reverse turns, as an order names them. */
import { addExact, exact, multiplyExact, toDecimalText } from "../decimal.ts";
import type { Requirement, TorsionProgramme } from "../model.ts";

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

const WORDS = {
  forward: ["forward", "forwards", "forwardturns", "vor", "vorwärts"],
  reverse: ["reverse", "back", "backward", "backwards", "reverseturns", "zurück", "rückwärts"],
  cycles: ["cycle", "cycles", "zyklus", "zyklen"],
} as const;

/** The programme of a requirement: as the specification holds it, else as the order words it. */
export function programmeOf({ torsionProgramme, conditions }: Requirement): Programme | undefined {
  if (torsionProgramme === undefined) return parseProgramme(conditions.programme);
  const { forwardTurns, reverseTurns, cycles, counts } = torsionProgramme;
  return counted(forwardTurns, reverseTurns, cycles, counts);
}

/** Understands "3 forward, 3 back, 4 cycles" and "forwardTurns 3; reverseTurns 3"; undefined for every other text. */
export function parseProgramme(text: string | undefined): Programme | undefined {
  const found = new Map<keyof typeof WORDS, string>();
  for (const part of (text ?? "").split(/[;,]/).map((p) => p.trim())) {
    if (part === "") continue;
    const [, before, word, behind] = /^(\d+(?:\.\d+)?)?\s*([\p{L}]+)\s*=?\s*(\d+(?:\.\d+)?)?$/u.exec(part) ?? [];
    const number = before ?? behind;
    const names = Object.keys(WORDS) as (keyof typeof WORDS)[];
    const name = names.find((key) => (WORDS[key] as readonly string[]).includes(word?.toLowerCase() ?? ""));
    if (name === undefined || number === undefined || (before !== undefined && behind !== undefined) || found.has(name)) return undefined;
    found.set(name, number);
  }
  const [forward, reverse, cycles] = [found.get("forward"), found.get("reverse"), found.get("cycles")];
  if (forward === undefined || reverse === undefined) return undefined;
  return counted(forward, reverse, cycles, "total");
}

/** @source the counter adds the turns of both directions: common practice, no source */
function counted(forward: string, reverse: string | undefined, cycles: string | undefined, counts: Programme["counts"]): Programme {
  const perCycle = reverse === undefined ? undefined : addExact(exact(forward), exact(reverse));
  return {
    forward,
    counts,
    ...(reverse === undefined ? {} : { reverse }),
    ...(perCycle === undefined ? {} : { perCycle: toDecimalText(perCycle) }),
    ...(cycles === undefined ? {} : { cycles }),
    ...(cycles === undefined || perCycle === undefined ? {} : { total: toDecimalText(multiplyExact(perCycle, exact(cycles))) }),
  };
}
