/** Set-ups: what has to be set on which machine for which pieces, worked out from the order and the rules that judge it. Pure. */
import type { ConductRules, OrderVerdict, Requirement, RetestRule, TestSheet } from "../model.ts";
import type { SetUpProblem, Tester } from "./equipment.ts";
import type { Piece, Settings, SettingsOn, SetUp, SetUpQuestion } from "./set-up.ts";
import { tensileSettings } from "./tensile.ts";
import { torsionSettings } from "./torsion.ts";
import { bendSettings, windingSettings } from "./winding.ts";

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

export interface PlanQuestion {
  /** Of an order item without any result: the pieces are those its next steps ask for. */
  readonly verdict: OrderVerdict;
  /** Rules of the specification at the nominal diameter. */
  readonly conduct: ConductRules;
  readonly testers: readonly Tester[];
  /** What may be tried again after a valid failure. */
  readonly retestOf: (requirement: Requirement) => RetestRule | undefined;
  /** Share of the required free length that counts as required, where the standard names none. */
  readonly freeLengthTolerance: string;
}

/** The set-ups of one order item. */
export function planSetUps({ verdict, conduct, testers, retestOf, freeLengthTolerance }: PlanQuestion): readonly SetUp[] {
  return groupsOf(verdict).map(({ requirement, also, pieces }) => ({
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
    retestPieces: Math.max(0, ...[requirement, ...also].map((r) => retestOf(r)?.pieces ?? 0)),
    ...settingsFor({ requirement, also, verdict, conduct, freeLengthTolerance }, testers),
  }));
}

interface Group {
  readonly requirement: Requirement;
  readonly also: Requirement[];
  readonly pieces: Piece[];
}

/**
 * One group a property and way of testing; what is read from the same rows of a sheet shares its pieces, and so does a second requirement
 * that is tested in the same way. Piece for piece: where two requirements ask for unlike numbers, the larger is cut.
 */
function groupsOf(verdict: OrderVerdict): readonly Group[] {
  const groups = new Map<string, Group>();
  const placed = new Map<string, Piece[]>();
  const counts = new Map<string, number>();
  for (const { coil, requirements } of verdict.coils)
    for (const { property, requirement, next } of requirements) {
      const sheet = sheetOfProperty(property);
      if (sheet === undefined) continue;
      const shared = sheet === "diameter" || sheet === "tensile";
      const key = shared ? sheet : JSON.stringify([property, requirement.conditions, requirement.torsionProgramme]);
      const group = groups.get(key) ?? { requirement, also: [], pieces: [] };
      groups.set(key, group);
      if (![group.requirement, ...group.also].some((known) => isSame(known, requirement))) group.also.push(requirement);
      const own = placed.get(`${coil}\u0000${key}`) ?? [];
      placed.set(`${coil}\u0000${key}`, own);
      const ends = next.flatMap((step) => (step.do === "test" ? Array.from({ length: step.pieces ?? 1 }, () => step.end) : []));
      for (const end of ends.slice(own.length)) {
        const letter = property === "adherence" ? "A" : (LETTERS[sheet] ?? "X");
        const count = (counts.get(`${coil}\u0000${letter}`) ?? 0) + 1;
        counts.set(`${coil}\u0000${letter}`, count);
        const piece: Piece = { coil, testPiece: `${coil}-${letter}${count}`, ...(end === undefined ? {} : { end }) };
        own.push(piece);
        group.pieces.push(piece);
      }
    }
  return [...groups.values()];
}

const isSame = (a: Requirement, b: Requirement): boolean =>
  a.property === b.property && a.min === b.min && a.max === b.max && a.agreedIn === b.agreedIn;

/** A piece for stripping or the gas method. @source common practice, no source */
const STRIPPED_LENGTH = { mm: { text: "300", unit: "mm" }, in: { text: "12", unit: "in" } } as const;

/** Machine and settings of each sheet that needs a machine. */
const MACHINES: Partial<Record<TestSheet, { readonly kind: Tester["kind"]; readonly settings: SettingsOn }>> = {
  torsion: { kind: "torsion", settings: torsionSettings },
  wrap: { kind: "wrap", settings: windingSettings },
  coiling: { kind: "wrap", settings: windingSettings },
  tensile: { kind: "tensile", settings: tensileSettings },
  "reverse-bend": { kind: "bend", settings: bendSettings },
};

/**
 * The settings on the machine that fits: one that can do the test before one that cannot, one that needs no scaling before one that
 * scales, one whose weights hit the band before one that stays light; of equals the first in the list.
 */
function settingsFor(question: SetUpQuestion, testers: readonly Tester[]): Settings {
  const sheet = sheetOfProperty(question.requirement.property) ?? "other";
  const machine = MACHINES[sheet];
  if (machine === undefined)
    return sheet === "coating-mass"
      ? { problems: [], cutLength: STRIPPED_LENGTH[question.verdict.nominalDiameter.unit === "in" ? "in" : "mm"] }
      : { problems: [] };
  const own = testers.filter((tester) => tester.kind === machine.kind);
  if (own.length === 0) {
    const settings = machine.settings(question, undefined);
    // A lab that lists its machines and none of this kind cannot do the test; one that lists none has said nothing.
    const missing: readonly SetUpProblem[] = testers.length === 0 ? [] : [{ code: "no-machine", nearest: [] }];
    return { ...settings, problems: [...missing, ...settings.problems] };
  }
  const [first, ...others] = own.map((tester) => machine.settings(question, tester));
  return others.reduce((best, settings) => (hindrance(settings) < hindrance(best) ? settings : best), first as Settings);
}

function hindrance({ problems, scaled, weights }: Settings): number {
  return problems.length * 4 + (scaled === undefined ? 0 : 2) + (weights?.light === true ? 1 : 0);
}

/** What of a set-up has to be changed by hand between two pieces. */
export const toolingOf = (s: SetUp): readonly string[] =>
  [s.freeLength, s.shelfMandrel ?? s.mandrel, s.shelfRadius ?? s.radius]
    .map((m) => (m === undefined ? "" : `${m.text} ${m.unit}`))
    .concat(s.weights?.names.join("+") ?? "", s.speed?.machineMost ?? s.speed?.most ?? "", s.rate ?? "");
