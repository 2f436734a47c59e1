import type { Say } from "./wording.ts";

/** Days as the language writes them, from our own table: 2026-11-25, or 25.11.2026 in German. */
export function dateText(say: Say, day: string): string {
  const [year = "", month = "", date = ""] = day.split("-");
  return say.language === "de" ? `${date}.${month}.${year}` : day;
}
