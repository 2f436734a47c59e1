import type { z } from "zod";
import { rulesOfGrade, tablesOfGrade } from "./grade.ts";
import type { SpecificationProblem } from "./problem.ts";
import { ACCEPTED_PROPERTIES, isPropertyName } from "./properties.ts";
import { acceptedKeys, type SpecificationData, specificationSchema } from "./schema.ts";
import { gradeProblems, tableProblems } from "./table-problems.ts";

export type ParsedSpecification =
  | { readonly ok: true; readonly specification: SpecificationData }
  | { readonly ok: false; readonly problems: readonly SpecificationProblem[] };

/**
 * A laboratory's own specification out of JSON.
 * @param json what the file holds, parsed
 * @param findBase finds the specification that this one extends
 * @returns the specification, complete with what it takes from its base, or every problem with its JSON path
 */
export function parseSpecification(
  json: unknown,
  findBase: (id: string, edition?: string) => SpecificationData | undefined,
): ParsedSpecification {
  const parsed = specificationSchema.safeParse(json, { reportInput: true });
  if (!parsed.success) return { ok: false, problems: parsed.error.issues.flatMap((issue) => fromIssue(issue)) };
  const own = parsed.data;
  const base = own.extends === undefined ? undefined : findBase(own.extends.specification, own.extends.edition);
  const problems = extendsProblems(own, base);
  if (problems.length > 0) return { ok: false, problems };
  const specification = base === undefined ? own : merge(own, base);
  problems.push(...tableProblems(own.tables, specification.grades));
  own.chemistry.forEach((row, index) => {
    problems.push(...gradeProblems(row.grades, specification.grades, `chemistry[${index}]`));
  });
  own.required.forEach((rule, index) => {
    problems.push(...gradeProblems(rule.grades, specification.grades, `required[${index}]`));
  });
  // A misspelt table leaves its property without one: the slip is named once.
  if (problems.length === 0) problems.push(...requiredProblems(own, specification));
  return problems.length > 0 ? { ok: false, problems } : { ok: true, specification };
}

function extendsProblems(own: SpecificationData, base: SpecificationData | undefined): SpecificationProblem[] {
  if (own.extends === undefined) return [];
  const { specification: id, edition, grade } = own.extends;
  if (id === own.id) return [{ path: "extends.specification", found: id, accepted: "another specification", text: "it extends itself" }];
  if (base === undefined) {
    const found = edition === undefined ? id : `${id}:${edition}`;
    return [{ path: "extends.specification", found, accepted: "a specification and edition that is held", text: "this is not held" }];
  }
  if (grade !== undefined && !base.grades.includes(grade))
    return [
      {
        path: "extends.grade",
        found: grade,
        accepted: base.grades.join(", ") || "no grade: it has one only",
        text: `${base.id} has no such grade`,
      },
    ];
  return [];
}

/** Every property that is asked for has a rule for each grade it is asked of. */
function requiredProblems(own: SpecificationData, whole: SpecificationData): SpecificationProblem[] {
  const unknown = own.required.flatMap(({ property }, index): SpecificationProblem[] =>
    isPropertyName(property)
      ? []
      : [{ path: `required[${index}].property`, found: property, accepted: ACCEPTED_PROPERTIES, text: "unknown property" }],
  );
  if (unknown.length > 0) return unknown;
  const includes = (grades: readonly string[] | undefined, grade: string): boolean => grades === undefined || grades.includes(grade);
  const held = (property: string, grade: string): boolean =>
    whole.tables.some((t) => t.property === property && includes(t.grades, grade) && t.rows.some((row) => includes(row.grades, grade))) ||
    whole.chemistry.some((row) => property === `chemistry:${row.element}` && includes(row.grades, grade));
  const grades = whole.grades.length === 0 ? [""] : whole.grades;
  return whole.required.flatMap((rule): SpecificationProblem[] => {
    const without = grades.filter((grade) => includes(rule.grades, grade) && !held(rule.property, grade));
    if (without.length === 0) return [];
    const index = own.required.indexOf(rule);
    const of = whole.grades.length === 0 ? "" : ` for grade ${without.join(", ")}`;
    return [
      {
        path: index < 0 ? "extends" : `required[${index}].property`,
        found: rule.property,
        accepted: "a property with a table for every grade it is required of",
        text: `required, and no table holds it${of}`,
      },
    ];
  });
}

