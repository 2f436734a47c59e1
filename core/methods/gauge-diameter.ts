import { CalcError } from "../calc-error.ts";
import type { Measure } from "../model.ts";
import { GAUGES } from "./data/gauges.ts";

export const GAUGE_SYSTEMS = Object.keys(GAUGES) as readonly (keyof typeof GAUGES)[];

/** True for what can be a gauge number: "12", "2/0", "6 1/2", "7.5". */
export const isGaugeNumber = (text: string): boolean => /^\d+(?:\.\d+|\/0| 1\/2)?$/.test(text);

/**
 * The diameter of a wire gauge, in inches as printed.
 * @throws CalcError `outside-scope` where the number is not in the table
 */
export function gaugeDiameter(system: keyof typeof GAUGES, number: string): Measure {
  const diameters: Readonly<Record<string, string>> = GAUGES[system].diameters;
  const diameter = Object.hasOwn(diameters, number) ? diameters[number] : undefined;
  if (diameter === undefined) throw new CalcError("outside-scope", `number: "${number}" is not in the ${system} table`);
  return { text: diameter, unit: "in" };
}
