import { coatingMassByGas, coatingMassByStripping, standardVolume, ZINC_PER_ML } from "../../formulas/coating.ts";
import type { EntryRow, Measure } from "../../model.ts";
import type { Unit } from "../../quantity.ts";
import { convertNumber } from "../../quantity.ts";
import type { CheckContext, CheckedRow } from "../context.ts";
import { computedText, demandedAmount, inUnit, text } from "../row.ts";
import { numericCheck } from "./shared.ts";

/** What each method must have beside the stripped diameter. */
const NEEDED = { strip: ["massBefore", "massAfter"], gas: ["hydrogen", "temperature", "pressure", "length"] } as const;

/**
 * Mass of coating per area, by stripping or by the gas set free. A row without all the figures of its method gives no result and holds
 * the requirement back.
 * @source ASTM A90 (mass loss / stripped mass x stripped diameter x constant; memory, high); gas volumetric: derived
 */
export function checkCoatingMass(row: EntryRow, context: CheckContext): CheckedRow {
  const diameter = demandedAmount(row, "strippedDiameter");
  const method = text(row, "method") === "gas" ? "gas" : "strip";
  const field = method === "gas" ? "hydrogen" : "massAfter";
  const missing = NEEDED[method].filter((name) => row.fields[name] === undefined);
  if (missing.length > 0) return incomplete(context, field, missing, method);
  const made = method === "gas" ? byGas(row, diameter) : byStripping(row, diameter, context.conduct.coatingConstant);
  const value = computedText(
    convertNumber({ text: computedText(made.gramPerSquareMetre), unit: "g/m2" }, context.requirement.unit as Unit),
  );
  return numericCheck(context, value, field, { conditions: {}, steps: [made.step] });
}

function incomplete({ requirement }: CheckContext, field: string, missing: readonly string[], method: string): CheckedRow {
  const named = missing.join(", ");
  return {
    value: "",
    unit: requirement.unit,
    compared: "",
    outcome: "undecided",
    field,
    conditions: {},
    deviations: [],
    steps: [],
    contradiction: {
      code: "missing-value",
      field: "method",
      text: `The method ${method} needs ${named}, which the row leaves empty.`,
      expected: named,
    },
  };
}

function byStripping(row: EntryRow, diameter: Measure, constant: string): { gramPerSquareMetre: number; step: string } {
  const before = demandedAmount(row, "massBefore");
  const after = demandedAmount(row, "massAfter");
  const mass = coatingMassByStripping(before, after, diameter, constant);
  return {
    gramPerSquareMetre: mass,
    step: `(${before.text} - ${after.text}) / ${after.text} x ${inUnit(diameter, "mm")} mm x constant ${constant} = ${computedText(mass)} g/m2`,
  };
}

function byGas(row: EntryRow, diameter: Measure): { gramPerSquareMetre: number; step: string } {
  const hydrogen = demandedAmount(row, "hydrogen");
  const temperature = demandedAmount(row, "temperature");
  const pressure = demandedAmount(row, "pressure");
  const length = demandedAmount(row, "length");
  const mass = coatingMassByGas(hydrogen, temperature, pressure, diameter, length);
  const volume = computedText(standardVolume(hydrogen, temperature, pressure));
  return {
    gramPerSquareMetre: mass,
    step: `constant ${ZINC_PER_ML} mg zinc a ml x ${volume} ml at 0 degC and 1013 mbar over pi x ${inUnit(diameter, "mm")} mm x ${inUnit(length, "mm")} mm = ${computedText(mass)} g/m2`,
  };
}
