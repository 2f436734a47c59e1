/** How a torsion test was run: free length, speed, tension, straightening, grip. Each rule says what being off does. */
import { compareExact, exact, multiplyExact, toDecimalText } from "../../decimal.ts";
import { forceAtShare } from "../../formulas/stress.ts";
import { scaleTurns } from "../../formulas/torsion.ts";
import type { ConductRules, EntryRow, Finding, Measure, Requirement } from "../../model.ts";
import type { CheckContext, Contradiction } from "../context.ts";
import type { Deviation } from "../deviation.ts";
import { amount, inUnit, text } from "../row.ts";
import { againstRequired, type LimitTexts, limitsOf, sameUnit } from "./shared.ts";

/**
 * The minimum that belongs to the length used. Where the standard scales, the requirement is scaled and never rounded down;
 * where it does not, a shorter length is harder for a count and a longer one easier.
 */
export function limitsForLength(
  requirement: Requirement,
  freeLength: Measure,
  { conduct, freeLengthTolerance }: CheckContext,
  deviations: Deviation[],
): { limits: LimitTexts; scaled?: string } {
  const limits = limitsOf(requirement);
  const required = requirement.conditions.freeLength;
  if (required === undefined) return { limits };
  const side = againstRequired(freeLength, required, conduct.freeLengthTolerance ?? freeLengthTolerance);
  if (side === 0) return { limits };
  // Turns go with the length; cycles and surviving do not.
  const scales = requirement.torsionProgramme === undefined || ["total", "reverse"].includes(requirement.torsionProgramme.counts);
  if (conduct.torsionScalingAllowed && limits.min !== undefined && scales) {
    const min = toDecimalText(scaleTurns(limits.min, required, freeLength), 15);
    return {
      limits: { ...limits, min },
      scaled: `minimum scaled to the free length: ${limits.min} x ${freeLength.text} / ${required.text} = ${min} turns`,
    };
  }
  deviations.push({
    reason: "free-length",
    direction: side < 0 ? "harder" : "easier",
    text: `free length ${freeLength.text} ${freeLength.unit} instead of ${required.text} ${required.unit}`,
  });
  return { limits };
}

/** Faster heats the wire and lowers the count: harder. @source ASTM A938-97(2003) (too fast lowers the count, read) */
export function speedDeviation(row: EntryRow, { conduct, report }: CheckContext): readonly Deviation[] {
  const speed = row.fields["speed"];
  if (speed === undefined) return [];
  const over = (most: string): boolean => compareExact(exact(speed.text), exact(most)) > 0;
  const { torsionMaximumSpeed: most, torsionAdvisedSpeed: advised } = conduct;
  if (most !== undefined && over(most.text))
    return [{ reason: "speed", direction: "harder", text: `${speed.text} r/min is above the ${most.text} r/min of the standard` }];
  if (advised !== undefined && over(advised.text)) report(speedAdvised(row, "speed", advised.text));
  return [];
}

/** Warns of a speed or rate above one that is only usual. */
export function speedAdvised(row: EntryRow, field: "speed" | "rate", most: string): Finding {
  const found = row.fields[field];
  return {
    code: "speed-advised",
    severity: "warning",
    sheet: row.sheetName,
    cell: found?.cell ?? "",
    actual: found?.raw ?? "",
    expected: `at most ${most} a minute`,
    text: `The speed of ${found?.text ?? ""} a minute is above the ${most} that is usual; the result counts.`,
  };
}

/**
 * The largest tension where the specification names none, as a share of the nominal strength on the nominal area.
 * @source ISO 7800:2012 (2 % of nominal tensile strength x area; memory, high); IEC 61232 (2 % of the breaking strength; read)
 */
const TENSION_SHARE = "0.02";
/** A weight is read to a few digits: what lies over the limit by less than this is the limit. */
const TENSION_DIGITS = 1e-9;

