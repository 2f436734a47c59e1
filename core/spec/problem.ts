/** One thing wrong in a specification file: where, what was found, what is accepted. */
export interface SpecificationProblem {
  /** JSON path such as `tables[0].rows[2].min`; `$` for the whole file. */
  readonly path: string;
  /** Where the file is a form: sheet and cell. */
  readonly sheet?: string;
  readonly cell?: string;
  readonly found?: string;
  readonly accepted?: string;
  readonly text: string;
}

/** `[own.xlsx]Limits!F7: …` or `[own.json]tables[0].rows[2].min: …`, with what was found and what is accepted. */
export function problemText(file: string, problem: SpecificationProblem): string {
  const place = problem.cell === undefined ? problem.path : `${problem.sheet ?? ""}!${problem.cell}`;
  const found = problem.found === undefined ? "" : `, found ${problem.found}`;
  const accepted = problem.accepted === undefined ? "" : `, accepted ${problem.accepted}`;
  return `[${file}]${place}: ${problem.text}${found}${accepted}`;
}
