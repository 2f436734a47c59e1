import { CalcError } from "../calc-error.ts";
import { exact } from "../decimal.ts";
import { forceAtShare, systemOf } from "../formulas/stress.ts";
import type { Measure, Provenance } from "../model.ts";
import { roundToStep } from "../rounding.ts";
import { lengthIn, rowOf } from "./bands.ts";
import { API_9A_TENSIONS, TENSION_SHARES } from "./data/torsion-tension.ts";
import { heldStandard } from "./standards.ts";

export interface TorsionTension {
  /** Forces in N or lbf, as the diameter's unit system; their masses in kg or lb under standard gravity. */
  readonly min?: number;
  readonly max: number;
  readonly minMass?: number;
  readonly maxMass: number;
  readonly forceUnit: "N" | "lbf";
  readonly massUnit: "kg" | "lb";
  readonly provenance: Provenance;
}

/** Standard gravity, m/s2. @source CGPM 1901 */
const GRAVITY = 9.80665;

/**
 * The tension allowed in a torsion test and the masses that make it. The share rules need the wire's tensile strength.
 * @throws CalcError `unknown-standard`, `wrong-input` (the rule needs the strength and it is missing), `no-rule`, `outside-scope`
 */
export function torsionTension(standard: string, diameter: Measure, tensileStrength: Measure | undefined): TorsionTension {
  const { id } = heldStandard(standard);
  const inch = systemOf(diameter) === "in";
  if (id === "API 9A") return apiTension(diameter, inch);
  const rule = TENSION_SHARES[id];
  if (rule === undefined) throw new CalcError("no-rule", `${id}: no figure for the tension in a torsion test is held`);
  if (tensileStrength === undefined)
    throw new CalcError("wrong-input", `tensileStrength: missing; ${id} allows a share of it, accepted is a stress such as "1770 MPa"`);
  rowOf([rule], lengthIn(diameter, "mm"), `${id}, torsion`, diameter);
  const max = forceAtShare(tensileStrength, diameter, Number(rule.share), inch ? "lbf" : "N");
  return { max, maxMass: massOf(max, inch), ...units(inch), provenance: rule.provenance };
}

/** The printed sizes leave gaps, so the diameter is first rounded to the printed places. */
function apiTension(diameter: Measure, inch: boolean): TorsionTension {
  const unit = inch ? "in" : "mm";
  const d = exact(roundToStep(lengthIn(diameter, unit), inch ? "0.001" : "0.01", "even"));
  const rows = API_9A_TENSIONS.map((row) => ({ ...row[unit], min: inch ? row.in.lbf : row.mm.N }));
  const min = Number(rowOf(rows, d, "API 9A, tension", diameter).min);
  const max = 2 * min;
  return { min, max, minMass: massOf(min, inch), maxMass: massOf(max, inch), ...units(inch), provenance: "read" };
}

/** A pound-force is the weight of a pound under standard gravity, by definition. */
const massOf = (force: number, inch: boolean): number => (inch ? force : force / GRAVITY);
const units = (inch: boolean): Pick<TorsionTension, "forceUnit" | "massUnit"> =>
  inch ? { forceUnit: "lbf", massUnit: "lb" } : { forceUnit: "N", massUnit: "kg" };
