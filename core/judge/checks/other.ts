import type { EntryRow } from "../../model.ts";
import { dimensionOf, isUnit, type Unit } from "../../quantity.ts";
import { isPropertyName } from "../../spec/properties.ts";
import type { CheckContext, CheckedRow } from "../context.ts";
import { computedText, inUnit, text } from "../row.ts";
import { numericCheck } from "./shared.ts";

/** The property a row of the sheet Other speaks of: a name of the contract as it is, anything else as `other:<name>`. */
export function propertyOfOther(row: EntryRow): string {
  const name = (text(row, "property") ?? "").trim();
  return isPropertyName(name) ? name : `other:${name}`;
}

/** A value or a word of the sheet Other against an agreed requirement. A word alone cannot meet a number: undecided. */
export function checkOther(row: EntryRow, context: CheckContext): CheckedRow | undefined {
  const { requirement } = context;
  const value = row.fields["value"];
  const word = text(row, "word");
  const numeric = requirement.min !== undefined || requirement.max !== undefined;
  if (value === undefined && word === undefined) return undefined;
  if (value === undefined || !numeric) {
    const shown = word ?? value?.text ?? "";
    const settled = !numeric && requirement.word !== undefined;
    return {
      value: shown,
      unit: "",
      compared: shown,
      outcome: settled ? (shown === requirement.word ? "conforms" : "does-not-conform") : "undecided",
      ...(settled ? {} : { reason: "needs-a-person" }),
      field: word === undefined ? "value" : "word",
      conditions: {},
      deviations: [],
      steps: [`"${shown}"`],
    };
  }
  const unit = text(row, "unit") ?? requirement.unit;
  if (unit !== requirement.unit && !(isUnit(unit) && isUnit(requirement.unit) && dimensionOf(unit) === dimensionOf(requirement.unit)))
    return {
      value: value.text,
      unit,
      compared: value.text,
      outcome: "undecided",
      reason: "wrong-unit",
      field: "unit",
      conditions: {},
      deviations: [],
      steps: [`${value.text} ${unit} does not compare with ${requirement.unit}`],
    };
  const converted =
    unit === requirement.unit ? value.text : computedText(inUnit({ text: value.text, unit: unit as Unit }, requirement.unit as Unit));
  return numericCheck(context, converted, "value", { conditions: {}, steps: [`${value.text} ${unit}`] });
}
