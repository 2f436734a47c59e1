import { isDateFormat, isExponentFormat, isPercentFormat } from "../workbook/dates.ts";

/** How a number format shows a number, as far as it changes what the number means. */
export interface Shown {
  readonly date: boolean;
  readonly time: boolean;
  readonly percent: boolean;
  readonly exponent: boolean;
}

const GENERAL: Shown = { date: false, time: false, percent: false, exponent: false };

/** A workbook has a few dozen formats and millions of cells; one with more formats than this loses only speed. */
const MOST_REMEMBERED = 1000;
const remembered = new Map<string, Shown>();

/** @param format the number format code; undefined is General */
export function shownBy(format: string | undefined): Shown {
  if (format === undefined) return GENERAL;
  const known = remembered.get(format);
  if (known !== undefined) return known;
  const shown = {
    date: isDateFormat(format),
    time: showsTime(format),
    percent: isPercentFormat(format),
    exponent: isExponentFormat(format),
  };
  if (remembered.size >= MOST_REMEMBERED) remembered.clear();
  remembered.set(format, shown);
  return shown;
}

/** Hours or seconds outside quoted text, escapes and colours. */
const showsTime = (format: string): boolean => /[hs]/i.test(format.replaceAll(/"[^"]*"|\\.|_.|\*.|\[(?!h|m|s)[^\]]*\]/gi, ""));
