import { compareExact, exact, multiplyExact, toDecimalText } from "../../decimal.ts";
import { forceAtShare } from "../../formulas/stress.ts";
import { scaleTurns } from "../../formulas/torsion.ts";
import type { EntryRow, Measure, Requirement } from "../../model.ts";
import { compareWithLimits } from "../../rounding.ts";
import type { CheckContext, CheckedRow } from "../context.ts";
import type { Deviation } from "../deviation.ts";
import { amount, demanded, demandedAmount, inUnit, text } from "../row.ts";
import { againstRequired, limitsOf, limitText, sameUnit } from "./shared.ts";

/**
 * Whole turns to the break, held against the minimum that belongs to the free length.
 * @source ISO 7800:2012 and EN 10270-1 (whole rotations are counted, read); break near a grip: ISO 7800 (memory, high)
 */
export function checkTorsion(row: EntryRow, context: CheckContext): CheckedRow {
  const { requirement } = context;
  const turns = demanded(row, "turns");
  const freeLength = demandedAmount(row, "freeLength");
  const steps: string[] = [`${turns.raw} turns on ${freeLength.text} ${freeLength.unit} free length`];
  const deviations: Deviation[] = [];

  const { limits, scaled } = limitsForLength(requirement, freeLength, context, deviations);
  if (scaled !== undefined) steps.push(scaled);
  // A piece that did not break was stopped: its count is a lower bound only.
  const unbroken = turns.atLeast === true || text(row, "breakAt") === "none";
  const comparison = compareWithLimits(turns.text, limits, requirement.rounding);
  steps.push(`compared as ${comparison.compared} turns (part turns do not count) with ${limitText({ ...limits, unit: "turns" })}`);

  const passes = comparison.outcome === "conforms";
  if (unbroken && comparison.reason === "below-min")
    deviations.push({
      reason: "stopped-before-limit",
      direction: "void",
      text: `stopped unbroken at ${turns.text} turns, below the minimum`,
    });
  deviations.push(...speedDeviation(row, context), ...tensionDeviation(row, context));

  const grip = gripBreak(row, context);
  if (grip.at) deviations.push({ reason: "grip-break", direction: "harder", text: grip.text });
  if (passes && unbroken) steps.push("stopped unbroken at the requirement: it decides and enters no statistics");
  return {
    value: Number(turns.text),
    unit: "turns",
    compared: comparison.compared,
    unrounded: turns.text,
    outcome: comparison.outcome,
    ...(comparison.reason === undefined ? {} : { reason: comparison.reason }),
    field: "turns",
    conditions: { freeLength, ...programmeOf(row) },
    deviations,
    ...(unbroken ? { censored: true } : {}),
    steps,
    ...(grip.contradiction === undefined ? {} : { contradiction: grip.contradiction }),
  };
}

/**
 * The minimum that belongs to the length used. Where the standard scales, the requirement is scaled and never rounded down;
 * where it does not, a shorter length is harder for a count and a longer one easier.
 */
function limitsForLength(
  requirement: Requirement,
  freeLength: Measure,
  { conduct, freeLengthTolerance }: CheckContext,
  deviations: Deviation[],
): { limits: { min?: string; max?: string }; scaled?: string } {
  const limits = limitsOf(requirement);
  const required = requirement.conditions.freeLength;
  if (required === undefined) return { limits };
  const side = againstRequired(freeLength, required, conduct.freeLengthTolerance ?? freeLengthTolerance);
  if (side === 0) return { limits };
  if (conduct.torsionScalingAllowed && limits.min !== undefined) {
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
function speedDeviation(row: EntryRow, { conduct, report }: CheckContext): readonly Deviation[] {
  const speed = row.fields["speed"];
  if (speed === undefined) return [];
  const over = (most: string): boolean => compareExact(exact(speed.text), exact(most)) > 0;
  if (conduct.torsionMaximumSpeed !== undefined && over(conduct.torsionMaximumSpeed.text))
    return [
      {
        reason: "speed",
        direction: "harder",
        text: `${speed.text} r/min is above the ${conduct.torsionMaximumSpeed.text} r/min of the standard`,
      },
    ];
  if (conduct.torsionAdvisedSpeed !== undefined && over(conduct.torsionAdvisedSpeed.text))
    report({
      code: "speed-advised",
      severity: "warning",
      sheet: row.sheetName,
      cell: speed.cell,
      actual: speed.raw,
      expected: `at most ${conduct.torsionAdvisedSpeed.text} r/min`,
      text: `The speed of ${speed.text} r/min is above the ${conduct.torsionAdvisedSpeed.text} r/min that is usual for this size; the result counts.`,
    });
  return [];
}

/** Which way a wrong tension moves the count is not known, so it voids. @source ISO 7800 (2 % of nominal strength x area; memory, high) */
function tensionDeviation(row: EntryRow, { conduct, nominalStrength, order }: CheckContext): readonly Deviation[] {
  const tension = amount(row, "tension");
  if (tension === undefined || conduct.torsionMaximumTensionShare === undefined || nominalStrength === undefined) return [];
  const most = forceAtShare(nominalStrength, order.nominalDiameter, Number(conduct.torsionMaximumTensionShare), "N");
  const is = inUnit(tension, "N");
  if (is <= most * (1 + 1e-9)) return [];
  return [{ reason: "tension", direction: "unknown", text: `tension ${is.toPrecision(4)} N is above ${most.toPrecision(4)} N` }];
}

function gripBreak(
  row: EntryRow,
  { conduct, order }: CheckContext,
): { at: boolean; text: string; contradiction?: NonNullable<CheckedRow["contradiction"]> } {
  const word = text(row, "breakAt");
  const distance = amount(row, "fractureFromGrip");
  const rule = conduct.torsionGripDistance;
  const nearest: Measure = rule.length ?? {
    text: toDecimalText(multiplyExact(exact(rule.timesDiameter ?? "2"), exact(order.nominalDiameter.text)), 30),
    unit: order.nominalDiameter.unit,
  };
  const limit = `${nearest.text} ${nearest.unit}`;
  if (distance === undefined) return { at: word === "grip", text: "broke at the grip" };
  const near = compareExact(sameUnit(distance, nearest), exact(nearest.text)) < 0;
  const said = `${distance.text} ${distance.unit} from a jaw`;
  if (word !== undefined && (word === "none" || (word === "grip") !== near))
    return {
      at: near,
      text: said,
      contradiction: {
        field: "fractureFromGrip",
        text: `breakAt says ${word}, but the break lies ${said}; nearer than ${limit} is at the grip.`,
        expected:
          word === "none" ? "an empty cell where the piece did not break" : word === "grip" ? `less than ${limit}` : `${limit} or more`,
      },
    };
  return { at: near, text: `broke ${said}, nearer than ${limit}` };
}

function programmeOf(row: EntryRow): { programme?: string } {
  const forward = text(row, "forwardTurns");
  const reverse = text(row, "reverseTurns");
  if (forward === undefined && reverse === undefined) return {};
  const cycles = text(row, "cycles");
  return { programme: `${forward ?? "0"} forward, ${reverse ?? "0"} back${cycles === undefined ? "" : `, ${cycles} cycles`}` };
}
