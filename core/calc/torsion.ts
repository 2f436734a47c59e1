import { CalcError } from "../calc-error.ts";
import { compareExact, exact, toDecimalText, toNumber } from "../decimal.ts";
import { scaleTurns, torsionStrain, torsionStress } from "../formulas/torsion.ts";
import { counterweights, torsionLength, torsionTension } from "../methods/index.ts";
import { convertExact, type Measure, type Unit } from "../quantity.ts";
import { type Calculation, calculation, present, quantityOf } from "./calculation.ts";
import { stressUnit } from "./tensile.ts";

export const TORSION: readonly Calculation[] = [
  calculation({
    name: "torsion-length",
    description: "the free length a standard asks for, within what the tester can hold",
    example: { standard: "ISO 7800:2012", diameter: "2.00 mm" },
    read: (input) => {
      const [testerMin, testerMax] = [input.optionalQuantity("testerMin", "length"), input.optionalQuantity("testerMax", "length")];
      refuseAboveMeasure("testerMin", testerMin, "testerMax", testerMax);
      return { standard: input.text("standard"), diameter: input.quantity("diameter", "length"), testerMin, testerMax };
    },
    answer(question) {
      const { freeLength, rule, provenance, scaledFrom } = torsionLength(question);
      return present({ freeLength: quantityOf(freeLength), rule, provenance, scaledFrom: scaledFrom && quantityOf(scaledFrom) });
    },
  }),
  calculation({
    name: "torsion-scale",
    description: "turns on another free length",
    example: { turns: "25", from: "200 mm", to: "203.2 mm" },
    read: (input) => ({
      turns: input.decimal("turns", "from-zero"),
      from: input.quantity("from", "length"),
      to: input.quantity("to", "length"),
    }),
    answer: ({ turns, from, to }) => ({ turns: toNumber(scaleTurns(turns, from, to)) }),
  }),
  calculation({
    name: "torsion-strain",
    description: "strain of the surface after so many turns",
    example: { diameter: "2.0 mm", turns: "25", length: "200 mm" },
    read: (input) => ({
      diameter: input.quantity("diameter", "length"),
      turns: input.decimal("turns", "from-zero"),
      length: input.quantity("length", "length"),
    }),
    answer: ({ diameter, turns, length }) => ({ ...torsionStrain(diameter, turns, length) }),
  }),
  calculation({
    name: "torsion-stress",
    description: "shear stress of the surface under a torque",
    example: { diameter: "2.0 mm", torque: "1500 N mm" },
    read: (input) => ({ diameter: input.quantity("diameter", "length"), torque: input.quantity("torque", "torque", "from-zero") }),
    answer({ diameter, torque }) {
      const unit = stressUnit(diameter);
      const { elastic, plastic } = torsionStress(diameter, torque, unit);
      return { elastic: { value: elastic, unit }, plastic: { value: plastic, unit } };
    },
  }),
  calculation({
    name: "torsion-tension",
    description: "the tension a standard allows in the torsion test, as force and mass",
    example: { standard: "ISO 7800", diameter: "2.0 mm", tensileStrength: "1770 MPa" },
    read: (input) => ({
      standard: input.text("standard"),
      diameter: input.quantity("diameter", "length"),
      tensileStrength: input.optionalQuantity("tensileStrength", "stress"),
    }),
    answer({ standard, diameter, tensileStrength }) {
      const { min, max, minMass, maxMass, forceUnit, massUnit, provenance } = torsionTension(standard, diameter, tensileStrength);
      const amount = (value: number | undefined, unit: Unit) => (value === undefined ? undefined : { value, unit });
      return present({
        min: amount(min, forceUnit),
        max: amount(max, forceUnit),
        minMass: amount(minMass, massUnit),
        maxMass: amount(maxMass, massUnit),
        provenance,
      });
    },
  }),
  calculation({
    name: "counterweights",
    description: "the fewest weights of the shelf that act on the wire within a band",
    example: { max: "11.3 kg", weights: ["5 kg", "2 kg", "1 kg"], hanger: "0.5 kg" },
    read: (input) => {
      const min = input.optionalQuantity("min", "mass", "from-zero");
      const max = input.quantity("max", "mass");
      refuseAboveMeasure("min", min, "max", max);
      return {
        min,
        max,
        weights: input.quantities("weights", "mass"),
        hanger: input.optionalQuantity("hanger", "mass", "from-zero"),
        ratio: input.optionalDecimal("ratio", "above-zero") ?? "1",
      };
    },
    answer(question) {
      const { chosen, total } = counterweights(question);
      return {
        chosen: chosen.map((mass) => quantityOf(mass)),
        total: quantityOf({ text: toDecimalText(total, 20), unit: "g" }, question.max.unit as Unit),
      };
    },
  }),
];

/** @throws CalcError `wrong-input` where both are given and `low` is above `high` */
function refuseAboveMeasure(lowKey: string, low: Measure | undefined, highKey: string, high: Measure | undefined): void {
  if (low === undefined || high === undefined) return;
  const unit = high.unit as Unit;
  if (compareExact(convertExact(exact(low.text), low.unit as Unit, unit), exact(high.text)) > 0)
    throw new CalcError(
      "wrong-input",
      `${lowKey}: found "${low.text} ${low.unit}", above ${highKey} ${high.text} ${high.unit}; accepted is at most that`,
    );
}
