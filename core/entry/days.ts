import type { CellRecord } from "../model.ts";
import { isIsoDay, serialToDate } from "../workbook/dates.ts";
import { type CellContext, joinBlanks, type ReadCell, refuse, shorten, take } from "./cell.ts";
import { shownBy } from "./formats.ts";
import { storedNumber } from "./numbers.ts";

const EARLIEST = "1990-01-01";

/** One cell of a column of days: a date cell, `t="d"` or ISO text. Codes: not-a-date, date-too-early, date-ahead. */
export function readDay(cell: CellRecord, context: CellContext): ReadCell {
  const day = dayOf(cell, context);
  if (day === undefined)
    return refuse(
      cell,
      context,
      "not-a-date",
      "a date cell or YYYY-MM-DD",
      `${cell.cell} holds "${shorten(cell.raw)}", which is no date; type a date or YYYY-MM-DD.`,
    );
  if (day < EARLIEST)
    return refuse(
      cell,
      context,
      "date-too-early",
      `${EARLIEST} or later`,
      `${cell.cell} says ${day}; dates before ${EARLIEST} are not accepted.`,
    );
  if (day > context.today && !context.column.mayBeAhead)
    return refuse(
      cell,
      context,
      "date-ahead",
      `${context.today} or earlier`,
      `${cell.cell} says ${day}, which lies after today (${context.today}).`,
    );
  return take(cell, day);
}

/** The calendar day a cell means; its time of day stays in the raw text. Undefined for what is no day. */
export function dayOf(cell: CellRecord, { date1904 }: CellContext): string | undefined {
  if (cell.type === "number")
    return shownBy(cell.format).date && storedNumber(cell.raw) !== undefined ? dayOfSerial(cell.raw, date1904) : undefined;
  if (cell.type !== "text" && cell.type !== "date-text") return undefined;
  const day = /^(\d{4}-\d{2}-\d{2})(?:[T ]\d{2}:\d{2}(?::\d{2}(?:\.\d+)?)?Z?)?$/.exec(joinBlanks(cell.raw))?.[1];
  return day !== undefined && isIsoDay(day) ? day : undefined;
}

/** A day book names the same few hundred days again and again; one with more than this loses only speed. */
const MOST_REMEMBERED = 4000;
const remembered = { 1900: new Map<string, string | undefined>(), 1904: new Map<string, string | undefined>() };

function dayOfSerial(serial: string, date1904: boolean): string | undefined {
  const days = remembered[date1904 ? 1904 : 1900];
  const known = days.get(serial);
  if (known !== undefined || days.has(serial)) return known;
  const day = serialToDate(serial, date1904)?.date;
  if (days.size >= MOST_REMEMBERED) days.clear();
  days.set(serial, day);
  return day;
}
