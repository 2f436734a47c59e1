import type { CellStore } from "./cell-store.ts";
import { LIMITS } from "./limits.ts";
import { columnNumber } from "./xml.ts";

interface Range {
  readonly top: number;
  readonly left: number;
  readonly bottom: number;
  readonly right: number;
}

/**
 * In a merged range only the first cell holds anything; nothing is filled down. One pass over the cells, whatever the number of
 * ranges. Ranges that overlap are against the format; of those the lower one reaches as far as it says.
 * @returns the same cells without those
 */
export function emptyMergedCells(cells: CellStore, merged: readonly string[]): CellStore {
  const ranges = merged.map(parseRange).filter((range) => range !== undefined);
  if (ranges.length === 0) return cells;
  ranges.sort((a, b) => a.top - b.top);
  const coveredDownTo = new Int32Array(LIMITS.lastColumn + 2);
  const corners = new Set<number>();
  let [next, row] = [0, 0];
  const enter = (number: number): void => {
    row = number;
    corners.clear();
    for (let range = ranges[next]; range !== undefined && range.top <= row; next += 1, range = ranges[next]) {
      if (range.bottom < row) continue;
      coveredDownTo.fill(range.bottom, range.left, range.right + 1);
      if (range.top === row) corners.add(range.left);
    }
  };
  return cells.filtered((number, column) => {
    if (number !== row) enter(number);
    return (coveredDownTo[column] as number) < number || corners.has(column);
  });
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
