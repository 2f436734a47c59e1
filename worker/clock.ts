/** Time comes in through this door only, so that a test or `--today` can give another. */
export interface Clock {
  now(): Date;
}
export const systemClock: Clock = { now: () => new Date() };

/** The calendar day of an instant in a time zone, `YYYY-MM-DD`. */
export function dayIn(timeZone: string, at: Date): string {
  const parts = new Intl.DateTimeFormat("en-CA", { timeZone, year: "numeric", month: "2-digit", day: "2-digit" }).formatToParts(at);
  const part = (type: string): string => parts.find((p) => p.type === type)?.value ?? "";
  return `${part("year")}-${part("month")}-${part("day")}`;
}

/** The last millisecond of a day of the lab, whatever its clock did that day. */
export function endOfDay(timeZone: string, day: string): Date {
  const noon = Date.parse(`${day}T12:00:00Z`);
  // Offsets from UTC lie within 14 hours; days grow with time, so the end is found by halving.
  let [inside, after] = [noon - 30 * 3_600_000, noon + 30 * 3_600_000];
  while (after - inside > 1) {
    const middle = Math.floor((inside + after) / 2);
    if (dayIn(timeZone, new Date(middle)) <= day) inside = middle;
    else after = middle;
  }
  return new Date(inside);
}
