import type { z } from "zod";
import { compareExact, exact } from "../decimal.ts";
import { isUnit } from "../quantity.ts";
import { type SpecificationData, specificationSchema, type Table, type TableRow } from "./schema.ts";

/** One thing wrong in a specification file: where, what was found, what is accepted. */
export interface SpecificationProblem {
  readonly path: string;
  readonly found?: string;
  readonly accepted?: string;
  readonly text: string;
}

export type ParsedSpecification =
  | { readonly ok: true; readonly specification: SpecificationData }
  | { readonly ok: false; readonly problems: readonly SpecificationProblem[] };

const COUNT_UNITS = new Set(["turns", "bends", "wraps", ""]);

/**
 * A laboratory's own specification out of JSON.
 * @param findBase finds the specification that this one extends
 */
export function parseSpecification(
  json: unknown,
  findBase: (id: string, edition?: string) => SpecificationData | undefined,
): ParsedSpecification {
  const parsed = specificationSchema.safeParse(json, { reportInput: true });
  if (!parsed.success) return { ok: false, problems: parsed.error.issues.map((issue) => fromIssue(issue)) };
  const own = parsed.data;
  const problems: SpecificationProblem[] = [...unitProblems(own), ...overlapProblems(own)];
  const base = own.extends === undefined ? undefined : findBase(own.extends.specification, own.extends.edition);
  if (own.extends !== undefined) {
    if (own.extends.specification === own.id)
      problems.push({ path: "extends.specification", found: own.id, accepted: "another specification", text: `${own.id} extends itself` });
    else if (base === undefined)
      problems.push({
        path: "extends.specification",
        found: own.extends.specification,
        accepted: "a specification that is held",
        text: `${own.extends.specification} is not held`,
      });
    else if (own.extends.grade !== undefined && !base.grades.includes(own.extends.grade))
      problems.push({
        path: "extends.grade",
        found: own.extends.grade,
        accepted: base.grades.join(", "),
        text: `${base.id} has no grade ${own.extends.grade}`,
      });
  }
  if (problems.length > 0) return { ok: false, problems };
  return { ok: true, specification: base === undefined ? own : merge(own, base) };
}

/** The lab's tables replace the base's tables of the same property; everything else of the base stays. */
function merge(own: SpecificationData, base: SpecificationData): SpecificationData {
  const replaced = new Set(own.tables.map((table) => table.property));
  const grade = own.extends?.grade;
  // With one base grade chosen, the lab's grades stand for it, so the base's rows of that grade hold for all of them.
  const adapt = (table: Table): Table =>
    grade === undefined
      ? table
      : {
          ...table,
          rows: table.rows
            .filter((row) => row.grades === undefined || row.grades.includes(grade))
            .map(({ grades: _grades, ...row }): TableRow => row),
        };
  const kept = base.tables
    .filter((table) => !replaced.has(table.property) && (grade === undefined || table.grades === undefined || table.grades.includes(grade)))
    .map(adapt);
  const required = [
    ...base.required
      .filter((r) => grade === undefined || r.grades === undefined || r.grades.includes(grade))
      .map((r) => ({ ...r, grades: undefined })),
    ...own.required,
  ];
  const sampling = own.sampling ?? base.sampling;
  return {
    ...own,
    grades: grade === undefined && own.grades.length === 0 ? base.grades : own.grades,
    tables: [...kept.filter((table) => table.rows.length > 0), ...own.tables],
    chemistry: [
      ...own.chemistry,
      ...base.chemistry
        .filter((row) => grade === undefined || row.grades === undefined || row.grades.includes(grade))
        .map(({ grades: _grades, ...row }) => row),
    ],
    required: [...new Map(required.map((r) => [r.property, r])).values()].map(({ grades, ...r }) =>
      grades === undefined ? r : { ...r, grades },
    ),
    ...(sampling === undefined ? {} : { sampling }),
    retest: own.retest.length > 0 ? own.retest : base.retest,
    conduct: { ...base.conduct, ...own.conduct },
  };
}

function unitProblems(own: SpecificationData): readonly SpecificationProblem[] {
  return own.tables.flatMap((table, index) =>
    isUnit(table.unit) || COUNT_UNITS.has(table.unit)
      ? []
      : [
          {
            path: `tables[${index}].unit`,
            found: table.unit,
            accepted: "MPa, ksi, mm, in, N, g/m2, oz/ft2, %, turns, bends, wraps",
            text: `unknown unit "${table.unit}"`,
          },
        ],
  );
}

/** Two bands of one grade that share a diameter contradict each other. */
function overlapProblems(own: SpecificationData): readonly SpecificationProblem[] {
  return own.tables.flatMap((table, tableIndex) =>
    table.between !== "bands"
      ? []
      : table.rows.flatMap((row, index) => {
          const other = table.rows.slice(0, index).findIndex((earlier) => shareGrade(earlier, row) && overlap(earlier, row));
          return other < 0
            ? []
            : [
                {
                  path: `tables[${tableIndex}].rows[${index}]`,
                  text: `the size range overlaps that of rows[${other}]`,
                  accepted: "ranges without overlap",
                },
              ];
        }),
  );
}

const shareGrade = (a: TableRow, b: TableRow): boolean =>
  a.grades === undefined || b.grades === undefined || a.grades.some((grade) => b.grades?.includes(grade));

function overlap(a: TableRow, b: TableRow): boolean {
  return startsBeforeEnd(a, b) && startsBeforeEnd(b, a);
}

function startsBeforeEnd(a: TableRow, b: TableRow): boolean {
  const start = a.size ?? a.from ?? a.over;
  const end = b.size ?? b.upTo ?? b.below;
  if (start === undefined || end === undefined) return true;
  const side = compareExact(exact(start), exact(end));
  const touching = (a.size ?? a.from) !== undefined && (b.size ?? b.upTo) !== undefined;
  return side < 0 || (side === 0 && touching);
}

function fromIssue(issue: z.core.$ZodIssue): SpecificationProblem {
  const path = issue.path
    .map((part, index) => (typeof part === "number" ? `[${part}]` : index === 0 ? String(part) : `.${String(part)}`))
    .join("");
  const found =
    issue.input === undefined
      ? undefined
      : typeof issue.input === "object"
        ? JSON.stringify(issue.input)?.slice(0, 80)
        : String(issue.input);
  return { path, ...(found === undefined ? {} : { found }), text: issue.message };
}

/** The content as one text with sorted keys: equal content gives equal text, and so one hash for adoption. */
export function canonicalContent(value: unknown): string {
  if (Array.isArray(value)) return `[${value.map(canonicalContent).join(",")}]`;
  if (value !== null && typeof value === "object") {
    const entries = Object.entries(value).filter(([, v]) => v !== undefined);
    return `{${entries
      .sort(([a], [b]) => (a < b ? -1 : 1))
      .map(([key, v]) => `${JSON.stringify(key)}:${canonicalContent(v)}`)
      .join(",")}}`;
  }
  return JSON.stringify(value);
}
