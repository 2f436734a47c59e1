import { CalcError } from "../calc-error.ts";
import { acceptancePlan, LEVELS, samplesRequired } from "../methods/index.ts";
import { limitsFor } from "../spec/index.ts";
import { type Calculation, calculation } from "./calculation.ts";

export const SPECIFICATION: readonly Calculation[] = [
  calculation({
    name: "limits",
    description: "the limits a specification sets for one property, grade and diameter",
    example: { specification: "EN 10270-1:2011", grade: "SH", property: "tensile-strength", diameter: "2.05 mm" },
    read: (input) => {
      const [specification, edition] = [input.text("specification"), input.optionalText("edition")];
      if (edition !== undefined && /:[^:]+$/.test(specification) && !specification.endsWith(`:${edition}`))
        throw new CalcError("wrong-input", `edition: found "${edition}" beside "${specification}"; accepted is one edition`);
      return {
        specification,
        edition,
        grade: input.optionalText("grade"),
        property: input.text("property"),
        diameter: input.optionalQuantity("diameter", "length"),
      };
    },
    answer: (question) => ({ ...limitsFor(question) }),
  }),
  calculation({
    name: "samples-required",
    description: "test pieces a standard asks for of a lot of coils",
    example: { standard: "ASTM A818", coils: 65 },
    read: (input) => {
      const [standard, coils, heats] = [input.text("standard"), input.count("coils"), input.optionalCount("heats")];
      if (heats !== undefined && heats > coils)
        throw new CalcError("wrong-input", `heats: found ${heats}, more than the ${coils} coils; accepted is at most one heat a coil`);
      return { standard, coils, heats };
    },
    answer: ({ standard, coils, heats }) => ({ ...samplesRequired(standard, coils, heats) }),
  }),
  calculation({
    name: "acceptance-plan",
    description: "single sampling plan of ISO 2859-1, normal inspection",
    example: { lot: 1000, level: "II", aql: "1.0" },
    read: (input) => ({
      lot: input.count("lot"),
      level: input.word("level", LEVELS),
      aql: input.decimal("aql", "above-zero"),
    }),
    answer: ({ lot, level, aql }) => ({ ...acceptancePlan(lot, level, aql) }),
  }),
];
