/** Torsion: free length, weights, speed, programme. */
import { addExact, compareExact, type Exact, exact, multiplyExact, toDecimalText, toNumber } from "../decimal.ts";
import { forceAtShare } from "../formulas/stress.ts";
import { scaleTurns } from "../formulas/torsion.ts";
import { counterweights, torsionLength, torsionTension } from "../methods/index.ts";
import type { ConductRules, Measure, OrderVerdict } from "../model.ts";
import { convertExact, convertNumber, type Unit } from "../quantity.ts";
import { answered, compareMeasures, cutText, inUnit, shortFigure, tolerated } from "./amounts.ts";
import type { SetUpProblem, Tester } from "./equipment.ts";
import { programmeOf } from "./programme.ts";
import type { Settings, SettingsOn, SetUpQuestion } from "./set-up.ts";

/** The method behind a specification that names no torsion standard of its own. */
const TORSION_STANDARD = "ISO 7800";
/** A bent end keeps the piece from slipping out of a jaw. From practice: common practice, no source. */
const BENT_END_DIAMETERS = "5";
/** What a jaw holds where the machine does not say: common practice, no source. */
const USUAL_GRIP: Measure = { text: "20", unit: "mm" };

export const torsionSettings: SettingsOn = (question, tester) => {
  const { verdict, conduct, requirement } = question;
  const { nominalDiameter: nominal } = verdict;
  const unit = nominal.unit as Unit;
  const length = freeLengthOn(question, tester);
  const ends = multiplyExact(
    exact("2"),
    addExact(inUnit(tester?.gripLength ?? USUAL_GRIP, unit), multiplyExact(exact(BENT_END_DIAMETERS), exact(nominal.text))),
  );
  const rule = conduct.torsionGripDistance;
  const gripDistance: Measure = rule.length ?? {
    text: toDecimalText(multiplyExact(exact(rule.timesDiameter ?? "2"), exact(nominal.text))),
    unit: nominal.unit,
  };
  const programme = requirement.torsionProgramme === undefined ? undefined : programmeOf(requirement.torsionProgramme);
  const speed = speedOn(question, tester);
  const tension = tensionOn(question, tester);
  return {
    ...(tester === undefined ? {} : { tester: tester.name }),
    problems: [...length.problems, ...speed.problems, ...tension.problems],
    ...(length.set === undefined ? {} : { freeLength: length.set, cutLength: cutText(addExact(inUnit(length.set, unit), ends), unit) }),
    ...(length.scaled === undefined ? {} : { scaled: length.scaled }),
    gripDistance,
    ...(programme === undefined ? {} : { programme }),
    ...speed.settings,
    ...tension.settings,
  };
};

interface FreeLength {
  readonly set?: Measure;
  readonly scaled?: NonNullable<Settings["scaled"]>;
  readonly problems: readonly SetUpProblem[];
}

/** The required length where the machine holds it, the end of its range where that lies within the tolerance, else scaled or a problem. */
function freeLengthOn({ requirement, verdict, conduct, freeLengthTolerance }: SetUpQuestion, tester: Tester | undefined): FreeLength {
  const required = requirement.conditions.freeLength ?? lengthByMethod(verdict.nominalDiameter);
  if (required === undefined) return { problems: [] };
  const [min, max] = [tester?.freeLengthMin, tester?.freeLengthMax];
  const end =
    min !== undefined && compareMeasures(required, min) < 0
      ? min
      : max !== undefined && compareMeasures(required, max) > 0
        ? max
        : undefined;
  if (end === undefined) return { set: required, problems: [] };
  const [from, to] = tolerated(required, conduct.freeLengthTolerance ?? freeLengthTolerance);
  const nearest = inOwnUnit(end, required);
  if (compareMeasures(nearest, from) >= 0 && compareMeasures(nearest, to) <= 0) return { set: nearest, problems: [] };
  // Turns go with the length; cycles and surviving do not.
  const scales = ["total", "reverse"].includes(requirement.torsionProgramme?.counts ?? "total");
  if (conduct.torsionScalingAllowed && requirement.min !== undefined && scales) {
    const turns = scaleTurns(requirement.min, required, nearest);
    return {
      set: nearest,
      scaled: { from: required, turns: toDecimalText(turns), wholeTurns: wholeAtLeast(turns) },
      problems: [],
    };
  }
  const shorter = compareMeasures(nearest, required) < 0;
  return {
    set: required,
    problems: [
      {
        code: "free-length",
        ...(tester === undefined ? {} : { machine: tester.name }),
        from: required,
        to: required,
        nearest: [nearest],
        ...(shorter ? { harder: nearest } : {}),
      },
    ],
  };
}

/** Part turns do not count, so a scaled requirement is met by the next whole turn. */
function wholeAtLeast(turns: Exact): string {
  return ((turns.numerator + turns.denominator - 1n) / turns.denominator).toString();
}

const inOwnUnit = (length: Measure, like: Measure): Measure =>
  length.unit === like.unit ? length : { text: toDecimalText(inUnit(length, like.unit as Unit)), unit: like.unit };

function lengthByMethod(diameter: Measure): Measure | undefined {
  return answered(() => torsionLength({ standard: TORSION_STANDARD, diameter }).freeLength);
}

