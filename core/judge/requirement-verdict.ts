/**
 * One requirement of one coil, from its results: void pieces aside, first-line pieces, then the one retest the rule allows.
 * Order of rows never matters; rows are told apart by test piece and role.
 */
import type { NextStep, Requirement, RequirementVerdict, Result, UnreadRow, Verdict } from "../model.ts";
import { OF_THE_RULE } from "./decision.ts";
import { meanResult } from "./mean.ts";
import { missingPieces } from "./missing-pieces.ts";
import { toInspect, toMend, toRepeat, toRetest } from "./next.ts";
import { worst } from "./rank.ts";
import type { Part, RequirementInput } from "./requirement-input.ts";
import { linkRetests, warnOfUnlinkedPieces } from "./retest-links.ts";
import { optional } from "./row.ts";

/** The third void piece of one coil and property ends the repeating. @source DESIGN section 8 */
const MOST_VOIDS = 2;

export function requirementVerdict(input: RequirementInput): RequirementVerdict {
  const { requirement, coil, results } = input;
  const only = results.length === 1 ? results[0] : undefined;
  if (only !== undefined && isPlainPass(only, input)) return plainPass(only, requirement);
  const property = requirement.property;
  const acceptance = results.filter((r) => r.role !== "check");
  const isElsewhere = (r: Result): boolean => r.retestOf !== undefined && input.elsewhere.has(r.retestOf);
  const firstLine = acceptance.filter((r) => (r.retestOf === undefined && r.role !== "retest") || isElsewhere(r));
  const voided = acceptance.filter((r) => !r.counts && r.voidReason !== undefined);
  const voidPieces = new Set(voided.map((r) => r.testPiece)).size;
  const givenUp = voidPieces > MOST_VOIDS;
  const missing = missingPieces(firstLine, input);
  const parts: Part[] = [...failureParts(acceptance, firstLine, missing.length > 0, givenUp, input)];

  for (const result of acceptance)
    if (result.counts && result.outcome === "undecided" && (result.retestOf === undefined || isElsewhere(result)))
      parts.push({
        verdict: "undecided",
        ...optional("reason", result.reason),
        next: [toInspect({ property, coil }, reasonText(result.reason))],
      });
  if (givenUp)
    parts.push({ verdict: "undecided", reason: "too-many-voids", next: [toInspect({ property, coil }, `${voidPieces} pieces were void`)] });
  for (const row of input.unread) parts.push({ verdict: "undecided", reason: "unread-row", next: [mend(row, property, coil)] });
  if (!givenUp) parts.push(...missing);

  const verdict = worst(parts.map((p) => p.verdict));
  const deciding = parts.find((p) => p.verdict === verdict);
  const settled = input.settlement !== undefined && verdict === "undecided" ? (input.settlement.as as Verdict) : undefined;
  const final = settled ?? verdict;
  return {
    property,
    requirement,
    verdict: final,
    ...(settled ? { reason: "settled" } : final === "conforms" || deciding?.reason === undefined ? {} : { reason: deciding.reason }),
    next: settled || final === "does-not-conform" ? [] : distinct(parts.flatMap((p) => p.next)),
    results,
    ...optional("conformanceProbability", lowestProbability(acceptance)),
  };
}

/** One valid acceptance piece that conforms and is all that was asked: what follows could say nothing more. */
function isPlainPass(only: Result, input: RequirementInput): boolean {
  return (
    only.counts &&
    only.outcome === "conforms" &&
    only.role === "acceptance" &&
    only.retestOf === undefined &&
    input.pieces <= 1 &&
    input.unread.length === 0 &&
    input.fromElsewhere.length === 0 &&
    input.requirement.evaluate === "each"
  );
}

const NO_STEPS: readonly NextStep[] = [];

function plainPass(only: Result, requirement: Requirement): RequirementVerdict {
  const { property } = requirement;
  const verdict = { property, requirement, verdict: "conforms", next: NO_STEPS, results: [only] } as const;
  const probability = only.conformanceProbability;
  return probability === undefined ? verdict : { ...verdict, conformanceProbability: probability };
}

/** Failures of the first line, or of their mean, and what the retest rule makes of them. */
function failureParts(
  acceptance: readonly Result[],
  firstLine: readonly Result[],
  incomplete: boolean,
  givenUp: boolean,
  input: RequirementInput,
): readonly Part[] {
  const { requirement } = input;
  const withRetests = [...acceptance, ...input.fromElsewhere];
  if (requirement.evaluate === "mean") {
    // A mean says nothing before all its pieces are there.
    const mean = incomplete ? undefined : meanResult(firstLine, requirement, input.decisionRule);
    const roots = new Set(firstLine.map((r) => r.testPiece));
    const retestsOf = linkRetests(withRetests, {
      ...input,
      isFailure: (r) => mean?.outcome === "does-not-conform" && roots.has(r.testPiece),
    });
    if (mean === undefined || mean.outcome === "conforms") return [];
    if (mean.outcome === "undecided")
      return [
        {
          verdict: "undecided",
          ...optional("reason", mean.reason),
          next: [toInspect({ property: requirement.property, coil: input.coil }, reasonText(mean.reason))],
        },
      ];
    return [afterFailure(mean, [...retestsOf.values()].flat(), givenUp, input)];
  }
  const failures = firstLine.filter((r) => r.counts && r.outcome === "does-not-conform");
  const retestsOf = linkRetests(withRetests, {
    ...input,
    isFailure: (r) => r.counts && r.outcome === "does-not-conform",
  });
  warnOfUnlinkedPieces(firstLine, failures, input);
  return failures.map((failure) => afterFailure(failure, retestsOf.get(failure.testPiece) ?? [], givenUp, input));
}

