import type { EntryRow, TestSheet } from "../../model.ts";
import type { Check } from "../context.ts";
import { checkCoatingMass } from "./coating.ts";
import { checkDiameter, checkOutOfRound } from "./diameter.ts";
import { checkFractureAppearance } from "./fracture.ts";
import { checkOther, propertyOfOther } from "./other.ts";
import { checkBreakingForce, checkElongation, checkProofStrength, checkReductionOfArea, checkTensileStrength } from "./tensile.ts";
import { checkTorsion } from "./torsion.ts";
import { checkAdherence, checkCoiling, checkReverseBend, checkWrap } from "./wrap.ts";

/** Which properties a row of each sheet can answer, and how. The sheet Other answers any property it names. */
const CHECKS: Readonly<Record<Exclude<TestSheet, "other">, Readonly<Record<string, Check>>>> = {
  diameter: { diameter: checkDiameter, "out-of-round": checkOutOfRound },
  tensile: {
    "tensile-strength": checkTensileStrength,
    "proof-strength": checkProofStrength,
    "breaking-force": checkBreakingForce,
    elongation: checkElongation,
    "reduction-of-area": checkReductionOfArea,
  },
  torsion: { torsion: checkTorsion, "fracture-appearance": checkFractureAppearance },
  wrap: { wrap: checkWrap, adherence: checkAdherence },
  coiling: { coiling: checkCoiling },
  "reverse-bend": { "reverse-bend": checkReverseBend },
  "coating-mass": { "coating-mass": checkCoatingMass },
};

/** Properties of the sheet Other that are more than a value or a word of the lab's own. */
const OF_OTHER: Readonly<Record<string, Check>> = { "fracture-appearance": checkFractureAppearance };

/** The check by which a row answers a property, or undefined where it does not concern it. */
export function checkFor(row: EntryRow, property: string): Check | undefined {
  if (row.sheet === "other") return propertyOfOther(row) === property ? (OF_OTHER[property] ?? checkOther) : undefined;
  const checks = CHECKS[row.sheet as keyof typeof CHECKS] as Readonly<Record<string, Check>> | undefined;
  return checks?.[property];
}
