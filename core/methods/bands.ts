import { CalcError } from "../calc-error.ts";
import { compareExact, type Exact, exact } from "../decimal.ts";
import type { Measure, Provenance } from "../model.ts";
import { convertExact, type Unit } from "../quantity.ts";

/** A range of diameters in one unit: over and below exclude their edge, from and upTo include it. */
export interface Band {
  readonly over?: string;
  readonly from?: string;
  readonly upTo?: string;
  readonly below?: string;
}

/** What every row of a method table says of itself; `source` keys are those of the reference's source list. */
export interface Sourced {
  readonly source: string;
  readonly provenance: Provenance;
  readonly note?: string;
}

export const lengthIn = (length: Measure, unit: Unit): Exact => convertExact(exact(length.text), length.unit as Unit, unit);

export function holds(band: Band, d: Exact): boolean {
  return (
    (band.over === undefined || compareExact(d, exact(band.over)) > 0) &&
    (band.from === undefined || compareExact(d, exact(band.from)) >= 0) &&
    (band.upTo === undefined || compareExact(d, exact(band.upTo)) <= 0) &&
    (band.below === undefined || compareExact(d, exact(band.below)) < 0)
  );
}

/**
 * The row of a diameter.
 * @param d the diameter in the unit of the rows
 * @throws CalcError `outside-scope` where no row holds it
 */
export function rowOf<Row extends Band>(rows: readonly Row[], d: Exact, what: string, diameter: Measure): Row {
  const row = rows.find((candidate) => holds(candidate, d));
  if (row === undefined)
    throw new CalcError("outside-scope", `${what}: ${diameter.text} ${diameter.unit} lies outside the sizes of its rule`);
  return row;
}

/** For people: "over 4.00 up to 8.00 mm". */
export function bandText(band: Band, unit: string): string {
  const start = band.over !== undefined ? `over ${band.over}` : band.from !== undefined ? `from ${band.from}` : "";
  const end = band.upTo !== undefined ? `up to ${band.upTo}` : band.below !== undefined ? `below ${band.below}` : "";
  const text = [start, end].filter((part) => part !== "").join(" ");
  return text === "" ? "all sizes" : `${text} ${unit}`;
}
