/** Figures in the other system of units, beside the one of the limit. They inform; a limit is never converted. */
import { exact } from "../core/decimal.ts";
import { convertExact, isUnit, type Unit } from "../core/quantity.ts";
import { roundToStep } from "../core/rounding.ts";

export type UnitSystem = "SI" | "inch-pound";

/** Where each unit goes, and the step it is rounded to. @source common practice of wire tables, no source */
const OTHER: Readonly<Record<string, { readonly system: UnitSystem; readonly to: Unit; readonly step: string }>> = {
  MPa: { system: "SI", to: "ksi", step: "0.1" },
  "N/mm2": { system: "SI", to: "ksi", step: "0.1" },
  mm: { system: "SI", to: "in", step: "0.0001" },
  m: { system: "SI", to: "ft", step: "1" },
  N: { system: "SI", to: "lbf", step: "1" },
  kN: { system: "SI", to: "lbf", step: "1" },
  kg: { system: "SI", to: "lb", step: "1" },
  "g/m2": { system: "SI", to: "oz/ft2", step: "0.01" },
  ksi: { system: "inch-pound", to: "MPa", step: "1" },
  psi: { system: "inch-pound", to: "MPa", step: "1" },
  in: { system: "inch-pound", to: "mm", step: "0.001" },
  ft: { system: "inch-pound", to: "m", step: "0.1" },
  lbf: { system: "inch-pound", to: "N", step: "1" },
  lb: { system: "inch-pound", to: "kg", step: "1" },
  "oz/ft2": { system: "inch-pound", to: "g/m2", step: "1" },
};

/** What an order asks for: "SI", "inch-pound", or both of them in any words ("SI + inch-pound", "both"). */
export function systemsAsked(documentUnits: string | undefined): readonly UnitSystem[] {
  const text = documentUnits?.toLowerCase() ?? "";
  if (/both|beide/.test(text)) return ["SI", "inch-pound"];
  return [
    ...(/\bsi\b|metric/.test(text) ? (["SI"] as const) : []),
    ...(/inch|imperial|\bus\b/.test(text) ? (["inch-pound"] as const) : []),
  ];
}

/** The unit to show beside `unit`; undefined where the order asks for none, or the unit has no counterpart. */
export function unitBeside(unit: string, asked: readonly UnitSystem[]): Unit | undefined {
  const other = OTHER[unit];
  return other !== undefined && asked.some((system) => system !== other.system) ? other.to : undefined;
}

/** The figure in the other unit, rounded half to even. @param text decimal text, unrounded */
export function convertedText(text: string, unit: string): string {
  const other = OTHER[unit];
  if (other === undefined || !isUnit(unit)) throw new RangeError(`no unit beside "${unit}"`);
  return roundToStep(convertExact(exact(text), unit, other.to), other.step, "even");
}
