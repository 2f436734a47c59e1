import type { CellRecord, Finding, SheetRecord } from "../model.ts";
import type { AnyUnit } from "../quantity.ts";
import type { Column, EntrySheet } from "./columns.ts";
import type { EntryFindingCode } from "./finding-codes.ts";

/** A sheet of the workbook with its header found. */
export interface OpenSheet {
  readonly definition: EntrySheet;
  readonly record: SheetRecord;
  /** 0 where there is none. */
  readonly headerRow: number;
  /** By column number. */
  readonly columns: ReadonlyMap<number, Column>;
  /** The unit written in a header, by column number. */
  readonly units: ReadonlyMap<number, string>;
  /** False where the sheet cannot be judged: all its rows are then unread. */
  readonly judged: boolean;
  /** What an intake map says of the sheet beyond its columns. */
  readonly mapped?: MappedRows;
}

export interface MappedRows {
  /** Units in which columns are written that differ from the workbook's own. */
  readonly given: ReadonlyMap<number, AnyUnit>;
  /** Fields with one value for every row. */
  readonly fixed: readonly { readonly column: Column; readonly value: string }[];
  /** False for a row that belongs to another test of the same sheet. */
  readonly admits: (cells: readonly CellRecord[]) => boolean;
}

/** A finding on a sheet or one of its cells. */
export const onSheet = (
  code: EntryFindingCode,
  severity: Finding["severity"],
  { name }: SheetRecord,
  cell: string,
  text: string,
  expected?: string,
): Finding => ({ code, severity, sheet: name, cell, ...(expected === undefined ? {} : { expected }), text });
