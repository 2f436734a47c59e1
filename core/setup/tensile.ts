/** Tensile: forces that the limits mean on the nominal diameter, and a machine that can measure them. */
import { addExact, exact, multiplyExact } from "../decimal.ts";
import type { Measure, Requirement } from "../model.ts";
import { convertNumber, dimensionOf, isUnit, type Unit } from "../quantity.ts";
import { compareMeasures, cutText, inUnit } from "./amounts.ts";
import type { SetUpProblem, Tester } from "./equipment.ts";
import type { SettingsOn } from "./set-up.ts";

/** Newtons in a pound-force. @source standard gravity (CGPM 1901) times the pound of 1959 */
const POUND_FORCE = 4.4482216152605;

export const tensileSettings: SettingsOn = ({ requirement, also, verdict }, tester) => {
  const { nominalDiameter: nominal } = verdict;
  const unit = nominal.unit as Unit;
  const ends = [requirement, ...also].map((r) => forces(r, nominal));
  const min = most(ends.map((end) => end.min));
  const max = most(ends.map((end) => end.max));
  const length =
    tester?.freeLengthMin === undefined
      ? undefined
      : addExact(
          inUnit(tester.freeLengthMin, unit),
          multiplyExact(exact("2"), inUnit(tester.gripLength ?? { text: "50", unit: "mm" }, unit)),
        );
  return {
    ...(tester === undefined ? {} : { tester: tester.name }),
    problems: tester === undefined ? [] : forceProblems(tester, min, max),
    ...(length === undefined ? {} : { cutLength: cutText(length, unit) }),
    ...(min === undefined ? {} : { forceAtMin: min }),
    ...(max === undefined ? {} : { forceAtMax: max }),
  };
};

/** The limits of a strength or a breaking force as forces on the nominal diameter. */
function forces(requirement: Requirement, nominal: Measure): { min?: Measure; max?: Measure } {
  const { unit } = requirement;
  if (unit === "" || !isUnit(unit)) return {};
  const inch = nominal.unit === "in";
  const dimension = dimensionOf(unit);
  if (dimension !== "stress" && dimension !== "force") return {};
  const d = convertNumber(nominal, "mm");
  const at = (text: string): Measure => {
    const newtons =
      dimension === "force" ? convertNumber({ text, unit }, "N") : convertNumber({ text, unit }, "MPa") * ((Math.PI * d * d) / 4);
    const value = inch ? newtons / POUND_FORCE : newtons;
    return { text: value.toFixed(value >= 100 ? 0 : 1), unit: inch ? "lbf" : "N" };
  };
  return {
    ...(requirement.min === undefined ? {} : { min: at(requirement.min) }),
    ...(requirement.max === undefined ? {} : { max: at(requirement.max) }),
  };
}

const most = (amounts: readonly (Measure | undefined)[]): Measure | undefined =>
  amounts
    .filter((amount) => amount !== undefined)
    .sort(compareMeasures)
    .at(-1);

/** A good wire breaks between the two forces, so the machine has to reach the upper one and to measure at the lower one. */
function forceProblems(tester: Tester, min: Measure | undefined, max: Measure | undefined): readonly SetUpProblem[] {
  const [low, high] = [min ?? max, max ?? min];
  if (low === undefined || high === undefined) return [];
  const problem = (nearest: Measure): readonly SetUpProblem[] => [
    { code: "force", machine: tester.name, from: low, to: high, nearest: [nearest] },
  ];
  if (tester.forceMax !== undefined && compareMeasures(high, tester.forceMax) > 0) return problem(tester.forceMax);
  if (tester.forceMin !== undefined && compareMeasures(low, tester.forceMin) < 0) return problem(tester.forceMin);
  return [];
}
