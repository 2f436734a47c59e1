/** One thing wrong in a specification file: where, what was found, what is accepted. */
export interface SpecificationProblem {
  /** JSON path such as `tables[0].rows[2].min`; `$` for the whole file. */
  readonly path: string;
  readonly found?: string;
  readonly accepted?: string;
  readonly text: string;
}
