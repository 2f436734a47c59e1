import { compareExact, exact, multiplyExact, numberText, plainText, toDecimalText } from "../decimal.ts";
import type { CellRecord, Finding, UnitSystem } from "../model.ts";
import { type AnyUnit, convertExact, isUnit } from "../quantity.ts";
import { type CellContext, joinBlanks, type ReadCell, refuse, shorten, take, warning } from "./cell.ts";
import { type Column, unitOf } from "./columns.ts";
import { shownBy } from "./formats.ts";

/** One cell of a column of figures. Codes: not-a-number, ambiguous-number, percent-cell, not-whole, implausible, number-as-text. */
export function readNumber(cell: CellRecord, context: CellContext): ReadCell {
  const { column } = context;
  const no = (text: string): ReadCell => refuse(cell, context, "not-a-number", "a number", text);
  if (cell.type === "boolean") return no(`${cell.cell} holds a logical value; a number is expected.`);
  if (cell.type === "date-text") return no(`${cell.cell} holds a date; a number is expected.`);
  if (cell.type !== "number") return textAsNumber(cell, context);
  const { date, time, percent } = shownBy(cell.format);
  if (date || time) return no(`${cell.cell} is formatted as a date or time; a number is expected.`);
  if (percent && column.kind !== "percent")
    return refuse(
      cell,
      context,
      "percent-cell",
      "a number without per cent format",
      `${cell.cell} is formatted as a percentage; a plain number is expected.`,
    );
  const text = storedNumber(cell.raw);
  if (text === undefined) return no(`${cell.cell} holds "${shorten(cell.raw)}", which is no number that can be kept.`);
  // A percentage column whose cell is formatted as per cent stores a fraction of one.
  return finish(cell, percent ? toDecimalText(multiplyExact(exact(text), exact("100"))) : text, context, []);
}

const MOST_DIGITS = 15;

/** 15 significant digits of a stored number, −0 as 0; undefined for what is no number or overflows. */
export function storedNumber(raw: string): string | undefined {
  // Most stored numbers are short and stand as they will be kept.
  if (raw.length < MOST_DIGITS && /^(?:0|[1-9]\d*)(?:\.\d*[1-9])?$/.test(raw)) return raw;
  if (!/^[+-]?(\d+\.?\d*|\.\d+)([eE][+-]?\d+)?$/.test(raw)) return undefined;
  const number = Number(raw);
  return Number.isFinite(number) ? numberText(number, 15) : undefined;
}

function textAsNumber(cell: CellRecord, context: CellContext): ReadCell {
  const { column, decimalMark } = context;
  const typed = joinBlanks(cell.raw).replaceAll("\u2212", "-");
  const open = column.openEnd === true && typed.startsWith(">");
  const figure = open ? joinBlanks(typed.slice(1)) : typed;
  if (!(decimalMark === "," ? /^-?\d+(?:,\d+)?$/ : /^-?\d+(?:\.\d+)?$/).test(figure)) {
    // `1,234` and `1.234,5` mean different numbers in different countries; everything else is no number anywhere.
    const twoWays = /^-?\d{1,3}([.,]\d{3})+$/.test(figure) || /^-?\d+[.,]\d+$/.test(figure);
    const expected = `a number cell${column.openEnd ? ", or >N for a piece stopped unbroken" : ""}`;
    return refuse(
      cell,
      context,
      twoWays ? "ambiguous-number" : "not-a-number",
      expected,
      `${cell.cell} holds the text "${shorten(cell.raw)}", which ${twoWays ? "could be read in two ways" : "is no number"}; type ${expected}.`,
    );
  }
  const text = plainText(figure.replace(",", "."));
  if (text.replace(/[-.]/g, "").replace(/^0+/, "").length > MOST_DIGITS)
    return refuse(cell, context, "not-a-number", `at most ${MOST_DIGITS} digits`, `${cell.cell} holds more digits than can be kept.`);
  const said = `${cell.cell} holds the number ${text} as text; it was taken as the number.`;
  return finish(cell, text, context, open ? [] : [warning(cell, context, "number-as-text", "a number cell", said)], open);
}

/** Whole or not, plausible or not, and the unit; the last step of every number. */
function finish(cell: CellRecord, typed: string, context: CellContext, findings: readonly Finding[], atLeast = false): ReadCell {
  const { column, system } = context;
  const text = inOwnUnit(typed, context);
  if (column.type === "whole" && text.includes("."))
    return refuse(cell, context, "not-whole", "a whole number", `${cell.cell} holds ${text}; a whole number is expected.`);
  const unit = unitOf(column, system);
  if (!isPlausible(text, unit, column)) {
    const range = rangeText(column, system);
    return refuse(
      cell,
      context,
      "implausible",
      range,
      `${cell.cell} holds ${text}${unit ? ` ${unit}` : ""}, outside the plausible ${range}; check figure and unit.`,
    );
  }
  return take(cell, text, findings, unit, atLeast);
}

/** The figure in the workbook's own unit, where it is written in another. */
function inOwnUnit(text: string, { column, system, given }: CellContext): string {
  const own = unitOf(column, system);
  return given === undefined || own === undefined || !isUnit(given) || !isUnit(own)
    ? text
    : toDecimalText(convertExact(exact(text), given, own));
}

/** @param unit the unit in which `text` is; the column's range is in SI units, both ends included */
function isPlausible(text: string, unit: AnyUnit | undefined, column: Column): boolean {
  if (column.plausible === undefined) return true;
  const [low, high] = column.plausible;
  const si = unitOf(column, "SI");
  const convert = unit !== undefined && si !== undefined && unit !== si && isUnit(unit) && isUnit(si);
  // Strictly inside by doubles is inside exactly, since the nearest double never overtakes; only the edges need more.
  if (!convert && Number(text) > low && Number(text) < high) return true;
  const value = convert ? convertExact(exact(text), unit, si) : exact(text);
  return compareExact(value, exact(numberText(low))) >= 0 && compareExact(value, exact(numberText(high))) <= 0;
}

/** The plausible range in the workbook's own unit, to six digits: "0.00196850 to 0.984252 in". */
export function rangeText(column: Column, system: UnitSystem): string {
  const [si, unit] = [unitOf(column, "SI"), unitOf(column, system)];
  const edge = (value: number): string =>
    si !== undefined && unit !== undefined && si !== unit && isUnit(si) && isUnit(unit)
      ? toDecimalText(convertExact(exact(numberText(value)), si, unit), 6)
      : numberText(value);
  const [low, high] = column.plausible ?? [0, 0];
  return `${edge(low)} to ${edge(high)}${unit === undefined ? "" : ` ${unit}`}`;
}