/** What a valid failure leads to: the retest the rule allows, done, due or failed; else the failure stands. */
function afterFailure(
  failure: Pick<Result, "testPiece" | "reason" | "retestOf">,
  retests: readonly Result[],
  givenUp: boolean,
  input: RequirementInput,
): Part {
  const { retest, requirement, coil } = input;
  const property = requirement.property;
  // Cut from this coil as a retest of another one's failure: there is no second retest.
  if (failure.retestOf !== undefined && retest?.kind !== "every-coil")
    return { verdict: "does-not-conform", reason: "retest-failed", next: [] };
  // A result inside the guard band is not wire that failed: testing again until it passes would defeat the rule.
  const ofTheRule = failure.reason !== undefined && OF_THE_RULE.has(failure.reason);
  if (retest === undefined || retest.kind === "every-coil" || ofTheRule)
    return { verdict: "does-not-conform", ...optional("reason", failure.reason), next: [] };
  const valid = retests.filter((r) => r.counts);
  if (retest.mustConform === "all" && valid.some((r) => r.outcome === "does-not-conform"))
    return { verdict: "does-not-conform", reason: "retest-failed", next: [] };
  const wanted = retest.mustConform === "one" ? 1 : retest.pieces;
  if (valid.filter((r) => r.outcome === "conforms").length >= wanted) return { verdict: "conforms", next: [] };
  if (valid.some((r) => r.outcome === "undecided"))
    return { verdict: "undecided", reason: "retest-undecided", next: [toInspect({ property, coil }, "a retest piece is not decided")] };
  const missing = retest.pieces - valid.length;
  if (missing <= 0) return { verdict: "does-not-conform", reason: "retest-failed", next: [] };
  // Three void pieces: nobody cuts a fourth before a person has looked.
  if (givenUp) return { verdict: "undecided", reason: "too-many-voids", next: [] };
  return { verdict: "retest-due", reason: "retest-due", next: retestSteps(failure.testPiece, retests, missing, property, coil) };
}

/** Void retest pieces are repeated with the same right; the rest was never cut. */
function retestSteps(failed: string, retests: readonly Result[], missing: number, property: string, coil: string): readonly NextStep[] {
  const voided = retests.filter((r) => !r.counts && r.voidReason !== undefined);
  const repeated = new Set(retests.map((r) => r.retestOf));
  const open = voided.filter((r) => !repeated.has(r.testPiece));
  const repeats = Math.min(missing, open.length);
  const last = open.at(-1);
  return [
    ...(repeats > 0 && last !== undefined
      ? [
          toRepeat(
            { property, coil, pieces: repeats },
            `${last.testPiece}, a retest of ${failed}, is void (${last.voidReason ?? ""}); enter it with retestOf ${failed}`,
          ),
        ]
      : []),
    ...(missing > repeats ? [toRetest({ property, coil, pieces: missing - repeats }, failed)] : []),
  ];
}

const mend = (row: UnreadRow, property: string, coil: string): NextStep =>
  toMend({ property, coil }, row.cells.length > 0 ? row.cells.map((cell) => `${row.sheetName}!${cell}`) : [`sheet ${row.sheetName}`]);

function lowestProbability(results: readonly Result[]): number | undefined {
  let lowest: number | undefined;
  for (const { counts, conformanceProbability: p } of results)
    if (counts && p !== undefined && (lowest === undefined || p < lowest)) lowest = p;
  return lowest;
}

function reasonText(reason: string | undefined): string {
  switch (reason) {
    case "second-look":
      return "a second person looks at the coating";
    case "no-uncertainty":
      return "the guarded rule needs the uncertainty of the instrument";
    case "open-zone":
      return "the result lies in the open zone of the decision rule";
    case "empty-zone":
      return "the guard bands leave nothing to accept; a smaller uncertainty or another rule is needed";
    case "no-product-tolerance":
      return "the product analysis lies outside the heat range and its tolerance is not held";
    case "programme-not-stated":
      return "the row does not say how many turns went forward and back";
    default:
      return (reason ?? "the result is not decided").replaceAll("-", " ");
  }
}

function distinct(steps: readonly NextStep[]): readonly NextStep[] {
  if (steps.length < 2) return steps;
  const seen = new Set<string>();
  return steps.filter((step) => !seen.has(step.text) && seen.add(step.text));
}
