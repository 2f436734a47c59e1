/** Analyses of a heat against the requirement of one element; a product analysis has the tolerance of its standard beside the heat's range. */
import { addExact, compareExact, exact, subtractExact, toDecimalText } from "../decimal.ts";
import type { Heat, Requirement, Result } from "../model.ts";
import { compareWithLimits } from "../rounding.ts";
import { limitsOf, limitText } from "./checks/shared.ts";
import { productTolerance } from "./product-tolerance.ts";
import { optional } from "./row.ts";

/** Every analysis that names the element, as results. Both ways off in one heat fails each of its product analyses. */
export function holdChemistry(heats: readonly Heat[], requirement: Requirement): Result[] {
  const element = requirement.property.slice("chemistry:".length);
  const analyses = heats.flatMap((heat) => {
    const value = heat.elements[element];
    return value === undefined ? [] : [{ heat, value, ...hold(heat.analysis, value, element, requirement) }];
  });
  const product = analyses.filter(({ heat }) => heat.analysis === "product");
  const bothWays = product.some((a) => a.side === -1) && product.some((a) => a.side === 1);
  return analyses.map(({ heat, value, compared, outcome, reason, step }): Result => {
    const failsBothWays = bothWays && heat.analysis === "product";
    const place = heat.cells?.[element];
    return {
      testPiece: heat.heat,
      position: heat.analysis,
      role: "acceptance",
      sheet: place?.sheet ?? "Heats",
      cell: place?.cell ?? "",
      row: 0,
      file: "",
      raw: place?.raw ?? value,
      value: Number(value),
      unit: "%",
      conditions: {},
      compared,
      counts: true,
      outcome: failsBothWays ? "does-not-conform" : outcome,
      ...optional("reason", failsBothWays ? "both-ways" : reason),
      steps: [
        `${heat.analysis} analysis of heat ${heat.heat}: ${element} ${value} %, ${limitText({ ...limitsOf(requirement), unit: "%" })}`,
        ...(step === undefined ? [] : [step]),
        ...(failsBothWays ? ["one element of one heat must not lie both above and below its range"] : []),
      ],
    };
  });
}

interface Held {
  readonly compared: string;
  readonly outcome: "conforms" | "does-not-conform" | "undecided";
  readonly reason?: string;
  /** −1 below the heat's range, 1 above it, 0 inside. */
  readonly side: -1 | 0 | 1;
  readonly step?: string;
}

function hold(analysis: Heat["analysis"], value: string, element: string, requirement: Requirement): Held {
  const limits = limitsOf(requirement);
  const { compared, outcome, reason } = compareWithLimits(value, limits, requirement.rounding);
  const side = reason === "below-min" ? -1 : reason === "above-max" ? 1 : 0;
  if (analysis === "heat" || side === 0) return { compared, outcome, side, ...optional("reason", reason) };
  const tolerance = productTolerance(requirement.rule.specification, element, limits);
  const allowed = side === 1 ? tolerance?.over : tolerance?.under;
  if (tolerance === undefined)
    return {
      compared,
      outcome: "undecided",
      reason: "no-product-tolerance",
      side,
      step: `a product analysis may leave the heat's range by the tolerance of the standard, which is not held for ${element}`,
    };
  if (allowed === undefined)
    return {
      compared,
      outcome,
      side,
      ...optional("reason", reason),
      step: `${tolerance.standard} gives ${element} no tolerance on this side`,
    };
  const edge = side === 1 ? addExact(exact(limits.max ?? "0"), exact(allowed)) : subtractExact(exact(limits.min ?? "0"), exact(allowed));
  const inside = compareExact(exact(compared), edge) * side <= 0;
  return {
    compared,
    outcome: inside ? "conforms" : "does-not-conform",
    side,
    ...(inside ? {} : optional("reason", reason)),
    step: `product analysis, ${tolerance.standard} (${tolerance.provenance}): ${allowed} % ${side === 1 ? "over" : "under"} the heat's range, ${side === 1 ? "at most" : "at least"} ${toDecimalText(edge)} %`,
  };
}
