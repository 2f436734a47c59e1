/**
 * Exact numbers. A value is a fraction of two integers, so that a limit, a tie and a table edge never
 * depend on binary floating point. This file and rounding.ts are the only places that turn numbers into text.
 */
export interface Exact {
  readonly numerator: bigint;
  /** Always above zero. */
  readonly denominator: bigint;
}

const PLAIN = /^-?\d+(?:\.\d+)?$/;

/** True for plain decimal text: optional minus, digits, optional point and digits. */
export const isDecimalText = (text: string): boolean => PLAIN.test(text);

/** @throws RangeError when `text` is not plain decimal text. */
export function exact(text: string): Exact {
  if (!PLAIN.test(text)) throw new RangeError(`not plain decimal text: "${text}"`);
  const point = text.indexOf(".");
  if (point < 0) return { numerator: BigInt(text), denominator: 1n };
  const places = text.length - point - 1;
  return { numerator: BigInt(text.slice(0, point) + text.slice(point + 1)), denominator: 10n ** BigInt(places) };
}

/**
 * Plain decimal text of a double, at most `digits` significant digits, without exponent.
 * @throws RangeError when `value` is not finite.
 */
export function numberText(value: number, digits = 15): string {
  if (!Number.isFinite(value)) throw new RangeError(`not a finite number: ${value}`);
  return plainText(digits >= 17 ? String(value) : value.toPrecision(digits));
}

/** The shortest decimal text that reads back as the same double, without exponent. */
export const shortestText = (value: number): string => numberText(value, 17);

/** Turns `1.5e-7` into `0.00000015` and drops zeros behind the last place; −0 becomes 0. */
export function plainText(text: string): string {
  const parts = /^(-?)(\d+)(?:\.(\d+))?(?:[eE]([+-]?\d+))?$/.exec(text);
  if (!parts) throw new RangeError(`not a number: "${text}"`);
  const sign = parts[1] ?? "";
  const whole = parts[2] ?? "0";
  const fraction = parts[3] ?? "";
  const power = Number(parts[4] ?? 0);
  if (Math.abs(power) > 400) throw new RangeError(`exponent out of range: "${text}"`);
  let digits = whole + fraction;
  let point = whole.length + power;
  if (point <= 0) {
    digits = "0".repeat(1 - point) + digits;
    point = 1;
  }
  if (point > digits.length) digits += "0".repeat(point - digits.length);
  const head = digits.slice(0, point).replace(/^0+(?=\d)/, "");
  const tail = digits.slice(point).replace(/0+$/, "");
  const body = tail === "" ? head : `${head}.${tail}`;
  return body === "0" ? "0" : sign + body;
}

export function compareExact(a: Exact, b: Exact): -1 | 0 | 1 {
  const left = a.numerator * b.denominator;
  const right = b.numerator * a.denominator;
  return left < right ? -1 : left > right ? 1 : 0;
}

export const addExact = (a: Exact, b: Exact): Exact => ({
  numerator: a.numerator * b.denominator + b.numerator * a.denominator,
  denominator: a.denominator * b.denominator,
});

export const subtractExact = (a: Exact, b: Exact): Exact => addExact(a, { numerator: -b.numerator, denominator: b.denominator });

export const multiplyExact = (a: Exact, b: Exact): Exact => ({
  numerator: a.numerator * b.numerator,
  denominator: a.denominator * b.denominator,
});

/** @throws RangeError when `b` is zero. */
export function divideExact(a: Exact, b: Exact): Exact {
  if (b.numerator === 0n) throw new RangeError("division by zero");
  const sign = b.numerator < 0n ? -1n : 1n;
  return { numerator: sign * a.numerator * b.denominator, denominator: sign * b.numerator * a.denominator };
}

/** The nearest double; exact for every value of at most 15 significant digits. */
export const toNumber = (value: Exact): number => Number(toDecimalText(value, 20));

/**
 * Decimal text: the whole expansion where it ends within `digits` significant digits,
 * else rounded there (half to even).
 */
export function toDecimalText(value: Exact, digits = 15): string {
  const negative = value.numerator < 0n;
  const size = negative ? -value.numerator : value.numerator;
  if (size === 0n) return "0";
  let places =
    digits - (size / value.denominator > 0n ? (size / value.denominator).toString().length : leadingZeros(size, value.denominator));
  if (places < 0) places = 0;
  const scaled = size * 10n ** BigInt(places);
  let count = scaled / value.denominator;
  const twiceRest = 2n * (scaled % value.denominator);
  if (twiceRest > value.denominator || (twiceRest === value.denominator && count % 2n === 1n)) count += 1n;
  const text = count.toString().padStart(places + 1, "0");
  const cut = text.length - places;
  const body = places === 0 ? text : `${text.slice(0, cut)}.${text.slice(cut)}`.replace(/\.?0+$/, "");
  return negative && body !== "0" ? `-${body}` : body;
}

/** For a value below one: minus the count of zeros behind the point before its first digit. */
function leadingZeros(size: bigint, denominator: bigint): number {
  let zeros = 0;
  let scaled = size * 10n;
  while (scaled < denominator) {
    scaled *= 10n;
    zeros += 1;
  }
  return -zeros;
}
