import { compareExact, exact, numberText, toNumber } from "../decimal.ts";
import type { EntryRow, InstrumentRange, Measure } from "../model.ts";
import { convertExact, dimensionOf, isUnit } from "../quantity.ts";
import type { UncertaintyPart } from "./context.ts";
import type { Deviation } from "./deviation.ts";
import { amount, text } from "./row.ts";

/** The figures that were read on the row's own instrument, by sheet; the calibrated range must hold them. */
const FIGURES: Readonly<Partial<Record<EntryRow["sheet"], readonly string[]>>> = {
  diameter: ["largest", "smallest"],
  tensile: ["maximumForce"],
};

/**
 * The instruments of a row that were not in force on the day of the test.
 * @source ISO/IEC 17025:2017, 6.4 (equipment must be calibrated before use; from memory)
 */
export function instrumentDeviations(row: EntryRow, instruments: ReadonlyMap<string, readonly InstrumentRange[]>): readonly Deviation[] {
  const date = text(row, "date");
  const own = text(row, "instrument");
  const micrometer = text(row, "diameterInstrument");
  if (date === undefined || (own === undefined && micrometer === undefined)) return NONE;
  const lapsedOwn = own !== undefined && !inForce(instruments.get(own), date, row, FIGURES[row.sheet] ?? NO_FIGURES);
  const lapsedOther = micrometer !== undefined && !inForce(instruments.get(micrometer), date, row, DIAMETER);
  if (!lapsedOwn && !lapsedOther) return NONE;
  return [...(lapsedOwn ? [lapsed(own, date)] : []), ...(lapsedOther ? [lapsed(micrometer, date)] : [])];
}

const NONE: readonly Deviation[] = [];
const NO_FIGURES: readonly string[] = [];
const DIAMETER: readonly string[] = ["diameter"];

const lapsed = (instrument: string, date: string): Deviation => ({
  reason: "instrument-not-in-force",
  direction: "void",
  text: `${instrument} had no calibration in force on ${date} for the figures read`,
});

/** True where a calibration covers the day (both ends included) and the range of each figure that the row has. */
function inForce(ranges: readonly InstrumentRange[] | undefined, date: string, row: EntryRow, figures: readonly string[]): boolean {
  if (covering(ranges, date, undefined) === undefined) return false;
  for (const field of figures) {
    const figure = amount(row, field);
    if (figure !== undefined && covering(ranges, date, figure) === undefined) return false;
  }
  return true;
}

function covering(ranges: readonly InstrumentRange[] | undefined, date: string, figure: Measure | undefined): InstrumentRange | undefined {
  return ranges?.find(
    (range) =>
      range.calibratedOn !== undefined &&
      range.calibratedOn <= date &&
      (range.dueOn === undefined || date <= range.dueOn) &&
      (figure === undefined || holds(range, figure)),
  );
}

/** An empty end is not bounded; a range in another kind of unit says nothing of the figure. */
function holds(range: InstrumentRange, figure: Measure): boolean {
  const unit = range.rangeUnit;
  if (range.rangeMin === undefined && range.rangeMax === undefined) return true;
  if (unit === undefined || !isUnit(unit) || !isUnit(figure.unit) || dimensionOf(unit) !== dimensionOf(figure.unit)) return true;
  const value = convertExact(exact(figure.text), figure.unit, unit);
  const above = range.rangeMin === undefined || compareExact(value, exact(range.rangeMin)) >= 0;
  return above && (range.rangeMax === undefined || compareExact(value, exact(range.rangeMax)) <= 0);
}

/**
 * Expanded uncertainty (k = 2) of a result in its own unit, or undefined where any part has none.
 * Parts combine by the root of the sum of squares, each by its weight.
 * @param comparedValue the compared figure: a `%` uncertainty is relative to it
 * @source JCGM 100:2008, 5.1 (uncorrelated inputs); strength: (u(R)/R)^2 = (u(F)/F)^2 + (2 u(d)/d)^2
 */
export function expandedUncertainty(
  parts: readonly UncertaintyPart[],
  instruments: ReadonlyMap<string, readonly InstrumentRange[]>,
  date: string | undefined,
  comparedValue: number,
  resultUnit: string,
): number | undefined {
  if (parts.length === 0 || date === undefined) return undefined;
  let sum = 0;
  for (const part of parts) {
    const range = covering(instruments.get(part.instrument), date, part.figure);
    if (range?.uncertainty === undefined) return undefined;
    const atTwo = (Number(range.uncertainty) * 2) / Number(range.coverageFactor ?? "2");
    const own = inResultUnit(atTwo, range.uncertaintyUnit, part.figure, Math.abs(comparedValue), resultUnit);
    if (own === undefined) return undefined;
    sum += (part.weight * own) ** 2;
  }
  return Math.sqrt(sum);
}

/** The uncertainty of one figure as it enters the result: in the result's unit at once, else by its share of the figure. */
function inResultUnit(value: number, unit: string | undefined, figure: Measure, compared: number, resultUnit: string): number | undefined {
  if (unit === "%") return (value / 100) * compared;
  if (unit === undefined || !isUnit(unit)) return undefined;
  if (isUnit(resultUnit) && dimensionOf(unit) === dimensionOf(resultUnit))
    return toNumber(convertExact(exact(numberText(value)), unit, resultUnit));
  if (!isUnit(figure.unit) || dimensionOf(unit) !== dimensionOf(figure.unit)) return undefined;
  const whole = Math.abs(Number(figure.text));
  return whole === 0 ? undefined : (toNumber(convertExact(exact(numberText(value)), unit, figure.unit)) / whole) * compared;
}
