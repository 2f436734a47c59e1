import type { Say } from "./wording.ts";

const STYLES: Readonly<Record<string, (year: string, month: string, day: string) => string>> = {
  en: (year, month, day) => `${year}-${month}-${day}`,
  de: (year, month, day) => `${day}.${month}.${year}`,
  fr: (year, month, day) => `${day}/${month}/${year}`,
  es: (year, month, day) => `${day}/${month}/${year}`,
};

/** Days as the language writes them, from our own table: 2026-11-25, 25.11.2026 in German, 25/11/2026 in French and Spanish. */
export function dateText(say: Say, text: string): string {
  const [year = "", month = "", day = ""] = text.split("-");
  return (STYLES[say.dates] ?? STYLES["en"])?.(year, month, day) ?? text;
}
