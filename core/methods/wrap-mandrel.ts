import { CalcError } from "../calc-error.ts";
import { exact, multiplyExact, toDecimalText } from "../decimal.ts";
import { inOwnSystem, systemOf } from "../formulas/stress.ts";
import type { Measure, Provenance } from "../model.ts";
import { bandText, lengthIn, rowOf } from "./bands.ts";
import { WRAP_MANDRELS } from "./data/wrap-mandrel.ts";
import { type HeldStandard, heldStandard } from "./standards.ts";

export type WrapPurpose = "ductility" | "adherence";

export interface WrapMandrelQuestion {
  readonly standard: string;
  /** May be left out where every grade has the same rule. */
  readonly grade?: string | undefined;
  readonly diameter: Measure;
  readonly purpose: WrapPurpose;
}

export interface WrapMandrel {
  /** In mm or in, as the diameter. */
  readonly mandrelDiameter: Measure;
  readonly wraps?: string;
  readonly rule: string;
  readonly provenance: Provenance;
}

/**
 * Mandrel and wraps of a wrap test: by the specification's own table, which is the one the judgement uses, else by the method's.
 * @throws CalcError `wrong-input` (several grades with different rules and none named), `unknown-standard`, `unknown-grade`,
 *   `no-rule`, `outside-scope`
 */
export function wrapMandrel({ standard, grade, diameter, purpose }: WrapMandrelQuestion): WrapMandrel {
  const held = heldStandard(standard);
  if (grade !== undefined && grade !== "" && grade !== "-" && !held.grades.includes(grade))
    throw new CalcError("unknown-grade", `${held.id} has no grade "${grade}"; held are ${held.grades.join(", ") || "none (leave it out)"}`);
  const ask = held.specification === undefined ? askMethod : askSpecification;
  if (grade !== undefined && held.grades.includes(grade)) return ask(held, grade, diameter, purpose);
  const answers = (held.grades.length === 0 ? [""] : held.grades).map((each) => attempt(() => ask(held, each, diameter, purpose)));
  const [first] = answers;
  if (answers.some((answer) => outcome(answer) !== outcome(first)))
    throw new CalcError("wrong-input", `grade: missing; the rule of ${held.id} differs between ${held.grades.join(", ")}`);
  if (first instanceof CalcError) throw first;
  return first as WrapMandrel;
}

function attempt(ask: () => WrapMandrel): WrapMandrel | CalcError {
  try {
    return ask();
  } catch (error) {
    if (error instanceof CalcError) return error;
    throw error;
  }
}

const outcome = (answer: WrapMandrel | CalcError | undefined): string =>
  answer instanceof CalcError ? answer.code : `${answer?.mandrelDiameter.text} ${answer?.wraps ?? ""}`;

function askSpecification({ specification, id }: HeldStandard, grade: string, diameter: Measure, purpose: WrapPurpose): WrapMandrel {
  const found = specification?.select(purpose === "ductility" ? "wrap" : "adherence", grade, inOwnSystem(diameter));
  const { mandrelDiameter, wraps } = found?.conditions ?? {};
  if (found === undefined || mandrelDiameter === undefined)
    throw new CalcError("no-rule", `${id} names no mandrel for the ${purpose} wrap test`);
  return {
    mandrelDiameter,
    ...(wraps === undefined ? {} : { wraps: wraps.text }),
    rule: `${found.table.clause}, ${found.row}`,
    provenance: found.provenance,
  };
}

function askMethod({ id }: HeldStandard, grade: string, diameter: Measure, purpose: WrapPurpose): WrapMandrel {
  const table = WRAP_MANDRELS[id];
  const unit = systemOf(diameter) === "in" && table?.in !== undefined ? "in" : "mm";
  const rows = (table?.[unit] ?? []).filter((row) => row.purpose === purpose && (row.grades?.includes(grade) ?? true));
  if (rows.length === 0) throw new CalcError("no-rule", `${id}: no mandrel for the ${purpose} wrap test is held`);
  const row = rowOf(rows, lengthIn(diameter, unit), `${id}, ${purpose} wrap`, diameter);
  const own = inOwnSystem(diameter);
  return {
    mandrelDiameter: { text: toDecimalText(multiplyExact(exact(own.text), exact(row.times)), 20), unit: own.unit },
    ...(row.wraps === undefined ? {} : { wraps: row.wraps }),
    rule: `${row.times} d, ${bandText(row, unit)}`,
    provenance: row.provenance,
  };
}
