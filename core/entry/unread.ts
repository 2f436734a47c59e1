/** What unread rows and sheets hold back: nothing passes by being unreadable. */
import type { EntryRow, TestSheet, UnreadRow } from "../model.ts";
import { trimBlanks } from "./cell.ts";
import { isTestSheet } from "./columns.ts";
import type { OpenSheet } from "./open-sheet.ts";
import { everyProperty, propertiesOf } from "./properties.ts";
import type { ReadRow } from "./rows.ts";

/**
 * A test row that gave no result, with what it concerns as far as that could be read.
 * @param cells cells with errors
 * @param others properties beside those of the contract that a row of the sheet Other may have named
 */
export function toUnread(row: EntryRow, cells: readonly string[], others: readonly string[] = []): UnreadRow {
  const [coil, testPiece] = [row.fields["coil"]?.text, row.fields["testPiece"]?.text];
  return {
    sheet: row.sheet as TestSheet,
    sheetName: row.sheetName,
    row: row.row,
    file: row.file,
    ...(coil === undefined ? {} : { coil }),
    ...(testPiece === undefined ? {} : { testPiece }),
    properties: propertiesOf(row.sheet as TestSheet, row.fields, others),
    cells,
  };
}

/** A doubtful name may mean any coil, so its row holds every coil of the workbook back. */
export function unreadTest({ row, errors, doubtfulCoil }: ReadRow, others: readonly string[]): UnreadRow {
  const fields: EntryRow["fields"] = doubtfulCoil ? { ...row.fields, coil: undefined } : row.fields;
  return toUnread({ ...row, fields }, [...errors], others);
}

/**
 * A sheet that was not judged: it holds every coil of the workbook, and those that it names itself.
 * @param isCoil true for a coil that is registered or entered in the workbook
 */
export function unreadSheet(
  sheet: OpenSheet,
  file: string,
  isCoil: (name: string) => boolean,
  others: readonly string[],
): readonly UnreadRow[] {
  const { definition, record, headerRow, columns } = sheet;
  const named = new Set<string>();
  for (const [number, cells] of record.rows)
    if (number > headerRow)
      for (const cell of cells) {
        const name = trimBlanks(cell.raw.normalize("NFC"));
        if (name !== "" && (columns.get(cell.column)?.field === "coil" || isCoil(name))) named.add(name);
      }
  const whole = {
    sheet: definition.sheet,
    sheetName: record.name,
    row: 0,
    file,
    properties: isTestSheet(definition.sheet) ? propertiesOf(definition.sheet, {}, others) : everyProperty(others),
    cells: [],
  };
  return [whole, ...[...named].map((coil) => ({ ...whole, coil }))];
}

/** What the register knows of those that Agreed and Heats speak of. */
export interface KnownRegistrations {
  readonly isOrderItem: (order: string, item: string) => boolean;
  readonly isHeat: (heat: string) => boolean;
  /** Registered coils of a heat. */
  readonly coilsOfHeat: (heat: string) => readonly string[];
}

/**
 * Rows of Agreed and Heats that could not be read hold the coils of their order item or heat, every coil of the workbook where that could
 * not be read either: a requirement or an analysis that nobody could read is not met. Where the order or heat is registered already, such
 * a row would have changed nothing and holds nothing.
 */
export function unreadRegistrations(
  registers: readonly ReadRow[],
  known: KnownRegistrations,
  others: readonly string[],
): readonly UnreadRow[] {
  const coils = registers.filter(({ row }) => row.sheet === "coils").map(({ row }) => row);
  const held = new Map<string, UnreadRow & { readonly cells: string[] }>();
  for (const { row, errors } of registers) {
    if (errors.length === 0 || (row.sheet !== "agreed" && row.sheet !== "heats")) continue;
    for (const coil of row.sheet === "heats" ? coilsOfHeat(row, coils, known) : coilsOfItem(row, coils, known)) {
      const key = `${row.sheet}\u0000${coil ?? ""}`;
      const before = held.get(key);
      if (before) before.cells.push(...errors);
      else
        held.set(key, {
          sheet: row.sheet,
          sheetName: row.sheetName,
          // Of the register as a whole: it is no row of a test sheet.
          row: 0,
          file: row.file,
          ...(coil === undefined ? {} : { coil }),
          properties: everyProperty(others),
          cells: [...errors],
        });
    }
  }
  return [...held.values()];
}

const text = (row: EntryRow, field: string): string | undefined => row.fields[field]?.text;

/** Undefined stands for every coil of the workbook. */
function coilsOfHeat(row: EntryRow, coils: readonly EntryRow[], known: KnownRegistrations): readonly (string | undefined)[] {
  const heat = text(row, "heat");
  if (heat === undefined) return [undefined];
  if (known.isHeat(heat)) return [];
  const own = coils.flatMap((coil) => (text(coil, "heat") === heat ? (text(coil, "coil") ?? []) : []));
  return [...new Set([...own, ...known.coilsOfHeat(heat)])];
}

function coilsOfItem(row: EntryRow, coils: readonly EntryRow[], known: KnownRegistrations): readonly (string | undefined)[] {
  const [order, item] = [text(row, "order"), text(row, "item")];
  if (order === undefined || item === undefined) return [undefined];
  if (known.isOrderItem(order, item)) return [];
  return coils.flatMap((coil) => (text(coil, "order") === order && text(coil, "item") === item ? (text(coil, "coil") ?? []) : []));
}