/** Which way a wrong tension moves the count is not known, so it voids. */
export function tensionDeviation(row: EntryRow, context: CheckContext): readonly Deviation[] {
  const tension = amount(row, "tension");
  if (tension === undefined) return [];
  const off = (side: string, limit: string): readonly Deviation[] => [
    { reason: "tension", direction: "unknown", text: `tension ${tension.text} ${tension.unit} is ${side} ${limit}` },
  ];
  const band = context.conduct.torsionTension;
  if (band !== undefined) {
    const beyond = (limit: Measure | undefined, side: -1 | 1): boolean =>
      limit !== undefined && compareExact(sameUnit(tension, limit), exact(limit.text)) === side;
    if (beyond(band.min, -1)) return off("below", `${band.min?.text} ${band.min?.unit}`);
    return beyond(band.max, 1) ? off("above", `${band.max?.text} ${band.max?.unit}`) : [];
  }
  const most = context.mostTension;
  return most === undefined || inUnit(tension, "N") <= most * (1 + TENSION_DIGITS) ? [] : off("above", `${most.toPrecision(4)} N`);
}

/** The largest tension, N, that the share rule allows an ordered wire. */
export const largestTension = (strength: Measure, nominalDiameter: Measure, conduct: ConductRules): number =>
  forceAtShare(strength, nominalDiameter, Number(conduct.torsionMaximumTensionShare ?? TENSION_SHARE), "N");

/**
 * Straightening: only where the specification says how does another way void, because nobody knows which way it moves the count. A rolled
 * piece is warned of everywhere.
 * @source ASTM A938 and ISO 9649 (by hand unless otherwise specified; read); ISO/DIS 7800:1983 (light tapping; read in a paraphrase)
 */
export function straighteningDeviation(row: EntryRow, { conduct, report }: CheckContext): readonly Deviation[] {
  const way = row.fields["straightened"];
  if (way === undefined) return [];
  const accepted = conduct.torsionStraightening;
  if (accepted !== undefined)
    return accepted.includes(way.text)
      ? []
      : [{ reason: "straightening", direction: "unknown", text: `straightened: ${way.text}; accepted is ${accepted.join(", ")}` }];
  if (way.text === "rolled")
    report({
      code: "straightened-otherwise",
      severity: "warning",
      sheet: row.sheetName,
      cell: way.cell,
      actual: way.raw,
      expected: "none, hand or tapped",
      text: "The piece was straightened by rollers, which works the wire; by hand is usual. The result counts.",
    });
  return [];
}

/** Where the break lies; a word and a distance that do not fit each other contradict. */
export function gripBreak(row: EntryRow, { conduct, order }: CheckContext): { at: boolean; text: string; contradiction?: Contradiction } {
  const word = text(row, "breakAt");
  const distance = amount(row, "fractureFromGrip");
  if (distance === undefined) return { at: word === "grip", text: "broke at the grip" };
  const rule = conduct.torsionGripDistance;
  const nearest: Measure = rule.length ?? {
    text: toDecimalText(multiplyExact(exact(rule.timesDiameter ?? "2"), exact(order.nominalDiameter.text)), 30),
    unit: order.nominalDiameter.unit,
  };
  const limit = `${nearest.text} ${nearest.unit}`;
  const near = compareExact(sameUnit(distance, nearest), exact(nearest.text)) < 0;
  const said = `${distance.text} ${distance.unit} from a jaw`;
  if (word !== undefined && (word === "none" || (word === "grip") !== near))
    return {
      at: near,
      text: said,
      contradiction: {
        code: "contradicting-entry",
        field: "fractureFromGrip",
        text: `breakAt says ${word}, but the break lies ${said}; nearer than ${limit} is at the grip.`,
        expected:
          word === "none" ? "an empty cell where the piece did not break" : word === "grip" ? `less than ${limit}` : `${limit} or more`,
      },
    };
  return { at: near, text: `broke ${said}, nearer than ${limit}` };
}
