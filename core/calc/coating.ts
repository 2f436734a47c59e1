import { CalcError } from "../calc-error.ts";
import { compareExact, exact } from "../decimal.ts";
import { coatingMassByGas, coatingMassByStripping } from "../formulas/coating.ts";
import { convertExact, type Unit } from "../quantity.ts";
import { type Calculation, calculation } from "./calculation.ts";

export const COATING: readonly Calculation[] = [
  calculation({
    name: "coating-mass",
    description: "mass of coating per area by stripping",
    example: { massBefore: "25.000 g", massAfter: "24.200 g", strippedDiameter: "3.00 mm" },
    read: (input) => {
      const [before, after] = [input.quantity("massBefore", "mass"), input.quantity("massAfter", "mass")];
      if (compareExact(convertExact(exact(after.text), after.unit as Unit, before.unit as Unit), exact(before.text)) > 0)
        throw new CalcError(
          "wrong-input",
          `massAfter: found "${after.text} ${after.unit}", heavier after stripping than before (${before.text} ${before.unit}); accepted is at most that`,
        );
      return {
        before,
        after,
        diameter: input.quantity("strippedDiameter", "length"),
        constant: input.optionalDecimal("constant", "above-zero") ?? "1960",
      };
    },
    answer: ({ before, after, diameter, constant }) => ({
      coatingMass: { value: coatingMassByStripping(before, after, diameter, constant), unit: "g/m2" },
    }),
  }),
  calculation({
    name: "coating-mass-gas",
    description: "mass of zinc per area from the hydrogen set free",
    example: { hydrogen: "55.0 ml", temperature: "20 degC", pressure: "1013 mbar", strippedDiameter: "2.00 mm", length: "300 mm" },
    read: (input) => {
      const temperature = input.quantity("temperature", "temperature", "any");
      if (convertExact(exact(temperature.text), temperature.unit as Unit, "K").numerator <= 0n)
        throw new CalcError(
          "wrong-input",
          `temperature: found "${temperature.text} ${temperature.unit}"; accepted is a temperature above absolute zero`,
        );
      return {
        temperature,
        hydrogen: input.quantity("hydrogen", "volume", "from-zero"),
        pressure: input.quantity("pressure", "pressure"),
        diameter: input.quantity("strippedDiameter", "length"),
        length: input.quantity("length", "length"),
      };
    },
    answer: ({ hydrogen, temperature, pressure, diameter, length }) => ({
      coatingMass: { value: coatingMassByGas(hydrogen, temperature, pressure, diameter, length), unit: "g/m2" },
    }),
  }),
];
