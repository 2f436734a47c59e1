import { expect, it } from "vitest";
import { exact } from "../../core/decimal.ts";
import { roundToStep } from "../../core/rounding.ts";

// A rounding interval is a distance (ASTM E29-22, 3; from memory): nothing rounds to multiples of nothing.
it.each(["0", "0.000", "-1", "-0.05"])("an interval of %s is refused by name", (step) => {
  expect(() => roundToStep(exact("1"), step, "even")).toThrow(new RangeError(`rounding interval must be above zero, got ${step}`));
});
