/** Arithmetic that the set-ups share. Lengths stay exact; figures for a card are cut to what can be read from a step away. */
import { CalcError } from "../calc-error.ts";
import { addExact, compareExact, divideExact, type Exact, exact, multiplyExact, subtractExact, toDecimalText } from "../decimal.ts";
import type { Measure } from "../model.ts";
import { convertExact, type Unit } from "../quantity.ts";

export const inUnit = (m: Measure, unit: Unit): Exact => convertExact(exact(m.text), m.unit as Unit, unit);

/** Order of two amounts of one dimension. */
export const compareMeasures = (a: Measure, b: Measure): -1 | 0 | 1 => compareExact(inUnit(a, b.unit as Unit), exact(b.text));

export const sumOf = (amounts: readonly Exact[]): Exact => amounts.reduce(addExact, exact("0"));

/** `required` less and more its share, in its own unit. */
export function tolerated(required: Measure, share: string, upper: Measure = required): readonly [Measure, Measure] {
  const at = (edge: Measure, sign: 1 | -1): Measure => {
    const off = multiplyExact(exact(edge.text), exact(share));
    return { text: toDecimalText((sign < 0 ? subtractExact : addExact)(exact(edge.text), off)), unit: edge.unit };
  };
  return [at(required, -1), at(upper, 1)];
}

/** Rounded up to a whole millimetre or a tenth of an inch, so that a piece is never too short. */
export function cutText(length: Exact, unit: Unit): Measure {
  const step = unit === "in" ? "0.1" : "1";
  const steps = divideExact(length, exact(step));
  const whole = (steps.numerator + steps.denominator - 1n) / steps.denominator;
  return { text: toDecimalText(multiplyExact(exact(whole.toString()), exact(step))), unit };
}

/** Three significant figures. */
export const shortFigure = (value: number): string => toDecimalText(exact(value.toFixed(value >= 100 ? 0 : value >= 10 ? 1 : 2)));

/** Largest of the sizes below the band and smallest above it, ascending. */
export function neighbours(sizes: readonly Measure[], [from, to]: readonly [Measure, Measure]): readonly Measure[] {
  const sorted = [...sizes].sort(compareMeasures);
  const below = sorted.filter((size) => compareMeasures(size, from) < 0).at(-1);
  const above = sorted.find((size) => compareMeasures(size, to) > 0);
  return [below, above].filter((size) => size !== undefined);
}

/** The size inside the band that is nearest to what is required. */
export function fitting(sizes: readonly Measure[], required: Measure, [from, to]: readonly [Measure, Measure]): Measure | undefined {
  const distance = (size: Measure): Exact => {
    const off = subtractExact(inUnit(size, required.unit as Unit), exact(required.text));
    return off.numerator < 0n ? { ...off, numerator: -off.numerator } : off;
  };
  return sizes
    .filter((size) => compareMeasures(size, from) >= 0 && compareMeasures(size, to) <= 0)
    .sort((a, b) => compareExact(distance(a), distance(b)) || compareMeasures(a, b))[0];
}

/** The answer, or undefined where the rule asked has none. Every other error is ours and goes on. */
export function answered<T>(ask: () => T): T | undefined {
  try {
    return ask();
  } catch (error) {
    if (error instanceof CalcError) return undefined;
    throw error;
  }
}
