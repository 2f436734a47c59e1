/** Every printed word comes from a wording file; a code without wording stops the build of the page, not the reader of it. */
import { createRequire } from "node:module";
import type { NextStep } from "../core/model.ts";

export type Words = Readonly<Record<string, string>>;
const load = createRequire(import.meta.url);
const LANGUAGES: Readonly<Record<string, Words>> = {
  en: load("./wording/en.json") as Words,
  de: load("./wording/de.json") as Words,
  fr: load("./wording/fr.json") as Words,
  es: load("./wording/es.json") as Words,
};
/** Complete, but not read line by line by somebody who speaks it; a document in one of them says so. */
const DRAFTS = new Set(["fr", "es"]);

export const languages = (): readonly string[] => Object.keys(LANGUAGES);

export interface Say {
  /** @throws Error on a code without wording */
  (code: string, values?: Readonly<Record<string, string | number>>): string;
  readonly language: string;
  readonly decimalMark: "." | ",";
  /** The language whose way of writing days is used. */
  readonly dates: string;
  /** The wording waits for a reader who speaks the language. */
  readonly draft: boolean;
}

/** Decimal marks are ours, not the platform's, so that a document never changes with the machine. */
const DECIMAL_MARKS: Readonly<Record<string, "." | ",">> = { en: ".", de: ",", fr: ",", es: "," };

/** The languages of a document, `en+de` being English with German beside it; at most two. Unknown ones are left out. */
export function languagesOf(language: string): readonly [string, string?] {
  const [first = "en", second] = [...new Set(language.toLowerCase().split(/[^a-z]+/))].filter((name) => LANGUAGES[name] !== undefined);
  return second === undefined ? [first] : [first, second];
}

/** The words of a language; English where the language is not held. Of two languages, the first. */
export function words(language: string, decimalMark?: string): Say {
  const [held] = languagesOf(language);
  const table = LANGUAGES[held] as Words;
  const say = (code: string, values: Readonly<Record<string, string | number>> = {}): string => {
    const text = table[code];
    if (text === undefined) throw new Error(`no ${held} wording for "${code}"`);
    return text.replaceAll(/\{(\w+)\}/g, (_, name: string) => String(values[name] ?? ""));
  };
  return Object.assign(say, {
    language: held,
    decimalMark: decimalMark === "," || decimalMark === "." ? decimalMark : (DECIMAL_MARKS[held] ?? "."),
    dates: held,
    draft: DRAFTS.has(held),
  });
}

/** The second language of a document, with the figures and days written as in the first; undefined where it has one. */
export function secondWords(language: string, decimalMark?: string): Say | undefined {
  const [, second] = languagesOf(language);
  if (second === undefined) return undefined;
  const first = words(language, decimalMark);
  return Object.assign(words(second, first.decimalMark), { dates: first.dates });
}

/** A property in words; elements and a lab's own names carry their own. */
export function propertyWord(say: Say, property: string): string {
  if (property.startsWith("chemistry:")) return say("property.chemistry", { element: property.slice("chemistry:".length) });
  if (property.startsWith("other:")) return property.slice("other:".length);
  return say(`property.${property}`);
}

/** A property as the head of a narrow column; it may hold soft hyphens. */
export const propertyHead = (say: Say, property: string): string =>
  property.includes(":") ? propertyWord(say, property) : say(`head.${property}`);

/** Decimal text with the language's mark. */
export const figure = (say: Say, text: string): string => (say.decimalMark === "," ? text.replace(".", ",") : text);

/** A next step as a sentence of the language. */
export function nextSentence(say: Say, step: NextStep): string {
  if (say.language === "en") return step.text;
  const property = step.property === undefined ? "" : propertyWord(say, step.property);
  return say(`next.${step.do}`, { pieces: step.pieces ?? 1, property });
}
