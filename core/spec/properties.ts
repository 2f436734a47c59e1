/**
 * The property names of the contract that stand alone.
 * @source CALC.md, "Properties"
 */
export const PROPERTIES = [
  "tensile-strength",
  "proof-strength",
  "breaking-force",
  "elongation",
  "reduction-of-area",
  "torsion",
  "wrap",
  "adherence",
  "coiling",
  "u-bend",
  "reverse-bend",
  "coating-mass",
  "diameter",
  "out-of-round",
  "fracture-appearance",
] as const;

const NAMES: ReadonlySet<string> = new Set(PROPERTIES);

/** What is accepted, for error texts. */
export const ACCEPTED_PROPERTIES = `${PROPERTIES.join(", ")}, chemistry:<element symbol> or other:<name>`;

/** True for a property name of the contract, `chemistry:C` and `other:<name>` included. */
export const isPropertyName = (text: string): boolean => NAMES.has(text) || /^chemistry:[A-Z][a-z]?$/.test(text) || /^other:\S/.test(text);
