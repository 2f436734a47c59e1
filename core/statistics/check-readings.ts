import { exact, numberText, toDecimalText } from "../decimal.ts";
import { coatingMassByGas, coatingMassByStripping } from "../formulas/coating.ts";
import { stressOn, systemOf } from "../formulas/stress.ts";
import type { AnyUnit, EntryRow, Measure, TestSheet } from "../model.ts";
import { turnsPer100Diameters } from "./torsion-counts.ts";

/** One figure of a check wire on one machine. */
export interface CheckReading {
  /** The row's instrument. */
  readonly machine: string;
  /** The row's coil: pieces of one wire make a series, those of another wire another one. */
  readonly wire: string;
  readonly property: string;
  /** What else must be alike for figures to belong together: programme of turns, bend radius; "" where nothing. */
  readonly condition: string;
  readonly unit: AnyUnit;
  /** Decimal text. Torsion: turns per 100 d. */
  readonly value: string;
  /** `YYYY-MM-DD` */
  readonly date: string;
  readonly row: EntryRow;
}

export type NoReading = "no-machine" | "set-aside" | "grip-break" | "stopped-unbroken" | "no-number";

export interface CheckReadings {
  readonly readings: readonly CheckReading[];
  /** Check rows that give no figure, and why. */
  readonly leftOut: readonly { readonly row: EntryRow; readonly why: NoReading }[];
}

/** The figures of the rows of role `check`; other rows are passed over. Counts stopped unbroken and breaks at the grip give none. */
export function checkReadings(rows: readonly EntryRow[]): CheckReadings {
  const readings: CheckReading[] = [];
  const leftOut: { row: EntryRow; why: NoReading }[] = [];
  for (const row of rows) {
    if (textOf(row, "role") !== "check") continue;
    const machine = textOf(row, "instrument");
    const found = machine === undefined ? "no-machine" : figureOf(row);
    if (typeof found === "string") leftOut.push({ row, why: found });
    else
      readings.push({
        machine: machine ?? "",
        wire: textOf(row, "coil") ?? "",
        condition: "",
        date: textOf(row, "date") ?? "",
        row,
        ...found,
      });
  }
  return { readings, leftOut };
}

/** The property that a sheet's check rows speak of; sheets judged by eye have none. */
export const CHECKED_PROPERTY: Readonly<Partial<Record<TestSheet, string>>> = {
  diameter: "diameter",
  tensile: "tensile-strength",
  torsion: "torsion",
  "reverse-bend": "reverse-bend",
  "coating-mass": "coating-mass",
};

type Figure = Pick<CheckReading, "property" | "unit" | "value"> & { readonly condition?: string };

function figureOf(row: EntryRow): Figure | NoReading {
  if (textOf(row, "setAside") !== undefined) return "set-aside";
  if (textOf(row, "breakAt") === "grip") return "grip-break";
  if (textOf(row, "breakAt") === "none" || row.fields["turns"]?.atLeast || row.fields["bends"]?.atLeast) return "stopped-unbroken";
  const property = CHECKED_PROPERTY[row.sheet as TestSheet];
  const measured = property === undefined ? undefined : MEASURED[property]?.(row);
  return property === undefined || measured === undefined ? "no-number" : { property, ...measured };
}

const MEASURED: Readonly<Record<string, (row: EntryRow) => Omit<Figure, "property"> | undefined>> = {
  diameter: meanDiameter,
  "tensile-strength": strength,
  torsion: torsionCount,
  "reverse-bend": bends,
  "coating-mass": coating,
};

/** @source ASTM A1007: the actual diameter is the mean of the largest and smallest reading at one place (read) */
function meanDiameter(row: EntryRow): Omit<Figure, "property"> | undefined {
  const [largest, smallest] = [amountOf(row, "largest"), amountOf(row, "smallest")];
  if (!largest || !smallest) return undefined;
  const [a, b] = [exact(largest.text), exact(smallest.text)];
  const denominator = a.denominator * b.denominator * 2n;
  const numerator = a.numerator * b.denominator + b.numerator * a.denominator;
  return { unit: largest.unit, value: toDecimalText({ numerator, denominator }) };
}

function strength(row: EntryRow): Omit<Figure, "property"> | undefined {
  const [force, diameter] = [amountOf(row, "maximumForce"), amountOf(row, "diameter")];
  if (!force || !diameter) return undefined;
  const unit = systemOf(diameter) === "in" ? "ksi" : "MPa";
  return { unit, value: numberText(stressOn(force, diameter, unit)) };
}

function torsionCount(row: EntryRow): Omit<Figure, "property"> | undefined {
  const [turns, diameter, freeLength] = [textOf(row, "turns"), amountOf(row, "diameter"), amountOf(row, "freeLength")];
  if (turns === undefined || !diameter || !freeLength) return undefined;
  const [forward, back, cycles] = [textOf(row, "forwardTurns"), textOf(row, "reverseTurns"), textOf(row, "cycles")];
  return {
    unit: "turns",
    value: toDecimalText(turnsPer100Diameters({ turns, diameter, freeLength })),
    ...(back === undefined ? {} : { condition: `forward ${forward ?? "0"}, back ${back}, cycles ${cycles ?? "1"}` }),
  };
}

function bends(row: EntryRow): Omit<Figure, "property"> | undefined {
  const [count, radius] = [textOf(row, "bends"), amountOf(row, "radius")];
  if (count === undefined) return undefined;
  return { unit: "bends", value: count, ...(radius === undefined ? {} : { condition: `radius ${radius.text} ${radius.unit}` }) };
}

/** Only the drift of one wire matters here, so the usual constant serves whatever the specification asks. */
const COATING_CONSTANT = "1960";

function coating(row: EntryRow): Omit<Figure, "property"> | undefined {
  const diameter = amountOf(row, "strippedDiameter");
  const [before, after] = [amountOf(row, "massBefore"), amountOf(row, "massAfter")];
  if (diameter && before && after)
    return { unit: "g/m2", value: numberText(coatingMassByStripping(before, after, diameter, COATING_CONSTANT)), condition: "strip" };
  const [hydrogen, temperature] = [amountOf(row, "hydrogen"), amountOf(row, "temperature")];
  const [pressure, length] = [amountOf(row, "pressure"), amountOf(row, "length")];
  if (!diameter || !hydrogen || !temperature || !pressure || !length) return undefined;
  return { unit: "g/m2", value: numberText(coatingMassByGas(hydrogen, temperature, pressure, diameter, length)), condition: "gas" };
}

const textOf = (row: EntryRow, field: string): string | undefined => row.fields[field]?.text;

function amountOf(row: EntryRow, field: string): Measure | undefined {
  const value = row.fields[field];
  return value?.unit === undefined ? undefined : { text: value.text, unit: value.unit };
}
