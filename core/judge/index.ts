/**
 * The judgement: entries in, verdicts out. Pure: the day, the adoptions and the settings come from outside.
 * Flow: order item -> its requirements -> rows held against each -> one verdict a coil and requirement -> coil -> test unit -> item.
 */

import type { CoilVerdict, Finding, Judgement, JudgementInput, NextStep, OrderItem, OrderVerdict, TestUnitVerdict } from "../model.ts";
import { indexOf, itemKey, type JudgementIndex } from "./judgement-index.ts";
import { toAdopt, toInspect } from "./next.ts";
import { reportUnanswered, reportUnknownCoils, unknownSpecification } from "./order-findings.ts";
import { worst } from "./rank.ts";
import { type ItemRequirements, itemRequirements } from "./requirements.ts";
import { distinctSteps, judgeUnit, unitsOf } from "./test-unit.ts";

export { liveVerdictFindings } from "./live-verdict.ts";

/** Judges every order item given. Rows of coils that no item holds are reported and judge nothing. */
export function judge(input: JudgementInput): Judgement {
  const findings: Finding[] = [];
  const report = (finding: Finding): void => {
    findings.push(finding);
  };
  const index = indexOf(input);
  reportUnknownCoils(input.tests, index, report);
  const orders = input.orders.map((order) => judgeItem(order, input, index, report));
  return { orders, findings: distinctFindings(findings) };
}

function judgeItem(order: OrderItem, input: JudgementInput, index: JudgementIndex, report: (finding: Finding) => void): OrderVerdict {
  const key = itemKey(order.order, order.item);
  const coils = index.coilsByItem.get(key) ?? [];
  const heats = [...new Set(coils.map((coil) => coil.heat))].flatMap((heat) => index.heats.get(heat) ?? []);
  const requirements = itemRequirements(order, index.agreedByItem.get(key) ?? [], heats, input.specifications, input.isAdopted);
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
    const step = toInspect({ property: "specification" }, `${order.specification} is not held`);
    return { ...base, verdict: "undecided", next: [step], testUnits: [], coils: [], listed: [] };
  }
  reportUnanswered(order, requirements, report);
  const verdicts = new Map<string, CoilVerdict>();
  const testUnits: TestUnitVerdict[] = [];
  const item = { order, requirements, index, freeLengthTolerance: input.freeLengthTolerance, report };
  for (const [unit, members] of unitsOf(coils, order)) {
    const judged = judgeUnit(unit, members, item);
    for (const verdict of judged.coils) verdicts.set(verdict.coil, verdict);
    testUnits.push(judged.unit);
  }
  const inOrder = coils.flatMap((coil) => verdicts.get(coil.coil) ?? []);
  return {
    ...base,
    verdict: coils.length === 0 ? "not-tested" : worst(inOrder.map((coil) => coil.verdict)),
    next: [
      ...distinctSteps([...testUnits.flatMap((unit) => unit.next), ...inOrder.flatMap((coil) => coil.next)]),
      ...adoptions(order, requirements),
    ],
    testUnits,
    coils: inOrder,
    listed: listedOf(requirements, inOrder),
  };
}

/** What every coil's rows named was judged; what any left blank is listed. */
function listedOf({ listed }: ItemRequirements, coils: readonly CoilVerdict[]): OrderVerdict["listed"] {
  const everywhere = (property: string): boolean =>
    coils.length > 0 &&
    coils.every((coil) => coil.requirements.some((r) => r.property === property && r.requirement.agreedIn === undefined));
  return listed.filter((requirement) => requirement.indicative || !everywhere(requirement.property));
}

/** A 3.1 or 3.2 document waits for the adoption of every limit it stands on. */
function adoptions(order: OrderItem, { judged }: ItemRequirements): readonly NextStep[] {
  if (order.documentType !== "3.1" && order.documentType !== "3.2") return [];
  const names = new Set(judged.filter((r) => !r.rule.adopted).map((r) => `${r.rule.specification}:${r.rule.edition}`));
  return [...names].map(toAdopt);
}

function distinctFindings(findings: readonly Finding[]): readonly Finding[] {
  const seen = new Set<string>();
  return findings.filter((f) => {
    const key = `${f.code}\u0000${f.sheet}\u0000${f.cell}\u0000${f.text}`;
    return !seen.has(key) && seen.add(key);
  });
}
