/** What can be wrong in the tables of a specification besides their shape: units, edges, overlaps and holes. */
import { compareExact, type Exact, exact, subtractExact } from "../decimal.ts";
import { isUnit } from "../quantity.ts";
import type { SpecificationProblem } from "./problem.ts";
import { ACCEPTED_PROPERTIES, isPropertyName } from "./properties.ts";
import type { Table, TableRow } from "./schema.ts";

const COUNT_UNITS = new Set(["turns", "bends", "wraps", ""]);
const ZERO = exact("0");

/**
 * @param tables the tables as the laboratory wrote them
 * @param grades the grades of the specification; empty where it has one only
 */
export function tableProblems(tables: readonly Table[], grades: readonly string[]): readonly SpecificationProblem[] {
  return tables.flatMap((table, index) => {
    const path = `tables[${index}]`;
    const edges = table.rows.flatMap((row, at) => edgeProblems(row, `${path}.rows[${at}]`));
    const names = [
      ...nameProblems(table, path),
      ...gradeProblems(table.grades, grades, path),
      ...table.rows.flatMap((row, at) => gradeProblems(row.grades, grades, `${path}.rows[${at}]`)),
    ];
    if (names.length > 0 || edges.length > 0) return [...names, ...edges];
    const concerned = grades.length === 0 ? [""] : grades.filter((grade) => table.grades === undefined || table.grades.includes(grade));
    const found = concerned.flatMap((grade) =>
      (table.between === "bands" ? bandProblems(table, grade, path) : sizeProblems(table, grade, path)).map((fault) => ({ fault, grade })),
    );
    return together(found, concerned.length);
  });
}

/** A grade that is named in a row and not in the list of the specification is a typing slip. */
export function gradeProblems(named: readonly string[] | undefined, grades: readonly string[], path: string): SpecificationProblem[] {
  return (named ?? []).flatMap((grade, index) =>
    grades.includes(grade)
      ? []
      : [
          {
            path: `${path}.grades[${index}]`,
            found: grade,
            accepted: grades.length === 0 ? "no grades: the specification has one only" : grades.join(", "),
            text: "this grade is not among those of the specification",
          },
        ],
  );
}

function nameProblems(table: Table, path: string): SpecificationProblem[] {
  const problems: SpecificationProblem[] = [];
  if (!isPropertyName(table.property) || table.property.startsWith("chemistry:"))
    problems.push({ path: `${path}.property`, found: table.property, accepted: ACCEPTED_PROPERTIES, text: "unknown property" });
  if (!isUnit(table.unit) && !COUNT_UNITS.has(table.unit))
    problems.push({
      path: `${path}.unit`,
      found: table.unit,
      accepted: "MPa, ksi, mm, in, N, g/m2, oz/ft2, %, turns, bends, wraps",
      text: "unknown unit",
    });
  return problems;
}

function edgeProblems(row: TableRow, path: string): SpecificationProblem[] {
  const given = (["size", "over", "from", "upTo", "below"] as const).filter((key) => row[key] !== undefined);
  const negative = given.find((key) => compareExact(exact(row[key] ?? "0"), ZERO) < 0);
  if (negative !== undefined)
    return [{ path: `${path}.${negative}`, found: String(row[negative]), accepted: "zero or more", text: "a diameter below zero" }];
  if ((row.size !== undefined && given.length > 1) || (row.over && row.from) || (row.upTo && row.below))
    return [
      {
        path,
        found: given.map((key) => `${key} ${row[key]}`).join(", "),
        accepted: "size alone, or at most one of over and from with at most one of upTo and below",
        text: "edges that exclude each other",
      },
    ];
  const [start, end] = [startOf(row), endOf(row)];
  if (start === undefined || end === undefined) return [];
  const side = compareExact(start.at, end.at);
  return side < 0 || (side === 0 && start.included && end.included)
    ? []
    : [{ path, found: rangeText(row), accepted: "a start below the end", text: "the size range is empty" }];
}

interface Edge {
  readonly at: Exact;
  readonly text: string;
  readonly included: boolean;
}
const edge = (text: string, included: boolean): Edge => ({ at: exact(text), text, included });

function startOf(row: TableRow): Edge | undefined {
  const included = row.size ?? row.from;
  if (included !== undefined) return edge(included, true);
  return row.over === undefined ? undefined : edge(row.over, false);
}

function endOf(row: TableRow): Edge | undefined {
  const included = row.size ?? row.upTo;
  if (included !== undefined) return edge(included, true);
  return row.below === undefined ? undefined : edge(row.below, false);
}

function rangeText(row: TableRow): string {
  const parts = (["size", "over", "from", "upTo", "below"] as const).flatMap((key) =>
    row[key] === undefined ? [] : [`${key} ${row[key]}`],
  );
  return parts.length === 0 ? "all sizes" : parts.join(" ");
}

const concerns = (row: TableRow, grade: string): boolean => row.grades === undefined || row.grades.includes(grade);

/** A problem of one grade, its sentence open at the place where grades are named. */
interface Fault {
  readonly path: string;
  readonly found: string;
  readonly accepted: string;
  readonly text: (grades: string) => string;
}

