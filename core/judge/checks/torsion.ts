import { compareExact, exact } from "../../decimal.ts";
import type { EntryRow, FieldValue, Requirement } from "../../model.ts";
import { type Comparison, compareWithLimits } from "../../rounding.ts";
import type { CheckContext, CheckedRow } from "../context.ts";
import type { Deviation } from "../deviation.ts";
import { demanded, demandedAmount, text } from "../row.ts";
import { fractureStep } from "./fracture.ts";
import { compare, type LimitTexts, limitText } from "./shared.ts";
import { gripBreak, limitsForLength, speedDeviation, straighteningDeviation, tensionDeviation } from "./torsion-conduct.ts";
import { countedTurns, programmeDeviation, turnedText } from "./torsion-programme.ts";

/**
 * Whole turns to the break (or what else the programme counts), held against the minimum that belongs to the free length.
 * @source ISO 7800:2012 and EN 10270-1 (whole rotations are counted, read); break near a grip: ISO 7800 (memory, high)
 */
export function checkTorsion(row: EntryRow, context: CheckContext): CheckedRow {
  const { requirement } = context;
  const turns = demanded(row, "turns");
  const freeLength = demandedAmount(row, "freeLength");
  const programme = requirement.torsionProgramme;
  const steps: string[] = [`${turns.raw} turns on ${freeLength.text} ${freeLength.unit} free length`];
  const deviations: Deviation[] = [];
  const { limits, scaled } = limitsForLength(requirement, freeLength, context, deviations);
  if (scaled !== undefined) steps.push(scaled);

  const counted = programme === undefined ? { text: turns.text, step: undefined } : countedTurns(row, programme);
  if (counted.step !== undefined) steps.push(counted.step);
  else warnOfReverse(row, context);
  // A piece that did not break was stopped: its count is a lower bound only.
  const unbroken = turns.atLeast === true || text(row, "breakAt") === "none";
  const held = hold(counted.text ?? turns.text, limits, requirement, unbroken);
  steps.push(
    `compared as ${held.compared} ${requirement.unit} (part turns do not count) with ${limitText({ ...limits, unit: requirement.unit })}`,
  );

  if (unbroken && held.reason === "below-min")
    deviations.push({
      reason: "stopped-before-limit",
      direction: "void",
      text: `stopped unbroken at ${turns.text} turns, below the minimum`,
    });
  for (const rule of CONDUCT) deviations.push(...rule(row, context));
  if (programme !== undefined) deviations.push(...programmeDeviation(row, programme, unbroken));
  const grip = gripBreak(row, context);
  if (grip.at) deviations.push({ reason: "grip-break", direction: "harder", text: grip.text });
  if (held.outcome === "conforms" && unbroken) steps.push("stopped unbroken at the requirement: it decides and enters no statistics");
  const fracture = text(row, "fractureType");
  if (fracture !== undefined) steps.push(fractureStep(fracture));
  const straightened = text(row, "straightened");
  if (straightened !== undefined) steps.push(`straightened: ${straightened}`);
  const turned = turnedText(row);
  const counting = counted.text ?? turns.text;
  const checked: { -readonly [K in keyof CheckedRow]: CheckedRow[K] } = {
    value: Number(counting),
    unit: requirement.unit,
    compared: held.compared,
    unrounded: counting,
    outcome: counted.text === undefined ? "undecided" : held.outcome,
    field: "turns",
    conditions: turned === undefined ? { freeLength } : { freeLength, programme: turned },
    deviations,
    steps,
  };
  const reason = counted.text === undefined ? "programme-not-stated" : held.reason;
  if (reason !== undefined) checked.reason = reason;
  if (unbroken) checked.censored = true;
  if (scaled !== undefined && limits.min !== undefined) checked.scaledMin = limits.min;
  if (fracture !== undefined) checked.fractureType = fracture;
  if (straightened !== undefined) checked.straightened = straightened;
  if (grip.contradiction !== undefined) checked.contradiction = grip.contradiction;
  return checked;
}

const CONDUCT = [speedDeviation, tensionDeviation, straighteningDeviation];

type Held = Omit<Comparison, "reason"> & { readonly reason?: string };

/** A piece survives when it was unbroken at the required turns, or broke beyond them. */
function hold(count: string, limits: LimitTexts, requirement: Requirement, unbroken: boolean): Held {
  const scaled = limits.min !== requirement.min;
  const comparison = scaled ? compareWithLimits(count, limits, requirement.rounding) : compare(count, requirement);
  const survivor = requirement.torsionProgramme?.counts === "survives";
  if (!survivor || unbroken || limits.min === undefined || compareExact(exact(count), exact(limits.min)) > 0) return comparison;
  return { ...comparison, outcome: "does-not-conform", reason: "broke-in-programme" };
}

/** A requirement for one direction and a piece that was turned back: all turns count, and somebody should know. */
function warnOfReverse(row: EntryRow, { report }: CheckContext): void {
  const reverse: FieldValue | undefined = row.fields["reverseTurns"];
  if (reverse === undefined || compareExact(exact(reverse.text), exact("0")) === 0) return;
  report({
    code: "programme-not-asked",
    severity: "warning",
    sheet: row.sheetName,
    cell: reverse.cell,
    actual: reverse.raw,
    expected: "an empty cell: the requirement is for turns in one direction",
    text: `The piece was turned back ${reverse.text} turns, but the requirement is for one direction; all its turns count.`,
  });
}
