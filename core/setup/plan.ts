/** Set-ups: what has to be set on which machine for which pieces, worked out from the order and the rules that judge it. Pure. */
import { CalcError } from "../calc-error.ts";
import { addExact, divideExact, exact, multiplyExact, toDecimalText, toNumber } from "../decimal.ts";
import { forceAtShare } from "../formulas/stress.ts";
import { counterweights, torsionTension } from "../methods/index.ts";
import type { ConductRules, Measure, NextStep, OrderVerdict, Requirement, TestSheet } from "../model.ts";
import { convertExact, convertNumber, type Unit } from "../quantity.ts";

/** A machine of the laboratory. Lengths and masses are decimal text with a unit, as in the settings. */
export interface Tester {
  readonly name: string;
  readonly kind: "torsion" | "wrap" | "tensile" | "bend";
  readonly freeLengthMin?: Measure;
  readonly freeLengthMax?: Measure;
  /** What each jaw holds. */
  readonly gripLength?: Measure;
  readonly hanger?: { readonly name: string; readonly mass: Measure };
  readonly weights?: readonly { readonly name: string; readonly mass: Measure }[];
  readonly mandrels?: readonly Measure[];
}

export interface Piece {
  readonly coil: string;
  readonly testPiece: string;
  readonly end?: NextStep["end"];
}

export interface SetUp {
  readonly order: string;
  readonly item: string;
  readonly specification: string;
  readonly grade: string;
  readonly property: string;
  readonly sheet: TestSheet;
  readonly nominal: Measure;
  readonly requirement: Requirement;
  /** Further properties read from the same rows: out of round beside the diameter, elongation beside the strength. */
  readonly also: readonly Requirement[];
  readonly pieces: readonly Piece[];
  readonly tester?: string;
  /** Length of one piece to cut, rounded up to a whole millimetre or tenth of an inch. */
  readonly cutLength?: Measure;
  readonly freeLength?: Measure;
  /** The required free length does not fit the tester. */
  readonly freeLengthFits?: boolean;
  /** Highest tension (force) and the mass that makes it, and the weights that hit the band. */
  readonly tension?: { readonly most: Measure; readonly mostMass: Measure; readonly leastMass: Measure };
  readonly weights?: { readonly names: readonly string[]; readonly total: Measure };
  readonly speed?: { readonly most: string; readonly advised: boolean };
  /** A break nearer than this to a jaw is at the grip. */
  readonly gripDistance?: Measure;
  readonly mandrel?: Measure;
  readonly mandrelMax?: Measure;
  readonly wraps?: string;
  readonly rate?: string;
  /** Forces at the ends of the limits, on the nominal diameter. */
  readonly forceAtMin?: Measure;
  readonly forceAtMax?: Measure;
}

const SHEETS: Readonly<Record<string, TestSheet>> = {
  "tensile-strength": "tensile",
  "proof-strength": "tensile",
  "breaking-force": "tensile",
  elongation: "tensile",
  "reduction-of-area": "tensile",
  torsion: "torsion",
  wrap: "wrap",
  adherence: "wrap",
  coiling: "coiling",
  "reverse-bend": "reverse-bend",
  "coating-mass": "coating-mass",
  diameter: "diameter",
  "out-of-round": "diameter",
};
/** One letter a test in the name of a piece: coil 71204 gives 71204-T1 for its first torsion piece. */
const LETTERS: Readonly<Record<string, string>> = {
  diameter: "D",
  tensile: "S",
  torsion: "T",
  wrap: "W",
  coiling: "C",
  "reverse-bend": "B",
  "coating-mass": "M",
  other: "X",
};

/** The sheet that carries a property; chemistry has none, what a lab named itself goes to Other. */
export function sheetOfProperty(property: string): TestSheet | undefined {
  if (property.startsWith("chemistry:")) return undefined;
  return SHEETS[property] ?? "other";
}

/**
 * The set-ups of one order item, from its judgement without any result: the pieces are those its next steps ask for.
 * @param conduct rules of the specification at the nominal diameter
 */
