import { divideExact, exact, multiplyExact, subtractExact, toNumber } from "../decimal.ts";
import { convertExact, convertNumber, type Measure, type Unit } from "../quantity.ts";

/** Zinc set free per millilitre of hydrogen at 273.15 K and 1013 mbar, mg. @source 65.38 / 22.414, derived */
export const ZINC_PER_ML = 2.917;

/**
 * Mass of coating per area by stripping, g/m2, unrounded: (before - after) / after x stripped diameter in mm x constant.
 * @source ASTM A90 (memory, high); the constant is a quarter of the density in kg/m3
 */
export function coatingMassByStripping(before: Measure, after: Measure, strippedDiameter: Measure, constant: string): number {
  const left = convertExact(exact(after.text), after.unit as Unit, "g");
  const lost = subtractExact(convertExact(exact(before.text), before.unit as Unit, "g"), left);
  const diameter = convertExact(exact(strippedDiameter.text), strippedDiameter.unit as Unit, "mm");
  return toNumber(multiplyExact(multiplyExact(divideExact(lost, left), diameter), exact(constant)));
}

/** The volume of a gas at 273.15 K and 1013 mbar, ml. @source ideal gas law */
export const standardVolume = (volume: Measure, temperature: Measure, pressure: Measure): number =>
  (((convertNumber(volume, "ml") * 273.15) / convertNumber(temperature, "K")) * convertNumber(pressure, "mbar")) / 1013;

/**
 * Mass of zinc per area from the hydrogen its solution sets free, g/m2, unrounded.
 * @source stoichiometry of zinc and acid, over the stripped surface pi d L (derived)
 */
export function coatingMassByGas(
  hydrogen: Measure,
  temperature: Measure,
  pressure: Measure,
  strippedDiameter: Measure,
  length: Measure,
): number {
  const milligrams = ZINC_PER_ML * standardVolume(hydrogen, temperature, pressure);
  return (milligrams / 1000 / (Math.PI * convertNumber(strippedDiameter, "mm") * convertNumber(length, "mm"))) * 1e6;
}
