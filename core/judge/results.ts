import type { EntryRow, Finding, Result, TestRole, UnreadRow } from "../model.ts";
import { compareWithLimits } from "../rounding.ts";
import { checkFor } from "./checks/index.ts";
import { type LimitTexts, limitsOf } from "./checks/shared.ts";
import type { CheckContext, CheckedRow, Contradiction } from "./context.ts";
import { decideWithUncertainty } from "./decision.ts";
import { type Deviation, type Standing, standing } from "./deviation.ts";
import { expandedUncertainty, instrumentDeviations } from "./instruments.ts";
import { optional, text } from "./row.ts";

export interface Held {
  readonly results: Result[];
  readonly unread: UnreadRow[];
}

/** Rows held against one requirement. A row that contradicts itself becomes an unread row with an error finding. */
export function holdRows(rows: readonly EntryRow[], context: CheckContext): Held {
  const held: Held = { results: [], unread: [] };
  let startedBadly = false;
  for (const row of rows) {
    const checked = checkFor(row, context.requirement.property)?.(row, context);
    if (checked === undefined) continue;
    if (checked.contradiction) {
      held.unread.push(contradicted(row, checked, checked.contradiction, context));
      continue;
    }
    const result = toResult(row, checked, context);
    if (result.voidReason !== "starting-turn") held.results.push(result);
    else if (!startedBadly) {
      // The first piece that cracks in its starting turn is repeated; a second one has failed.
      startedBadly = true;
      held.results.push(result);
    } else held.results.push(toResult(row, withoutStart(checked), context));
  }
  return held;
}

const withoutStart = (checked: CheckedRow): CheckedRow => ({
  ...checked,
  deviations: checked.deviations.filter((d) => d.reason !== "starting-turn"),
  steps: [...checked.steps, "an earlier piece was void for a crack in its first turn: this one has failed"],
});

/** Rows in the order of their days; within a day by piece and place, so that the order in which they are given never matters. */
export function inOrderOfDays(rows: readonly EntryRow[]): readonly EntryRow[] {
  return rows.length < 2 ? rows : [...rows].sort(byDateThenPlace);
}

function byDateThenPlace(a: EntryRow, b: EntryRow): number {
  return (
    compareText(text(a, "date"), text(b, "date")) ||
    compareText(text(a, "testPiece"), text(b, "testPiece")) ||
    compareText(a.file, b.file) ||
    compareText(a.sheetName, b.sheetName) ||
    a.row - b.row
  );
}

function compareText(a = "", b = ""): number {
  return a === b ? 0 : a < b ? -1 : 1;
}

function contradicted(
  row: EntryRow,
  checked: CheckedRow,
  { code, field, text: sentence, expected }: Contradiction,
  { report, requirement }: CheckContext,
): UnreadRow {
  const value = row.fields[field];
  const finding: Finding = {
    code,
    severity: "error",
    sheet: row.sheetName,
    cell: value?.cell ?? row.fields[checked.field]?.cell ?? `A${row.row}`,
    actual: value?.raw ?? "",
    expected,
    text: sentence,
  };
  report(finding);
  const coil = text(row, "coil");
  const testPiece = text(row, "testPiece");
  return {
    sheet: row.sheet as UnreadRow["sheet"],
    sheetName: row.sheetName,
    row: row.row,
    file: row.file,
    ...(coil === undefined ? {} : { coil }),
    ...(testPiece === undefined ? {} : { testPiece }),
    properties: [requirement.property],
    cells: [finding.cell],
  };
}

type Writable<T> = { -readonly [K in keyof T]: T[K] };

/** Fields are set one by one: a spread for each optional one doubles the cost of judging. */
function toResult(row: EntryRow, checked: CheckedRow, context: CheckContext): Result {
  const role = (text(row, "role") ?? "acceptance") as TestRole;
  const deviations = allDeviations(row, checked, context);
  const decided = decideRow(row, checked, context);
  const stands = standing(deviations, decided.outcome === "conforms");
  warnOfMissingInstrument(row, context);
  const field = row.fields[checked.field];
  const counts = stands.counts && role !== "check";
  const steps = [...checked.steps];
  const aged = daysSinceDrawing(row, context);
  if (aged !== undefined) steps.push(aged);
  if (decided.step !== undefined) steps.push(decided.step);
  for (const deviation of deviations) steps.push(deviation.text);
  steps.push(conclusion(stands, decided.outcome));
  const result: Writable<Result> = {
    testPiece: text(row, "testPiece") ?? "",
    role,
    sheet: row.sheetName,
    cell: field?.cell ?? "",
    row: row.row,
    file: row.file,
    raw: field?.raw ?? "",
    value: checked.value,
    unit: checked.unit,
    conditions: checked.conditions,
    compared: checked.compared,
    counts,
    steps,
  };
  set(result, "position", text(row, "position"));
  set(result, "retestOf", text(row, "retestOf"));
  set(result, "formula", field?.formula);
  set(result, "voidReason", stands.voidReason);
  set(result, "deviation", stands.deviation);
  if (counts || role === "check") {
    result.outcome = decided.outcome;
    set(result, "reason", decided.reason);
  }
  set(result, "censored", checked.censored);
  set(result, "instrument", text(row, "instrument"));
  set(result, "tester", text(row, "tester"));
  set(result, "date", text(row, "date"));
  set(result, "end", text(row, "end") as Result["end"]);
  set(result, "scaledMin", checked.scaledMin);
  set(result, "fractureType", checked.fractureType);
  set(result, "straightened", checked.straightened);
  set(result, "uncertainty", decided.uncertainty);
  set(result, "conformanceProbability", decided.conformanceProbability);
  return result;
}

