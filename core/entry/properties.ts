/** Which properties a test row speaks of: what it answers when it is read, and what it holds back when it is not. */
import type { FieldValue, TestSheet } from "../model.ts";
import { isPropertyName, PROPERTIES } from "../spec/properties.ts";
import { ELEMENTS } from "./columns.ts";

type Fields = Readonly<Record<string, FieldValue | undefined>>;

const SHEET_PROPERTIES: Readonly<Record<Exclude<TestSheet, "wrap" | "other">, readonly string[]>> = {
  diameter: ["diameter", "out-of-round"],
  tensile: ["tensile-strength", "proof-strength", "breaking-force", "elongation", "reduction-of-area"],
  torsion: ["torsion"],
  coiling: ["coiling"],
  "reverse-bend": ["reverse-bend"],
  "coating-mass": ["coating-mass"],
};

/** Every property of the contract with a name of its own. */
const NAMED: readonly string[] = [...PROPERTIES, ...ELEMENTS.map((element) => `chemistry:${element}`)];

/** Every property, with those that only this workbook and its orders know by name. */
export const everyProperty = (others: readonly string[]): readonly string[] => [...new Set([...NAMED, ...others.map(propertyNamed)])];

/** The property a name of the sheets Other and Agreed means: one of the contract as it is, anything else as `other:<name>`. */
export function propertyNamed(name: string): string {
  const trimmed = name.trim();
  return isPropertyName(trimmed) ? trimmed : `other:${trimmed}`;
}

/**
 * What a row holds back when it cannot be read; where its own words could not be read, all that they could have meant.
 * @param others properties beside those of the contract that a row of the sheet Other may have named
 */
export function propertiesOf(sheet: TestSheet, fields: Fields, others: readonly string[] = []): readonly string[] {
  if (sheet === "wrap") {
    const purpose = fields["purpose"]?.text;
    return purpose === "ductility" ? ["wrap"] : purpose === "adherence" ? ["adherence"] : ["wrap", "adherence"];
  }
  if (sheet === "other") {
    const property = fields["property"]?.text;
    if (property === undefined) return everyProperty(others);
    const name = property.trim();
    return [...new Set([propertyNamed(name), name, `other:${name}`])];
  }
  return SHEET_PROPERTIES[sheet];
}

/** Optional figures of a tensile row that make it answer a property more. */
const TENSILE_FIELDS: Readonly<Record<string, string>> = {
  "proof-strength": "proofForce",
  elongation: "elongation",
  "reduction-of-area": "diameterAfter",
};

/** The properties of which a row gives a result: none that its words do not name or its figures do not carry. */
export function answeredBy(sheet: TestSheet, fields: Fields): readonly string[] {
  if (sheet === "wrap") return fields["purpose"] === undefined ? [] : propertiesOf(sheet, fields);
  if (sheet === "other") return fields["property"] === undefined ? [] : [propertyNamed(fields["property"].text)];
  return propertiesOf(sheet, fields).filter((property) => {
    const field = TENSILE_FIELDS[property];
    return field === undefined || fields[field] !== undefined;
  });
}
