import type { UnitSystem } from "../model.ts";
import { columnLetters } from "../workbook/xml.ts";
import { ENTRY_SHEETS, unitOf } from "./columns.ts";
import { headerOf } from "./labels.ts";

/** The bench workbook has its title and its counts above the header. */
export const HEADER_ROW = 4;

/** The entry workbook as `layout --json` describes it. */
export function layoutJson(units: UnitSystem): object {
  return {
    schema: "layout/1",
    units,
    sheets: ENTRY_SHEETS.map((sheet) => ({
      name: sheet.name,
      headerRow: HEADER_ROW,
      firstDataRow: HEADER_ROW + 1,
      columns: sheet.columns.map((column, index) => {
        const unit = unitOf(column, units);
        return {
          field: column.field,
          header: headerOf(column, units),
          column: columnLetters(index + 1),
          ...(unit === undefined ? {} : { unit }),
          type: column.type === "identifier" ? "text" : column.type,
          required: column.required === true,
          ...(column.allowed === undefined ? {} : { allowed: column.allowed }),
          ...(column.computed ? { computed: true } : {}),
        };
      }),
    })),
  };
}
