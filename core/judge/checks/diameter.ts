import { compareExact, exact, subtractExact, toDecimalText } from "../../decimal.ts";
import type { EntryRow, Requirement } from "../../model.ts";
import type { Unit } from "../../quantity.ts";
import type { CheckContext, CheckedRow } from "../context.ts";
import { demandedAmount, text, textInUnit } from "../row.ts";
import { compare, exactLimits, numericCheck } from "./shared.ts";

/**
 * One result a row: the worse of the two readings. Both must lie inside the tolerance, so the reading that is out, or
 * nearer to its limit, stands for the row.
 * @source DESIGN default "diameter"; common practice, no source
 */
export function checkDiameter(row: EntryRow, context: CheckContext): CheckedRow {
  const { requirement } = context;
  const unit = requirement.unit as Unit;
  const largest = textInUnit(demandedAmount(row, "largest"), unit);
  const smallest = textInUnit(demandedAmount(row, "smallest"), unit);
  const over = compare(largest, requirement);
  const under = compare(smallest, requirement);
  const field =
    over.outcome !== under.outcome
      ? over.outcome === "does-not-conform"
        ? "largest"
        : "smallest"
      : nearerToItsLimit(largest, smallest, requirement);
  const decides = field === "largest";
  const rest = {
    conditions: {},
    steps: [`largest ${largest} ${unit}, smallest ${smallest} ${unit}; the ${field} decides`],
    uncertaintyParts: [{ instrument: text(row, "instrument") ?? "", figure: demandedAmount(row, field), weight: 1 }],
  };
  return numericCheck(context, decides ? largest : smallest, field, rest, decides ? over : under);
}

function nearerToItsLimit(largest: string, smallest: string, requirement: Requirement): "largest" | "smallest" {
  const { min, max } = exactLimits(requirement);
  if (max === undefined) return "smallest";
  if (min === undefined) return "largest";
  const above = subtractExact(max, exact(largest));
  const below = subtractExact(exact(smallest), min);
  return compareExact(above, below) <= 0 ? "largest" : "smallest";
}

/**
 * Largest minus smallest diameter at one section, exact.
 * @source ASTM A227 family, definition of out of round (from memory, high)
 */
export function checkOutOfRound(row: EntryRow, context: CheckContext): CheckedRow {
  const unit = context.requirement.unit as Unit;
  const largest = textInUnit(demandedAmount(row, "largest"), unit);
  const smallest = textInUnit(demandedAmount(row, "smallest"), unit);
  const difference = toDecimalText(subtractExact(exact(largest), exact(smallest)), 30);
  return numericCheck(context, difference, "largest", {
    conditions: {},
    steps: [`${largest} - ${smallest} = ${difference} ${unit}`],
    uncertaintyParts: [{ instrument: text(row, "instrument") ?? "", figure: demandedAmount(row, "largest"), weight: 1 }],
  });
}
