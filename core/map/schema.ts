/** The intake map: how a laboratory's own workbook says what the entry workbook asks for. */
import { z } from "zod";
import { type Column, ENTRY_SHEETS, type EntrySheet, isTestSheet, unitOf } from "../entry/columns.ts";
import { foldLabel } from "../entry/labels.ts";
import { type AnyUnit, dimensionOf, isUnit } from "../quantity.ts";

const text = z.string().trim().min(1).max(200);
const labels = z.union([text, z.array(text).min(1).max(20)]);

const column = z.union([
  labels,
  z.strictObject({
    label: labels,
    unit: z.string().optional().describe("the unit the figures are written in, where it is not the workbook's own"),
  }),
]);

const sheet = z.strictObject({
  name: labels.describe("the sheet's name, or several it may have"),
  optional: z.boolean().default(false).describe("true where a workbook of this kind may lack it"),
  header: z
    .strictObject({
      row: z
        .int()
        .min(1)
        .max(1000)
        .optional()
        .describe("the first row of the header; without it, found by its labels in the first 40 rows"),
      rows: z.int().min(1).max(3).default(1).describe("rows of the header, of which the labels are joined by a blank"),
    })
    .prefault({}),
  ignore: z.array(text).default([]).describe("labels that are passed over without a word"),
  reads: z
    .array(
      z.strictObject({
        as: z.enum(ENTRY_SHEETS.map((entry) => entry.sheet) as [string, ...string[]]).describe("the sheet of the entry workbook"),
        columns: z.record(z.string(), column).describe("field to label"),
        fixed: z.record(z.string(), text).default({}).describe("field to the value that holds for every row"),
        rows: z
          .union([
            z.strictObject({ filled: z.array(z.string()).min(1) }).describe("rows in which one of these fields is filled"),
            z.strictObject({ label: text, is: z.array(text).min(1) }).describe("rows whose cell under the label is one of these"),
          ])
          .optional(),
      }),
    )
    .min(1),
});

export const intakeMapSchema = z.strictObject({
  map: z
    .string()
    .regex(/^[A-Za-z0-9][A-Za-z0-9._-]{0,63}$/)
    .describe("its name"),
  units: z.enum(["SI", "inch-pound"]),
  sheets: z.array(sheet).min(1).max(200),
  ignoreSheets: z.array(text).default([]).describe("sheets that are passed over without a word"),
});

export type IntakeMap = z.infer<typeof intakeMapSchema>;
/** What may be written down; what is left out has its default. */
export type IntakeMapInput = z.input<typeof intakeMapSchema>;
export type MappedSheet = IntakeMap["sheets"][number];
export type MappedRead = MappedSheet["reads"][number];

/** One thing wrong in a map. */
export interface MapProblem {
  /** JSON path such as `sheets[0].reads[1].columns.turns`; `$` for the whole file. */
  readonly path: string;
  readonly text: string;
  readonly found?: string;
  readonly accepted?: string;
}

export type ParsedMap = { readonly ok: true; readonly map: IntakeMap } | { readonly ok: false; readonly problems: readonly MapProblem[] };

/** An intake map out of JSON, or every problem with its place. @param json what the file holds, parsed */
export function parseIntakeMap(json: unknown): ParsedMap {
  const parsed = intakeMapSchema.safeParse(json, { reportInput: true });
  if (!parsed.success) return { ok: false, problems: parsed.error.issues.map(fromIssue) };
  const map = parsed.data;
  const problems = [...sheetNameProblems(map), ...map.sheets.flatMap((one, s) => sheetProblems(map, one, `sheets[${s}]`))];
  return problems.length > 0 ? { ok: false, problems } : { ok: true, map };
}

const pathText = (path: readonly PropertyKey[]): string =>
  path.length === 0
    ? "$"
    : path.map((step, i) => (typeof step === "number" ? `[${step}]` : `${i === 0 ? "" : "."}${String(step)}`)).join("");

function fromIssue(issue: z.core.$ZodIssue): MapProblem {
  const path = pathText(issue.path);
  const found = issue.input === undefined ? undefined : JSON.stringify(issue.input)?.slice(0, 120);
  const more = found === undefined ? {} : { found };
  switch (issue.code) {
    case "unrecognized_keys":
      return { path, text: `${issue.keys.join(", ")} is not known here` };
    case "invalid_value":
      return { path, text: "the word is not accepted", ...more, accepted: issue.values.join(", ") };
    case "invalid_type":
      return { path, text: found === undefined ? "this is missing" : "this is of another kind", ...more, accepted: issue.expected };
    default:
      return { path, text: issue.message, ...more };
  }
}

export const labelsOf = (given: string | readonly string[]): readonly string[] => (typeof given === "string" ? [given] : given);

/** A column as written in the map. */
export const columnLabels = (given: MappedRead["columns"][string]): { readonly labels: readonly string[]; readonly unit?: string } =>
  typeof given === "string" || Array.isArray(given)
    ? { labels: labelsOf(given) }
    : { labels: labelsOf(given.label), ...(given.unit === undefined ? {} : { unit: given.unit }) };

