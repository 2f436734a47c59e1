import type { CellRecord, Finding, SheetRecord } from "../model.ts";
import { type OpenCell, toRecord } from "./cell-record.ts";
import { CellStore } from "./cell-store.ts";
import { LIMITS, refuse, shown } from "./limits.ts";
import { countedCharacters, grown } from "./lists.ts";
import { emptyMergedCells } from "./merged-cells.ts";
import type { PackageParts, SheetReference } from "./parts.ts";
import { PlainRows } from "./plain-rows.ts";
import { SheetFindings } from "./sheet-findings.ts";
import { columnLetters, isTrue } from "./xml.ts";
import { indexOf } from "./xml-bytes.ts";
import type { XmlAttributes, XmlHandlers, XmlWalker } from "./xml-walker.ts";

const [SHEET_DATA, ROW_END] = ["<sheetData>", "</row>"] as const;

/** What the cells of every sheet share. */
export interface ReadingContext {
  readonly strings: readonly string[];
  /** Number format code by style index; undefined is General. */
  readonly formats: readonly (string | undefined)[];
  readonly findings: Finding[];
  /** Filled cells read so far, of all sheets. */
  filledCells: number;
  /** Characters read so far, of the shared texts and all sheets. */
  characters: number;
}

/**
 * Every filled cell of one sheet.
 * @param shortcut false to walk over all of its XML, also where its rows are plain
 * @throws RefusedWorkbook where the sheet is damaged or beyond the limits
 */
export function readSheet(parts: PackageParts, sheet: SheetReference, context: ReadingContext, shortcut = true): SheetRecord {
  const reading = new SheetReading(sheet, context);
  parts.walk(sheet.part, reading, shortcut ? (content, walker) => reading.readWhole(content, walker) : undefined);
  return reading.finish();
}

class SheetReading implements XmlHandlers {
  readonly #sheet: SheetReference;
  readonly #context: ReadingContext;
  readonly #findings: SheetFindings;
  readonly #store: CellStore;
  /** Numbers of the rows met, empty ones included; a set only once they do not ascend. */
  readonly #rowsMet: number[] = [];
  #seenRows: Set<number> | undefined;
  readonly #hiddenRows = new Set<number>();
  readonly #hiddenColumns = new Set<number>();
  readonly #merged: string[] = [];
  readonly #sharedFormulas = new Map<string, string>();
  #filtered = false;
  /** With repetitions, to bound the work. */
  #columnsHidden = 0;
  #depth = 0;
  #sheetData: "before" | "in" | "after" = "before";
  #rowOpen = false;
  #row = 0;
  #lastColumn = 0;
  /** Columns met in the row, where they do not simply ascend. */
  #columns: Set<number> | undefined;
  readonly #columnsMet: number[] = [];
  #current: { readonly record: CellRecord; readonly style: number }[] = [];
  #cell: OpenCell | undefined;
  #reading: "v" | "f" | "t" | undefined;
  #inline = false;
  /** Inside an extension or a phonetic guide, whose elements only look like ours. */
  #aside = 0;
  #sharedIndex: string | undefined;

  constructor(sheet: SheetReference, context: ReadingContext) {
    this.#sheet = sheet;
    this.#context = context;
    this.#findings = new SheetFindings(sheet.name, context.findings);
    this.#store = new CellStore(context.formats);
  }

