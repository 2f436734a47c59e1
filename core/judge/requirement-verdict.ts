/**
 * One requirement of one coil, from its results: void pieces aside, first-line pieces, then the one retest the rule allows.
 * Order of rows never matters; rows are told apart by test piece and role.
 */
import { numberText } from "../decimal.ts";
import type { Finding, NextStep, Requirement, RequirementVerdict, Result, RetestRule, Settlement, UnreadRow, Verdict } from "../model.ts";
import { compareWithLimits } from "../rounding.ts";
import { limitsOf } from "./checks/shared.ts";
import { propertyName, toCalibrate, toInspect, toMend, toRepeat, toRetest, toTest } from "./next.ts";
import { worst } from "./rank.ts";

/** The third void piece of one coil and property ends the repeating. @source DESIGN section 8 */
const MOST_VOIDS = 2;

export interface RequirementInput {
  readonly coil: string;
  readonly requirement: Requirement;
  readonly results: readonly Result[];
  readonly unread: readonly UnreadRow[];
  /** Pieces the sampling rule asks of this coil; 0 where the test unit answers for it. */
  readonly pieces: number;
  readonly bothEnds: boolean;
  readonly retest: RetestRule | undefined;
  readonly settlement: Settlement | undefined;
  readonly report: (finding: Finding) => void;
}

export function requirementVerdict(input: RequirementInput): RequirementVerdict {
  const { requirement, coil } = input;
  const property = requirement.property;
  const acceptance = input.results.filter((r) => r.role !== "check");
  const firstLine = acceptance.filter((r) => r.retestOf === undefined && r.role !== "retest");
  const parts: { verdict: Verdict; reason?: string; next: readonly NextStep[] }[] = [];

  const failures = firstLine.filter((r) => r.counts && r.outcome === "does-not-conform");
  const retestsOf = linkRetests(acceptance, input);
  for (const failure of requirement.evaluate === "mean" ? [] : failures)
    parts.push(afterFailure(failure, retestsOf.get(failure.testPiece) ?? [], input));
  if (requirement.evaluate === "mean") parts.push(...meanVerdict(firstLine, requirement));
  warnOfUnlinkedPieces(firstLine, failures, input);

  for (const result of acceptance) {
    if (result.counts && result.outcome === "undecided" && result.retestOf === undefined)
      parts.push({
        verdict: "undecided",
        ...(result.reason ? { reason: result.reason } : {}),
        next: [toInspect({ property, coil }, reasonText(result.reason))],
      });
  }

  const voided = acceptance.filter((r) => !r.counts && r.voidReason !== undefined);
  const voidPieces = new Set(voided.map((r) => r.testPiece));
  if (voidPieces.size > MOST_VOIDS)
    parts.push({
      verdict: "undecided",
      reason: "too-many-voids",
      next: [toInspect({ property, coil }, `${voidPieces.size} pieces were void`)],
    });
  const unreadParts = input.unread.map((row) => ({
    verdict: "undecided" as const,
    reason: "unread-row",
    next: [
      toMend({ property, coil }, row.cells.length > 0 ? row.cells.map((cell) => `${row.sheetName}!${cell}`) : [`sheet ${row.sheetName}`]),
    ],
  }));
  parts.push(...unreadParts, ...missingPieces(firstLine, voidPieces.size > MOST_VOIDS, input));

  const verdict = worst(parts.map((p) => p.verdict));
  const deciding = parts.find((p) => p.verdict === verdict);
  const settled = input.settlement !== undefined && verdict === "undecided" ? (input.settlement.as as Verdict) : undefined;
  const final = settled ?? verdict;
  return {
    property,
    requirement,
    verdict: final,
    ...(settled ? { reason: "settled" } : final === "conforms" || deciding?.reason === undefined ? {} : { reason: deciding.reason }),
    next: settled ? [] : final === "does-not-conform" ? [] : distinct(parts.flatMap((p) => p.next)),
    results: input.results,
  };
}

/** What a valid failure leads to: the retest the rule allows, done, due or failed; else the failure stands. */
function afterFailure(
  failure: Result,
  retests: readonly Result[],
  input: RequirementInput,
): { verdict: Verdict; reason?: string; next: readonly NextStep[] } {
  const { retest, requirement, coil } = input;
  const reason = failure.reason === undefined ? {} : { reason: failure.reason };
  // A result inside the guard band is not wire that failed: testing again until it passes would defeat the rule.
  if (retest === undefined || failure.reason === "guard-band") return { verdict: "does-not-conform", ...reason, next: [] };
  const valid = retests.filter((r) => r.counts);
  const good = valid.filter((r) => r.outcome === "conforms").length;
  if (retest.mustConform === "all" && valid.some((r) => r.outcome === "does-not-conform"))
    return { verdict: "does-not-conform", reason: "retest-failed", next: [] };
  if (valid.some((r) => r.outcome === "undecided"))
    return {
      verdict: "undecided",
      reason: "retest-undecided",
      next: [toInspect({ property: requirement.property, coil }, "a retest piece is not decided")],
    };
  const wanted = retest.mustConform === "one" ? 1 : retest.pieces;
  if (good >= wanted) return { verdict: "conforms", next: [] };
  const missing = retest.pieces - valid.length;
  if (missing <= 0) return { verdict: "does-not-conform", reason: "retest-failed", next: [] };
  return {
    verdict: "retest-due",
    reason: "retest-due",
    next: [toRetest({ property: requirement.property, coil, pieces: missing }, failure.testPiece)],
  };
}

