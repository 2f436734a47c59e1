import type { EntryRow } from "../../model.ts";
import type { Unit } from "../../quantity.ts";
import { convertNumber } from "../../quantity.ts";
import type { CheckContext, CheckedRow } from "../context.ts";
import { amount, computedText, demandedAmount, inUnit, text } from "../row.ts";
import { numericCheck } from "./shared.ts";

/** Zinc set free per millilitre of hydrogen at 0 degC and 1013 mbar, mg. @source 65.38 / 22.414, derived */
const ZINC_PER_ML = 2.917;

/**
 * Mass of coating per area, by stripping or by the gas set free.
 * @source ASTM A90 (mass loss / stripped mass x stripped diameter x constant; memory, high); gas volumetric: derived
 */
export function checkCoatingMass(row: EntryRow, context: CheckContext): CheckedRow | undefined {
  const diameter = inUnit(demandedAmount(row, "strippedDiameter"), "mm");
  const gas = text(row, "method") === "gas";
  const made = gas ? byGas(row, diameter) : byStripping(row, diameter, context.conduct.coatingConstant);
  if (made === undefined) return undefined;
  const value = computedText(
    convertNumber({ text: computedText(made.gramPerSquareMetre), unit: "g/m2" }, context.requirement.unit as Unit),
  );
  return numericCheck(context, value, gas ? "hydrogen" : "massAfter", { conditions: {}, steps: [made.step] });
}

function byStripping(row: EntryRow, diameter: number, constant: string): { gramPerSquareMetre: number; step: string } | undefined {
  const before = amount(row, "massBefore");
  const after = amount(row, "massAfter");
  if (before === undefined || after === undefined) return undefined;
  const stripped = inUnit(after, "g");
  const mass = ((inUnit(before, "g") - stripped) / stripped) * diameter * Number(constant);
  return {
    gramPerSquareMetre: mass,
    step: `(${before.text} - ${after.text}) / ${after.text} x ${diameter} mm x ${constant} = ${computedText(mass)} g/m2`,
  };
}

function byGas(row: EntryRow, diameter: number): { gramPerSquareMetre: number; step: string } | undefined {
  const hydrogen = amount(row, "hydrogen");
  const temperature = amount(row, "temperature");
  const pressure = amount(row, "pressure");
  const length = amount(row, "length");
  if (!hydrogen || !temperature || !pressure || !length) return undefined;
  const standardVolume = (((inUnit(hydrogen, "ml") * 273.15) / inUnit(temperature, "K")) * inUnit(pressure, "mbar")) / 1013;
  const mass = ((ZINC_PER_ML * standardVolume) / 1000 / (Math.PI * diameter * inUnit(length, "mm"))) * 1e6;
  return {
    gramPerSquareMetre: mass,
    step: `${ZINC_PER_ML} mg a ml x ${computedText(standardVolume)} ml over pi x ${diameter} mm x length = ${computedText(mass)} g/m2`,
  };
}
