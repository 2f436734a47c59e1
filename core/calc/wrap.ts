import { bendStrain, wrapStrain } from "../formulas/deformation.ts";
import { bendRadius, wrapMandrel } from "../methods/index.ts";
import { type Calculation, calculation, present, quantityOf } from "./calculation.ts";

export const WRAP: readonly Calculation[] = [
  calculation({
    name: "wrap-mandrel",
    description: "mandrel and wraps a standard asks for",
    example: { standard: "ASTM A877", grade: "B", diameter: "3.5 mm", purpose: "ductility" },
    read: (input) => ({
      standard: input.text("standard"),
      grade: input.optionalText("grade"),
      diameter: input.quantity("diameter", "length"),
      purpose: input.word("purpose", ["ductility", "adherence"]),
    }),
    answer(question) {
      const { mandrelDiameter, wraps, rule, provenance } = wrapMandrel(question);
      return present({
        mandrelDiameter: quantityOf(mandrelDiameter),
        wraps: wraps === undefined ? undefined : Number(wraps),
        rule,
        provenance,
      });
    },
  }),
  calculation({
    name: "wrap-strain",
    description: "strain of the outer fibre in a wrap",
    example: { diameter: "2.0 mm", mandrelDiameter: "2.0 mm" },
    read: (input) => ({
      diameter: input.quantity("diameter", "length"),
      mandrelDiameter: input.quantity("mandrelDiameter", "length"),
    }),
    answer: ({ diameter, mandrelDiameter }) => ({ strain: wrapStrain(diameter, mandrelDiameter) }),
  }),
  calculation({
    name: "bend-strain",
    description: "strain of the outer fibre in a bend",
    example: { diameter: "3.5 mm", radius: "10 mm" },
    read: (input) => ({ diameter: input.quantity("diameter", "length"), radius: input.quantity("radius", "length") }),
    answer: ({ diameter, radius }) => ({ strain: bendStrain(diameter, radius) }),
  }),
  calculation({
    name: "bend-radius",
    description: "cylinder radius and guide distance of the reverse bend test",
    example: { diameter: "2.00 mm" },
    read: (input) => input.quantity("diameter", "length"),
    answer(diameter) {
      const { radius, distance, provenance } = bendRadius(diameter);
      return { radius: quantityOf(radius), distance: quantityOf(distance), provenance };
    },
  }),
];
