import { CalcError } from "../calc-error.ts";
import { compareExact, exact } from "../decimal.ts";
import { elongationPercent, reductionOfAreaPercent } from "../formulas/deformation.ts";
import { stressOn, systemOf } from "../formulas/stress.ts";
import { DISTRIBUTIONS, tensileUncertainty, type UncertaintySource } from "../formulas/tensile-uncertainty.ts";
import { convertExact, type Measure, type Unit } from "../quantity.ts";
import { type Calculation, calculation } from "./calculation.ts";
import type { InputReader } from "./input.ts";

/** Stresses come in the unit system of the diameter. */
export const stressUnit = (diameter: Measure): "MPa" | "ksi" => (systemOf(diameter) === "in" ? "ksi" : "MPa");

export const TENSILE: readonly Calculation[] = [
  calculation({
    name: "tensile-strength",
    description: "maximum force on a round wire as a stress",
    example: { force: "6250 N", diameter: "2.00 mm" },
    read: (input) => ({ force: input.quantity("force", "force"), diameter: input.quantity("diameter", "length") }),
    answer({ force, diameter }) {
      const unit = stressUnit(diameter);
      return { tensileStrength: { value: stressOn(force, diameter, unit), unit } };
    },
  }),
  calculation({
    name: "elongation",
    description: "elongation after fracture in per cent of the gauge length",
    example: { original: "250.0 mm", final: "268.0 mm" },
    read: (input) => beforeAndAfter(input, "shorter"),
    answer: ({ original, final }) => ({ percent: elongationPercent(original, final) }),
  }),
  calculation({
    name: "reduction-of-area",
    description: "reduction of area of a round section in per cent",
    example: { original: "4.00 mm", final: "2.95 mm" },
    read: (input) => beforeAndAfter(input, "thicker"),
    answer: ({ original, final }) => ({ percent: reductionOfAreaPercent(original, final) }),
  }),
  calculation({
    name: "tensile-uncertainty",
    description: "uncertainty of a tensile strength from its sources",
    example: {
      force: "9820 N",
      diameter: "2.500 mm",
      contributions: [
        { name: "force, class 1", of: "force", halfWidth: "98.2 N", distribution: "rectangular" },
        { name: "repeatability", of: "diameter", sd: "0.002 mm", distribution: "normal" },
      ],
    },
    read: (input) => ({
      force: input.quantity("force", "force"),
      diameter: input.quantity("diameter", "length"),
      contributions: contributions(input),
    }),
    answer({ force, diameter, contributions: sources }) {
      const unit = stressUnit(diameter);
      const stress = (value: number): { value: number; unit: string } => ({ value, unit });
      const budget = tensileUncertainty(force, diameter, sources, unit);
      return {
        tensileStrength: stress(budget.tensileStrength),
        u: stress(budget.u),
        U: stress(budget.U),
        contributions: budget.contributions.map((part) => ({ ...part, u: stress(part.u) })),
      };
    },
  }),
];

/** A length and a diameter of the same piece before and after the break; the piece cannot have grown back. */
function beforeAndAfter(input: InputReader, impossible: "shorter" | "thicker"): { original: Measure; final: Measure } {
  const original = input.quantity("original", "length");
  const final = input.quantity("final", "length");
  const size = (length: Measure) => convertExact(exact(length.text), length.unit as Unit, "mm");
  const side = compareExact(size(final), size(original));
  if (impossible === "shorter" ? side < 0 : side > 0)
    throw new CalcError(
      "wrong-input",
      `final: found "${final.text} ${final.unit}", ${impossible} after the break than the original ${original.text} ${original.unit}; accepted is at ${impossible === "shorter" ? "least" : "most"} that`,
    );
  return { original, final };
}

function contributions(input: InputReader): readonly UncertaintySource[] {
  const sources = input.objects("contributions", (each): UncertaintySource => {
    const name = each.text("name");
    const of = each.word("of", ["force", "diameter"]);
    const dimension = of === "force" ? "force" : "length";
    const halfWidth = each.optionalQuantity("halfWidth", dimension, "from-zero");
    const sd = each.optionalQuantity("sd", dimension, "from-zero");
    const distribution = each.word("distribution", DISTRIBUTIONS);
    if ((halfWidth === undefined) === (sd === undefined))
      throw new CalcError(
        "wrong-input",
        `contributions, ${name}: found ${sd === undefined ? "neither halfWidth nor sd" : "both halfWidth and sd"}; accepted is one of the two`,
      );
    return { name, of, distribution, ...(halfWidth === undefined ? {} : { halfWidth }), ...(sd === undefined ? {} : { sd }) };
  });
  if (sources.length === 0) throw new CalcError("wrong-input", "contributions: found an empty list; accepted is at least one contribution");
  return sources;
}
