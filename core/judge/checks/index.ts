import type { TestSheet } from "../../model.ts";
import type { Check } from "../context.ts";
import { checkCoatingMass } from "./coating.ts";
import { checkDiameter, checkOutOfRound } from "./diameter.ts";
import { checkOther } from "./other.ts";
import { checkBreakingForce, checkElongation, checkProofStrength, checkReductionOfArea, checkTensileStrength } from "./tensile.ts";
import { checkTorsion } from "./torsion.ts";
import { checkAdherence, checkCoiling, checkReverseBend, checkWrap } from "./wrap.ts";

/** Which properties a row of each sheet can answer, and how. The sheet Other answers any property it names. */
export const CHECKS: Readonly<Record<Exclude<TestSheet, "other">, Readonly<Record<string, Check>>>> = {
  diameter: { diameter: checkDiameter, "out-of-round": checkOutOfRound },
  tensile: {
    "tensile-strength": checkTensileStrength,
    "proof-strength": checkProofStrength,
    "breaking-force": checkBreakingForce,
    elongation: checkElongation,
    "reduction-of-area": checkReductionOfArea,
  },
  torsion: { torsion: checkTorsion },
  wrap: { wrap: checkWrap, adherence: checkAdherence },
  coiling: { coiling: checkCoiling },
  "reverse-bend": { "reverse-bend": checkReverseBend },
  "coating-mass": { "coating-mass": checkCoatingMass },
};

/** Every property that a sheet of its own carries. */
export const SHEET_PROPERTIES: ReadonlySet<string> = new Set(Object.values(CHECKS).flatMap((checks) => Object.keys(checks)));

export const otherCheck: Check = checkOther;
