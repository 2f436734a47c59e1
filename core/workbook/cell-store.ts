import type { CellRecord } from "../model.ts";
import { columnLetters } from "./xml.ts";

/** The kinds of cells by their place in this list. */
const TYPES: readonly CellRecord["type"][] = ["number", "text", "boolean", "error", "date-text", "empty"];
export const [NUMBER, TEXT, BOOLEAN, ERROR, DATE_TEXT] = [0, 1, 2, 3, 4] as const;

/** In place of a style that does not exist; the last one a workbook might describe is not told from it. */
const NO_FORMAT = 65_535;

/**
 * The filled cells of a sheet, packed: a day book has a million of them, and as objects they would fill the memory of the worker. A row
 * becomes objects when it is asked for and is let go with them.
 */
export class CellStore implements ReadonlyMap<number, readonly CellRecord[]> {
  readonly #formats: readonly (string | undefined)[];
  /** By order of reading: the row's number and its first cell. */
  #numbers: number[] = [];
  #starts: number[] = [];
  #ascending = true;
  #count = 0;
  #columns = new Uint16Array(256);
  #styles = new Uint16Array(256);
  #types = new Uint8Array(256);
  readonly #raws: string[] = [];
  readonly #formulas = new Map<number, string>();

  /** @param formats number format code by style index; undefined is General */
  constructor(formats: readonly (string | undefined)[]) {
    this.#formats = formats;
  }

  /** Filled rows. */
  get size(): number {
    return this.#numbers.length;
  }

  /** Filled cells, those of a row that is not closed yet included. */
  get cells(): number {
    return this.#count;
  }

