import { shortestText } from "../decimal.ts";
import type { CellRecord, EntryRow, FieldValue, Finding, UnitSystem } from "../model.ts";
import { type EntrySheet, entrySheet } from "./columns.ts";
import { refuseDoubledRegistrations } from "./doubles.ts";
import type { EntryFindingCode } from "./finding-codes.ts";
import { findNearMatches, NOTHING_REGISTERED } from "./near-match.ts";
import { checkRegistrations } from "./row-checks.ts";
import type { ReadRow } from "./rows.ts";
import { readCell } from "./values.ts";

const LISTS = ["orders", "agreed", "coils", "heats", "instruments"] as const;

export interface OrdersJson {
  readonly units: UnitSystem;
  readonly rows: readonly EntryRow[];
  readonly findings: readonly Finding[];
}

/**
 * An order list given as JSON: numbers in the file's units, as JSON numbers or decimal text; field names as in the sheets. Findings name
 * the path instead of a cell, `coils[0].heat`. Codes: wrong-json, unknown-column, missing-value, doubled-registration, near-match and
 * those of cells.
 * @param sheetName what findings give as their sheet, the file's name
 */
export function parseOrdersJson(json: unknown, sheetName: string, today: string): OrdersJson {
  const findings: Finding[] = [];
  const at = (cell: string, code: EntryFindingCode, actual: unknown, expected: string, text: string): void => {
    findings.push({
      code,
      severity: "error",
      sheet: sheetName,
      cell,
      actual: typeof actual === "string" ? actual : (JSON.stringify(actual) ?? ""),
      expected,
      text,
    });
  };
  if (typeof json !== "object" || json === null || Array.isArray(json)) {
    at("", "wrong-json", json, "an object with units, orders and coils", "An order list is one JSON object with units, orders and coils.");
    return { units: "SI", rows: [], findings };
  }
  const lists = json as Record<string, unknown>;
  const units = lists["units"] === "inch-pound" ? "inch-pound" : "SI";
  if (lists["units"] !== "SI" && lists["units"] !== "inch-pound")
    at("units", "wrong-json", lists["units"], "SI or inch-pound", "The order list names its units: SI or inch-pound.");
  for (const name of Object.keys(lists))
    if (name !== "units" && !LISTS.includes(name as (typeof LISTS)[number]))
      at(name, "unknown-column", name, `units, ${LISTS.join(", ")}`, `"${name}" is not known in an order list.`);
  const rows: ReadRow[] = [];
  for (const name of LISTS) {
    const list = lists[name];
    if (list === undefined) continue;
    if (!Array.isArray(list)) {
      at(name, "wrong-json", list, "a list", `${name} is a list of objects.`);
      continue;
    }
    list.forEach((item: unknown, index) => {
      const row = readObject(entrySheet(name), item, `${name}[${index}]`, index + 1, sheetName, units, today, findings);
      if (row) rows.push(row);
    });
  }
  checkRegistrations(rows, findings);
  refuseDoubledRegistrations(rows, findings);
  findNearMatches(rows, [], NOTHING_REGISTERED, findings);
  return { units, rows: rows.filter(({ errors }) => errors.length === 0).map(({ row }) => row), findings };
}

function readObject(
  sheet: EntrySheet,
  item: unknown,
  path: string,
  number: number,
  sheetName: string,
  system: UnitSystem,
  today: string,
  findings: Finding[],
): ReadRow | undefined {
  if (typeof item !== "object" || item === null || Array.isArray(item)) {
    findings.push({
      code: "wrong-json",
      severity: "error",
      sheet: sheetName,
      cell: path,
      actual: JSON.stringify(item) ?? "",
      expected: "an object",
      text: `${path} is no object.`,
    });
    return undefined;
  }
  const fields: Record<string, FieldValue> = {};
  const unreadable = new Set<string>();
  let failed = false;
  const problem = (field: string, code: EntryFindingCode, actual: unknown, expected: string, text: string): void => {
    failed = true;
    findings.push({
      code,
      severity: "error",
      sheet: sheetName,
      cell: `${path}.${field}`,
      actual: typeof actual === "string" ? actual : (JSON.stringify(actual) ?? ""),
      expected,
      text,
    });
  };
  for (const [field, value] of Object.entries(item)) {
    const column = sheet.columns.find((c) => c.field === field && !c.computed);
    if (column === undefined) {
      problem(field, "unknown-column", field, sheet.columns.map((c) => c.field).join(", "), `${path} has the unknown field "${field}".`);
      continue;
    }
    if (value === null || value === undefined || value === "") continue;
    if (typeof value !== "string" && typeof value !== "number") {
      unreadable.add(field);
      problem(field, "wrong-json", value, "text or a number", `${path}.${field} is neither text nor a number.`);
      continue;
    }
    const cell: CellRecord = {
      cell: `${path}.${field}`,
      row: number,
      column: 1,
      type: typeof value === "number" ? "number" : "text",
      raw: typeof value === "number" ? shortestText(value) : value,
    };
    const read = readCell(cell, { sheetName, column, system, decimalMark: ".", date1904: false, today });
    findings.push(...read.findings.filter((f) => f.code !== "number-as-text"));
    failed ||= read.failed;
    if (read.failed) unreadable.add(field);
    if (read.value) fields[field] = read.value;
  }
  // Nothing, null and empty text are the same: no value.
  for (const { field, required } of sheet.columns)
    if (required && field !== "grade" && fields[field] === undefined && !unreadable.has(field))
      problem(field, "missing-value", "", field, `${path} lacks ${field}.`);
  const row: EntryRow = { sheet: sheet.sheet, sheetName, row: number, file: "", fields };
  return { row, errors: failed ? [path] : [], unreadable, doubtfulCoil: false };
}
