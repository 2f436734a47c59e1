import { exact, toDecimalText } from "../decimal.ts";
import { convertExact, convertNumber, type Measure, type Unit } from "../quantity.ts";

export type UnitSystem = "mm" | "in";

/** The unit system a length was given in: `in` for in and ft, else `mm`. */
export const systemOf = (length: Measure): UnitSystem => (length.unit === "in" || length.unit === "ft" ? "in" : "mm");

/** The same length in mm or in, whichever belongs to its unit; exact, for every length of at most 40 significant digits. */
export function inOwnSystem(length: Measure): Measure {
  const unit = systemOf(length);
  return length.unit === unit ? length : { text: toDecimalText(convertExact(exact(length.text), length.unit as Unit, unit), 40), unit };
}

const areaOf = (diameter: Measure, unit: UnitSystem): number => {
  const d = convertNumber(diameter, unit);
  return (Math.PI * d * d) / 4;
};

/**
 * Stress of `force` on a round wire, in MPa or ksi, unrounded.
 * @source ISO 6892-1, definition of tensile strength: maximum force over original area; area = pi d^2 / 4
 */
export function stressOn(force: Measure, diameter: Measure, unit: "MPa" | "ksi"): number {
  const inch = unit === "ksi";
  const stress = convertNumber(force, inch ? "lbf" : "N") / areaOf(diameter, inch ? "in" : "mm");
  return inch ? stress / 1000 : stress;
}

/**
 * The force that `share` of a strength puts on a round wire, in N or lbf, unrounded.
 * @source the inverse of the definition of tensile strength
 */
export function forceAtShare(strength: Measure, diameter: Measure, share: number, unit: "N" | "lbf"): number {
  return unit === "lbf"
    ? share * convertNumber(strength, "psi") * areaOf(diameter, "in")
    : share * convertNumber(strength, "MPa") * areaOf(diameter, "mm");
}
