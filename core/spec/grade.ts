import type { ChemistryRow, SpecificationData, Table, TableRow } from "./schema.ts";

/** The rules that hold for one grade, freed of its name; all of them where none is chosen. */
export const rulesOfGrade = <T extends { grades?: string[] | undefined }>(rules: readonly T[], grade: string | undefined): T[] =>
  grade === undefined
    ? [...rules]
    : rules.filter((rule) => rule.grades === undefined || rule.grades.includes(grade)).map(({ grades: _grades, ...rule }) => rule as T);

/** The tables that hold for one grade, without its name and without empty ones. */
export const tablesOfGrade = (tables: readonly Table[], grade: string | undefined): Table[] =>
  rulesOfGrade(tables, grade)
    .map((table): Table => ({ ...table, rows: rulesOfGrade<TableRow>(table.rows, grade) }))
    .filter((table) => table.rows.length > 0);

/** A specification cut down to one of its grades, which has no name any more. */
export const specificationOfGrade = (data: SpecificationData, grade: string): SpecificationData => ({
  ...data,
  grades: [],
  tables: tablesOfGrade(data.tables, grade),
  chemistry: rulesOfGrade<ChemistryRow>(data.chemistry, grade),
  required: rulesOfGrade(data.required, grade),
});
