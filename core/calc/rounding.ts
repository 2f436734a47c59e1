import { exact } from "../decimal.ts";
import { decide } from "../decision/decision-rule.ts";
import { compareWithLimits, roundToStep, stepOfLimit, type Ties } from "../rounding.ts";
import { type Calculation, calculation, present } from "./calculation.ts";
import { readLimits } from "./limits-input.ts";

const TIES: readonly Ties[] = ["even", "away", "none"];

export const ROUNDING: readonly Calculation[] = [
  calculation({
    name: "round",
    description: "a number to a multiple of a step",
    example: { value: "1.861", step: "0.01", ties: "even" },
    read: (input) => ({ value: input.decimal("value"), step: input.decimal("step", "above-zero"), ties: input.word("ties", TIES) }),
    answer: ({ value, step, ties }) => ({ text: roundToStep(exact(value), step, ties) }),
  }),
  calculation({
    name: "compare",
    description: "a value with limits, rounded or as it is",
    example: { value: "1959.5", min: "1960", method: "round" },
    read: (input) => ({
      value: input.decimal("value"),
      limits: readLimits(input),
      method: input.word("method", ["round", "absolute", "whole"]),
      step: input.optionalDecimal("step", "above-zero"),
      ties: input.optionalWord("ties", TIES) ?? "even",
    }),
    answer({ value, limits, method, step, ties }) {
      const interval = method === "whole" ? "1" : (step ?? stepOfLimit(limits.min, limits.max));
      const { outcome, compared, reason } = compareWithLimits(value, limits, { method, step: interval, ties });
      return present({ outcome, compared, reason });
    },
  }),
  calculation({
    name: "decide",
    description: "a value with limits under a decision rule, with its uncertainty",
    example: { value: "1982", min: "1960", U: "25.4", rule: "guarded" },
    read: (input) => ({
      value: input.decimal("value"),
      limits: readLimits(input),
      U: input.decimal("U", "from-zero"),
      rule: input.word("rule", ["simple", "guarded", "guarded-open"]),
      r: input.optionalDecimal("r") ?? "1",
      step: input.optionalDecimal("step", "above-zero"),
      ties: input.optionalWord("ties", TIES) ?? "even",
    }),
    answer({ value, limits, U, rule, r, step, ties }) {
      const decision = decide(value, limits, U, rule, r);
      const { outcome, acceptanceMin, acceptanceMax, conformanceProbability, emptyZone } = decision;
      if (rule !== "simple") return present({ outcome, acceptanceMin, acceptanceMax, conformanceProbability, emptyZone });
      // Guard bands apply to the unrounded value; without one the value is compared as the rounding method says.
      const rounded = compareWithLimits(value, limits, { method: "round", step: step ?? stepOfLimit(limits.min, limits.max), ties });
      return present({
        outcome: rounded.outcome,
        acceptanceMin: limits.min,
        acceptanceMax: limits.max,
        conformanceProbability,
        emptyZone,
      });
    },
  }),
];
