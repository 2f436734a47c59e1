import { exact, toDecimalText } from "../decimal.ts";
import type { EntryRow, Finding, Heat, Requirement, Result, TestRole, UnreadRow } from "../model.ts";
import { compareWithLimits } from "../rounding.ts";
import { CHECKS, otherCheck, SHEET_PROPERTIES } from "./checks/index.ts";
import { propertyOfOther } from "./checks/other.ts";
import { limitsOf, limitText } from "./checks/shared.ts";
import type { Check, CheckContext, CheckedRow } from "./context.ts";
import { decideWithUncertainty } from "./decision.ts";
import { type Deviation, standing } from "./deviation.ts";
import { expandedUncertainty, instrumentDeviations } from "./instruments.ts";
import { text } from "./row.ts";

export interface Held {
  readonly results: Result[];
  readonly unread: UnreadRow[];
}

/** The check by which a row answers a property, or undefined where it does not concern it. */
export function checkFor(row: EntryRow, property: string): Check | undefined {
  if (row.sheet === "other") return propertyOfOther(text(row, "property") ?? "", SHEET_PROPERTIES) === property ? otherCheck : undefined;
  const checks = CHECKS[row.sheet as keyof typeof CHECKS] as Readonly<Record<string, Check>> | undefined;
  return checks?.[property];
}

/** Rows held against one requirement. A row that contradicts itself becomes an unread row with an error finding. */
export function holdRows(rows: readonly EntryRow[], context: CheckContext): Held {
  const held: Held = { results: [], unread: [] };
  let startingTurns = 0;
  for (const row of [...rows].sort(byDateThenPlace)) {
    const checked = checkFor(row, context.requirement.property)?.(row, context);
    if (checked === undefined) continue;
    if (checked.contradiction) {
      held.unread.push(contradicted(row, checked, context));
      continue;
    }
    // The first piece that cracks in its starting turn is repeated; a second one has failed.
    const again = checked.deviations.some((d) => d.reason === "starting-turn") && startingTurns++ > 0;
    const deviations = again ? checked.deviations.filter((d) => d.reason !== "starting-turn") : checked.deviations;
    held.results.push(toResult(row, { ...checked, deviations }, context));
  }
  return held;
}

/** The only order that matters is the day; within a day the place in the workbook keeps the outcome repeatable. */
function byDateThenPlace(a: EntryRow, b: EntryRow): number {
  const first = `${text(a, "date") ?? ""} ${text(a, "testPiece") ?? ""}`;
  const second = `${text(b, "date") ?? ""} ${text(b, "testPiece") ?? ""}`;
  return first < second ? -1 : first > second ? 1 : a.row - b.row;
}

