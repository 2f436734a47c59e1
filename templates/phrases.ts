/** Limits, results and conditions as text of a language. One place, so that sheet, page and screen say the same. */
import { numberText } from "../core/decimal.ts";
import type { Conditions, Measure, Requirement, Result } from "../core/model.ts";
import { figure, type Say } from "./wording.ts";

export const measureText = (say: Say, measure: Measure): string => `${figure(say, measure.text)} ${unitText(say, measure.unit)}`.trim();

export const unitText = (say: Say, unit: string): string =>
  unit === "turns" || unit === "bends" || unit === "wraps" || unit === "cycles" ? say(`unit.${unit}`) : unit;

/** "≥ 20 turns", "1770 – 2010 MPa", or a requirement in words. */
export function limitText(say: Say, requirement: Pick<Requirement, "min" | "max" | "unit" | "word" | "property">): string {
  const [min, max] = [requirement.min, requirement.max];
  const unit = requirement.unit === "" ? "" : ` ${unitText(say, requirement.unit)}`;
  if (min !== undefined && max !== undefined) {
    const [low, high] = samePlaces(min, max);
    return say("limit.both", { min: figure(say, low), max: figure(say, high) }) + unit;
  }
  if (min !== undefined) return say("limit.min", { min: figure(say, min) }) + unit;
  if (max !== undefined) return say("limit.max", { max: figure(say, max) }) + unit;
  return requirement.word === undefined ? say("requirement.none") : requirementWord(say, requirement.word);
}

/** Two limits of one requirement are printed to the same place: 1.980 – 2.020. */
function samePlaces(...texts: readonly [string, string]): readonly [string, string] {
  const places = Math.max(...texts.map(placesOf), 0);
  return [padded(texts[0], places), padded(texts[1], places)];
}
const placesOf = (text: string): number => text.split(".")[1]?.length ?? 0;
const padded = (text: string, places: number): string =>
  placesOf(text) >= places ? text : `${text}${text.includes(".") ? "" : "."}${"0".repeat(places - placesOf(text))}`;

/** Wire is ordered to hundredths of a millimetre or thousandths of an inch, and printed so. */
export const nominalText = (say: Say, nominal: Measure): string =>
  measureText(say, { text: padded(nominal.text, nominal.unit === "in" ? 3 : 2), unit: nominal.unit });

const KNOWN = new Set(["no-cracks", "no-cracks-after-first-turn", "even-pitch-no-cracks", "square-face-even-twist"]);
/** A lab's own word is printed as it wrote it. */
const requirementWord = (say: Say, word: string): string => (KNOWN.has(word) ? say(`requirement.${word}`) : word);

/** Readings come with few places and are shown as typed; a computed figure is cut one place behind the one compared. */
const TYPED_PLACES = 5;
export function shownFigure(value: number, compared: string): string {
  const typed = numberText(value);
  if (placesOf(typed) <= TYPED_PLACES) return typed;
  return value.toFixed(placesOf(compared) + 1);
}

export function resultText(say: Say, result: Result, which: "value" | "compared"): string {
  if (typeof result.value === "string") return wordText(say, which === "value" ? result.value : result.compared);
  const text = which === "compared" ? result.compared : shownFigure(result.value, result.compared);
  const unit = result.unit === "" || result.unit === "turns" || result.unit === "bends" ? "" : ` ${result.unit}`;
  return `${result.censored ? "≥ " : ""}${figure(say, text)}${unit}`;
}

const WORDS = new Set(
  "none visible broken sound cracked-firm dust-only comes-off uncoated uneven-pitch 1a 1b 1c 2a 2b 2c 3a 3b 3c delamination".split(" "),
);
export const wordText = (say: Say, word: string): string => (WORDS.has(word) ? say(`word.${word}`) : word);

/** "free length 250 mm; 8 wraps" */
export function conditionsText(say: Say, conditions: Conditions): string {
  return Object.entries(conditions)
    .filter(([, value]) => value !== undefined)
    .map(([name, value]) => {
      if (name === "wraps") return say("condition.wraps", { value: (value as Measure).text });
      if (name === "area") return say("condition.area", { value: say(`area.${value as string}`) });
      return say(`condition.${name}`, { value: typeof value === "string" ? value : measureText(say, value as Measure) });
    })
    .join("; ");
}
