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
    return shownBy(cell.format).date && storedNumber(cell.raw) !== undefined ? serialToDate(cell.raw, date1904)?.date : undefined;
  if (cell.type !== "text" && cell.type !== "date-text") return undefined;
  const day = /^(\d{4}-\d{2}-\d{2})(?:[T ]\d{2}:\d{2}(?::\d{2}(?:\.\d+)?)?Z?)?$/.exec(joinBlanks(cell.raw))?.[1];
  return day !== undefined && isIsoDay(day) ? day : undefined;
}