function sheetNameProblems(map: IntakeMap): MapProblem[] {
  const seen = new Map<string, string>();
  const problems: MapProblem[] = [];
  const take = (name: string, path: string): void => {
    const earlier = seen.get(foldLabel(name));
    if (earlier === undefined) seen.set(foldLabel(name), path);
    else problems.push({ path, found: name, accepted: "each name once", text: `the sheet stands in ${earlier} already` });
  };
  map.sheets.forEach((one, s) => {
    for (const name of labelsOf(one.name)) take(name, `sheets[${s}].name`);
  });
  for (const [i, name] of map.ignoreSheets.entries()) take(name, `ignoreSheets[${i}]`);
  return problems;
}

function sheetProblems(map: IntakeMap, one: MappedSheet, path: string): MapProblem[] {
  const tests = one.reads.filter((read) => isTestSheet(read.as));
  return one.reads.flatMap((read, r) => {
    const at = `${path}.reads[${r}]`;
    const definition = ENTRY_SHEETS.find((entry) => entry.sheet === read.as) as EntrySheet;
    const problems = [
      ...Object.entries(read.columns).flatMap(([field, given]) => columnProblems(map, definition, field, given, `${at}.columns.${field}`)),
      ...Object.entries(read.fixed).flatMap(([field, value]) => fixedProblems(definition, field, value, read, `${at}.fixed.${field}`)),
      ...definition.columns.flatMap(({ field, required }) =>
        required && field !== "grade" && read.columns[field] === undefined && read.fixed[field] === undefined
          ? [
              {
                path: at,
                text: `the sheet ${definition.name} requires ${field}`,
                accepted: `a label in columns.${field} or a value in fixed.${field}`,
              },
            ]
          : [],
      ),
      ...labelProblems(read, at),
    ];
    if (tests.length > 1 && isTestSheet(read.as) && read.rows === undefined)
      problems.push({
        path: `${at}.rows`,
        text: "a sheet that holds several tests must say which rows belong to which",
        accepted: '{"filled": [fields]} or {"label": label, "is": [words]}',
      });
    if (read.rows !== undefined && "filled" in read.rows)
      read.rows.filled.forEach((field, i) => {
        if (read.columns[field] === undefined)
          problems.push({
            path: `${at}.rows.filled[${i}]`,
            found: field,
            accepted: Object.keys(read.columns).join(", "),
            text: "this field has no column",
          });
      });
    return problems;
  });
}

function columnProblems(
  map: IntakeMap,
  definition: EntrySheet,
  field: string,
  given: MappedRead["columns"][string],
  path: string,
): MapProblem[] {
  const column = definition.columns.find((one) => one.field === field);
  if (column === undefined || column.computed)
    return [{ path, found: field, accepted: fieldsOf(definition), text: `the sheet ${definition.name} has no such field to read` }];
  const { unit } = columnLabels(given);
  if (unit === undefined) return [];
  const own = unitOf(column, map.units);
  return givenUnit(column, map.units, unit) !== undefined
    ? []
    : [
        {
          path: `${path}.unit`,
          found: unit,
          accepted: own === undefined ? "no unit" : `${own} or a unit of its kind`,
          text: "the unit does not fit the field",
        },
      ];
}

const fieldsOf = (definition: EntrySheet): string =>
  definition.columns
    .filter((column) => !column.computed)
    .map((column) => column.field)
    .join(", ");

/** The unit figures are written in, where they can be turned into the workbook's. */
export function givenUnit(column: Column, system: IntakeMap["units"], unit: string): AnyUnit | undefined {
  const own = unitOf(column, system);
  if (own === unit) return own;
  return own !== undefined && isUnit(own) && isUnit(unit) && dimensionOf(own) === dimensionOf(unit) ? unit : undefined;
}

function fixedProblems(definition: EntrySheet, field: string, value: string, read: MappedRead, path: string): MapProblem[] {
  const column = definition.columns.find((one) => one.field === field);
  if (column === undefined || column.computed)
    return [{ path, found: field, accepted: fieldsOf(definition), text: `the sheet ${definition.name} has no such field` }];
  if (read.columns[field] !== undefined) return [{ path, text: "the field has a column already", accepted: "one of the two" }];
  if (column.allowed !== undefined && !column.allowed.includes(value))
    return [{ path, found: value, accepted: column.allowed.join(", "), text: "the word is not accepted" }];
  if ((column.type === "number" || column.type === "whole") && !/^-?\d+(?:\.\d+)?$/.test(value))
    return [{ path, found: value, accepted: "a plain number with a point", text: "the figure is no number" }];
  if (column.type === "date" && !/^\d{4}-\d{2}-\d{2}$/.test(value))
    return [{ path, found: value, accepted: "YYYY-MM-DD", text: "the value is no day" }];
  return [];
}

/** One label must not stand for two fields of the same sheet of the entry workbook. */
function labelProblems(read: MappedRead, path: string): MapProblem[] {
  const seen = new Map<string, string>();
  return Object.entries(read.columns).flatMap(([field, given]) =>
    columnLabels(given).labels.flatMap((label) => {
      const earlier = seen.get(foldLabel(label));
      seen.set(foldLabel(label), field);
      return earlier === undefined || earlier === field
        ? []
        : [
            {
              path: `${path}.columns.${field}`,
              found: label,
              accepted: "each label once",
              text: `the label stands for ${earlier} already`,
            },
          ];
    }),
  );
}

/** `[map.json]sheets[0].name: …`, with what was found and what is accepted. */
export const mapProblemText = (file: string, { path, text: said, found, accepted }: MapProblem): string =>
  `[${file}]${path}: ${said}${found === undefined ? "" : `, found ${found}`}${accepted === undefined ? "" : `, accepted ${accepted}`}`;
