import type { CellRecord } from "../model.ts";
import { refuse, shown } from "./limits.ts";
import { checkedText } from "./lists.ts";
import type { SheetFindings } from "./sheet-findings.ts";
import { columnLetters } from "./xml.ts";

/** A cell as its elements gave it, not yet understood. */
export interface OpenCell {
  readonly row: number;
  readonly column: number;
  /** The stored type letter; `n` where none stands. */
  readonly type: string;
  /** Infinity for what is no index. */
  readonly style: number;
  value?: string;
  inline?: string;
  formula?: string;
}

/** Links to other workbooks and DDE: `[1]Sheet!A1`, `'[Book.xlsx]Sheet'!A1`, `app|topic!item`. */
const EXTERNAL = /\[[^\][]{1,300}\][^!]{0,300}!|\|[^!|]{0,300}!/;

/**
 * The cell as others see it.
 * @returns undefined for a cell that holds nothing
 * @throws RefusedWorkbook where a shared text does not exist or a text is too long
 */
export function toRecord(
  open: OpenCell,
  sheet: string,
  lists: { readonly strings: readonly string[]; readonly formats: readonly (string | undefined)[] },
  findings: SheetFindings,
): CellRecord | undefined {
  if (open.value === undefined && open.inline === undefined && open.formula === undefined) return undefined;
  const cell = columnLetters(open.column) + open.row;
  const formula = open.formula;
  const value = storedValue(open, cell, sheet, lists.strings);
  if (value === undefined && formula === undefined) return undefined;
  if (formula !== undefined && EXTERNAL.test(formula.replaceAll(/"[^"]*"/g, "")))
    findings.warn(
      "external-link",
      cell,
      `The formula in ${cell} refers to another workbook or program; the link is never followed, its stored value is read.`,
      `=${formula}`,
    );
  if (open.style !== 0 && open.style >= lists.formats.length)
    findings.warn("style-out-of-range", cell, `The cell ${cell} names a format that the workbook does not hold; it is read as General.`);
  const format = lists.formats[open.style];
  const { row, column } = open;
  if (value === undefined)
    return {
      cell,
      row,
      column,
      type: "empty",
      raw: "",
      ...(format === undefined ? {} : { format }),
      formula: formula ?? "",
      unevaluated: true,
    };
  const { type, raw } = value;
  if (formula !== undefined) return { cell, row, column, type, raw, ...(format === undefined ? {} : { format }), formula };
  return format === undefined ? { cell, row, column, type, raw } : { cell, row, column, type, raw, format };
}

interface StoredValue {
  readonly type: CellRecord["type"];
  readonly raw: string;
}

function storedValue(open: OpenCell, cell: string, sheet: string, strings: readonly string[]): StoredValue | undefined {
  const text = (raw: string): StoredValue | undefined => (raw === "" && open.formula === undefined ? undefined : { type: "text", raw });
  const what = (): string => `Sheet ${shown(sheet)}: the text in ${cell}`;
  const stored = open.value;
  if (open.type === "inlineStr" || stored === undefined)
    return open.inline === undefined ? undefined : text(checkedText(open.inline, what));
  switch (open.type) {
    case "s": {
      const index = stored.trim();
      const found = /^\d{1,9}$/.test(index) ? strings[Number(index)] : undefined;
      return found === undefined
        ? refuse(
            "string-out-of-range",
            `Sheet ${shown(sheet)}, cell ${cell}: the shared text ${shown(index)} does not exist. Save the workbook again.`,
          )
        : text(found);
    }
    case "str":
      return text(checkedText(stored, what));
    case "b":
      return { type: "boolean", raw: stored.trim() };
    case "e":
      return { type: "error", raw: stored.trim() };
    case "d":
      return { type: "date-text", raw: stored.trim() };
    default: {
      const trimmed = stored.trim();
      return trimmed === "" ? undefined : { type: "number", raw: trimmed };
    }
  }
}
