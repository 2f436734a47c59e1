import { divideExact, type Exact, exact, multiplyExact } from "../decimal.ts";
import { convertExact, convertNumber, type Measure, type Unit } from "../quantity.ts";

/**
 * Turns, or a required count of turns, on another free length: N2 = N1 L2 / L1. Exact.
 * @source JIS C 3110:2019, 8.1.4 (turns in proportion to the spacing of the grips, read)
 */
export function scaleTurns(turns: string, from: Measure, to: Measure): Exact {
  const length = convertExact(exact(to.text), to.unit as Unit, from.unit as Unit);
  return divideExact(multiplyExact(exact(turns), length), exact(from.text));
}

export interface TorsionStrain {
  /** Shear strain of the surface, without unit. */
  readonly shearStrain: number;
  /** Slope of a line that was straight on the wire, degrees. */
  readonly helixAngle: number;
  /** After von Mises, without unit. */
  readonly equivalentStrain: number;
}

/**
 * Strain of the surface after `turns` on `length`: gamma = pi d N / L.
 * @source textbook mechanics (memory, high); von Mises: gamma / sqrt 3
 */
export function torsionStrain(diameter: Measure, turns: string, length: Measure): TorsionStrain {
  const shearStrain = (Math.PI * convertNumber(diameter, "mm") * Number(turns)) / convertNumber(length, "mm");
  return { shearStrain, helixAngle: (Math.atan(shearStrain) * 180) / Math.PI, equivalentStrain: shearStrain / Math.sqrt(3) };
}

/**
 * Shear stress of the surface under a torque, in MPa or ksi: elastic 16 T / (pi d^3), fully plastic 12 T / (pi d^3).
 * @source textbook mechanics (memory, high): stress linear in the radius, stress constant over it
 */
export function torsionStress(diameter: Measure, torque: Measure, unit: "MPa" | "ksi"): { elastic: number; plastic: number } {
  const d = convertNumber(diameter, unit === "ksi" ? "in" : "mm");
  const amount = unit === "ksi" ? convertNumber(torque, "lbf in") / 1000 : convertNumber(torque, "N mm");
  const cube = Math.PI * d * d * d;
  return { elastic: (16 * amount) / cube, plastic: (12 * amount) / cube };
}
