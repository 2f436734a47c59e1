/** What readings would have been, had the instrument shown no error. Pure. */
import { addExact, divideExact, exact, isDecimalText, subtractExact, toDecimalText } from "../decimal.ts";
import type { EntryRow, FieldValue } from "../model.ts";
import { convertExact, dimensionOf, isUnit, type Unit } from "../quantity.ts";

/** Indicated minus true: a share of the true value in per cent, or an amount. */
export interface InstrumentError {
  /** Signed decimal text. */
  readonly text: string;
  readonly unit: Unit;
}

/**
 * `+0.8 %`, `-2 N`, `0.004 mm`. Above zero: the instrument reads high.
 * @returns undefined on any other text, and on an error of −100 % or less, which no reading can be corrected for
 */
export function parseInstrumentError(text: string): InstrumentError | undefined {
  const [, sign = "", digits = "", unit = ""] = /^\s*([+-]?)\s*(\d+(?:\.\d+)?)\s*(\S.*?)?\s*$/.exec(text) ?? [];
  const size = `${sign === "-" ? "-" : ""}${digits}`;
  if (!isDecimalText(size) || !isUnit(unit) || dimensionOf(unit) === "temperature") return undefined;
  if (unit === "%" && Number(size) <= -100) return undefined;
  return { text: size, unit };
}

/** Figures that a row's own instrument read, and those of the micrometer behind a tensile result, by sheet. */
const OWN_FIGURES: Readonly<Partial<Record<EntryRow["sheet"], readonly string[]>>> = {
  diameter: ["largest", "smallest"],
  tensile: ["maximumForce", "proofForce"],
  "coating-mass": ["massBefore", "massAfter"],
  other: ["value"],
};
const MICROMETER_FIGURES: readonly string[] = ["diameter", "diameterAfter"];

/** Counts and inspections do not follow an instrument's error; a row without a figure of it stays as it is. */
export function correctedRow(row: EntryRow, instrument: string, error: InstrumentError): EntryRow {
  const figures = [
    ...(row.fields["instrument"]?.text === instrument ? (OWN_FIGURES[row.sheet] ?? []) : []),
    ...(row.fields["diameterInstrument"]?.text === instrument ? MICROMETER_FIGURES : []),
  ];
  const corrected = figures.flatMap((name) => {
    const field = row.fields[name];
    const value = field === undefined ? undefined : correctedField(field, error);
    return value === undefined ? [] : [[name, value] as const];
  });
  return corrected.length === 0 ? row : { ...row, fields: { ...row.fields, ...Object.fromEntries(corrected) } };
}

/**
 * A relative error is held against the true value, so that the true value is the reading divided by one plus the error.
 * @source ISO 7500-1, relative error of indication q = 100 (Fi - F) / F (from memory)
 */
function correctedField(field: FieldValue, error: InstrumentError): FieldValue | undefined {
  if (!isDecimalText(field.text)) return undefined;
  const reading = exact(field.text);
  if (error.unit === "%") {
    const factor = addExact(exact("1"), divideExact(exact(error.text), exact("100")));
    return { ...field, text: toDecimalText(divideExact(reading, factor)) };
  }
  const { unit } = field;
  if (unit === undefined || !isUnit(unit) || dimensionOf(unit) !== dimensionOf(error.unit)) return undefined;
  return { ...field, text: toDecimalText(subtractExact(reading, convertExact(exact(error.text), error.unit, unit))) };
}
