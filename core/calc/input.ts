import { CalcError } from "../calc-error.ts";
import { compareExact, exact, isDecimalText, shortestText } from "../decimal.ts";
import { type Dimension, dimensionOf, isUnit, type Measure } from "../quantity.ts";

/** Which amounts a key takes: above zero, zero and above, or any. */
export type Sign = "above-zero" | "from-zero" | "any";

/** Reads the keys of one JSON object. Every method throws CalcError `wrong-input`; null counts as missing. */
export interface InputReader {
  quantity(key: string, dimension: Dimension, sign?: Sign): Measure;
  optionalQuantity(key: string, dimension: Dimension, sign?: Sign): Measure | undefined;
  quantities(key: string, dimension: Dimension, sign?: Sign): readonly Measure[];
  anyQuantity(key: string): Measure;
  /** Decimal text; a JSON number as its shortest decimal text. */
  decimal(key: string, sign?: Sign): string;
  optionalDecimal(key: string, sign?: Sign): string | undefined;
  decimals(key: string): readonly string[];
  /** A number strictly between 0 and 1. */
  share(key: string): number;
  /** A whole number above zero. */
  count(key: string): number;
  optionalCount(key: string): number | undefined;
  text(key: string): string;
  optionalText(key: string): string | undefined;
  word<W extends string>(key: string, words: readonly W[]): W;
  optionalWord<W extends string>(key: string, words: readonly W[]): W | undefined;
  /** Each an object read by `read`, unknown keys refused. */
  objects<T>(key: string, read: (reader: InputReader) => T): readonly T[];
  /** To be called after the last key was read: every other key of the object is unknown. */
  refuseUnknownKeys(): void;
}

/** Longer numbers carry nothing a double can answer. */
const LONGEST = 400;
const EXAMPLES: Readonly<Record<Dimension, string>> = {
  length: "2.00 mm",
  force: "6250 N",
  stress: "1770 MPa",
  mass: "250 g",
  "areal-mass": "240 g/m2",
  torque: "1500 N mm",
  volume: "55.0 ml",
  pressure: "1013 mbar",
  temperature: "20 degC",
  ratio: "2.5 %",
};
const NUMBER = 'a decimal number such as 1.25 or "1.25"';

const wrong = (where: string, found: unknown, accepted: string): CalcError =>
  new CalcError("wrong-input", `${where}: ${found === undefined ? "missing" : `found ${shown(found)}`}; accepted is ${accepted}`);

function shown(value: unknown): string {
  const text = JSON.stringify(value) ?? String(value);
  return text.length > 80 ? `${text.slice(0, 80)}…` : text;
}

/** @throws CalcError `wrong-input` where `input` is no JSON object. `path` is put before each key in error texts. */
export function readInput(input: unknown, path = ""): InputReader {
  if (typeof input !== "object" || input === null || Array.isArray(input))
    throw wrong(path === "" ? "input" : path.replace(/\.$/, ""), input === undefined ? null : input, "one JSON object");
  const given = input as Readonly<Record<string, unknown>>;
  const known = new Set<string>();

  const value = (key: string): unknown => {
    known.add(key);
    return Object.hasOwn(given, key) ? (given[key] ?? undefined) : undefined;
  };
  const optional = <T>(key: string, read: () => T): T | undefined => (value(key) === undefined ? undefined : read());
  const list = (key: string): readonly unknown[] => {
    const found = value(key);
    if (!Array.isArray(found)) throw wrong(path + key, found, "a list [ ]");
    return found;
  };
  const number = (where: string, found: unknown, sign: Sign = "any"): string => {
    const text = typeof found === "number" && Number.isFinite(found) ? shortestText(found) : found;
    if (typeof text !== "string" || !isAmount(text)) throw wrong(where, found, NUMBER);
    checkSign(where, text, text, sign);
    return text;
  };
  const count = (key: string): number => {
    const text = number(path + key, value(key), "above-zero");
    if (!Number.isSafeInteger(Number(text)) || exact(text).numerator % exact(text).denominator !== 0n)
      throw wrong(path + key, value(key), "a whole number above zero");
    return Number(text);
  };
  const text = (key: string): string => {
    const found = value(key);
    if (typeof found !== "string" || found === "") throw wrong(path + key, found, "a text");
    return found;
  };
  const word = <W extends string>(key: string, words: readonly W[]): W => {
    const found = value(key);
    const chosen = words.find((candidate) => candidate === found);
    if (chosen === undefined) throw wrong(path + key, found, `one of ${words.join(", ")}`);
    return chosen;
  };

  return {
    quantity: (key, dimension, sign = "above-zero") => quantity(path + key, value(key), dimension, sign),
    optionalQuantity: (key, dimension, sign = "above-zero") => optional(key, () => quantity(path + key, value(key), dimension, sign)),
    quantities: (key, dimension, sign = "above-zero") =>
      list(key).map((each, index) => quantity(`${path}${key}[${index}]`, each ?? null, dimension, sign)),
    anyQuantity: (key) => quantity(path + key, value(key), undefined, "any"),
    decimal: (key, sign = "any") => number(path + key, value(key), sign),
    optionalDecimal: (key, sign = "any") => optional(key, () => number(path + key, value(key), sign)),
    decimals: (key) => list(key).map((each, index) => number(`${path}${key}[${index}]`, each ?? null)),
    share(key) {
      const share = Number(number(path + key, value(key)));
      if (share <= 0 || share >= 1) throw wrong(path + key, value(key), "a fraction above 0 and below 1, such as 0.95");
      return share;
    },
    count,
    optionalCount: (key) => optional(key, () => count(key)),
    text,
    optionalText: (key) => optional(key, () => text(key)),
    word,
    optionalWord: (key, words) => optional(key, () => word(key, words)),
    objects: (key, read) =>
      list(key).map((each, index) => {
        const reader = readInput(each ?? null, `${path}${key}[${index}].`);
        const answer = read(reader);
        reader.refuseUnknownKeys();
        return answer;
      }),
    refuseUnknownKeys() {
      for (const key of Object.keys(given))
        if (!known.has(key) && given[key] !== null)
          throw new CalcError("wrong-input", `${path}${key}: unknown key; accepted are ${[...known].join(", ")}`);
    },
  };
}

/** Plain decimal text that a double can hold. */
const isAmount = (text: string): boolean => text.length <= LONGEST && isDecimalText(text) && Number.isFinite(Number(text));

function quantity(where: string, found: unknown, dimension: Dimension | undefined, sign: Sign): Measure {
  const accepted = `a number, one blank and a unit, such as "${EXAMPLES[dimension ?? "length"]}"`;
  const blank = typeof found === "string" ? found.indexOf(" ") : -1;
  if (typeof found !== "string" || blank < 0) throw wrong(where, found, accepted);
  const [text, unit] = [found.slice(0, blank), found.slice(blank + 1)];
  if (!isAmount(text) || !isUnit(unit)) throw wrong(where, found, accepted);
  if (dimension !== undefined && dimensionOf(unit) !== dimension) throw wrong(where, found, `${accepted} (a ${dimension})`);
  checkSign(where, text, found, sign);
  return { text, unit };
}

const ZERO = exact("0");

function checkSign(where: string, text: string, found: string, sign: Sign): void {
  if (sign === "any") return;
  const side = compareExact(exact(text), ZERO);
  if (side < 0 || (side === 0 && sign === "above-zero"))
    throw wrong(where, found, sign === "above-zero" ? "an amount above zero" : "zero or an amount above it");
}
