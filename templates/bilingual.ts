/** Two views of one record, in two languages, made one: each text that differs holds both. */

/** Stands between the two texts; no wording and no entry can hold it (a control character). */
const BETWEEN = "\u001f";

/** The first view with the second beside it. Views of one record have the same shape, whatever the language. */
export function bilingual<T>(first: T, second: T | undefined): T {
  return second === undefined ? first : (merge(first, second) as T);
}

function merge(first: unknown, second: unknown): unknown {
  if (typeof first === "string" && typeof second === "string") return first === second ? first : `${first}${BETWEEN}${second}`;
  if (Array.isArray(first) && Array.isArray(second)) return first.map((item, index) => merge(item, second[index]));
  if (typeof first === "object" && first !== null && typeof second === "object" && second !== null)
    return Object.fromEntries(Object.entries(first).map(([key, value]) => [key, merge(value, (second as Record<string, unknown>)[key])]));
  return first;
}

/** The texts of one language or of two. */
export const textsOf = (text: string): readonly string[] => text.split(BETWEEN);

/** Both languages on one line, where nothing can tell them apart but a stroke: cells, titles, running feet. */
export const onOneLine = (text: string): string => textsOf(text).join(" / ");