/** Retest results by the first-line piece they stand for; a retest of a void retest stands for the same piece. */
function linkRetests(
  acceptance: readonly Result[],
  { report, coil, requirement, retest }: RequirementInput,
): ReadonlyMap<string, readonly Result[]> {
  const byPiece = new Map(acceptance.map((r) => [r.testPiece, r]));
  const linked = new Map<string, Result[]>();
  for (const result of acceptance) {
    if (result.retestOf === undefined) {
      if (result.role === "retest") unlinked(result, "retestOf is empty", report, coil, requirement.property);
      continue;
    }
    let root = byPiece.get(result.retestOf);
    for (let hops = 0; root?.retestOf !== undefined && hops < 10; hops += 1) root = byPiece.get(root.retestOf);
    if (root === undefined)
      unlinked(result, `${result.retestOf} is not a test piece of this coil and property`, report, coil, requirement.property);
    else if (retest === undefined || !root.counts || root.outcome !== "does-not-conform")
      unlinked(
        result,
        retest === undefined ? "the specification allows no retest here" : `${root.testPiece} is no valid failure`,
        report,
        coil,
        requirement.property,
      );
    else linked.set(root.testPiece, [...(linked.get(root.testPiece) ?? []), result]);
  }
  return linked;
}

function unlinked(result: Result, why: string, report: RequirementInput["report"], coil: string, property: string): void {
  report({
    code: "unlinked-retest",
    severity: "warning",
    sheet: result.sheet,
    cell: result.cell,
    actual: result.testPiece,
    expected: "role retest with the failed test piece in retestOf",
    text: `Test piece ${result.testPiece} of coil ${coil} changes nothing for ${propertyName(property)}: ${why}.`,
  });
}

/** A new piece after a valid failure does not undo it unless it is linked. */
function warnOfUnlinkedPieces(firstLine: readonly Result[], failures: readonly Result[], input: RequirementInput): void {
  for (const piece of firstLine) {
    if (!piece.counts || piece.outcome !== "conforms") continue;
    const failure = failures.find((f) => f.testPiece !== piece.testPiece && cameBefore(f, piece));
    if (failure !== undefined && firstLine.filter((r) => r.counts).length > Math.max(1, input.pieces))
      unlinked(piece, `${failure.testPiece} failed before it and retestOf is empty`, input.report, input.coil, input.requirement.property);
  }
}

function cameBefore(a: Result, b: Result): boolean {
  const [first, second] = [a.date ?? "", b.date ?? ""];
  if (first !== second) return first < second;
  return a.file === b.file && a.sheet === b.sheet && a.row < b.row;
}

/** What is still to be tested: pieces never tested, or void ones to be repeated with the same right. */
function missingPieces(
  firstLine: readonly Result[],
  givenUp: boolean,
  input: RequirementInput,
): { verdict: Verdict; reason?: string; next: readonly NextStep[] }[] {
  const { requirement, coil, bothEnds } = input;
  const property = requirement.property;
  const valid = new Set(firstLine.filter((r) => r.counts).map((r) => r.testPiece));
  const missing = input.pieces - valid.size;
  if (missing <= 0 || givenUp) return [];
  const voided = firstLine.filter((r) => !r.counts && r.voidReason !== undefined);
  const waiting = new Set(input.unread.filter((row) => row.coil === coil).map((row) => row.testPiece ?? `row ${row.row}`)).size;
  const repeats = Math.min(missing, new Set(voided.map((r) => r.testPiece)).size);
  const tests = Math.max(0, missing - repeats - waiting);
  const next: NextStep[] = [];
  for (const result of voided.filter((r) => r.voidReason === "instrument-not-in-force").slice(0, 1))
    next.push(toCalibrate({ property, coil }, result.instrument ?? "the instrument"));
  if (repeats > 0)
    next.push(
      toRepeat({ property, coil, pieces: repeats }, `${voided.at(-1)?.testPiece ?? ""} is void (${voided.at(-1)?.voidReason ?? ""})`),
    );
  if (tests > 0 && bothEnds && tests === 2)
    next.push(toTest({ property, coil, pieces: 1, end: "outer" }), toTest({ property, coil, pieces: 1, end: "inner" }));
  else if (tests > 0) next.push(toTest({ property, coil, pieces: tests }));
  return [{ verdict: "not-tested", reason: voided.length > 0 ? "all-void" : "too-few-results", next }];
}

/** The mean of the valid first-line pieces against the limit, once all of them are numbers. */
function meanVerdict(
  firstLine: readonly Result[],
  requirement: Requirement,
): { verdict: Verdict; reason?: string; next: readonly NextStep[] }[] {
  const values = firstLine.filter((r) => r.counts && typeof r.value === "number" && !r.censored).map((r) => Number(r.value));
  if (values.length === 0) return [];
  const mean = values.reduce((sum, value) => sum + value, 0) / values.length;
  const comparison = compareWithLimits(numberText(mean, 15), limitsOf(requirement), requirement.rounding);
  return [{ verdict: comparison.outcome, ...(comparison.reason ? { reason: comparison.reason } : {}), next: [] }];
}

function reasonText(reason: string | undefined): string {
  switch (reason) {
    case "second-look":
      return "a second person looks at the coating";
    case "no-uncertainty":
      return "the guarded rule needs the uncertainty of the instrument";
    case "open-zone":
      return "the result lies in the open zone of the decision rule";
    default:
      return (reason ?? "the result is not decided").replaceAll("-", " ");
  }
}

function distinct(steps: readonly NextStep[]): readonly NextStep[] {
  const seen = new Set<string>();
  return steps.filter((step) => !seen.has(step.text) && seen.add(step.text));
}
