import type { VoidReason } from "../model.ts";

/**
 * What being off does to a test. `harder`: a pass counts, a failure is void. `easier`: a failure counts, a pass is void.
 * `unknown`: void either way. `void`: void either way, whatever the condition (a lapsed calibration, a piece set aside).
 */
export type Direction = "harder" | "easier" | "unknown" | "void";

export interface Deviation {
  readonly reason: VoidReason;
  readonly direction: Direction;
  /** One sentence for `why`, with both figures. */
  readonly text: string;
}

/** The order in which one void reason is given where several apply: instrument, conditions, grips, others. */
const ORDER: readonly VoidReason[] = [
  "instrument-not-in-force",
  "free-length",
  "speed",
  "tension",
  "programme",
  "straightening",
  "mandrel",
  "wraps",
  "grip-break",
  "starting-turn",
  "stopped-before-limit",
  "set-aside",
];

export interface Standing {
  readonly counts: boolean;
  readonly voidReason?: VoidReason;
  /** Codes `harder-<reason>` or `easier-<reason>` of what was off and did not void, in order. */
  readonly deviation?: string;
}

const COUNTS: Standing = { counts: true };

/** Whether a result counts, from everything that was off and from what it would say. */
export function standing(deviations: readonly Deviation[], passes: boolean): Standing {
  if (deviations.length === 0) return COUNTS;
  const sorted = [...deviations].sort((a, b) => ORDER.indexOf(a.reason) - ORDER.indexOf(b.reason));
  const voiding = sorted.find((d) => voids(d.direction, passes));
  if (voiding) return { counts: false, voidReason: voiding.reason };
  return { counts: true, deviation: sorted.map((d) => `${d.direction}-${d.reason}`).join(" ") };
}

function voids(direction: Direction, passes: boolean): boolean {
  switch (direction) {
    case "harder":
      return !passes;
    case "easier":
      return passes;
    default:
      return true;
  }
}