/** Neighbouring bands of one grade must meet: they neither share a diameter nor leave one out. */
function bandProblems(table: Table, grade: string, path: string): Fault[] {
  const rows = table.rows.map((row, index) => ({ row, index })).filter(({ row }) => concerns(row, grade));
  const sorted = rows.sort((a, b) => compareStarts(startOf(a.row), startOf(b.row)) || a.index - b.index);
  const problems: Fault[] = [];
  let reach = sorted[0];
  for (const next of sorted.slice(1)) {
    if (reach === undefined) break;
    const end = endOf(reach.row);
    const start = startOf(next.row);
    const other = reach.index;
    const where = `${path}.rows[${next.index}]`;
    const joint = jointOf(end, start, table.places);
    if (joint === "overlap")
      problems.push({
        path: where,
        found: rangeText(next.row),
        accepted: "ranges without overlap",
        text: (grades) => `the size range overlaps that of rows[${other}]${grades}`,
      });
    else if (joint === "gap" && end !== undefined && start !== undefined)
      problems.push({
        path: where,
        found: `a gap ${gapText(end, start)} ${table.diameterUnit}`,
        accepted: 'rows that meet, or a row with "undecided": true for the gap',
        text: (grades) => `no row holds these sizes${grades}, between rows[${other}] and rows[${next.index}]`,
      });
    if (compareEnds(endOf(next.row), end) > 0) reach = next;
  }
  return problems;
}

function jointOf(end: Edge | undefined, start: Edge | undefined, places: number | undefined): "meets" | "overlap" | "gap" {
  if (end === undefined || start === undefined) return "overlap";
  const side = compareExact(end.at, start.at);
  if (side > 0 || (side === 0 && end.included && start.included)) return "overlap";
  if (side === 0) return end.included || start.included ? "meets" : "gap";
  // Printed with gaps (0.99 / 1.00): the diameter is rounded to the printed places, so one step apart is adjacent.
  if (places === undefined || !end.included || !start.included) return "gap";
  const step = exact(places === 0 ? "1" : `0.${"0".repeat(places - 1)}1`);
  return compareExact(subtractExact(start.at, end.at), step) <= 0 ? "meets" : "gap";
}

function gapText(end: Edge, start: Edge): string {
  if (compareExact(end.at, start.at) === 0) return `at ${start.text}`;
  return `${end.included ? "over" : "from"} ${end.text} ${start.included ? "below" : "up to"} ${start.text}`;
}

function compareStarts(a: Edge | undefined, b: Edge | undefined): number {
  if (a === undefined || b === undefined) return a === b ? 0 : a === undefined ? -1 : 1;
  return compareExact(a.at, b.at) || Number(b.included) - Number(a.included);
}

function compareEnds(a: Edge | undefined, b: Edge | undefined): number {
  if (a === undefined || b === undefined) return a === b ? 0 : a === undefined ? 1 : -1;
  return compareExact(a.at, b.at) || Number(a.included) - Number(b.included);
}

/** A tabulated size stands once a grade, and a grade has no empty cell between its first and its last size. */
function sizeProblems(table: Table, grade: string, path: string): Fault[] {
  const problems: Fault[] = [];
  const own: { size: string; index: number }[] = [];
  table.rows.forEach((row, index) => {
    if (row.size === undefined || !concerns(row, grade)) return;
    const size = row.size;
    const twin = own.find((earlier) => compareExact(exact(earlier.size), exact(size)) === 0);
    if (twin === undefined) own.push({ size, index });
    else
      problems.push({
        path: `${path}.rows[${index}]`,
        found: `size ${size}`,
        accepted: "each size once a grade",
        text: (grades) => `this size stands in rows[${twin.index}] as well${grades}`,
      });
  });
  own.sort((a, b) => compareExact(exact(a.size), exact(b.size)));
  const all = [...new Set(table.rows.flatMap((row) => (row.size === undefined ? [] : [row.size])))];
  own.slice(1).forEach((row, index) => {
    const before = own[index];
    const missing = all.find(
      (size) => before !== undefined && compareExact(exact(size), exact(before.size)) > 0 && compareExact(exact(size), exact(row.size)) < 0,
    );
    if (missing !== undefined)
      problems.push({
        path: `${path}.rows[${row.index}]`,
        found: `a gap at ${missing} ${table.diameterUnit}`,
        accepted: 'a row for every size, or a row with "undecided": true for the gap',
        text: (grades) => `this size has no row${grades}, between rows[${before?.index}] and rows[${row.index}]`,
      });
  });
  return problems;
}

/** One line for the grades that share a fault; they are named where it does not concern all. */
function together(found: readonly { readonly fault: Fault; readonly grade: string }[], all: number): readonly SpecificationProblem[] {
  const groups = new Map<string, { fault: Fault; grades: string[] }>();
  for (const { fault, grade } of found) {
    const key = `${fault.path}\u0000${fault.found}\u0000${fault.text("")}`;
    const group = groups.get(key) ?? { fault, grades: [] };
    group.grades.push(grade);
    groups.set(key, group);
  }
  return [...groups.values()].map(({ fault: { path, found: given, accepted, text }, grades }) => ({
    path,
    found: given,
    accepted,
    text: text(grades.length === all ? "" : ` for grade ${grades.join(", ")}`),
  }));
}