  /** Plain rows are read by themselves, all the rest by the walk. */
  readWhole(content: Uint8Array, walker: XmlWalker): void {
    const begin = indexOf(content, SHEET_DATA, 0, content.length);
    let at = begin < 0 ? content.length : begin + SHEET_DATA.length;
    walker.push(content.subarray(0, at));
    const rows = new PlainRows(content, {
      store: this.#store,
      strings: this.#context.strings,
      formats: this.#context.formats.length,
      declares: (prefix) => walker.declares(prefix),
    });
    while (at < content.length) {
      if (this.#sheetData === "in" && this.#depth === 2 && walker.isBetween(2)) at = this.#readPlainRows(rows, at);
      const end = indexOf(content, ROW_END, at, content.length);
      const to = end < 0 ? content.length : end + ROW_END.length;
      walker.push(content.subarray(at, to));
      at = to;
    }
  }

  /** @returns where the first row begins that is not plain, or whatever stands there */
  #readPlainRows(rows: PlainRows, from: number): number {
    const context = this.#context;
    for (let at = from; ; at = rows.row.end) {
      at = rows.behindBlanks(at);
      const first = this.#store.cells;
      if (!rows.read(at, this.#row)) {
        this.#store.takeBack(first);
        return at;
      }
      const { number, hidden, characters } = rows.row;
      this.#enterRow(number, hidden);
      context.characters = countedCharacters(context.characters, characters);
      context.filledCells += this.#store.cells - first;
      this.#checkCells();
      this.#leaveRow(first);
    }
  }

  open(name: string, attributes: XmlAttributes): void {
    this.#depth += 1;
    if (this.#depth === 1 && name !== "worksheet") this.#damaged(`its part begins with <${shown(name)}>`);
    if (name === "extLst" || name === "rPh") this.#aside += 1;
    if (this.#aside > 0) return;
    if (this.#sheetData === "in") this.#openInData(name, attributes);
    else this.#openAround(name, attributes);
  }

  close(name: string): void {
    this.#depth -= 1;
    if (name === "extLst" || name === "rPh") this.#aside -= 1;
    if (this.#aside > 0 || this.#sheetData !== "in") return;
    if (name === "c") this.#closeCell();
    else if (name === "row") this.#closeRow();
    else if (name === "sheetData") this.#sheetData = "after";
    else if (name === "f") this.#closeFormula();
    else if (name === "is") this.#inline = false;
    if (name === "v" || name === "t" || name === "f") this.#reading = undefined;
  }

  text(text: string): void {
    const cell = this.#cell;
    if (cell === undefined || this.#reading === undefined || this.#aside > 0) return;
    const what = this.#textHere;
    this.#context.characters = countedCharacters(this.#context.characters, text.length);
    if (this.#reading === "v") cell.value = cell.value === "" ? text : grown(cell.value ?? "", text, what);
    else if (this.#reading === "f") cell.formula = grown(cell.formula ?? "", text, what);
    else cell.inline = grown(cell.inline ?? "", text, what);
  }

  readonly #textHere = (): string => `Sheet ${shown(this.#sheet.name)}: a text in row ${this.#row}`;

  finish(): SheetRecord {
    this.#findings.finish();
    return {
      name: this.#sheet.name,
      hidden: this.#sheet.hidden,
      hiddenRows: this.#hiddenRows,
      hiddenColumns: this.#hiddenColumns,
      filtered: this.#filtered,
      rows: emptyMergedCells(this.#store, this.#merged),
      merged: this.#merged,
    };
  }

  #openAround(name: string, attributes: XmlAttributes): void {
    if (name === "sheetData") {
      if (this.#sheetData === "after" || this.#depth !== 2) this.#damaged("it holds its cells twice");
      this.#sheetData = "in";
    } else if (name === "col") this.#hideColumns(attributes);
    else if (name === "autoFilter") this.#filtered = true;
    else if (name === "mergeCell") {
      const range = attributes.get("ref");
      if (range === undefined) return;
      if (this.#merged.length >= LIMITS.mergedRanges)
        refuse(
          "too-many-merged-cells",
          `Sheet ${shown(this.#sheet.name)} holds more than ${LIMITS.mergedRanges} merged ranges; at most so many are accepted.`,
        );
      this.#merged.push(range);
    }
  }

  #openInData(name: string, attributes: XmlAttributes): void {
    if (name === "c") this.#openCell(attributes);
    else if (name === "row") this.#openRow(attributes);
    else if (name === "sheetData") this.#damaged("it holds its cells twice");
    const cell = this.#cell;
    if (cell === undefined) return;
    if (name === "v") {
      if (cell.value !== undefined) this.#damaged(`a cell in row ${this.#row} holds two values`);
      cell.value = "";
      this.#reading = "v";
    } else if (name === "f") {
      cell.formula = "";
      this.#sharedIndex = attributes.get("t") === "shared" ? attributes.get("si") : undefined;
      this.#reading = "f";
    } else if (name === "is") this.#inline = true;
    else if (name === "t" && this.#inline) {
      cell.inline ??= "";
      this.#reading = "t";
    }
  }

  #openRow(attributes: XmlAttributes): void {
    if (this.#rowOpen || this.#cell !== undefined) this.#damaged(`row ${this.#row} holds another row`);
    const given = attributes.get("r");
    this.#row = given === undefined ? this.#row + 1 : this.#rowNumber(given);
    if (this.#row > LIMITS.lastRow) this.#damaged(`it goes beyond row ${LIMITS.lastRow}, the last one of the format`);
    this.#enterRow(this.#row, isTrue(attributes.get("hidden")));
    this.#rowOpen = true;
    this.#lastColumn = 0;
    this.#columns = undefined;
    this.#current = [];
  }

  /** @throws RefusedWorkbook where the row stands a second time */
  #enterRow(number: number, hidden: boolean): void {
    if (this.#seenRows === undefined && number <= (this.#rowsMet.at(-1) ?? 0)) this.#seenRows = new Set(this.#rowsMet);
    if (this.#seenRows?.has(number))
      refuse("doubled-row", `Sheet ${shown(this.#sheet.name)} holds row ${number} twice. Save the workbook again.`);
    if (this.#seenRows === undefined) this.#rowsMet.push(number);
    else this.#seenRows.add(number);
    this.#row = number;
    if (hidden) this.#hiddenRows.add(number);
  }

  #rowNumber(text: string): number {
    const number = Number(text);
    return Number.isInteger(number) && number >= 1 && number <= LIMITS.lastRow
      ? number
      : this.#damaged(`a row is numbered "${shown(text)}", which is none of 1 to ${LIMITS.lastRow}`);
  }

  #openCell(attributes: XmlAttributes): void {
    if (!this.#rowOpen || this.#cell !== undefined) this.#damaged(`a cell stands outside of a row, after row ${this.#row}`);
    const reference = attributes.get("r");
    const column = reference === undefined ? this.#lastColumn + 1 : this.#columnOf(reference);
    if (column > LIMITS.lastColumn)
      this.#damaged(`row ${this.#row} goes beyond column ${columnLetters(LIMITS.lastColumn)}, the last one of the format`);
    // Columns that ascend, as every program writes them, need no memory of what was met.
    if (this.#lastColumn === 0) this.#columnsMet.length = 0;
    else if (column <= this.#lastColumn) this.#columns ??= new Set(this.#columnsMet);
    if (this.#columns?.has(column))
      refuse(
        "doubled-cell",
        `Sheet ${shown(this.#sheet.name)} holds the cell ${columnLetters(column)}${this.#row} twice. Save the workbook again.`,
      );
    this.#columns?.add(column);
    this.#columnsMet.push(column);
    this.#lastColumn = column;
    const style = attributes.get("s");
    this.#cell = {
      row: this.#row,
      column,
      type: attributes.get("t") ?? "n",
      style: style === undefined ? 0 : styleIndex(style),
    };
  }

  /** Letters and digits are read by hand: this runs once for every cell of the sheet. */
  #columnOf(reference: string): number {
    let column = 0;
    let i = 0;
    for (; i < 3; i += 1) {
      const letter = reference.charCodeAt(i) & ~32;
      if (!(letter >= 65 && letter <= 90)) break;
      column = column * 26 + letter - 64;
    }
    let row = 0;
    const digits = i;
    for (; i < reference.length; i += 1) {
      const digit = reference.charCodeAt(i) - 48;
      if (!(digit >= 0 && digit <= 9)) break;
      row = row * 10 + digit;
    }
    if (column === 0 || digits === i || i < reference.length || i - digits > 7) this.#damaged(`a cell is named "${shown(reference)}"`);
    if (row !== this.#row) this.#damaged(`the cell ${reference} stands in row ${this.#row}`);
    return column;
  }

  #closeCell(): void {
    const cell = this.#cell;
    if (cell === undefined) return;
    this.#cell = undefined;
    const record = toRecord(cell, this.#sheet.name, this.#context, this.#findings);
    if (record === undefined) return;
    this.#context.filledCells += 1;
    this.#current.push({ record, style: cell.style });
    this.#checkCells();
  }

  #checkCells(): void {
    if (this.#store.cells + this.#current.length > LIMITS.cells)
      refuse(
        "too-many-cells",
        `Sheet ${shown(this.#sheet.name)} holds more than ${LIMITS.cells} filled cells; at most ${LIMITS.cells} are accepted.`,
      );
    if (this.#context.filledCells > LIMITS.allCells)
      refuse("too-many-cells", `The workbook holds more than ${LIMITS.allCells} filled cells; at most ${LIMITS.allCells} are accepted.`);
  }

  #closeRow(): void {
    this.#rowOpen = false;
    if (this.#columns !== undefined) this.#current.sort((a, b) => a.record.column - b.record.column);
    const first = this.#store.cells;
    for (const { record, style } of this.#current) this.#store.add(record, style);
    this.#current = [];
    this.#leaveRow(first);
  }

  #leaveRow(firstCell: number): void {
    this.#store.closeRow(this.#row, firstCell);
    if (this.#store.size > LIMITS.rows)
      refuse(
        "too-many-rows",
        `Sheet ${shown(this.#sheet.name)} holds more than ${LIMITS.rows} filled rows; at most ${LIMITS.rows} are accepted.`,
      );
  }

  /** A cell that shares a formula quotes the one of the first cell. */
  #closeFormula(): void {
    const cell = this.#cell;
    if (cell === undefined || this.#sharedIndex === undefined) return;
    if (cell.formula !== "" && cell.formula !== undefined) this.#sharedFormulas.set(this.#sharedIndex, cell.formula);
    else cell.formula = this.#sharedFormulas.get(this.#sharedIndex) ?? "";
    this.#sharedIndex = undefined;
  }

  #hideColumns(attributes: XmlAttributes): void {
    if (!isTrue(attributes.get("hidden"))) return;
    const first = Math.max(1, Number(attributes.get("min")));
    const last = Math.min(Number(attributes.get("max")), LIMITS.lastColumn);
    for (let column = first; column <= last; column += 1) this.#hiddenColumns.add(column);
    this.#columnsHidden += Math.max(1, last - first + 1);
    if (this.#columnsHidden > 4 * LIMITS.lastColumn) this.#damaged("it hides more columns than the format has");
  }

  #damaged(text: string): never {
    return refuse("malformed-sheet", `Sheet ${shown(this.#sheet.name)} is damaged: ${text}. Save the workbook again.`);
  }
}

/** Infinity for what is no index; beyond every list it is then read as General. */
function styleIndex(text: string): number {
  const number = Number(text);
  return Number.isInteger(number) && number >= 0 ? number : Number.POSITIVE_INFINITY;
}
