/**
 * The judgement: entries in, verdicts out. Pure: the day, the adoptions and the settings come from outside.
 * Flow: order item -> its requirements -> rows held against each -> one verdict a coil and requirement -> coil -> test unit -> item.
 */

import type {
  Coil,
  CoilVerdict,
  EntryRow,
  Finding,
  InstrumentRange,
  Judgement,
  JudgementInput,
  NextStep,
  OrderItem,
  OrderVerdict,
  Requirement,
  RequirementVerdict,
  TestUnitVerdict,
  UnreadRow,
} from "../model.ts";
import { measure } from "../quantity.ts";
import type { CheckContext } from "./context.ts";
import { toAdopt, toInspect, toTest } from "./next.ts";
import { worst } from "./rank.ts";
import { requirementVerdict } from "./requirement-verdict.ts";
import { type ItemRequirements, itemRequirements } from "./requirements.ts";
import { checkFor, holdChemistry, holdRows } from "./results.ts";
import { text } from "./row.ts";

export { liveVerdictFindings } from "./live-verdict.ts";

/** Judges every order item given. Rows of coils that no item holds are reported and judge nothing. */
export function judge(input: JudgementInput): Judgement {
  const findings: Finding[] = [];
  const index = indexOf(input);
  reportUnknownCoils(input, index, findings);
  const orders = input.orders.map((order) => judgeItem(order, input, index, (finding) => findings.push(finding)));
  return { orders, findings: distinctFindings(findings) };
}

interface Index {
  readonly coilsByItem: ReadonlyMap<string, readonly Coil[]>;
  readonly coils: ReadonlySet<string>;
  readonly rowsByCoil: ReadonlyMap<string, readonly EntryRow[]>;
  readonly unreadByCoil: ReadonlyMap<string, readonly UnreadRow[]>;
  /** Rows whose coil could not be read hold every coil of their workbook; the caller gives only coils concerned. */
  readonly unreadAnywhere: readonly UnreadRow[];
  readonly instruments: ReadonlyMap<string, readonly InstrumentRange[]>;
}

const itemKey = (order: string, item: string): string => `${order}\u0000${item}`;

function indexOf(input: JudgementInput): Index {
  return {
    coilsByItem: groupBy(input.coils, (coil) => itemKey(coil.order, coil.item)),
    coils: new Set(input.coils.map((coil) => coil.coil)),
    rowsByCoil: groupBy(input.tests, (row) => text(row, "coil") ?? ""),
    unreadByCoil: groupBy(
      input.unread.filter((row) => row.coil !== undefined),
      (row) => row.coil ?? "",
    ),
    unreadAnywhere: input.unread.filter((row) => row.coil === undefined),
    instruments: groupBy(input.instruments, (range) => range.instrument),
  };
}

function groupBy<T>(list: readonly T[], keyOf: (item: T) => string): ReadonlyMap<string, readonly T[]> {
  const groups = new Map<string, T[]>();
  for (const item of list) {
    const key = keyOf(item);
    const group = groups.get(key);
    if (group) group.push(item);
    else groups.set(key, [item]);
  }
  return groups;
}

function reportUnknownCoils(input: JudgementInput, index: Index, findings: Finding[]): void {
  for (const row of input.tests) {
    const coil = row.fields["coil"];
    if (coil === undefined || index.coils.has(coil.text)) continue;
    findings.push({
      code: "unknown-coil",
      severity: "error",
      sheet: row.sheetName,
      cell: coil.cell,
      actual: coil.raw,
      expected: "a coil of the sheet Coils or of the register",
      text: `Coil ${coil.text} is not known; the row judges nothing until the coil is entered.`,
    });
  }
}

function judgeItem(order: OrderItem, input: JudgementInput, index: Index, report: (finding: Finding) => void): OrderVerdict {
  const coils = index.coilsByItem.get(itemKey(order.order, order.item)) ?? [];
  const heatNames = new Set(coils.map((coil) => coil.heat));
  const heats = input.heats.filter((heat) => heatNames.has(heat.heat));
  const requirements = itemRequirements(order, input.agreed, heats, input.specifications, input.isAdopted);
  const base = {
    order: order.order,
    item: order.item,
    specification: order.specification,
    edition: order.edition,
    grade: order.grade,
    nominalDiameter: order.nominalDiameter,
  };
  if (requirements === undefined) {
    report(unknownSpecification(order));
    return {
      ...base,
      verdict: "undecided",
      next: [toInspect({ property: "specification" }, `${order.specification} is not held`)],
      testUnits: [],
      coils: [],
      listed: [],
    };
  }
  const units = groupBy(coils, (coil) => coil.testUnit ?? "");
  const coilVerdicts: CoilVerdict[] = [];
  const testUnits: TestUnitVerdict[] = [];
  for (const [unit, members] of units) {
    const judged = judgeUnit(unit, members, order, requirements, input, index, report);
    coilVerdicts.push(...judged.coils);
    testUnits.push(judged.unit);
  }
  const inOrder = coils.map((coil) => coilVerdicts.find((verdict) => verdict.coil === coil.coil)).filter((v) => v !== undefined);
  const verdict = coils.length === 0 ? ("not-tested" as const) : worst(inOrder.map((coil) => coil.verdict));
  return {
    ...base,
    verdict,
    next: [
      ...distinctSteps([...testUnits.flatMap((unit) => unit.next), ...inOrder.flatMap((coil) => coil.next)]),
      ...adoptions(order, requirements),
    ],
    testUnits,
    coils: inOrder,
    listed: requirements.listed,
  };
}

