import type { Finding } from "../model.ts";

/** So many cells are named one by one; a day book whose every row has the same fault needs no list of a hundred thousand. */
const NAMED = 200;

/** Warnings of one sheet, of each kind only the first ones cell by cell and the rest as a number. */
export class SheetFindings {
  readonly #sheet: string;
  readonly #findings: Finding[];
  readonly #counts = new Map<string, number>();

  constructor(sheet: string, findings: Finding[]) {
    this.#sheet = sheet;
    this.#findings = findings;
  }

  warn(code: string, cell: string, text: string, actual?: string): void {
    const count = (this.#counts.get(code) ?? 0) + 1;
    this.#counts.set(code, count);
    if (count > NAMED) return;
    this.#findings.push({ code, severity: "warning", sheet: this.#sheet, cell, ...(actual === undefined ? {} : { actual }), text });
  }

  finish(): void {
    for (const [code, count] of this.#counts)
      if (count > NAMED)
        this.#findings.push({
          code,
          severity: "warning",
          sheet: this.#sheet,
          cell: "A1",
          text: `The same was found in ${count - NAMED} more cells of this sheet.`,
        });
  }
}
