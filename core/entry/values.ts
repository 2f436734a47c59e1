/** One cell to one value: nothing is guessed, and nothing is coerced without saying so. */
import type { CellRecord } from "../model.ts";
import { type CellContext, type ReadCell, refuse } from "./cell.ts";
import { readDay } from "./days.ts";
import { readNumber } from "./numbers.ts";
import { readIdentifier, readText, readWord } from "./words.ts";

/** The cell as its column asks for it. Codes of every cell: error-value, formula-without-value, volatile-formula. */
export function readCell(cell: CellRecord, context: CellContext): ReadCell {
  const refused = unusableFormula(cell, context);
  if (refused) return refused;
  switch (context.column.type) {
    case "date":
      return readDay(cell, context);
    case "identifier":
      return readIdentifier(cell, context);
    case "text":
      return context.column.allowed ? readWord(cell, context) : readText(cell, context);
    default:
      return readNumber(cell, context);
  }
}

const VOLATILE = /\b(NOW|TODAY|RAND|RANDBETWEEN|RANDARRAY|OFFSET|INDIRECT|CELL|INFO)\s*\(/i;

function unusableFormula(cell: CellRecord, context: CellContext): ReadCell | undefined {
  if (cell.type === "error")
    return refuse(cell, context, "error-value", "a value", `${cell.cell} holds the error ${cell.raw}; mend the formula or type the value.`);
  if (cell.formula === undefined) return undefined;
  if (cell.unevaluated)
    return refuse(
      cell,
      context,
      "formula-without-value",
      "a stored value",
      `${cell.cell} holds a formula without a stored value; recalculate and save the workbook.`,
    );
  if (VOLATILE.test(cell.formula.replaceAll(/"[^"]*"/g, "")))
    return refuse(
      cell,
      context,
      "volatile-formula",
      "a typed value",
      `The formula in ${cell.cell} (=${cell.formula}) changes by itself; type the value instead.`,
    );
  return undefined;
}
