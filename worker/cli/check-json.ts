/** The answer of `check --json`, exactly as the contract gives it. Pure. */
import type { Finding, Judgement, NextStep, OrderVerdict, Refusal, RequirementVerdict, Result } from "../../core/model.ts";
import { conditionsJson } from "../../core/spec/index.ts";

export interface CheckAnswer {
  readonly schema: "check/1";
  readonly file: string;
  readonly context: "lab" | "alone";
  readonly status: "judged" | "refused";
  readonly reason?: Refusal;
  readonly findings: readonly Finding[];
  readonly orders: readonly object[];
}

export const refusedAnswer = (
  file: string,
  context: CheckAnswer["context"],
  reason: Refusal,
  findings: readonly Finding[],
): CheckAnswer => ({ schema: "check/1", file, context, status: "refused", reason, findings, orders: [] });

export const judgedAnswer = (
  file: string,
  context: CheckAnswer["context"],
  findings: readonly Finding[],
  judgement: Judgement,
): CheckAnswer => ({
  schema: "check/1",
  file,
  context,
  status: "judged",
  findings,
  orders: judgement.orders.map(orderJson),
});

const nextJson = (steps: readonly NextStep[]): readonly object[] =>
  steps.map(({ do: what, pieces, end, who, property, coil, text }) => ({ do: what, ...given({ pieces, end, who, property, coil }), text }));

function given(values: Readonly<Record<string, unknown>>): object {
  return Object.fromEntries(Object.entries(values).filter(([, value]) => value !== undefined));
}

function orderJson(order: OrderVerdict): object {
  return {
    order: order.order,
    item: order.item,
    specification: order.specification,
    edition: order.edition,
    grade: order.grade,
    verdict: order.verdict,
    next: nextJson(order.next),
    testUnits: order.testUnits.map((unit) => ({ testUnit: unit.testUnit, verdict: unit.verdict, next: nextJson(unit.next) })),
    coils: order.coils.map((coil) => ({
      coil: coil.coil,
      heat: coil.heat,
      verdict: coil.verdict,
      basis: coil.basis,
      next: nextJson(coil.next),
      requirements: coil.requirements.map(requirementJson),
    })),
    listed: order.listed.map((requirement) => ({
      property: requirement.property,
      limit: limitJson(requirement),
      conditions: conditionsJson(requirement.conditions),
      rule: requirement.rule,
      ...given({ requirement: requirement.word, indicative: requirement.indicative || undefined }),
    })),
  };
}

const limitJson = (r: { readonly min?: string; readonly max?: string; readonly unit: string }): object => ({
  ...given({ min: r.min, max: r.max }),
  ...(r.min === undefined && r.max === undefined ? {} : { unit: r.unit }),
});

function requirementJson(verdict: RequirementVerdict): object {
  const { requirement } = verdict;
  return {
    property: verdict.property,
    limit: limitJson(requirement),
    conditions: conditionsJson(requirement.conditions),
    rule: requirement.rule,
    verdict: verdict.verdict,
    ...given({ reason: verdict.reason, requirement: requirement.word, agreedIn: requirement.agreedIn }),
    next: nextJson(verdict.next),
    results: verdict.results.map(resultJson),
  };
}

function resultJson(result: Result): object {
  return {
    testPiece: result.testPiece,
    ...given({ position: result.position }),
    role: result.role,
    ...given({ retestOf: result.retestOf }),
    sheet: result.sheet,
    cell: result.cell,
    raw: result.raw,
    value: result.value,
    unit: result.unit,
    conditions: conditionsJson(result.conditions),
    compared: result.compared,
    counts: result.counts,
    ...given({
      voidReason: result.voidReason,
      deviation: result.deviation,
      outcome: result.outcome,
      reason: result.reason,
      censored: result.censored,
      uncertainty: result.uncertainty,
    }),
  };
}
