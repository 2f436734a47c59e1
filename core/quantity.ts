import { divideExact, type Exact, exact, multiplyExact, toDecimalText, toNumber } from "./decimal.ts";

export type Dimension = "length" | "force" | "stress" | "mass" | "areal-mass" | "torque" | "volume" | "pressure" | "temperature" | "ratio";

/**
 * Every unit with its dimension and its size in the dimension's base unit, as exact decimal text or a quotient of two.
 * Base units: mm, N, MPa, g, g/m2, N mm, ml, mbar, %. Temperature is affine and has its own conversion.
 * @source international yard and pound agreement 1959 (in, lb); standard gravity 9.80665 m/s2 (CGPM 1901)
 */
const UNITS = {
  mm: ["length", "1"],
  cm: ["length", "10"],
  m: ["length", "1000"],
  um: ["length", "0.001"],
  in: ["length", "25.4"],
  ft: ["length", "304.8"],
  N: ["force", "1"],
  kN: ["force", "1000"],
  lbf: ["force", "4.4482216152605"],
  kgf: ["force", "9.80665"],
  MPa: ["stress", "1"],
  "N/mm2": ["stress", "1"],
  GPa: ["stress", "1000"],
  psi: ["stress", "4.4482216152605", "645.16"],
  ksi: ["stress", "4448.2216152605", "645.16"],
  mg: ["mass", "0.001"],
  g: ["mass", "1"],
  kg: ["mass", "1000"],
  oz: ["mass", "28.349523125"],
  lb: ["mass", "453.59237"],
  "g/m2": ["areal-mass", "1"],
  "oz/ft2": ["areal-mass", "28.349523125", "0.09290304"],
  "N mm": ["torque", "1"],
  "N m": ["torque", "1000"],
  "lbf in": ["torque", "112.9848290276167"],
  ml: ["volume", "1"],
  cm3: ["volume", "1"],
  l: ["volume", "1000"],
  mbar: ["pressure", "1"],
  hPa: ["pressure", "1"],
  kPa: ["pressure", "10"],
  bar: ["pressure", "1000"],
  degC: ["temperature", "1"],
  degF: ["temperature", "1"],
  K: ["temperature", "1"],
  "%": ["ratio", "1"],
} as const satisfies Record<string, readonly [Dimension, string, string?]>;

export type Unit = keyof typeof UNITS;
/** Counts have no conversion but stand where a unit stands. */
export type CountUnit = "turns" | "wraps" | "bends" | "cycles" | "r/min";
export type AnyUnit = Unit | CountUnit;

/** An exact amount: decimal text and unit. Used wherever a limit or a reading is kept. */
export interface Measure {
  readonly text: string;
  readonly unit: AnyUnit;
}
/** An amount as it leaves in JSON. */
export interface Quantity {
  readonly value: number;
  readonly unit: AnyUnit;
}

export const isUnit = (text: string): text is Unit => Object.hasOwn(UNITS, text);
export const dimensionOf = (unit: Unit): Dimension => UNITS[unit][0];
export const measure = (text: string, unit: AnyUnit): Measure => ({ text, unit });
export const toQuantity = (m: Measure): Quantity => ({ value: Number(m.text), unit: m.unit });

function sizeOf(unit: Unit): Exact {
  const [, top, bottom] = UNITS[unit] as readonly [Dimension, string, string?];
  return bottom === undefined ? exact(top) : divideExact(exact(top), exact(bottom));
}

/**
 * The same amount in another unit, exact.
 * @throws RangeError when the dimensions differ.
 */
export function convertExact(value: Exact, from: Unit, to: Unit): Exact {
  if (dimensionOf(from) !== dimensionOf(to)) throw new RangeError(`${from} and ${to} are not of one dimension`);
  if (from === to) return value;
  if (dimensionOf(from) === "temperature") return fromKelvin(toKelvin(value, from), to);
  return divideExact(multiplyExact(value, sizeOf(from)), sizeOf(to));
}

const ZERO_CELSIUS = exact("273.15");
const FAHRENHEIT_OFFSET = exact("459.67");
const NINE_FIFTHS = exact("1.8");
const plus = (a: Exact, b: Exact, sign: 1n | -1n): Exact => ({
  numerator: a.numerator * b.denominator + sign * b.numerator * a.denominator,
  denominator: a.denominator * b.denominator,
});
function toKelvin(value: Exact, from: Unit): Exact {
  if (from === "degC") return plus(value, ZERO_CELSIUS, 1n);
  if (from === "degF") return divideExact(plus(value, FAHRENHEIT_OFFSET, 1n), NINE_FIFTHS);
  return value;
}
function fromKelvin(value: Exact, to: Unit): Exact {
  if (to === "degC") return plus(value, ZERO_CELSIUS, -1n);
  if (to === "degF") return plus(multiplyExact(value, NINE_FIFTHS), FAHRENHEIT_OFFSET, -1n);
  return value;
}

/** The amount in `to` as a double. */
export const convertNumber = (m: Measure, to: Unit): number => toNumber(convertExact(exact(m.text), m.unit as Unit, to));

/** The amount in `to`, as decimal text of at most 15 significant digits; the text is kept where the unit is the same. */
export function convertMeasure(m: Measure, to: Unit): Measure {
  return m.unit === to ? m : { text: toDecimalText(convertExact(exact(m.text), m.unit as Unit, to)), unit: to };
}
