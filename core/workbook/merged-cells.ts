import type { CellRecord } from "../model.ts";
import { LIMITS } from "./limits.ts";
import { columnNumber } from "./xml.ts";

interface Range {
  readonly top: number;
  readonly left: number;
  readonly bottom: number;
  readonly right: number;
}

/**
 * In a merged range only the first cell holds anything; nothing is filled down. One pass over the rows, whatever the number of
 * ranges. Ranges that overlap are against the format; of those the lower one reaches as far as it says.
 * @param rows ascending; changed in place
 */
export function emptyMergedCells(rows: Map<number, CellRecord[]>, merged: readonly string[]): void {
  const ranges = merged.map(parseRange).filter((range) => range !== undefined);
  if (ranges.length === 0) return;
  ranges.sort((a, b) => a.top - b.top);
  const coveredDownTo = new Int32Array(LIMITS.lastColumn + 2);
  const corners = new Set<number>();
  let next = 0;
  let lowest = 0;
  for (const [row, cells] of rows) {
    for (let range = ranges[next]; range !== undefined && range.top <= row; next += 1, range = ranges[next]) {
      if (range.bottom < row) continue;
      coveredDownTo.fill(range.bottom, range.left, range.right + 1);
      lowest = Math.max(lowest, range.bottom);
      if (range.top === row) corners.add(range.left);
    }
    if (row <= lowest) {
      const kept = cells.filter((cell) => (coveredDownTo[cell.column] as number) < row || corners.has(cell.column));
      if (kept.length === 0) rows.delete(row);
      else if (kept.length < cells.length) rows.set(row, kept);
    }
    corners.clear();
  }
}

function parseRange(text: string): Range | undefined {
  const found = /^\$?([A-Za-z]{1,3})\$?(\d{1,7}):\$?([A-Za-z]{1,3})\$?(\d{1,7})$/.exec(text);
  if (found === null) return undefined;
  const [c1, r1, c2, r2] = [columnNumber(found[1] as string), Number(found[2]), columnNumber(found[3] as string), Number(found[4])];
  return {
    top: Math.min(r1, r2),
    bottom: Math.max(r1, r2),
    left: Math.min(c1, c2),
    right: Math.min(Math.max(c1, c2), LIMITS.lastColumn),
  };
}
