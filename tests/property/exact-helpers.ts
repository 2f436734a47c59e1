/** Exact numbers for the properties. */
import type { Exact } from "../../core/decimal.ts";

export { compareExact, exact, subtractExact, toDecimalText } from "../../core/decimal.ts";

export const absExact = (value: Exact): Exact => (value.numerator < 0n ? { ...value, numerator: -value.numerator } : value);
