import type { Refusal, WorkbookRecord } from "../model.ts";
import { fits } from "./open.ts";
import type { IntakeMap } from "./schema.ts";

export type ChosenMap = { readonly ok: true; readonly map?: IntakeMap } | { readonly ok: false; readonly refusal: Refusal };

/** The one map whose sheets the workbook has. Of several that fit the one with most sheets; nobody guesses between equals. */
export function chooseMap(workbook: WorkbookRecord, maps: readonly IntakeMap[]): ChosenMap {
  const fitting = maps.filter((map) => fits(map, workbook.sheets));
  const most = Math.max(0, ...fitting.map((map) => map.sheets.length));
  const [first, ...others] = fitting.filter((map) => map.sheets.length === most);
  if (first === undefined) return { ok: true };
  if (others.length === 0) return { ok: true, map: first };
  const names = [first, ...others].map((map) => map.map).join(", ");
  return {
    ok: false,
    refusal: {
      code: "ambiguous-map",
      text: `The intake maps ${names} fit the workbook alike; rename a sheet in one of them or take one out of the folder maps.`,
    },
  };
}