function set<K extends keyof Result>(result: Writable<Result>, key: K, value: Result[K] | undefined): void {
  if (value !== undefined) result[key] = value;
}

function conclusion(stands: Standing, outcome: CheckedRow["outcome"]): string {
  if (!stands.counts) return `void: ${stands.voidReason ?? ""}`;
  return outcome === "conforms" ? "this piece conforms" : `this piece: ${outcome}`;
}

function allDeviations(row: EntryRow, checked: CheckedRow, context: CheckContext): readonly Deviation[] {
  const setAside = text(row, "setAside");
  const instrument = instrumentDeviations(row, context.instruments);
  if (instrument.length === 0 && setAside === undefined) return checked.deviations;
  return [
    ...instrument,
    ...checked.deviations,
    ...(setAside === undefined ? [] : [{ reason: "set-aside", direction: "void", text: `set aside: ${setAside}` } as const]),
  ];
}

const DAY_MS = 86_400_000;

/**
 * Ageing after drawing changes wire, so the days are told; the reference holds no figure that would judge them.
 * @source journal paper on fractures of pearlitic wire (ageing favours cleavage; read in its abstract)
 */
function daysSinceDrawing(row: EntryRow, { drawnOn, report }: CheckContext): string | undefined {
  const date = row.fields["date"];
  const drawn = drawnOn(text(row, "coil") ?? "");
  if (drawn === undefined || date === undefined) return undefined;
  // Both are days of the calendar in UTC, so the quotient is whole.
  const days = (Date.parse(date.text) - Date.parse(drawn)) / DAY_MS;
  if (days >= 0) return `tested ${days} days after drawing`;
  report({
    code: "tested-before-drawn",
    severity: "warning",
    sheet: row.sheetName,
    cell: date.cell,
    actual: date.raw,
    expected: `${drawn} or later`,
    text: `The test is dated ${date.text}, before the coil was drawn on ${drawn}; the result counts.`,
  });
  return undefined;
}

interface Decided {
  readonly outcome: "conforms" | "does-not-conform" | "undecided";
  readonly reason?: string;
  readonly uncertainty?: number;
  readonly conformanceProbability?: number;
  readonly step?: string;
}

/** Counts and inspections are judged simply; a measured quantity by the order's decision rule, on the unrounded value. */
function decideRow(row: EntryRow, checked: CheckedRow, { order, requirement, instruments }: CheckContext): Decided {
  if (order.decisionRule === "simple" || checked.unrounded === undefined || requirement.rounding.method === "whole")
    return { outcome: checked.outcome, ...optional("reason", checked.reason) };
  const uncertainty = expandedUncertainty(
    checked.uncertaintyParts ?? [],
    instruments,
    text(row, "date"),
    Number(checked.compared),
    requirement.unit,
  );
  if (uncertainty === undefined)
    return { outcome: "undecided", reason: "no-uncertainty", step: "the guarded rule needs an uncertainty and none is known" };
  const decision = decideWithUncertainty(checked.unrounded, limitsOf(requirement), uncertainty, order.decisionRule, checked.outcome);
  const reason =
    decision.outcome === "conforms" ? undefined : (decision.reason ?? checked.reason ?? sideOf(checked.unrounded, requirement));
  return {
    outcome: decision.outcome,
    ...optional("reason", reason),
    uncertainty,
    conformanceProbability: decision.conformanceProbability,
    step: decision.step,
  };
}

/** A value that rounding alone would have brought inside: the decision rule compares it unrounded. */
function sideOf(unrounded: string, limits: LimitTexts): string | undefined {
  return compareWithLimits(unrounded, limitsOf(limits), { method: "absolute", step: "1", ties: "even" }).reason;
}

function warnOfMissingInstrument(row: EntryRow, { report }: CheckContext): void {
  const piece = row.fields["testPiece"];
  if (text(row, "instrument") !== undefined || piece === undefined) return;
  report({
    code: "instrument-missing",
    severity: "warning",
    sheet: row.sheetName,
    cell: piece.cell,
    actual: "",
    expected: "the instrument used",
    text: `Test piece ${piece.text} names no instrument; the result counts.`,
  });
}
