import type { SheetRecord } from "../../../core/model.ts";
import { annotateWorkbook, readWorkbook } from "../../../core/workbook/index.ts";
import { RefusedWorkbook } from "../../../core/workbook/limits.ts";
import { readFormats, readSharedStrings } from "../../../core/workbook/lists.ts";
import { locateParts, PackageParts } from "../../../core/workbook/parts.ts";
import { type ReadingContext, readSheet } from "../../../core/workbook/sheet-reader.ts";
import { ZLIB } from "../../../worker/zlib-codec.ts";
import { mutated } from "./mutations.ts";

/** The longest one small input may take on a busy machine, milliseconds. */
const LONGEST_MS = 60_000;

export interface FuzzSummary {
  readonly inputs: number;
  readonly read: number;
  readonly refused: number;
  readonly slowestMs: number;
}

/**
 * Reads mutated workbooks in every way there is and holds the ways to each other: with and without the shortcut for plain rows, with
 * both ways of unpacking. Whatever was read is annotated, and the copy must be read again with the same cells.
 * @throws Error naming the seed of the first input that crashes, hangs or is read in two ways
 */
export function fuzz(from: number, count: number, until: () => boolean = () => false): FuzzSummary {
  let [inputs, read, slowestMs] = [0, 0, 0];
  for (let seed = from; seed < from + count && !until(); seed += 1) {
    const began = performance.now();
    try {
      if (holdOne(mutated(seed))) read += 1;
    } catch (error) {
      throw new Error(`input ${seed}: ${(error as Error).stack}`);
    }
    inputs += 1;
    const took = performance.now() - began;
    slowestMs = Math.max(slowestMs, took);
    if (took > LONGEST_MS) throw new Error(`input ${seed}: took ${took.toFixed(0)} ms`);
  }
  return { inputs, read, refused: inputs - read, slowestMs };
}

const shown = (sheets: readonly SheetRecord[]): string =>
  JSON.stringify(sheets.map((sheet) => [sheet.name, [...sheet.rows], [...sheet.hiddenRows], sheet.merged]));

/** Of two faults the one that is met first is named, and that may differ. */
const REFUSED = "refused";

/** Only the walk over all XML, as it reads what is not plain. */
function readSlowly(bytes: Uint8Array): string {
  try {
    const parts = new PackageParts(bytes);
    const located = locateParts(parts);
    const context: ReadingContext = {
      ...(located.sharedStrings === undefined ? { strings: [], characters: 0 } : readSharedStrings(parts, located.sharedStrings)),
      formats: located.styles === undefined ? [] : readFormats(parts, located.styles),
      findings: [],
      filledCells: 0,
    };
    const sheets = located.sheets.map((sheet) => readSheet(parts, sheet, context, false));
    parts.checkRest();
    return shown(sheets);
  } catch (error) {
    if (error instanceof RefusedWorkbook) return REFUSED;
    throw error;
  }
}

/** @returns true for a workbook that was read */
function holdOne(bytes: Uint8Array): boolean {
  const portable = readWorkbook(bytes);
  const native = readWorkbook(bytes, ZLIB);
  const said = (result: typeof portable): string => (result.ok ? shown(result.workbook.sheets) : REFUSED);
  const [one, two, three] = [said(portable), said(native), readSlowly(bytes)];
  if (one !== two) throw new Error(`unpacked in two ways, read in two ways: ${one.slice(0, 300)} | ${two.slice(0, 300)}`);
  if (one !== three) throw new Error(`plain rows and the walk differ: ${one.slice(0, 300)} | ${three.slice(0, 300)}`);
  if (!portable.ok) {
    if (/[\r\n]/.test(portable.refusal.text)) throw new Error(`a refusal of more than one line: ${portable.refusal.text}`);
    return false;
  }
  const [first] = portable.workbook.sheets;
  if (first === undefined) return true;
  const mark = { text: "■ conforms", style: "conforms" as const };
  const marked = annotateWorkbook(
    bytes,
    {
      sheets: [
        {
          name: first.name,
          headerRow: 1,
          columns: [{ header: "Verdict", width: 20, cells: new Map([...first.rows.keys()].map((row) => [row, mark])) }],
        },
      ],
      findings: { name: "Befunde", rows: [["Text"]], widths: [20] },
    },
    ZLIB,
  );
  const again = readWorkbook(marked);
  if (!again.ok) throw new Error(`the annotated copy is refused: ${again.refusal.code}: ${again.refusal.text}`);
  const after = new Map(again.workbook.sheets.find((sheet) => sheet.name === first.name)?.rows);
  for (const [row, cells] of first.rows) {
    const found = new Map((after.get(row) ?? []).map((cell) => [cell.column, cell]));
    for (const cell of cells)
      if (JSON.stringify(found.get(cell.column)) !== JSON.stringify(cell) && found.get(cell.column)?.raw !== mark.text)
        throw new Error(`the annotated copy changed ${cell.cell}: ${JSON.stringify(cell)} to ${JSON.stringify(found.get(cell.column))}`);
  }
  return true;
}
