/** The calculations of the contract, by name: one function for the bench, the outside checks and the judgement. */
import { CalcError, type CalcErrorCode } from "../calc-error.ts";
import type { Calculation } from "./calculation.ts";
import { COATING } from "./coating.ts";
import { ROUNDING } from "./rounding.ts";
import { SPECIFICATION } from "./specification.ts";
import { STATISTICS } from "./statistics.ts";
import { TENSILE } from "./tensile.ts";
import { TORSION } from "./torsion.ts";
import { UNITS } from "./units.ts";
import { WRAP } from "./wrap.ts";

/** Every calculation with an example that answers. */
export const calculations: readonly Calculation[] = [
  ...ROUNDING,
  ...UNITS,
  ...TENSILE,
  ...TORSION,
  ...WRAP,
  ...COATING,
  ...SPECIFICATION,
  ...STATISTICS,
];

const BY_NAME: ReadonlyMap<string, Calculation> = new Map(calculations.map((each) => [each.name, each]));

export const isCalculation = (name: string): boolean => BY_NAME.has(name);

export type CalcAnswer =
  | Readonly<Record<string, unknown>>
  | { readonly schema: "calc/1"; readonly error: { readonly code: CalcErrorCode; readonly text: string } };

/**
 * The answer of one calculation, or the error answer.
 * @param input any JSON value; everything but the object of the contract gives `wrong-input`
 * @throws RangeError for an unknown name
 */
export function runCalculation(name: string, input: unknown): CalcAnswer {
  const found = BY_NAME.get(name);
  if (found === undefined) throw new RangeError(`no calculation "${name}"`);
  try {
    const answer = found.answer(input);
    refuseInfinite(answer);
    return { schema: "calc/1", ...answer };
  } catch (error) {
    if (!(error instanceof CalcError)) throw error;
    return { schema: "calc/1", error: { code: error.code, text: error.message } };
  }
}

/** An amount beyond what a double holds would leave JSON as null. */
function refuseInfinite(answer: unknown, path = "answer"): void {
  if (typeof answer === "number" && !Number.isFinite(answer))
    throw new CalcError("wrong-input", `${path}: the amounts given lead beyond the numbers that can be answered`);
  if (typeof answer === "object" && answer !== null)
    for (const [key, value] of Object.entries(answer)) refuseInfinite(value, `${path}.${key}`);
}