export function planSetUps(verdict: OrderVerdict, conduct: ConductRules, testers: readonly Tester[]): readonly SetUp[] {
  const groups = new Map<string, { requirement: Requirement; also: Requirement[]; pieces: Piece[] }>();
  const seen = new Map<string, number>();
  for (const coil of verdict.coils)
    for (const { property, requirement, next } of coil.requirements) {
      const sheet = sheetOfProperty(property);
      if (sheet === undefined) continue;
      const shared = sheet === "diameter" || sheet === "tensile";
      const group = groups.get(shared ? sheet : property) ?? { requirement, also: [], pieces: [] };
      groups.set(shared ? sheet : property, group);
      if (group.requirement.property !== property && !group.also.some((r) => r.property === property)) group.also.push(requirement);
      for (const step of next)
        if (step.do === "test")
          for (let i = 0; i < (step.pieces ?? 1); i += 1) {
            const letter = property === "adherence" ? "A" : (LETTERS[sheet] ?? "X");
            const counter = `${coil.coil}\u0000${letter}\u0000${property}`;
            const count = (seen.get(counter) ?? 0) + 1;
            seen.set(counter, count);
            const testPiece = `${coil.coil}-${letter}${count}`;
            if (group.pieces.some((piece) => piece.testPiece === testPiece)) continue;
            group.pieces.push({
              coil: coil.coil,
              testPiece,
              ...(step.end === undefined ? {} : { end: step.end }),
            });
          }
    }
  return [...groups.values()].map(({ requirement, also, pieces }) => ({
    order: verdict.order,
    item: verdict.item,
    specification: verdict.specification,
    grade: verdict.grade,
    property: requirement.property,
    sheet: sheetOfProperty(requirement.property) as TestSheet,
    nominal: verdict.nominalDiameter,
    requirement,
    also,
    pieces,
    ...settings(requirement.property, requirement, verdict, conduct, testers),
  }));
}

type Settings = Omit<
  SetUp,
  "order" | "item" | "specification" | "grade" | "property" | "sheet" | "nominal" | "requirement" | "also" | "pieces"
>;

function settings(
  property: string,
  requirement: Requirement,
  verdict: OrderVerdict,
  conduct: ConductRules,
  testers: readonly Tester[],
): Settings {
  switch (sheetOfProperty(property)) {
    case "torsion":
      return torsion(
        requirement,
        verdict,
        conduct,
        testers.find((t) => t.kind === "torsion"),
      );
    case "wrap":
    case "coiling":
      return winding(
        requirement,
        verdict.nominalDiameter,
        conduct,
        testers.find((t) => t.kind === "wrap"),
      );
    case "tensile":
      return tensile(
        requirement,
        verdict.nominalDiameter,
        testers.find((t) => t.kind === "tensile"),
      );
    case "reverse-bend":
      return named(testers.find((t) => t.kind === "bend"));
    default:
      return {};
  }
}

const named = (tester: Tester | undefined): { tester?: string } => (tester === undefined ? {} : { tester: tester.name });

const in_ = (m: Measure, unit: Unit) => convertExact(exact(m.text), m.unit as Unit, unit);
/** Rounded up, so that a piece is never too short. */
function cutText(length: ReturnType<typeof exact>, unit: Unit): Measure {
  const step = unit === "in" ? "0.1" : "1";
  const steps = divideExact(length, exact(step));
  const whole = (steps.numerator + steps.denominator - 1n) / steps.denominator;
  return { text: toDecimalText(multiplyExact(exact(whole.toString()), exact(step))), unit };
}

/** A bent end keeps the piece from slipping out of a jaw. From practice: common practice, no source. */
const BENT_END_DIAMETERS = "5";

function torsion(requirement: Requirement, verdict: OrderVerdict, conduct: ConductRules, tester: Tester | undefined): Settings {
  const { nominalDiameter: nominal } = verdict;
  const unit = nominal.unit as Unit;
  const freeLength = requirement.conditions.freeLength;
  const grip = tester?.gripLength ?? { text: "20", unit: "mm" as const };
  const ends = multiplyExact(exact("2"), addExact(in_(grip, unit), multiplyExact(exact(BENT_END_DIAMETERS), exact(nominal.text))));
  const fits =
    freeLength === undefined ||
    ((tester?.freeLengthMin === undefined || convertNumber(freeLength, "mm") >= convertNumber(tester.freeLengthMin, "mm")) &&
      (tester?.freeLengthMax === undefined || convertNumber(freeLength, "mm") <= convertNumber(tester.freeLengthMax, "mm")));
  const rule = conduct.torsionGripDistance;
  const gripDistance: Measure = rule.length ?? {
    text: toDecimalText(multiplyExact(exact(rule.timesDiameter ?? "2"), exact(nominal.text))),
    unit: nominal.unit,
  };
  const speed = conduct.torsionMaximumSpeed ?? conduct.torsionAdvisedSpeed;
  return {
    ...named(tester),
    ...(freeLength === undefined ? {} : { freeLength, cutLength: cutText(addExact(in_(freeLength, unit), ends), unit) }),
    ...(tester?.freeLengthMin === undefined && tester?.freeLengthMax === undefined ? {} : { freeLengthFits: fits }),
    gripDistance,
    ...(speed === undefined ? {} : { speed: { most: speed.text, advised: conduct.torsionMaximumSpeed === undefined } }),
    ...tensionBand(verdict, conduct, tester),
  };
}

/** The specification names no torsion standard of its own where its rules are those of ISO 7800. */
const TORSION_STANDARD = "ISO 7800";

/**
 * Highest tension by the test method, the mass that makes it, and the weights that hit the band from half of it upward.
 * @source ISO 7800:2012, tension (see core/methods/torsion-tension.ts); half of it as the least: common practice, no source
 */
