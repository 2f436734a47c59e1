import { CalcError } from "../calc-error.ts";
import { compareExact, exact, isDecimalText } from "../decimal.ts";
import type { Conditions, Provenance } from "../model.ts";
import { convertMeasure, dimensionOf, isUnit, type Measure, type Quantity, toQuantity } from "../quantity.ts";
import { builtInLibrary, type HeldLibrary, isNoGrade } from "./library.ts";
import { ACCEPTED_PROPERTIES, isPropertyName } from "./properties.ts";

/** What is asked for: one property of one grade at one nominal diameter. */
export interface LimitsQuestion {
  readonly specification: string;
  readonly edition?: string | undefined;
  readonly grade?: string | undefined;
  readonly property: string;
  readonly diameter?: Measure | undefined;
}

export interface LimitsAnswer {
  readonly min?: string;
  readonly max?: string;
  readonly requirement?: string;
  readonly unit?: string;
  readonly conditions: Readonly<Record<string, Quantity | string>>;
  readonly row: string;
  readonly rule: string;
  readonly provenance: Provenance;
}

/**
 * The limit a specification sets for a property at a grade and diameter.
 * @throws CalcError `wrong-input`, `unknown-standard`, `unknown-grade`, `no-rule`, `outside-scope`, in this order
 */
export function limitsFor(question: LimitsQuestion, library: HeldLibrary = builtInLibrary()): LimitsAnswer {
  if (!isPropertyName(question.property))
    throw new CalcError("wrong-input", `property: found "${question.property}"; accepted is ${ACCEPTED_PROPERTIES}`);
  const chemistry = question.property.startsWith("chemistry:");
  const diameter = question.diameter === undefined ? undefined : nominalDiameter(question.diameter);
  if (!chemistry && diameter === undefined) throw new CalcError("wrong-input", 'diameter: missing; accepted is a length such as "2.00 mm"');
  const specification = library.find(question.specification, question.edition);
  if (specification === undefined)
    throw new CalcError(
      "unknown-standard",
      `specification "${question.specification}${question.edition ? `:${question.edition}` : ""}" is not held`,
    );
  const grade = gradeOf(specification, question.grade);
  if (chemistry) {
    const requirement = specification.requirement(question.property, grade, diameter ?? { text: "1", unit: "mm" });
    if ("problem" in requirement) throw new CalcError(requirement.problem, requirement.text);
    return {
      ...limitTexts(requirement),
      unit: "%",
      conditions: {},
      row: requirement.row,
      rule: "heat analysis",
      provenance: requirement.rule.provenance,
    };
  }
  const found = specification.select(question.property, grade, diameter as Measure);
  const { wraps, ...rest } = found.conditions;
  const counted = wraps !== undefined;
  const numbered = counted || found.min !== undefined || found.max !== undefined;
  return {
    ...(counted ? { min: wraps.text } : limitTexts(found)),
    ...(numbered ? { unit: counted ? "wraps" : found.table.unit } : { requirement: requirementText(found.table.word ?? "") }),
    conditions: conditionsJson(rest),
    row: found.row,
    rule: found.rule === "" ? (found.table.between === "bands" ? "the row of its size" : "tabulated size") : found.rule,
    provenance: found.provenance,
  };
}

/** A length above zero, in the unit of its system that tables are in: mm or in. */
function nominalDiameter({ text, unit }: Measure): Measure {
  const found = `${text} ${unit}`;
  if (!isDecimalText(text) || !isUnit(unit) || dimensionOf(unit) !== "length")
    throw new CalcError("wrong-input", `diameter: found "${found}"; accepted is a length such as "2.00 mm"`);
  if (compareExact(exact(text), exact("0")) <= 0)
    throw new CalcError("wrong-input", `diameter: found "${found}"; accepted is a length above zero`);
  return convertMeasure({ text, unit }, unit === "in" || unit === "ft" ? "in" : "mm");
}

/** The grade as asked; left out where there is only one. */
function gradeOf(specification: { id: string; grades: readonly string[] }, grade: string | undefined): string {
  if (grade !== undefined && !isNoGrade(grade)) {
    const known = specification.grades.includes(grade);
    if (!known)
      throw new CalcError(
        "unknown-grade",
        `${specification.id} has no grade "${grade}"; held are ${specification.grades.join(", ") || "none (leave it empty)"}`,
      );
    return grade;
  }
  if (specification.grades.length > 1)
    throw new CalcError("wrong-input", `grade: missing; ${specification.id} has several: ${specification.grades.join(", ")}`);
  return specification.grades[0] ?? "";
}

const limitTexts = (found: { min?: string; max?: string }): { min?: string; max?: string } => ({
  ...(found.min === undefined ? {} : { min: found.min }),
  ...(found.max === undefined ? {} : { max: found.max }),
});

/** Conditions as quantities for JSON. */
export function conditionsJson(conditions: Conditions): Record<string, Quantity | string> {
  const json: Record<string, Quantity | string> = {};
  for (const [name, value] of Object.entries(conditions))
    if (value !== undefined) json[name] = typeof value === "string" ? value : toQuantity(value as Measure);
  return json;
}

const REQUIREMENT_TEXTS: Readonly<Record<string, string>> = {
  "even-pitch-no-cracks": "the spread coil has an even pitch and no cracks",
  "no-cracks": "no cracks",
  "no-cracks-after-first-turn": "winds without cracking; cracks in the first turn are not counted",
  "square-face-even-twist": "fracture face square to the axis, no flaw or crack, even twist",
};
/** A requirement without a number, as an English sentence; a lab's own word is given back as it is. */
export const requirementText = (word: string): string => REQUIREMENT_TEXTS[word] ?? word;
