import { coatingMassByGas, coatingMassByStripping, standardVolume, ZINC_PER_ML } from "../../formulas/coating.ts";
import type { EntryRow, Measure } from "../../model.ts";
import type { Unit } from "../../quantity.ts";
import { convertNumber } from "../../quantity.ts";
import type { CheckContext, CheckedRow } from "../context.ts";
import { amount, computedText, demandedAmount, inUnit, text } from "../row.ts";
import { numericCheck } from "./shared.ts";

/**
 * Mass of coating per area, by stripping or by the gas set free.
 * @source ASTM A90 (mass loss / stripped mass x stripped diameter x constant; memory, high); gas volumetric: derived
 */
export function checkCoatingMass(row: EntryRow, context: CheckContext): CheckedRow | undefined {
  const diameter = demandedAmount(row, "strippedDiameter");
  const gas = text(row, "method") === "gas";
  const made = gas ? byGas(row, diameter) : byStripping(row, diameter, context.conduct.coatingConstant);
  if (made === undefined) return undefined;
  const value = computedText(
    convertNumber({ text: computedText(made.gramPerSquareMetre), unit: "g/m2" }, context.requirement.unit as Unit),
  );
  return numericCheck(context, value, gas ? "hydrogen" : "massAfter", { conditions: {}, steps: [made.step] });
}

function byStripping(row: EntryRow, diameter: Measure, constant: string): { gramPerSquareMetre: number; step: string } | undefined {
  const before = amount(row, "massBefore");
  const after = amount(row, "massAfter");
  if (before === undefined || after === undefined) return undefined;
  const mass = coatingMassByStripping(before, after, diameter, constant);
  return {
    gramPerSquareMetre: mass,
    step: `(${before.text} - ${after.text}) / ${after.text} x ${inUnit(diameter, "mm")} mm x ${constant} = ${computedText(mass)} g/m2`,
  };
}

function byGas(row: EntryRow, diameter: Measure): { gramPerSquareMetre: number; step: string } | undefined {
  const hydrogen = amount(row, "hydrogen");
  const temperature = amount(row, "temperature");
  const pressure = amount(row, "pressure");
  const length = amount(row, "length");
  if (!hydrogen || !temperature || !pressure || !length) return undefined;
  const mass = coatingMassByGas(hydrogen, temperature, pressure, diameter, length);
  return {
    gramPerSquareMetre: mass,
    step: `${ZINC_PER_ML} mg a ml x ${computedText(standardVolume(hydrogen, temperature, pressure))} ml over pi x ${inUnit(diameter, "mm")} mm x length = ${computedText(mass)} g/m2`,
  };
}