function tensionBand(verdict: OrderVerdict, conduct: ConductRules, tester: Tester | undefined): Pick<SetUp, "tension" | "weights"> {
  const strength = verdict.coils[0]?.requirements.find((r) => r.property === "tensile-strength" && r.requirement.agreedIn === undefined);
  const limit = strength?.requirement;
  if (limit?.min === undefined || (limit.unit !== "MPa" && limit.unit !== "ksi")) return {};
  const own = conduct.torsionMaximumTensionShare;
  const nominalStrength = { text: limit.min, unit: limit.unit } as const;
  const inch = verdict.nominalDiameter.unit === "in";
  const most =
    own === undefined
      ? tensionByMethod(verdict.nominalDiameter, nominalStrength)
      : forceAtShare(nominalStrength, verdict.nominalDiameter, Number(own), inch ? "lbf" : "N");
  if (most === undefined) return {};
  const [force, mass]: readonly [Unit, Unit] = inch ? ["lbf", "lb"] : ["N", "kg"];
  // Under standard gravity one pound-force hangs from one pound.
  const mostMass = inch ? most : most / 9.80665;
  const tension = {
    most: { text: shortFigure(most), unit: force },
    mostMass: { text: shortFigure(mostMass), unit: mass },
    leastMass: { text: shortFigure(mostMass / 2), unit: mass },
  };
  if (tester?.weights === undefined || tester.weights.length === 0) return { tension };
  try {
    const chosen = counterweights({
      max: { text: mostMass.toFixed(9), unit: mass },
      weights: tester.weights.map((w) => w.mass),
      hanger: tester.hanger?.mass,
      ratio: "1",
    });
    const names = tester.weights.filter((w) => chosen.chosen.includes(w.mass)).map((w) => w.name);
    return {
      tension,
      weights: {
        names: [...(tester.hanger === undefined ? [] : [tester.hanger.name]), ...names],
        total: { text: shortFigure(toNumber(convertExact(chosen.total, "g", mass))), unit: mass },
      },
    };
  } catch (error) {
    // No choice of the shelf hits the band: the card shows the band alone.
    if (error instanceof CalcError) return { tension };
    throw error;
  }
}

function tensionByMethod(diameter: Measure, strength: Measure): number | undefined {
  try {
    return torsionTension(TORSION_STANDARD, diameter, strength).max;
  } catch (error) {
    if (error instanceof CalcError) return undefined;
    throw error;
  }
}

/** Three significant figures, as a card can be read from a step away. */
const shortFigure = (value: number): string => toDecimalText(exact(value.toFixed(value >= 100 ? 0 : value >= 10 ? 1 : 2)));

/** Turns of wire round a mandrel and a tail at each end: common practice, no source. */
function winding(requirement: Requirement, nominal: Measure, conduct: ConductRules, tester: Tester | undefined): Settings {
  const { mandrelDiameter, mandrelDiameterMax, wraps } = requirement.conditions;
  const unit = nominal.unit as Unit;
  const tail = unit === "in" ? 6 : 150;
  const turns = wraps === undefined ? 10 : Number(wraps.text);
  const mandrel = mandrelDiameter === undefined ? undefined : toNumber(in_(mandrelDiameterMax ?? mandrelDiameter, unit));
  const length = mandrel === undefined ? undefined : Math.PI * (mandrel + Number(nominal.text)) * (turns + 1) + 2 * tail;
  return {
    ...named(tester),
    ...(mandrelDiameter === undefined ? {} : { mandrel: mandrelDiameter }),
    ...(mandrelDiameterMax === undefined ? {} : { mandrelMax: mandrelDiameterMax }),
    ...(wraps === undefined ? {} : { wraps: wraps.text }),
    ...(conduct.wrapMaximumRate === undefined ? {} : { rate: conduct.wrapMaximumRate }),
    ...(length === undefined ? {} : { cutLength: cutText(exact(length.toFixed(6)), unit) }),
  };
}

function tensile(requirement: Requirement, nominal: Measure, tester: Tester | undefined): Settings {
  const unit = requirement.unit;
  if (unit !== "MPa" && unit !== "ksi") return named(tester);
  const inch = nominal.unit === "in";
  const d = convertNumber(nominal, "mm");
  const at = (limit: string | undefined): Measure | undefined => {
    if (limit === undefined) return undefined;
    const newtons = convertNumber({ text: limit, unit }, "MPa") * ((Math.PI * d * d) / 4);
    const value = inch ? newtons / 4.4482216152605 : newtons;
    return { text: value.toFixed(value >= 100 ? 0 : 1), unit: inch ? "lbf" : "N" };
  };
  const [low, high] = [at(requirement.min), at(requirement.max)];
  return {
    ...named(tester),
    ...(low === undefined ? {} : { forceAtMin: low }),
    ...(high === undefined ? {} : { forceAtMax: high }),
  };
}
