/**
 * One test unit: every requirement over its coils. Where the rule samples one coil in several, a coil without own results stands on its
 * unit: it has the unit's verdict once the unit's samples are complete.
 */
import type {
  Coil,
  CoilVerdict,
  ConductRules,
  EntryRow,
  Finding,
  NextStep,
  OrderItem,
  Requirement,
  RequirementVerdict,
  Result,
  RetestRule,
  SamplingRule,
  TestUnitVerdict,
  UnreadRow,
  Verdict,
} from "../model.ts";
import { measure } from "../quantity.ts";
import { largestTension } from "./checks/torsion-conduct.ts";
import { holdChemistry } from "./chemistry.ts";
import type { CheckContext } from "./context.ts";
import { groupBy, type JudgementIndex } from "./judgement-index.ts";
import { toInspect, toRepeat, toRetestCoil, toTest } from "./next.ts";
import { worst } from "./rank.ts";
import { requirementVerdict } from "./requirement-verdict.ts";
import type { ItemRequirements, Unanswered } from "./requirements.ts";
import { type Held, holdRows } from "./results.ts";

/** What the coils of one item are judged by. */
export interface ItemContext {
  readonly order: OrderItem;
  readonly requirements: ItemRequirements;
  readonly index: JudgementIndex;
  /** Share of the required free length, "0.01". */
  readonly freeLengthTolerance: string;
  readonly report: (finding: Finding) => void;
}

interface CoilRequirement {
  readonly requirement: RequirementVerdict;
  readonly onUnit: boolean;
}

export function judgeUnit(name: string, members: readonly Coil[], item: ItemContext): { coils: CoilVerdict[]; unit: TestUnitVerdict } {
  const { requirements } = item;
  const byCoil = new Map<string, CoilRequirement[]>(members.map((coil) => [coil.coil, []]));
  const unitVerdicts: Verdict[] = [];
  const unitNext: NextStep[] = [];
  for (const requirement of requirements.judged) {
    const judged = judgeRequirement(requirement, name, members, item);
    for (const [at, coil] of members.entries()) {
      const verdict = judged.coils[at];
      if (verdict !== undefined) byCoil.get(coil.coil)?.push(verdict);
    }
    unitVerdicts.push(judged.verdict);
    unitNext.push(...judged.next);
  }
  for (const requirement of requirements.whereGiven)
    for (const coil of members) {
      const given = judgeGiven(requirement, coil, item);
      if (given === undefined) continue;
      byCoil.get(coil.coil)?.push({ requirement: given, onUnit: false });
      unitVerdicts.push(given.verdict);
    }
  for (const one of requirements.unanswered) {
    unitVerdicts.push("undecided");
    for (const coil of members) byCoil.get(coil.coil)?.push({ requirement: unanswered(one, coil.coil, requirements), onUnit: false });
  }
  const coils = members.map((coil) => coilVerdict(coil, name, byCoil.get(coil.coil) ?? []));
  const verdict = members.length === 0 ? "not-tested" : worst(unitVerdicts);
  return { coils, unit: { testUnit: name, verdict, next: distinctSteps(unitNext) } };
}

function coilVerdict(coil: Coil, testUnit: string, own: readonly CoilRequirement[]): CoilVerdict {
  return {
    coil: coil.coil,
    heat: coil.heat,
    testUnit,
    verdict: own.length === 0 ? "undecided" : worst(own.map((entry) => entry.requirement.verdict)),
    basis: own.some((entry) => entry.onUnit) ? "test-unit" : "own-results",
    next: distinctSteps(own.flatMap((entry) => entry.requirement.next)),
    requirements: own.map((entry) => entry.requirement),
  };
}

interface JudgedRequirement {
  /** In the order of the unit's coils. */
  readonly coils: readonly CoilRequirement[];
  readonly verdict: Verdict;
  readonly next: readonly NextStep[];
}

interface HeldCoil {
  readonly coil: Coil;
  readonly results: readonly Result[];
  readonly unread: readonly UnreadRow[];
}

