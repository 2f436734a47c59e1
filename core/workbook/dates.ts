/** Serial day numbers and number formats, as workbooks store them. */

const DAY_MS = 86_400_000;

/**
 * The calendar day of a serial number and its time of day.
 * @param serial plain number text; the fraction is the time
 * @returns undefined for what is no day of the format (negative, day 60 of the 1900 calendar, beyond 9999)
 * @source ECMA-376 part 1, 18.17.4.1 (1900 and 1904 date bases; the 1900 base counts a 29 February 1900 that never was)
 */
export function serialToDate(serial: string, date1904: boolean): { readonly date: string; readonly time: string } | undefined {
  const number = Number(serial);
  if (!Number.isFinite(number) || number < 0) return undefined;
  let day = Math.floor(number);
  let seconds = Math.round((number - day) * 86_400);
  if (seconds === 86_400) {
    day += 1;
    seconds = 0;
  }
  if (!date1904 && day === 60) return undefined;
  const days = date1904 ? day : day > 60 ? day - 1 : day;
  const start = date1904 ? Date.UTC(1904, 0, 1) : Date.UTC(1899, 11, 31);
  const at = new Date(start + days * DAY_MS);
  if (at.getUTCFullYear() > 9999) return undefined;
  const two = (n: number): string => String(n).padStart(2, "0");
  const time = seconds === 0 ? "" : `${two(Math.floor(seconds / 3600))}:${two(Math.floor((seconds % 3600) / 60))}:${two(seconds % 60)}`;
  return { date: at.toISOString().slice(0, 10), time };
}

/** The 1900-base serial of an ISO day. @throws RangeError when the text is no day */
export function dateToSerial(date: string): number {
  if (!isIsoDay(date)) throw new RangeError(`not a day: "${date}"`);
  const days = Math.round((Date.parse(`${date}T00:00:00Z`) - Date.UTC(1899, 11, 31)) / DAY_MS);
  return days >= 60 ? days + 1 : days;
}

/** True for an existing calendar day written `YYYY-MM-DD`. */
export function isIsoDay(text: string): boolean {
  if (!/^\d{4}-\d{2}-\d{2}$/.test(text)) return false;
  const at = new Date(`${text}T00:00:00Z`);
  return !Number.isNaN(at.getTime()) && at.toISOString().slice(0, 10) === text;
}

/** What is left of a format code when quoted text, escapes, colours and conditions are taken away. */
const bare = (format: string): string => format.replaceAll(/"[^"]*"|\\.|_.|\*.|\[(?!h|m|s)[^\]]*\]/gi, "").split(";")[0] ?? "";

export const isDateFormat = (format: string | undefined): boolean =>
  format !== undefined && /[ymd]/i.test(bare(format).replaceAll(/general/gi, "")) && !/^[hms:.[\]0]*$/i.test(bare(format));

export const isPercentFormat = (format: string | undefined): boolean => format !== undefined && bare(format).includes("%");

export const isExponentFormat = (format: string | undefined): boolean => format !== undefined && /E[+-]/i.test(bare(format));
