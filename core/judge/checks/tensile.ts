import { reductionOfAreaPercent } from "../../formulas/deformation.ts";
import { stressOn } from "../../formulas/stress.ts";
import type { EntryRow, Measure } from "../../model.ts";
import { convertNumber, type Unit } from "../../quantity.ts";
import type { CheckContext, CheckedRow } from "../context.ts";
import type { Deviation } from "../deviation.ts";
import { amount, computedText, demandedAmount, inUnit, text } from "../row.ts";
import { numericCheck } from "./shared.ts";

/**
 * A break at the grip voids a value below the minimum, never one that passes and never one above the maximum.
 * @source JIS G 3558:2019, 11.5 and ASTM A1000-11, note 3 (break at the grips); DESIGN default "grip break"
 */
function gripBreak(row: EntryRow, checked: CheckedRow): readonly Deviation[] {
  if (text(row, "breakAt") !== "grip" || checked.reason === "above-max") return [];
  return [{ reason: "grip-break", direction: "harder", text: "broke at the grip" }];
}

function withGripBreak(row: EntryRow, checked: CheckedRow): CheckedRow {
  return { ...checked, deviations: [...checked.deviations, ...gripBreak(row, checked)] };
}

function checkStress(row: EntryRow, context: CheckContext, forceField: string): CheckedRow | undefined {
  const force = amount(row, forceField);
  if (force === undefined) return undefined;
  const unit = context.requirement.unit as Unit;
  const byNominal = context.requirement.conditions.area === "nominal";
  const diameter = byNominal ? context.order.nominalDiameter : demandedAmount(row, "diameter");
  const stress = stressText(force, diameter, unit);
  const diameterInstrument = text(row, "diameterInstrument");
  return withGripBreak(
    row,
    numericCheck(context, stress, forceField, {
      conditions: { area: byNominal ? "nominal" : "measured" },
      steps: [
        `${force.text} ${force.unit} on ${byNominal ? "nominal" : "measured"} diameter ${diameter.text} ${diameter.unit}: 4 F / (pi d^2) = ${stress} ${unit}`,
      ],
      uncertaintyParts: [
        { instrument: text(row, "instrument") ?? "", figure: force, weight: 1 },
        ...(diameterInstrument === undefined ? [] : [{ instrument: diameterInstrument, figure: diameter, weight: 2 }]),
      ],
    }),
  );
}

/** The stress in the limit's own unit, 15 digits. */
function stressText(force: Measure, diameter: Measure, unit: Unit): string {
  const computed = unit === "ksi" || unit === "psi" ? "ksi" : "MPa";
  const stress = computedText(stressOn(force, diameter, computed));
  return unit === computed || unit === "N/mm2" ? stress : computedText(convertNumber({ text: stress, unit: computed }, unit));
}

export function checkTensileStrength(row: EntryRow, context: CheckContext): CheckedRow | undefined {
  return checkStress(row, context, "maximumForce");
}

export function checkProofStrength(row: EntryRow, context: CheckContext): CheckedRow | undefined {
  return checkStress(row, context, "proofForce");
}

export function checkBreakingForce(row: EntryRow, context: CheckContext): CheckedRow {
  const force = demandedAmount(row, "maximumForce");
  const value = computedText(inUnit(force, context.requirement.unit as Unit));
  return withGripBreak(
    row,
    numericCheck(context, value, "maximumForce", {
      conditions: {},
      steps: [`maximum force ${force.text} ${force.unit}`],
      uncertaintyParts: [{ instrument: text(row, "instrument") ?? "", figure: force, weight: 1 }],
    }),
  );
}

export function checkElongation(row: EntryRow, context: CheckContext): CheckedRow | undefined {
  const value = row.fields["elongation"];
  if (value === undefined) return undefined;
  const gaugeLength = amount(row, "gaugeLength");
  return withGripBreak(
    row,
    numericCheck(context, value.text, "elongation", {
      conditions: gaugeLength === undefined ? {} : { gaugeLength },
      steps: [`elongation ${value.text} %${gaugeLength ? ` on a gauge length of ${gaugeLength.text} ${gaugeLength.unit}` : ""}`],
    }),
  );
}

export function checkReductionOfArea(row: EntryRow, context: CheckContext): CheckedRow | undefined {
  const after = amount(row, "diameterAfter");
  if (after === undefined) return undefined;
  const before = demandedAmount(row, "diameter");
  const value = computedText(reductionOfAreaPercent(before, after));
  return withGripBreak(
    row,
    numericCheck(context, value, "diameterAfter", {
      conditions: {},
      steps: [`100 (1 - (${after.text} / ${before.text})^2) = ${value} %`],
    }),
  );
}