function judgeRequirement(requirement: Requirement, unitName: string, members: readonly Coil[], item: ItemContext): JudgedRequirement {
  const { index, order, report } = item;
  const { property } = requirement;
  const chemistry = property.startsWith("chemistry:");
  const rules = rulesOf(requirement, item);
  const context = chemistry ? undefined : checkContext(requirement, item);
  const held = members.map((coil): HeldCoil => {
    const { results, unread } = context === undefined ? ofHeat(coil, requirement, index) : ofRows(coil, context, index);
    const waiting = index.unreadOf(coil.coil, property);
    return { coil, results, unread: unread.length === 0 ? waiting : [...unread, ...waiting] };
  });
  const shared = rules.bySample ? sharedRetests(held) : undefined;
  const ends = rules.sampling.bothEnds && !chemistry;
  const verdicts = held.map(({ coil, results, unread }): JudgedCoil => {
    const touched = results.length > 0 || unread.length > 0;
    const each = requirement.pieces ?? (ends ? 2 : 1);
    // A sampled coil without a both-ends rule may fall back on its unit; with one, a single end is no sample.
    const pieces = chemistry ? 0 : rules.bySample ? (touched && each > 1 ? each : 0) : each;
    const verdict = requirementVerdict({
      coil: coil.coil,
      requirement,
      decisionRule: order.decisionRule,
      results,
      unread,
      pieces,
      bothEnds: ends,
      retest: rules.retest,
      elsewhere: shared?.elsewhere(coil.coil) ?? NOWHERE,
      // Where every coil is tested, a piece stands for its own coil alone.
      fromElsewhere: (rules.retest?.kind === "every-coil" ? undefined : shared?.cutFor.get(coil.coil)) ?? NO_RESULTS,
      settlement: index.settlementOf(coil.coil, property),
      report,
    });
    return { coil, verdict, sampled: rules.bySample && validPieces(results) >= Math.max(1, pieces), touched };
  });
  if (!rules.bySample) return ownResults(verdicts);
  return unitResults(verdicts, requirement, unitName, rules);
}

const validPieces = (results: readonly Result[]): number => new Set(results.filter((r) => r.counts).map((r) => r.testPiece)).size;

const NOWHERE: ReadonlySet<string> = new Set();
const NO_RESULTS: readonly Result[] = [];

interface Rules {
  readonly sampling: SamplingRule;
  readonly bySample: boolean;
  readonly retest: RetestRule | undefined;
}

/** What was agreed in addition shares the pieces and the retest of the specification's own requirement; alone, it is one piece a coil. */
function rulesOf(requirement: Requirement, { requirements }: ItemContext): Rules {
  const { property } = requirement;
  const agreed = requirement.agreedIn !== undefined;
  const alone = agreed && !requirements.judged.some((r) => r.property === property && r.agreedIn === undefined);
  const sampling = alone ? EACH_COIL : requirements.specification.sampling(property);
  const bySample = sampling.kind === "per-coils" && !property.startsWith("chemistry:") && !(agreed && requirement.pieces !== undefined);
  return { sampling, bySample, retest: alone ? undefined : requirements.specification.retest(property) };
}

/** @source DESIGN section 8: one piece a coil where no sampling rule is held */
const EACH_COIL: SamplingRule = { kind: "each-coil", bothEnds: false, perHeat: false, clause: "one piece a coil", provenance: "own" };

function checkContext(requirement: Requirement, { order, requirements, index, freeLengthTolerance, report }: ItemContext): CheckContext {
  const conduct = requirements.specification.conduct(order.nominalDiameter);
  return {
    order,
    requirement,
    conduct,
    freeLengthTolerance,
    ...(requirement.property === "torsion" ? tensionOf(order, requirements, conduct) : {}),
    instruments: index.instruments,
    drawnOn: (coil) => index.coils.get(coil)?.drawnOn,
    report,
  };
}

function tensionOf(order: OrderItem, { judged }: ItemRequirements, conduct: ConductRules): { mostTension?: number } {
  const strength = judged.find((r) => r.property === "tensile-strength" && r.agreedIn === undefined);
  if (strength?.min === undefined || strength.unit === "") return {};
  return { mostTension: largestTension(measure(strength.min, strength.unit), order.nominalDiameter, conduct) };
}

const ofRows = (coil: Coil, context: CheckContext, index: JudgementIndex): Held =>
  holdRows(index.rowsByCoil.get(coil.coil) ?? NO_ROWS, context);
const NO_ROWS: readonly EntryRow[] = [];

const ofHeat = (coil: Coil, requirement: Requirement, index: JudgementIndex): Held => ({
  results: holdChemistry(index.heats.get(coil.heat) ?? [], requirement),
  unread: [],
});