function speedOn(
  { conduct }: SetUpQuestion,
  tester: Tester | undefined,
): { settings: Pick<Settings, "speed">; problems: readonly SetUpProblem[] } {
  const most = conduct.torsionMaximumSpeed ?? conduct.torsionAdvisedSpeed;
  if (most === undefined) return { settings: {}, problems: [] };
  const advised = conduct.torsionMaximumSpeed === undefined;
  const own = tester?.speedMax;
  const slower = own !== undefined && compareExact(exact(own), exact(most.text)) < 0;
  const settings = { speed: { most: most.text, advised, ...(slower ? { machineMost: own } : {}) } };
  // A usual speed only warns, so a machine that turns faster can still do the test.
  if (advised || tester?.speedMin === undefined || compareExact(exact(tester.speedMin), exact(most.text)) <= 0)
    return { settings, problems: [] };
  const at = (text: string): Measure => ({ text, unit: "r/min" });
  return {
    settings,
    problems: [{ code: "speed", machine: tester.name, from: at(most.text), to: at(most.text), nearest: [at(tester.speedMin)] }],
  };
}

/**
 * Highest tension by the specification or the method, the mass that makes it, and the weights that hit the band from half of it upward.
 * @source ISO 7800:2012, tension (see core/methods/torsion-tension.ts); half of it as the least: common practice, no source
 */
function tensionOn(
  { verdict, conduct }: SetUpQuestion,
  tester: Tester | undefined,
): { settings: Pick<Settings, "tension" | "weights">; problems: readonly SetUpProblem[] } {
  const band = bandOf(verdict, conduct);
  if (band === undefined) return { settings: {}, problems: [] };
  const { most, least, force, mass } = band;
  // Under standard gravity one pound-force hangs from one pound.
  const massOf = (value: number): number => (force === "lbf" ? value : value / GRAVITY);
  const tension = {
    most: { text: shortFigure(most), unit: force },
    mostMass: { text: shortFigure(massOf(most)), unit: mass },
    leastMass: { text: shortFigure(massOf(least)), unit: mass },
  };
  if (tester?.weights === undefined) return { settings: { tension }, problems: [] };
  const weights = weightsFor({ ...tester, weights: tester.weights }, massOf(most), massOf(least), mass, band.fixed);
  if (weights !== undefined) return { settings: { tension, weights }, problems: [] };
  const lightest = tester.hanger?.mass ?? [...tester.weights].map((w) => w.mass).sort(compareMeasures)[0];
  const problem: SetUpProblem = {
    code: "tension",
    machine: tester.name,
    from: tension.leastMass,
    to: tension.mostMass,
    nearest: lightest === undefined ? [] : [lightest],
  };
  return { settings: { tension }, problems: [problem] };
}

/** Standard gravity, m/s2. @source CGPM 1901 */
const GRAVITY = 9.80665;

interface TensionBand {
  readonly most: number;
  readonly least: number;
  readonly force: "N" | "lbf";
  readonly mass: "kg" | "lb";
  /** The least is the rule's own, not ours. */
  readonly fixed: boolean;
}

/** The forces of the specification, else its share of the nominal strength, else the method's. */
function bandOf({ coils, nominalDiameter: diameter }: OrderVerdict, conduct: ConductRules): TensionBand | undefined {
  const [force, mass] = diameter.unit === "in" ? (["lbf", "lb"] as const) : (["N", "kg"] as const);
  const own = conduct.torsionTension;
  if (own?.max !== undefined) {
    const most = convertNumber(own.max, force);
    return { most, least: own.min === undefined ? most / 2 : convertNumber(own.min, force), force, mass, fixed: own.min !== undefined };
  }
  const strength = coils[0]?.requirements.find((r) => r.property === "tensile-strength" && r.requirement.agreedIn === undefined);
  const limit = strength?.requirement;
  if (limit?.min === undefined || (limit.unit !== "MPa" && limit.unit !== "ksi")) return undefined;
  const nominalStrength = { text: limit.min, unit: limit.unit } as const;
  const share = conduct.torsionMaximumTensionShare;
  const most =
    share === undefined
      ? answered(() => torsionTension(TORSION_STANDARD, diameter, nominalStrength).max)
      : forceAtShare(nominalStrength, diameter, Number(share), force);
  return most === undefined ? undefined : { most, least: most / 2, force, mass, fixed: false };
}

/** Parts of the least, tried one after another where the shelf has nothing in the band and the least is ours. */
const LEAST_PARTS = [1, 0.8, 0.6, 0.4, 0.2, 0];

function weightsFor(
  tester: Tester & { readonly weights: NonNullable<Tester["weights"]> },
  mostMass: number,
  leastMass: number,
  unit: Unit,
  fixed: boolean,
): Settings["weights"] | undefined {
  for (const part of fixed ? [1] : LEAST_PARTS) {
    const chosen = answered(() =>
      counterweights({
        min: { text: (leastMass * part).toFixed(9), unit },
        max: { text: mostMass.toFixed(9), unit },
        weights: tester.weights.map((w) => w.mass),
        hanger: tester.hanger?.mass,
        ratio: "1",
      }),
    );
    if (chosen === undefined || (chosen.chosen.length === 0 && tester.hanger === undefined)) continue;
    // Weights of equal mass are told apart by their place on the shelf, so each name is given once.
    const left = [...chosen.chosen];
    const names = tester.weights.flatMap((w) => {
      const at = left.indexOf(w.mass);
      if (at < 0) return [];
      left.splice(at, 1);
      return [w.name];
    });
    return {
      names: [...(tester.hanger === undefined ? [] : [tester.hanger.name]), ...names],
      total: { text: shortFigure(toNumber(convertExact(chosen.total, "g", unit))), unit },
      light: part < 1,
    };
  }
  return undefined;
}
