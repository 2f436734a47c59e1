import { exact, numberText, toDecimalText, toNumber } from "../decimal.ts";
import type { EntryRow, FieldValue } from "../model.ts";
import { convertExact, isUnit, type Measure, type Unit } from "../quantity.ts";

/** The text of a field, or undefined where the cell is empty. */
export const text = (row: EntryRow, field: string): string | undefined => row.fields[field]?.text;

/** The field as an exact amount with its unit, or undefined where the cell is empty. */
export function amount(row: EntryRow, field: string): Measure | undefined {
  const value = row.fields[field];
  return value?.unit === undefined ? undefined : { text: value.text, unit: value.unit };
}

/** A field that the row's schema demands. Its absence is our own fault: the reader lets no such row through. */
export function demanded(row: EntryRow, field: string): FieldValue {
  const value = row.fields[field];
  if (value === undefined) throw new Error(`row ${row.sheetName}!${row.row} reached the judgement without ${field}`);
  return value;
}

export function demandedAmount(row: EntryRow, field: string): Measure {
  const value = demanded(row, field);
  if (value.unit === undefined) throw new Error(`${row.sheetName}!${value.cell}: ${field} carries no unit`);
  return { text: value.text, unit: value.unit };
}

/** The amount in `unit` as a double. */
export function inUnit(amountOf: Measure, unit: Unit): number {
  if (amountOf.unit === unit) return Number(amountOf.text);
  if (!isUnit(amountOf.unit)) throw new Error(`${amountOf.unit} does not convert to ${unit}`);
  return toNumber(convertExact(exact(amountOf.text), amountOf.unit, unit));
}

/** The amount in `unit` as decimal text, exact where the expansion ends within 30 digits. */
export function textInUnit(amountOf: Measure, unit: Unit): string {
  if (amountOf.unit === unit) return amountOf.text;
  if (!isUnit(amountOf.unit)) throw new Error(`${amountOf.unit} does not convert to ${unit}`);
  return toDecimalText(convertExact(exact(amountOf.text), amountOf.unit, unit), 30);
}

/** A computed double as the decimal text that enters a comparison: 15 significant digits. */
export const computedText = (value: number): string => numberText(value, 15);

/** `{ [key]: value }`, or nothing where there is no value: an absent field and one that is undefined are not the same. */
export function optional<K extends string, V>(key: K, value: V | undefined): { [P in K]?: V } {
  return value === undefined ? {} : ({ [key]: value } as { [P in K]?: V });
}