/** A 3.1 or 3.2 document waits for the adoption of every limit it stands on. */
function adoptions(order: OrderItem, { judged }: ItemRequirements): readonly NextStep[] {
  if (order.documentType !== "3.1" && order.documentType !== "3.2") return [];
  const names = new Set(judged.filter((r) => !r.rule.adopted).map((r) => `${r.rule.specification}:${r.rule.edition}`));
  return [...names].map(toAdopt);
}

function unknownSpecification(order: OrderItem): Finding {
  return {
    code: "unknown-specification",
    severity: "error",
    sheet: "Orders",
    cell: "",
    actual: `${order.specification} ${order.edition}`.trim(),
    expected: "a specification that is held (coilbook spec list)",
    text: `Order ${order.order} item ${order.item} asks for ${order.specification}, which is not held.`,
  };
}

/**
 * One test unit. Where the rule samples one coil in several, a coil without own results stands on its unit:
 * it has the unit's verdict once the unit's samples are complete.
 */
function judgeUnit(
  unit: string,
  members: readonly Coil[],
  order: OrderItem,
  requirements: ItemRequirements,
  input: JudgementInput,
  index: Index,
  report: (finding: Finding) => void,
): { coils: CoilVerdict[]; unit: TestUnitVerdict } {
  const unitName = unit === "" ? `${order.order}/${order.item}` : unit;
  const byCoil = new Map<string, { requirement: RequirementVerdict; onUnit: boolean }[]>(members.map((coil) => [coil.coil, []]));
  const unitVerdicts: RequirementVerdict["verdict"][] = [];
  const unitNext: NextStep[] = [];
  for (const requirement of requirements.judged) {
    const judged = judgeRequirement(requirement, unitName, members, order, requirements, input, index, report);
    for (const [coil, verdict] of judged.coils) byCoil.get(coil)?.push(verdict);
    unitVerdicts.push(judged.verdict);
    unitNext.push(...judged.next);
  }
  for (const { property, problem } of requirements.unanswered) {
    unitVerdicts.push("undecided");
    for (const coil of members)
      byCoil.get(coil.coil)?.push({ requirement: unanswered(property, problem, coil.coil, requirements), onUnit: false });
  }
  const coils = members.map((coil): CoilVerdict => {
    const own = byCoil.get(coil.coil) ?? [];
    return {
      coil: coil.coil,
      heat: coil.heat,
      testUnit: unitName,
      verdict: own.length === 0 ? "undecided" : worst(own.map((entry) => entry.requirement.verdict)),
      basis: own.some((entry) => entry.onUnit) ? "test-unit" : "own-results",
      next: distinctSteps(own.flatMap((entry) => entry.requirement.next)),
      requirements: own.map((entry) => entry.requirement),
    };
  });
  return {
    coils,
    unit: { testUnit: unitName, verdict: members.length === 0 ? "not-tested" : worst(unitVerdicts), next: distinctSteps(unitNext) },
  };
}

interface JudgedRequirement {
  readonly coils: readonly (readonly [string, { requirement: RequirementVerdict; onUnit: boolean }])[];
  readonly verdict: RequirementVerdict["verdict"];
  readonly next: readonly NextStep[];
}

function judgeRequirement(
  requirement: Requirement,
  unitName: string,
  members: readonly Coil[],
  order: OrderItem,
  requirements: ItemRequirements,
  input: JudgementInput,
  index: Index,
  report: (finding: Finding) => void,
): JudgedRequirement {
  const { property } = requirement;
  const own = requirement.agreedIn !== undefined;
  const chemistry = property.startsWith("chemistry:");
  const sampling = requirements.specification.sampling(property);
  const bySample = !own && !chemistry && sampling.kind === "per-coils";
  const retest = own ? undefined : requirements.specification.retest(property);
  const context: CheckContext = {
    order,
    requirement,
    conduct: requirements.specification.conduct(order.nominalDiameter),
    freeLengthTolerance: input.freeLengthTolerance,
    ...nominalStrength(requirements),
    instruments: index.instruments,
    report,
  };
  const verdicts = members.map((coil) => {
    const rows = (index.rowsByCoil.get(coil.coil) ?? []).filter((row) => checkFor(row, property) !== undefined);
    const held = chemistry
      ? {
          results: holdChemistry(
            input.heats.filter((heat) => heat.heat === coil.heat),
            requirement,
          ),
          unread: [],
        }
      : holdRows(rows, context);
    const unread = [...held.unread, ...unreadFor(coil.coil, property, index)];
    const pieces = bySample || chemistry ? 0 : sampling.bothEnds && !own ? 2 : 1;
    const settlement = input.settlements.find((s) => s.coil === coil.coil && s.property === property);
    const verdict = requirementVerdict({
      coil: coil.coil,
      requirement,
      results: held.results,
      unread,
      pieces,
      bothEnds: sampling.bothEnds && !own,
      retest,
      settlement,
      report,
    });
    return { coil, verdict, sampled: held.results.some((r) => r.counts), touched: held.results.length > 0 || unread.length > 0 };
  });
  if (!bySample) return ownResults(verdicts);
  return unitResults(verdicts, requirement, unitName, samplesWanted(sampling, members.length));
}

