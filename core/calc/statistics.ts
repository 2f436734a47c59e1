import { CalcError } from "../calc-error.ts";
import { capability } from "../statistics/capability.ts";
import { describe } from "../statistics/describe.ts";
import { grubbs } from "../statistics/grubbs.ts";
import { individualsChart } from "../statistics/individuals-chart.ts";
import { toleranceFactor } from "../statistics/tolerance-factor.ts";
import { type Calculation, calculation } from "./calculation.ts";
import type { InputReader } from "./input.ts";
import { readLimits } from "./limits-input.ts";

export const STATISTICS: readonly Calculation[] = [
  calculation({
    name: "describe",
    description: "number, mean, standard deviation and lag-1 autocorrelation",
    example: { values: [1995, 2003, 1988, 2010] },
    read: (input) => values(input, 1),
    answer: (given) => ({ ...describe(given) }),
  }),
  calculation({
    name: "individuals-chart",
    description: "control chart of single values with its signals",
    example: { values: [49.6, 47.6, 49.9, 51.3, 47.8, 51.2, 52.6, 52.4, 53.6, 52.1] },
    read: (input) => values(input, 1),
    answer: (given) => ({ ...individualsChart(given) }),
  }),
  calculation({
    name: "capability",
    description: "capability indices Cp and Cpk",
    example: { mean: 16, sd: 2, lower: 8, upper: 20 },
    read: (input) => {
      const { min: lower, max: upper } = readLimits(input, "lower", "upper");
      return { mean: input.decimal("mean"), sd: input.decimal("sd", "above-zero"), limits: { lower, upper } };
    },
    answer: ({ mean, sd, limits }) => ({ ...capability(mean, sd, limits) }),
  }),
  calculation({
    name: "grubbs",
    description: "Grubbs' test of the value farthest from the mean",
    example: { values: [199.31, 199.53, 200.19, 200.82, 201.92, 201.95, 202.18, 245.57], alpha: 0.05, sides: 2 },
    read: (input) => ({ given: values(input, 3), alpha: input.share("alpha"), sides: sides(input) }),
    answer({ given, alpha, sides: count }) {
      const test = grubbs(given, alpha, count);
      if (test === undefined)
        throw new CalcError("wrong-input", `values: found ${given.length} equal values; accepted are values that differ`);
      return { ...test };
    },
  }),
  calculation({
    name: "tolerance-factor",
    description: "exact factor k of a normal tolerance interval",
    example: { n: 10, coverage: 0.95, confidence: 0.95, sides: 2 },
    read: (input) => {
      const n = input.count("n");
      if (n < 2) throw new CalcError("wrong-input", "n: found 1; accepted is a whole number from 2");
      return { n, coverage: input.share("coverage"), confidence: input.share("confidence"), sides: sides(input) };
    },
    answer: (question) => ({ k: toleranceFactor(question) }),
  }),
];

function values(input: InputReader, least: number): readonly string[] {
  const list = input.decimals("values");
  if (list.length < least)
    throw new CalcError("wrong-input", `values: found ${list.length}; accepted are at least ${least} ${least === 1 ? "value" : "values"}`);
  return list;
}

function sides(input: InputReader): 1 | 2 {
  const count = input.count("sides");
  if (count !== 1 && count !== 2) throw new CalcError("wrong-input", `sides: found ${count}; accepted is 1 or 2`);
  return count;
}
