import { CalcError } from "../calc-error.ts";
import { compareExact, exact } from "../decimal.ts";
import { GAUGE_SYSTEMS, gaugeDiameter, isGaugeNumber } from "../methods/index.ts";
import { convertExact, dimensionOf, isUnit, type Measure, type Unit } from "../quantity.ts";
import { type Calculation, calculation, quantityOf } from "./calculation.ts";
import type { InputReader } from "./input.ts";

export const UNITS: readonly Calculation[] = [
  calculation({
    name: "convert",
    description: "a quantity in another unit",
    example: { quantity: "0.080 in", to: "mm" },
    read: (input) => {
      const quantity = input.anyQuantity("quantity");
      refuseBelowAbsoluteZero("quantity", quantity);
      return { quantity, to: unitLike(input, quantity) };
    },
    answer: ({ quantity, to }) => ({ quantity: quantityOf(quantity, to) }),
  }),
  calculation({
    name: "gauge",
    description: "the diameter of a wire gauge number",
    example: { system: "us-steel", number: "6 1/2" },
    read: (input) => ({ system: input.word("system", GAUGE_SYSTEMS), number: gaugeNumber(input) }),
    answer: ({ system, number }) => ({ diameter: quantityOf(gaugeDiameter(system, number)) }),
  }),
];

function unitLike(input: InputReader, quantity: Measure): Unit {
  const to = input.text("to");
  const dimension = dimensionOf(quantity.unit as Unit);
  if (!isUnit(to) || dimensionOf(to) !== dimension)
    throw new CalcError(
      "wrong-input",
      `to: found "${to}"; accepted is a unit of ${dimension}, as that of ${quantity.text} ${quantity.unit}`,
    );
  return to;
}

function gaugeNumber(input: InputReader): string {
  const number = input.text("number");
  if (!isGaugeNumber(number))
    throw new CalcError("wrong-input", `number: found "${number}"; accepted is a gauge number as text, such as "12", "2/0" or "6 1/2"`);
  return number;
}

/** @throws CalcError `wrong-input` for a temperature below −273.15 degC */
export function refuseBelowAbsoluteZero(key: string, { text, unit }: Measure): void {
  if (dimensionOf(unit as Unit) === "temperature" && compareExact(convertExact(exact(text), unit as Unit, "K"), exact("0")) < 0)
    throw new CalcError("wrong-input", `${key}: found "${text} ${unit}"; accepted is a temperature from absolute zero`);
}
