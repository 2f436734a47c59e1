/** The setting `equipment`: the lab's machines and what lies on their shelves. */
import { z } from "zod";
import { isDecimalText } from "../../core/decimal.ts";
import { type AnyUnit, convertNumber, type Dimension, dimensionOf, isUnit, type Measure } from "../../core/quantity.ts";
import type { Tester } from "../../core/setup/index.ts";

const EXAMPLES = { mass: "0.5 kg", length: "500 mm", force: "5 kN" } as const;
type Amounts = keyof typeof EXAMPLES;

/** "500 mm" as an exact amount of one dimension; none of them can be below zero. */
function amountText(dimension: Amounts & Dimension) {
  return z.string().refine((text) => {
    const { text: number, unit } = amountOf(text);
    return isDecimalText(number) && !number.startsWith("-") && isUnit(unit) && dimensionOf(unit) === dimension;
  }, `a ${dimension} such as "${EXAMPLES[dimension]}"`);
}

function amountOf(text: string): Measure {
  const at = text.indexOf(" ");
  return { text: text.slice(0, at), unit: text.slice(at + 1) as AnyUnit };
}

const speedText = z.string().regex(/^\d+(?:\.\d+)? r\/min$/, 'a speed such as "60 r/min"');
const weight = z.strictObject({ name: z.string().min(1), mass: amountText("mass") });

/** One machine. A list that is left out is not known; an empty one says that the shelf holds nothing. */
export const machineSchema = z
  .strictObject({
    name: z.string().min(1),
    kind: z.enum(["torsion", "wrap", "tensile", "bend"]),
    freeLengthMin: amountText("length").optional().describe("smallest length between the jaws"),
    freeLengthMax: amountText("length").optional().describe("largest length between the jaws"),
    gripLength: amountText("length").optional().describe("what each jaw holds"),
    speedMin: speedText.optional(),
    speedMax: speedText.optional(),
    hanger: weight.optional(),
    weights: z.array(weight).optional().describe("on the shelf, each used once"),
    mandrels: z.array(amountText("length")).optional().describe("diameters of the mandrels on the shelf"),
    radii: z.array(amountText("length")).optional().describe("radii of the bend cylinders"),
    forceMin: amountText("force").optional().describe("smallest force it measures"),
    forceMax: amountText("force").optional().describe("largest force it measures"),
  })
  .superRefine((machine, context) => {
    for (const name of ["freeLength", "speed", "force"] as const) {
      const [min, max] = [machine[`${name}Min`], machine[`${name}Max`]];
      if (min !== undefined && max !== undefined && sizeOf(min) > sizeOf(max))
        context.addIssue({ code: "custom", message: `${name}Min "${min}" is above ${name}Max "${max}"`, path: [`${name}Max`] });
    }
  });

const BASE = { length: "mm", force: "N", mass: "g" } as const;

/** For ordering the two ends of one range. */
function sizeOf(text: string): number {
  const { text: number, unit } = amountOf(text);
  return isUnit(unit) ? convertNumber({ text: number, unit }, BASE[dimensionOf(unit) as Amounts]) : Number(number);
}

/** The machines as the set-up plan takes them. */
export function testersOf({ equipment }: { readonly equipment: readonly z.output<typeof machineSchema>[] }): readonly Tester[] {
  return equipment.map(({ name, kind, hanger, weights, mandrels, radii, speedMin, speedMax, ...amounts }) => ({
    name,
    kind,
    ...Object.fromEntries(Object.entries(amounts).flatMap(([key, text]) => (text === undefined ? [] : [[key, amountOf(text)]]))),
    ...(speedMin === undefined ? {} : { speedMin: amountOf(speedMin).text }),
    ...(speedMax === undefined ? {} : { speedMax: amountOf(speedMax).text }),
    ...(hanger === undefined ? {} : { hanger: { name: hanger.name, mass: amountOf(hanger.mass) } }),
    ...(weights === undefined ? {} : { weights: weights.map((w) => ({ name: w.name, mass: amountOf(w.mass) })) }),
    ...(mandrels === undefined ? {} : { mandrels: mandrels.map(amountOf) }),
    ...(radii === undefined ? {} : { radii: radii.map(amountOf) }),
  }));
}