/** A property that no sheet must carry, of a coil whose rows name it; undefined where they do not. */
function judgeGiven(requirement: Requirement, coil: Coil, item: ItemContext): RequirementVerdict | undefined {
  const context = checkContext(requirement, { ...item, report: () => undefined });
  const { results } = ofRows(coil, context, item.index);
  if (results.length === 0) return undefined;
  return requirementVerdict({
    coil: coil.coil,
    requirement: { ...requirement, listedOnly: false },
    decisionRule: item.order.decisionRule,
    results,
    unread: [],
    pieces: 0,
    bothEnds: false,
    retest: item.requirements.specification.retest(requirement.property),
    elsewhere: NOWHERE,
    fromElsewhere: [],
    settlement: item.index.settlementOf(coil.coil, requirement.property),
    report: () => undefined,
  });
}

/** Retest pieces that were cut from another coil of the unit than the one that failed, by the coil they were cut for. */
function sharedRetests(held: readonly HeldCoil[]): {
  readonly cutFor: ReadonlyMap<string, readonly Result[]>;
  elsewhere(coil: string): ReadonlySet<string>;
} {
  const owners = new Map<string, string>();
  for (const { coil, results } of held)
    for (const result of results) if (!owners.has(result.testPiece)) owners.set(result.testPiece, coil.coil);
  const cutFor = new Map<string, Result[]>();
  const elsewhere = new Map<string, Set<string>>();
  for (const { coil, results } of held) {
    const own = new Set(results.map((r) => r.testPiece));
    for (const result of results) {
      const owner = result.retestOf === undefined || own.has(result.retestOf) ? undefined : owners.get(result.retestOf);
      if (owner === undefined || result.retestOf === undefined) continue;
      cutFor.set(owner, [...(cutFor.get(owner) ?? []), result]);
      elsewhere.set(coil.coil, (elsewhere.get(coil.coil) ?? new Set()).add(result.retestOf));
    }
  }
  return { cutFor, elsewhere: (coil) => elsewhere.get(coil) ?? NOWHERE };
}

interface JudgedCoil {
  readonly coil: Coil;
  readonly verdict: RequirementVerdict;
  /** It has all the valid pieces that a sample is. */
  readonly sampled: boolean;
  readonly touched: boolean;
}

const ownResults = (verdicts: readonly JudgedCoil[]): JudgedRequirement => ({
  coils: verdicts.map((v) => ({ requirement: v.verdict, onUnit: false })),
  verdict: worst(verdicts.map((v) => v.verdict.verdict)),
  next: [],
});

function unitResults(verdicts: readonly JudgedCoil[], requirement: Requirement, unitName: string, rules: Rules): JudgedRequirement {
  if (rules.retest?.kind === "every-coil") {
    const failed = verdicts.flatMap((v) => (v.verdict.verdict === "does-not-conform" ? (failedPiece(v) ?? []) : []))[0];
    if (failed !== undefined) return everyCoil(verdicts, requirement, unitName, failed);
  }
  const touched = verdicts.filter((v) => v.touched);
  const wanted = stillWanted(verdicts, rules.sampling);
  const unitVerdict = worst([...touched.map((v) => v.verdict.verdict), ...(wanted.count > 0 ? (["not-tested"] as const) : [])]);
  // The coils are named, so that nobody has to choose; a void piece is repeated on its own coil.
  const next: NextStep[] = [];
  const coils = verdicts.map((v): CoilRequirement => {
    const waits = v.verdict.verdict === "conforms" && !v.sampled;
    if (v.touched && !waits) return { requirement: v.verdict, onUnit: false };
    const steps = wanted.named.has(v.coil.coil) ? sampleSteps(v, requirement, unitName, rules.sampling.bothEnds) : NO_STEPS;
    next.push(...steps);
    return { requirement: { ...v.verdict, verdict: unitVerdict, reason: "test-unit", next: steps }, onUnit: true };
  });
  return { coils, verdict: unitVerdict, next };
}

const NO_STEPS: readonly NextStep[] = [];

function sampleSteps(v: JudgedCoil, { property, pieces }: Requirement, unitName: string, bothEnds: boolean): readonly NextStep[] {
  const coil = v.coil.coil;
  const voided = v.verdict.results.findLast((r) => r.voidReason !== undefined);
  if (voided !== undefined)
    return [toRepeat({ property, coil, pieces: pieces ?? 1 }, `${voided.testPiece} is void (${voided.voidReason ?? ""})`)];
  if (!bothEnds) return [toTest({ property, coil, pieces: pieces ?? 1 }, unitName)];
  return (["outer", "inner"] as const).map((end) => toTest({ property, coil, pieces: 1, end }, unitName));
}