function contradicted(row: EntryRow, checked: CheckedRow, { report, requirement }: CheckContext): UnreadRow {
  const { field, text: sentence, expected } = checked.contradiction ?? { field: checked.field, text: "", expected: "" };
  const value = row.fields[field];
  const finding: Finding = {
    code: "contradicting-entry",
    severity: "error",
    sheet: row.sheetName,
    cell: value?.cell ?? `A${row.row}`,
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

function toResult(row: EntryRow, checked: CheckedRow, context: CheckContext): Result {
  const role = (text(row, "role") ?? "acceptance") as TestRole;
  const setAside = text(row, "setAside");
  const deviations: Deviation[] = [...instrumentDeviations(row, context.instruments), ...checked.deviations];
  if (setAside !== undefined) deviations.push({ reason: "set-aside", direction: "void", text: `set aside: ${setAside}` });
  const decided = decideRow(row, checked, context);
  const stands = standing(deviations, decided.outcome === "conforms");
  warnOfMissingInstrument(row, context);
  const field = row.fields[checked.field];
  const counts = stands.counts && role !== "check";
  return {
    testPiece: text(row, "testPiece") ?? "",
    ...optional("position", text(row, "position")),
    role,
    ...optional("retestOf", text(row, "retestOf")),
    sheet: row.sheetName,
    cell: field?.cell ?? "",
    row: row.row,
    file: row.file,
    raw: field?.raw ?? "",
    ...optional("formula", field?.formula),
    value: checked.value,
    unit: checked.unit,
    conditions: checked.conditions,
    compared: checked.compared,
    counts,
    ...(stands.voidReason === undefined ? {} : { voidReason: stands.voidReason }),
    ...optional("deviation", stands.deviation),
    ...(counts || role === "check" ? { outcome: decided.outcome, ...optional("reason", decided.reason) } : {}),
    ...(checked.censored ? { censored: true } : {}),
    ...optional("instrument", text(row, "instrument")),
    ...optional("tester", text(row, "tester")),
    ...optional("date", text(row, "date")),
    ...(decided.uncertainty === undefined ? {} : { uncertainty: decided.uncertainty }),
    steps: [
      ...checked.steps,
      ...decided.steps,
      ...deviations.map((d) => d.text),
      stands.counts
        ? decided.outcome === "conforms"
          ? "this piece conforms"
          : `this piece: ${decided.outcome}`
        : `void: ${stands.voidReason ?? ""}`,
    ],
  };
}

interface Decided {
  readonly outcome: "conforms" | "does-not-conform" | "undecided";
  readonly reason?: string;
  readonly uncertainty?: number;
  readonly steps: readonly string[];
}

/** Counts and inspections are judged simply; a measured quantity by the order's decision rule, on the unrounded value. */
function decideRow(row: EntryRow, checked: CheckedRow, { order, requirement, instruments }: CheckContext): Decided {
  const simple: Decided = { outcome: checked.outcome, ...optional("reason", checked.reason), steps: [] };
  if (order.decisionRule === "simple" || checked.unrounded === undefined || requirement.rounding.method === "whole") return simple;
  const uncertainty = expandedUncertainty(
    checked.uncertaintyParts ?? [],
    instruments,
    text(row, "date"),
    Number(checked.compared),
    requirement.unit,
  );
  if (uncertainty === undefined)
    return { outcome: "undecided", reason: "no-uncertainty", steps: ["the guarded rule needs an uncertainty and none is known"] };
  const decision = decideWithUncertainty(checked.unrounded, limitsOf(requirement), uncertainty, order.decisionRule);
  const reason =
    decision.outcome === "conforms"
      ? undefined
      : decision.outcome === "undecided"
        ? "open-zone"
        : checked.outcome === "conforms"
          ? "guard-band"
          : checked.reason;
  return { outcome: decision.outcome, ...optional("reason", reason), uncertainty, steps: [decision.step] };
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

/** A heat's analysis held against the requirement of one element. */
export function holdChemistry(heats: readonly Heat[], requirement: Requirement): Result[] {
  const element = requirement.property.slice("chemistry:".length);
  return heats.flatMap((heat) => {
    const value = heat.elements[element];
    if (value === undefined) return [];
    const place = heat.cells?.[element];
    const comparison = compareWithLimits(value, limitsOf(requirement), requirement.rounding);
    return [
      {
        testPiece: heat.heat,
        position: heat.analysis,
        role: "acceptance" as const,
        sheet: place?.sheet ?? "Heats",
        cell: place?.cell ?? "",
        row: 0,
        file: "",
        raw: place?.raw ?? value,
        value: Number(value),
        unit: "%",
        conditions: {},
        compared: comparison.compared,
        counts: true,
        outcome: comparison.outcome,
        ...optional("reason", comparison.reason),
        steps: [
          `${heat.analysis} analysis of heat ${heat.heat}: ${element} ${toDecimalText(exact(value))} %, ${limitText({ ...limitsOf(requirement), unit: "%" })}`,
        ],
      },
    ];
  });
}

function optional<K extends string, V>(key: K, value: V | undefined): { [P in K]?: V } {
  return value === undefined ? {} : ({ [key]: value } as { [P in K]?: V });
}
