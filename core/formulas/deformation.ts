import { addExact, divideExact, type Exact, exact, multiplyExact, subtractExact, toNumber } from "../decimal.ts";
import { convertExact, type Measure, type Unit } from "../quantity.ts";

const mm = (length: Measure): Exact => convertExact(exact(length.text), length.unit as Unit, "mm");
const HUNDRED = exact("100");
const ONE = exact("1");

/**
 * Elongation after fracture, %, unrounded: 100 (L - L0) / L0.
 * @source ISO 6892-1, definition of percentage elongation after fracture
 */
export function elongationPercent(original: Measure, final: Measure): number {
  const before = mm(original);
  return toNumber(multiplyExact(HUNDRED, divideExact(subtractExact(mm(final), before), before)));
}

/**
 * Reduction of area of a round section, %, unrounded: 100 (1 - (d_after / d_before)^2).
 * @source ISO 6892-1, definition of percentage reduction of area; area = pi d^2 / 4
 */
export function reductionOfAreaPercent(original: Measure, final: Measure): number {
  const ratio = divideExact(mm(final), mm(original));
  return toNumber(multiplyExact(HUNDRED, subtractExact(ONE, multiplyExact(ratio, ratio))));
}

/**
 * Strain of the outer fibre in a wrap on a mandrel: d / (D + d).
 * @source geometry, the neutral fibre in the axis of the wire
 */
export function wrapStrain(diameter: Measure, mandrelDiameter: Measure): number {
  const [d, mandrel] = [mm(diameter), mm(mandrelDiameter)];
  return toNumber(divideExact(d, addExact(mandrel, d)));
}

/**
 * Strain of the outer fibre in a bend over a cylinder of radius r: d / (2 r + d).
 * @source geometry, the neutral fibre in the axis of the wire
 */
export function bendStrain(diameter: Measure, radius: Measure): number {
  const d = mm(diameter);
  return toNumber(divideExact(d, addExact(multiplyExact(exact("2"), mm(radius)), d)));
}