  /** A cell of the row that is being read; columns ascend. @param style an index into the formats, or 0 */
  push(column: number, style: number, type: number, raw: string, formula: string | undefined): void {
    const at = this.#count;
    if (at === this.#columns.length) this.#grow();
    this.#columns[at] = column;
    this.#styles[at] = style;
    this.#types[at] = type;
    this.#raws[at] = raw;
    if (formula !== undefined) this.#formulas.set(at, formula);
    this.#count = at + 1;
  }

  /** The same for a cell that was read as an object. @param style what the cell names, whether it exists or not */
  add(cell: CellRecord, style: number): void {
    this.push(
      cell.column,
      style < this.#formats.length && style < NO_FORMAT ? style : NO_FORMAT,
      TYPES.indexOf(cell.type),
      cell.raw,
      cell.formula,
    );
  }

  /** Closes a row; one without cells is not kept. @param first what `cells` was when the row began */
  closeRow(number: number, first: number): void {
    if (first === this.#count) return;
    if (number < (this.#numbers.at(-1) ?? 0)) this.#ascending = false;
    this.#numbers.push(number);
    this.#starts.push(first);
  }

  /** Takes back the cells of a row that is not closed. */
  takeBack(first: number): void {
    for (let at = first; at < this.#count; at += 1) this.#formulas.delete(at);
    this.#raws.length = first;
    this.#count = first;
  }

  /** A store of the cells for which `keep` says yes. */
  filtered(keep: (row: number, column: number) => boolean): CellStore {
    const kept = new CellStore(this.#formats);
    for (const [index, number] of this.#order()) {
      const first = kept.cells;
      for (let at = this.#starts[index] as number; at < this.#end(index); at += 1) {
        const column = this.#columns[at] as number;
        if (keep(number, column))
          kept.push(column, this.#styles[at] as number, this.#types[at] as number, this.#raws[at] as string, this.#formulas.get(at));
      }
      kept.closeRow(number, first);
    }
    return kept;
  }

  has(row: number): boolean {
    return this.#indexOf(row) >= 0;
  }

  get(row: number): readonly CellRecord[] | undefined {
    const index = this.#indexOf(row);
    return index < 0 ? undefined : this.#row(index);
  }

  forEach(visit: (cells: readonly CellRecord[], row: number, map: ReadonlyMap<number, readonly CellRecord[]>) => void): void {
    for (const [row, cells] of this) visit(cells, row, this);
  }

  *keys(): Generator<number, undefined> {
    for (const [, number] of this.#order()) yield number;
    return undefined;
  }

  *values(): Generator<readonly CellRecord[], undefined> {
    for (const [index] of this.#order()) yield this.#row(index);
    return undefined;
  }

  *entries(): Generator<[number, readonly CellRecord[]], undefined> {
    for (const [index, number] of this.#order()) yield [number, this.#row(index)];
    return undefined;
  }

  [Symbol.iterator](): Generator<[number, readonly CellRecord[]], undefined> {
    return this.entries();
  }

  /** Places in the order of reading with their numbers, ascending by number. */
  *#order(): Generator<readonly [index: number, number: number]> {
    this.#sort();
    for (let index = 0; index < this.#numbers.length; index += 1) yield [index, this.#numbers[index] as number];
  }

  /** Rows that do not ascend are rare: the cells are then laid out anew. */
  #sort(): void {
    if (this.#ascending) return;
    const order = [...this.#numbers.keys()].sort((a, b) => (this.#numbers[a] as number) - (this.#numbers[b] as number));
    const sorted = new CellStore(this.#formats);
    for (const index of order) {
      const first = sorted.cells;
      for (let at = this.#starts[index] as number; at < this.#end(index); at += 1)
        sorted.push(
          this.#columns[at] as number,
          this.#styles[at] as number,
          this.#types[at] as number,
          this.#raws[at] as string,
          this.#formulas.get(at),
        );
      sorted.closeRow(this.#numbers[index] as number, first);
    }
    this.#numbers = sorted.#numbers;
    this.#starts = sorted.#starts;
    this.#columns = sorted.#columns;
    this.#styles = sorted.#styles;
    this.#types = sorted.#types;
    this.#raws.splice(0, this.#raws.length);
    for (const raw of sorted.#raws) this.#raws.push(raw);
    this.#formulas.clear();
    for (const [at, formula] of sorted.#formulas) this.#formulas.set(at, formula);
    this.#ascending = true;
  }

  #indexOf(row: number): number {
    this.#sort();
    let [low, high] = [0, this.#numbers.length - 1];
    while (low <= high) {
      const middle = (low + high) >> 1;
      const number = this.#numbers[middle] as number;
      if (number === row) return middle;
      if (number < row) low = middle + 1;
      else high = middle - 1;
    }
    return -1;
  }

  #end(index: number): number {
    return this.#starts[index + 1] ?? this.#count;
  }

  #row(index: number): CellRecord[] {
    const row = this.#numbers[index] as number;
    const rowText = String(row);
    const cells: CellRecord[] = [];
    const end = this.#end(index);
    for (let at = this.#starts[index] as number; at < end; at += 1) {
      const column = this.#columns[at] as number;
      const type = TYPES[this.#types[at] as number] as CellRecord["type"];
      const raw = this.#raws[at] as string;
      const style = this.#styles[at] as number;
      const format = style === NO_FORMAT ? undefined : this.#formats[style];
      const formula = this.#formulas.size === 0 ? undefined : this.#formulas.get(at);
      const cell = columnLetters(column) + rowText;
      if (formula === undefined)
        cells.push(format === undefined ? { cell, row, column, type, raw } : { cell, row, column, type, raw, format });
      else
        cells.push({
          cell,
          row,
          column,
          type,
          raw,
          ...(format === undefined ? {} : { format }),
          formula,
          ...(type === "empty" ? { unevaluated: true } : {}),
        });
    }
    return cells;
  }

  #grow(): void {
    const size = this.#columns.length * 2;
    const grown = <T extends Uint8Array | Uint16Array>(from: T, to: T): T => {
      to.set(from);
      return to;
    };
    this.#columns = grown(this.#columns, new Uint16Array(size));
    this.#styles = grown(this.#styles, new Uint16Array(size));
    this.#types = grown(this.#types, new Uint8Array(size));
  }
}
