/** Where the content found differs from the content issued. */
import type { PageContent, PdfContent } from "./pdf-content.ts";
import type { CellContent, SheetContent, XlsxContent } from "./xlsx-content.ts";

/** A code, its place, and what stood and stands there; the sentence is made elsewhere, in the reader's language. */
export interface SealFinding {
  readonly code: string;
  readonly severity: "error" | "warning";
  readonly place?: string;
  readonly issued?: string;
  readonly found?: string;
}

const MOST = 50;
const LONGEST_TABLE = 4_000_000;

export const error = (code: string, place?: string, issued?: string, found?: string): SealFinding => ({
  code,
  severity: "error",
  ...(place === undefined ? {} : { place }),
  ...(issued === undefined ? {} : { issued: short(issued) }),
  ...(found === undefined ? {} : { found: short(found) }),
});

const short = (text: string): string => (text.length > 200 ? `${text.slice(0, 200)}…` : text);

export interface Difference {
  /** Place of the run among the texts issued, and among those found. */
  readonly issuedAt: number;
  readonly foundAt: number;
  readonly issued: readonly string[];
  readonly found: readonly string[];
}

/** Runs of texts that differ, in order; what stands alike in both is left out. */
export function differences(issued: readonly string[], found: readonly string[]): readonly Difference[] {
  let [start, a, b] = [0, issued.length, found.length];
  while (start < a && start < b && issued[start] === found[start]) start += 1;
  while (a > start && b > start && issued[a - 1] === found[b - 1]) {
    a -= 1;
    b -= 1;
  }
  const [left, right] = [issued.slice(start, a), found.slice(start, b)];
  if (left.length === 0 && right.length === 0) return [];
  if (left.length * right.length > LONGEST_TABLE) return [{ issuedAt: start, foundAt: start, issued: left, found: right }];
  return byLongestCommon(left, right).map((run) => ({ ...run, issuedAt: run.issuedAt + start, foundAt: run.foundAt + start }));
}

function byLongestCommon(left: readonly string[], right: readonly string[]): readonly Difference[] {
  const width = right.length + 1;
  const table = new Uint32Array((left.length + 1) * width);
  const at = (i: number, j: number): number => table[i * width + j] as number;
  for (let i = left.length - 1; i >= 0; i -= 1)
    for (let j = right.length - 1; j >= 0; j -= 1)
      table[i * width + j] = left[i] === right[j] ? at(i + 1, j + 1) + 1 : Math.max(at(i + 1, j), at(i, j + 1));
  const runs: { issuedAt: number; foundAt: number; issued: string[]; found: string[] }[] = [];
  let inRun = false;
  for (let [i, j] = [0, 0]; i < left.length || j < right.length; ) {
    if (i < left.length && j < right.length && left[i] === right[j]) {
      inRun = false;
      i += 1;
      j += 1;
      continue;
    }
    if (!inRun) runs.push({ issuedAt: i, foundAt: j, issued: [], found: [] });
    inRun = true;
    const run = runs[runs.length - 1] as (typeof runs)[number];
    if (j >= right.length || (i < left.length && at(i + 1, j) >= at(i, j + 1))) {
      run.issued.push(left[i] as string);
      i += 1;
    } else {
      run.found.push(right[j] as string);
      j += 1;
    }
  }
  return runs;
}

/** Pages are matched by what they show, so that a page taken out does not make all that follow look altered. */
export function comparePdf(issued: PdfContent, found: PdfContent): readonly SealFinding[] {
  const findings: SealFinding[] = [];
  const whole = (page: PageContent): string => `${page.drawing} ${page.words.join("\n")}`;
  for (const run of differences(issued.pages.map(whole), found.pages.map(whole)))
    for (let k = 0; k < Math.max(run.issued.length, run.found.length); k += 1) {
      const [a, b] = [run.issued[k] === undefined ? undefined : run.issuedAt + k, run.found[k] === undefined ? undefined : run.foundAt + k];
      if (b === undefined) findings.push(error("page-missing", String((a ?? 0) + 1)));
      else if (a === undefined) findings.push(error("page-added", String(b + 1)));
      else findings.push(...comparePage(String(a + 1), issued.pages[a] as PageContent, found.pages[b] as PageContent));
    }
  if (issued.document !== found.document) findings.push(error("document-behaviour"));
  return findings.slice(0, MOST);
}

function comparePage(place: string, issued: PageContent, found: PageContent): readonly SealFinding[] {
  const texts = differences(issued.words, found.words);
  if (texts.length === 0) return [error("page-drawing", place)];
  return texts.map((run) => error("page-text", place, run.issued.join(" "), run.found.join(" ")));
}

export function compareXlsx(issued: XlsxContent, found: XlsxContent): readonly SealFinding[] {
  const findings: SealFinding[] = [];
  for (const sheet of issued.sheets) {
    const other = found.sheets.find((s) => s.name === sheet.name);
    if (other === undefined) findings.push(error("sheet-missing", sheet.name));
    else findings.push(...compareSheet(sheet, other));
  }
  for (const sheet of found.sheets) if (!issued.sheets.some((s) => s.name === sheet.name)) findings.push(error("sheet-added", sheet.name));
  if (issued.sheets.map((s) => s.name).join("\n") !== found.sheets.map((s) => s.name).join("\n") && findings.length === 0)
    findings.push(error("sheets-moved"));
  if (found.objects !== issued.objects) findings.push(error("object-added", undefined, String(issued.objects), String(found.objects)));
  return findings.slice(0, MOST);
}

function compareSheet(issued: SheetContent, found: SheetContent): readonly SealFinding[] {
  const findings: SealFinding[] = [];
  const same = (a: CellContent, b: CellContent): boolean => a[0] === b[0] && a[1] === b[1] && (a[2] ?? "") === (b[2] ?? "");
  const text = (cell: CellContent, other: CellContent): string =>
    cell[1] === other[1] && cell[2] !== other[2] ? `${cell[1]} (${cell[2] ?? "General"})` : cell[1];
  for (const [place, cell] of Object.entries(issued.cells)) {
    const other = found.cells[place];
    if (other === undefined) findings.push(error("cell-emptied", `${issued.name}!${place}`, cell[1]));
    else if (!same(cell, other)) findings.push(error("cell-altered", `${issued.name}!${place}`, text(cell, other), text(other, cell)));
  }
  for (const [place, cell] of Object.entries(found.cells))
    if (issued.cells[place] === undefined) findings.push(error("cell-added", `${issued.name}!${place}`, undefined, cell[1]));
  const hidden = (rows: readonly number[]): string => rows.join(" ");
  if (hidden(issued.hiddenRows) !== hidden(found.hiddenRows) || hidden(issued.hiddenColumns) !== hidden(found.hiddenColumns))
    findings.push(error("cells-hidden", issued.name));
  return findings;
}