/**
 * How many coils of the unit still want a sample, and which are named for it: first those of a heat that has none.
 * @source ASTM A227, A228, A229 (one in ten coils or part; memory, medium), A818 (at most seven; read), A1000 (every heat; read)
 */
function stillWanted(verdicts: readonly JudgedCoil[], sampling: SamplingRule): { count: number; named: ReadonlySet<string> } {
  const byRule = Math.min(sampling.atMost ?? Number.POSITIVE_INFINITY, Math.ceil(verdicts.length / (sampling.coils ?? 1)));
  const sampled = verdicts.filter((v) => v.sampled);
  const ofHeats = new Set(sampling.perHeat ? verdicts.map((v) => v.coil.heat) : []);
  for (const v of sampled) ofHeats.delete(v.coil.heat);
  const count = Math.max(byRule - sampled.length, ofHeats.size);
  // What has a step of its own already will be a sample and stand for its heat.
  const pending = verdicts.filter((v) => v.touched && !v.sampled && v.verdict.next.length > 0);
  for (const v of pending) ofHeats.delete(v.coil.heat);
  const open = Math.max(count - pending.length, ofHeats.size);
  const named = new Set<string>();
  const voided = verdicts.filter((v) => v.touched && !v.sampled && v.verdict.next.length === 0 && v.verdict.verdict === "conforms");
  const candidates = [...voided, ...verdicts.filter((v) => !v.touched)];
  for (const v of candidates) if (ofHeats.delete(v.coil.heat)) named.add(v.coil.coil);
  for (const v of candidates) if (named.size < open) named.add(v.coil.coil);
  return { count: Math.max(0, count), named };
}

const failedPiece = (v: JudgedCoil): string | undefined =>
  v.verdict.results.find((r) => r.counts && r.outcome === "does-not-conform")?.testPiece;

/**
 * After a failure every other coil is tested and stands on its own; what failed is put aside.
 * @source ASTM A818-06, 10.3 and ASTM A407-07, rejection (each coil is tested for the failed property; read)
 */
function everyCoil(verdicts: readonly JudgedCoil[], requirement: Requirement, unitName: string, failed: string): JudgedRequirement {
  const next: NextStep[] = [];
  const coils = verdicts.map((v): CoilRequirement => {
    if (v.sampled || v.verdict.verdict !== "conforms") return { requirement: v.verdict, onUnit: false };
    const step = toRetestCoil({ property: requirement.property, coil: v.coil.coil, pieces: requirement.pieces ?? 1 }, failed, unitName);
    next.push(step);
    return { requirement: { ...v.verdict, verdict: "retest-due", reason: "retest-due", next: [step] }, onUnit: false };
  });
  return { coils, verdict: worst(coils.map((c) => c.requirement.verdict)), next };
}

/** A property the order needs and no limit answers for: a person decides, nothing passes by being absent. */
function unanswered({ property, problem, sheet }: Unanswered, coil: string, { specification }: ItemRequirements): RequirementVerdict {
  return {
    property,
    requirement: {
      property,
      unit: "",
      conditions: {},
      rule: { specification: specification.id, edition: specification.edition, clause: "", provenance: "own", adopted: false },
      row: problem.text,
      rowRule: "",
      rounding: { method: "absolute", step: "1", ties: "even" },
      evaluate: "each",
      indicative: false,
      listedOnly: false,
      ...(sheet === "Agreed" ? { agreedIn: "" } : {}),
    },
    verdict: "undecided",
    reason: problem.problem,
    next: [toInspect({ property, coil }, problem.text)],
    results: [],
  };
}

/** Each step once, told apart by coil and sentence. */
export function distinctSteps(steps: readonly NextStep[]): readonly NextStep[] {
  if (steps.length < 2) return steps;
  const seen = new Set<string>();
  return steps.filter((step) => {
    const key = `${step.coil ?? ""}\u0000${step.text}`;
    return !seen.has(key) && seen.add(key);
  });
}

/** Coils by the unit in which they are accepted together; a coil without one belongs to the order item's own. */
export const unitsOf = (coils: readonly Coil[], order: OrderItem): ReadonlyMap<string, readonly Coil[]> =>
  groupBy(coils, (coil) => (coil.testUnit === undefined || coil.testUnit === "" ? `${order.order}/${order.item}` : coil.testUnit));
