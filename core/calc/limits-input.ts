import { CalcError } from "../calc-error.ts";
import { compareExact, exact } from "../decimal.ts";
import type { InputReader } from "./input.ts";

export interface LimitTexts {
  readonly min?: string;
  readonly max?: string;
}

/**
 * Two keys that bound a value.
 * @throws CalcError `wrong-input` where neither is given or the lower is above the upper
 */
export function readLimits(input: InputReader, lower = "min", upper = "max"): LimitTexts {
  const min = input.optionalDecimal(lower);
  const max = input.optionalDecimal(upper);
  if (min === undefined && max === undefined)
    throw new CalcError("wrong-input", `${lower}, ${upper}: no limit at all; accepted is at least one of the two`);
  if (min !== undefined && max !== undefined && compareExact(exact(min), exact(max)) > 0)
    throw new CalcError("wrong-input", `${lower}: found ${min}, above ${upper} ${max}; accepted is at most that`);
  return { ...(min === undefined ? {} : { min }), ...(max === undefined ? {} : { max }) };
}
