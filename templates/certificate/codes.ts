/**
 * Information codes printed small in the margin.
 * @source EN 10168:2004 (some read in a secondary description, the others from memory)
 */
export const CODES = {
  issuer: "A01",
  type: "A02",
  number: "A03",
  customer: "A06",
  customerOrder: "A07",
  order: "A08",
  delivery: "A10",
  product: "B01",
  specification: "B02",
  coatingClass: "B03",
  coils: "B08",
  nominalDiameter: "B09",
  statement: "Z01",
  issuedOn: "Z02",
} as const;

export const PROPERTY_CODES: Readonly<Record<string, string>> = {
  "tensile-strength": "C12",
  "proof-strength": "C11",
  elongation: "C13",
  "reduction-of-area": "C14",
  torsion: "C50",
  wrap: "C52",
  adherence: "D52",
  coiling: "C53",
  "reverse-bend": "C51",
  "coating-mass": "D51",
  diameter: "D01",
  "out-of-round": "D01",
};
