/** The machines and tools of a laboratory, as data. */
import type { Measure } from "../model.ts";

/**
 * A machine with what lies on its shelf. Lengths, forces and masses are decimal text with a unit, speeds plain decimal text in r/min.
 * An end of a range that is left out is not bounded; a list that is left out is not known, an empty one holds nothing.
 */
export interface Tester {
  readonly name: string;
  readonly kind: "torsion" | "wrap" | "tensile" | "bend";
  /** Between the jaws. */
  readonly freeLengthMin?: Measure;
  readonly freeLengthMax?: Measure;
  readonly speedMin?: string;
  readonly speedMax?: string;
  /** What each jaw holds. */
  readonly gripLength?: Measure;
  readonly hanger?: Weight;
  readonly weights?: readonly Weight[];
  /** Diameters of the mandrels on the shelf. */
  readonly mandrels?: readonly Measure[];
  /** Radii of the bend cylinders. */
  readonly radii?: readonly Measure[];
  readonly forceMin?: Measure;
  readonly forceMax?: Measure;
}

export interface Weight {
  readonly name: string;
  readonly mass: Measure;
}

/**
 * Why a test cannot be done as the rule asks. `from` and `to` are what is needed (equal where it is one figure),
 * `nearest` what the machine offers next to it.
 */
export interface SetUpProblem {
  readonly code: "no-machine" | "free-length" | "speed" | "tension" | "mandrel" | "radius" | "force";
  readonly machine?: string;
  readonly from?: Measure;
  readonly to?: Measure;
  readonly nearest: readonly Measure[];
  /** A condition at hand that is harder than the required one: under it a pass counts and a failure is void. */
  readonly harder?: Measure;
}