type JudgedCoil = { readonly coil: Coil; readonly verdict: RequirementVerdict; readonly sampled: boolean; readonly touched: boolean };

const ownResults = (verdicts: readonly JudgedCoil[]): JudgedRequirement => ({
  coils: verdicts.map((v) => [v.coil.coil, { requirement: v.verdict, onUnit: false }] as const),
  verdict: worst(verdicts.map((v) => v.verdict.verdict)),
  next: [],
});

/** @source ASTM A227, A228, A229, number of tests: one in ten coils or part (memory, medium) */
const samplesWanted = (sampling: { coils?: number; atMost?: number }, coils: number): number =>
  Math.min(sampling.atMost ?? Number.POSITIVE_INFINITY, Math.ceil(coils / (sampling.coils ?? 1)));

function unitResults(verdicts: readonly JudgedCoil[], requirement: Requirement, unitName: string, wanted: number): JudgedRequirement {
  const touched = verdicts.filter((v) => v.touched);
  const missing = Math.max(0, wanted - verdicts.filter((v) => v.sampled).length);
  const untouched = verdicts.filter((v) => !v.touched);
  const unitVerdict = worst([...touched.map((v) => v.verdict.verdict), ...(missing > 0 ? (["not-tested"] as const) : [])]);
  // The first coils that have no piece yet are named, so that nobody has to choose; a void piece is repeated on its own coil.
  const repeats = touched.filter((v) => !v.sampled && v.verdict.next.length > 0).length;
  const named = new Set(untouched.slice(0, Math.max(0, missing - repeats)).map((v) => v.coil.coil));
  const next: NextStep[] = [];
  const coils = verdicts.map((v) => {
    if (v.touched) {
      const waits = v.verdict.verdict === "conforms" && !v.sampled;
      return [
        v.coil.coil,
        { requirement: waits ? { ...v.verdict, verdict: unitVerdict, reason: "test-unit" } : v.verdict, onUnit: waits },
      ] as const;
    }
    const step = named.has(v.coil.coil) ? [toTest({ property: requirement.property, coil: v.coil.coil, pieces: 1 }, unitName)] : [];
    next.push(...step);
    return [v.coil.coil, { requirement: { ...v.verdict, verdict: unitVerdict, reason: "test-unit", next: step }, onUnit: true }] as const;
  });
  return { coils, verdict: unitVerdict, next };
}

function unreadFor(coil: string, property: string, index: Index): readonly UnreadRow[] {
  return [...(index.unreadByCoil.get(coil) ?? []), ...index.unreadAnywhere].filter((row) => row.properties.includes(property));
}

function nominalStrength({ judged }: ItemRequirements): { nominalStrength?: CheckContext["nominalStrength"] & object } {
  const strength = judged.find((r) => r.property === "tensile-strength" && r.agreedIn === undefined);
  return strength?.min === undefined || strength.unit === "" ? {} : { nominalStrength: measure(strength.min, strength.unit) };
}

/** A property the order needs and the table does not answer for: a person decides, nothing passes by being absent. */
function unanswered(
  property: string,
  problem: { problem: string; text: string },
  coil: string,
  { specification }: ItemRequirements,
): RequirementVerdict {
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
    },
    verdict: "undecided",
    reason: problem.problem,
    next: [toInspect({ property, coil }, problem.text)],
    results: [],
  };
}

function distinctSteps(steps: readonly NextStep[]): readonly NextStep[] {
  const seen = new Set<string>();
  return steps.filter((step) => {
    const key = `${step.coil ?? ""}\u0000${step.text}`;
    return !seen.has(key) && seen.add(key);
  });
}

function distinctFindings(findings: readonly Finding[]): readonly Finding[] {
  const seen = new Set<string>();
  return findings.filter((f) => {
    const key = `${f.code}\u0000${f.sheet}\u0000${f.cell}\u0000${f.text}`;
    return !seen.has(key) && seen.add(key);
  });
}