/** The lab's tables replace the base's tables of the same property; everything else of the base stays. */
function merge(own: SpecificationData, base: SpecificationData): SpecificationData {
  const replaced = new Set(own.tables.map((table) => table.property));
  const asked = new Set(own.required.map((rule) => rule.property));
  const grade = own.extends?.grade;
  // With one base grade chosen, the lab's grades stand for it, so the base's rules of that grade hold for all of them.
  const kept = tablesOfGrade(
    base.tables.filter((table) => !replaced.has(table.property)),
    grade,
  );
  const sampling = own.sampling ?? base.sampling;
  return {
    ...own,
    grades: grade === undefined && own.grades.length === 0 ? base.grades : own.grades,
    tables: [...kept, ...own.tables],
    chemistry: [...own.chemistry, ...rulesOfGrade(base.chemistry, grade)],
    required: [
      ...rulesOfGrade(
        base.required.filter((rule) => !asked.has(rule.property)),
        grade,
      ),
      ...own.required,
    ],
    ...(sampling === undefined ? {} : { sampling }),
    retest: own.retest.length > 0 ? own.retest : base.retest,
    conduct: { ...base.conduct, ...own.conduct },
  };
}

/** A zod issue as problems of the file; a key too many is named one by one. */
function fromIssue(issue: z.core.$ZodIssue): SpecificationProblem[] {
  const path = pathText(issue.path);
  const found = foundText(issue.input);
  const problem = (text: string, accepted?: string): SpecificationProblem => ({
    path: path === "" ? "$" : path,
    ...(found === undefined ? {} : { found }),
    ...(accepted === undefined ? {} : { accepted }),
    text: issue.input === undefined ? "missing" : text,
  });
  switch (issue.code) {
    case "unrecognized_keys":
      return issue.keys.map((key) => ({
        path: path === "" ? key : `${path}.${key}`,
        found: key,
        accepted: acceptedKeys(issue.path),
        text: "unknown key",
      }));
    case "invalid_type":
      return [problem("of the wrong type", issue.expected)];
    case "invalid_value":
      return [problem("not among the words accepted", issue.values.map(String).join(", "))];
    case "too_small":
      return [problem("too small or too few", `${issue.inclusive === false ? "more than" : "at least"} ${issue.minimum}`)];
    case "too_big":
      return [problem("too large", `at most ${issue.maximum}`)];
    case "invalid_format":
      return [problem("not written as accepted", issue.message)];
    case "invalid_union":
      return [problem("none of the shapes accepted", unionText(issue))];
    default: {
      const accepted = issue.code === "custom" ? issue.params?.["accepted"] : undefined;
      return [
        typeof accepted === "string" ? problem("not written as accepted", accepted) : { ...problem(issue.message), text: issue.message },
      ];
    }
  }
}

const pathText = (path: readonly PropertyKey[]): string =>
  path.map((part, index) => (typeof part === "number" ? `[${part}]` : index === 0 ? String(part) : `.${String(part)}`)).join("");

function foundText(input: unknown): string | undefined {
  if (input === undefined) return undefined;
  return (typeof input === "object" ? JSON.stringify(input) : String(input)).replace(/\s+/g, " ").slice(0, 80);
}

/** The keys each alternative of a union asks for. */
function unionText(issue: z.core.$ZodIssueInvalidUnion): string {
  const alternatives = issue.errors.map((issues) =>
    issues.flatMap((inner) => (inner.code === "unrecognized_keys" ? [] : [pathText(inner.path)])).filter((path) => path !== ""),
  );
  return `an object with ${[...new Set(alternatives.flat())].join(" or ")}`;
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
