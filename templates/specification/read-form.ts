/** A filled form back into the JSON of a specification. Nothing is guessed: what is unclear is a problem with its cell. */
import { isDecimalText, numberText } from "../../core/decimal.ts";
import type { CellRecord, SheetRecord } from "../../core/model.ts";
import type { SpecificationProblem } from "../../core/spec/index.ts";
import { isDateFormat, isPercentFormat } from "../../core/workbook/dates.ts";
import { columnLetters, readWorkbook } from "../../core/workbook/index.ts";
import { BASE_PREFIX, FORM_SHEETS, type FormColumn, type FormSheet, LIST_SEPARATOR } from "./sheets.ts";

/** What a form holds. */
export interface ReadForm {
  /** The content in the shape of a JSON file; undefined where the file is no form at all. */
  readonly json: unknown;
  /** What is wrong with the cells themselves. */
  readonly problems: readonly SpecificationProblem[];
  /** The same problem, with the sheet and the cell that its JSON path came from. */
  locate(problem: SpecificationProblem): SpecificationProblem;
}

/** Never throws for what is in the file. */
export function readSpecificationForm(bytes: Uint8Array): ReadForm {
  const read = readWorkbook(bytes);
  if (!read.ok) return { json: undefined, problems: [{ path: "$", found: read.refusal.code, text: read.refusal.text }], locate: (p) => p };
  return new FormReading(read.workbook.sheets).result();
}

interface Place {
  readonly sheet: string;
  readonly cell: string;
  readonly accepted?: string;
}

type Json = Record<string, unknown>;
const fold = (text: string): string => text.normalize("NFC").replace(/\s+/g, " ").trim().toLowerCase();
const LAST_HEADER_ROW = 20;

class FormReading {
  readonly #sheets: readonly SheetRecord[];
  readonly #places = new Map<string, Place>();
  readonly #problems: SpecificationProblem[] = [];
  /** Index in the JSON by the folded name of the table. */
  readonly #tables = new Map<string, number>();
  /** Row of the sheet Limits by the JSON path of the line. */
  readonly #lineRows = new Map<string, number>();

  constructor(sheets: readonly SheetRecord[]) {
    this.#sheets = sheets;
  }

  result(): ReadForm {
    const json = this.#json();
    return { json, problems: this.#problems, locate: (problem) => this.#locate(problem) };
  }

  #json(): Json | undefined {
    for (const sheet of this.#sheets) {
      if (fold(sheet.name).startsWith(fold(BASE_PREFIX)) || FORM_SHEETS.some((own) => fold(own.name) === fold(sheet.name))) continue;
      this.#problem(
        { sheet: sheet.name, cell: "A1" },
        "this sheet is none of the form's",
        sheet.name,
        FORM_SHEETS.map((s) => s.name).join(", "),
      );
    }
    if (!this.#sheets.some((sheet) => fold(sheet.name) === "specification")) {
      this.#problem({ sheet: "Specification", cell: "A1" }, "the sheet Specification is missing", undefined, 'a workbook of "spec form"');
      return undefined;
    }
    const json: Json = { tables: [], chemistry: [], required: [], retest: [], conduct: {}, grades: [] };
    for (const form of FORM_SHEETS) this.#sheet(form, json);
    return json;
  }

  #sheet(form: FormSheet, json: Json): void {
    const sheet = this.#sheets.find((candidate) => fold(candidate.name) === fold(form.name));
    if (sheet === undefined) return;
    if (form.shape === "record") this.#record(form, sheet, json);
    else this.#list(form, sheet, json);
  }

  /** Labels in the first column, values in the second. */
  #record(form: FormSheet, sheet: SheetRecord, json: Json): void {
    const rows = new Map<string, number>();
    const value = (row: number): CellRecord | undefined => sheet.rows.get(row)?.find((cell) => cell.column === 2);
    for (const [row, cells] of sheet.rows) {
      const label = fold(cells.find((cell) => cell.column === 1)?.raw ?? "");
      const known = form.columns.find((column) => fold(column.label) === label);
      if (known !== undefined) {
        if (!rows.has(known.label)) rows.set(known.label, row);
        else this.#problem({ sheet: sheet.name, cell: `A${row}` }, "this label stands twice", known.label, "every label once");
      } else if (value(row) !== undefined && label !== "field")
        this.#problem(
          { sheet: sheet.name, cell: `A${row}` },
          "this field is unknown",
          label || "no label",
          form.columns.map((c) => c.label).join(", "),
        );
    }
    const target: Json = {};
    if (form.path !== "") this.#places.set(form.path, { sheet: sheet.name, cell: "A1" });
    for (const column of form.columns) {
      const row = rows.get(column.label);
      const place = { sheet: sheet.name, cell: row === undefined ? "A1" : `B${row}` };
      this.#register(form.path, column, place);
      if (row !== undefined) this.#take(target, column, value(row), place);
    }
    if (form.path === "") Object.assign(json, { title: "" }, target);
    else if (Object.keys(target).length > 0) json[form.path] = target;
  }

  #list(form: FormSheet, sheet: SheetRecord, json: Json): void {
    const header = this.#header(form, sheet);
    if (header === undefined) return;
    for (const [row, cells] of sheet.rows) {
      if (row <= header.row) continue;
      const filled = cells.filter((cell) => cell.type !== "empty" || cell.formula !== undefined);
      const known = filled.filter((cell) => header.columns.has(cell.column));
      for (const cell of filled)
        if (!header.columns.has(cell.column))
          this.#problem({ sheet: sheet.name, cell: cell.cell }, "this column has no label of the form", cell.raw, "a column with a label");
      if (known.length > 0) this.#row(form, sheet, row, known, header.columns, json);
    }
  }

  /** The row with the most labels among the first rows, the upper one of equals; undefined, with a problem, where a sheet with content has none. */
  #header(form: FormSheet, sheet: SheetRecord): { readonly row: number; readonly columns: ReadonlyMap<number, FormColumn> } | undefined {
    const labelled = [...sheet.rows]
      .filter(([row]) => row <= LAST_HEADER_ROW)
      .map(([row, cells]) => ({
        row,
        found: cells.flatMap((cell) => {
          const column = form.columns.find((candidate) => fold(candidate.label) === fold(cell.raw));
          return column === undefined ? [] : [{ cell, column }];
        }),
      }));
    const best = labelled.reduce<(typeof labelled)[number] | undefined>(
      (most, next) => (next.found.length > (most?.found.length ?? 0) ? next : most),
      undefined,
    );
    if (best === undefined) {
      if (sheet.rows.size > 0)
        this.#problem(
          { sheet: sheet.name, cell: "A1" },
          "no row of labels was found",
          undefined,
          form.columns.map((c) => c.label).join(", "),
        );
      return undefined;
    }
    const columns = new Map<number, FormColumn>();
    const labels = new Set<FormColumn>();
    for (const { cell, column } of best.found) {
      if (labels.has(column))
        this.#problem({ sheet: sheet.name, cell: cell.cell }, "this label stands twice", column.label, "every label once");
      else columns.set(cell.column, column);
      labels.add(column);
    }
    return { row: best.row, columns };
  }

  #row(
    form: FormSheet,
    sheet: SheetRecord,
    row: number,
    cells: readonly CellRecord[],
    columns: ReadonlyMap<number, FormColumn>,
    json: Json,
  ): void {
    const record: Json = {};
    const numberOf = new Map([...columns].map(([number, column]) => [column, number]));
    const placeOf = (column: FormColumn): Place => {
      const number = numberOf.get(column);
      return { sheet: sheet.name, cell: number === undefined ? `A${row}` : `${columnLetters(number)}${row}` };
    };
    for (const column of form.columns) {
      const number = numberOf.get(column);
      const cell = number === undefined ? undefined : cells.find((candidate) => candidate.column === number);
      this.#take(record, column, cell, placeOf(column));
    }
    const path = this.#keep(form, sheet, row, record, json);
    if (path === undefined) return;
    for (const column of form.columns) if (column.kind !== "table") this.#register(path, column, placeOf(column));
    this.#places.set(path, { sheet: sheet.name, cell: `A${row}` });
  }

  /** Puts the record where it belongs. @returns its JSON path */
  #keep(form: FormSheet, sheet: SheetRecord, row: number, { table, ...record }: Json, json: Json): string | undefined {
    if (form.path !== "limits" && form.path !== "tables") {
      const list = json[form.path] as Json[];
      return `${form.path}[${list.push(record) - 1}]`;
    }
    const tables = json["tables"] as Json[];
    const place = { sheet: sheet.name, cell: `A${row}` };
    const index = typeof table === "string" ? (this.#tables.get(fold(table)) ?? -1) : -1;
    if (form.path === "tables") {
      if (typeof table !== "string") this.#problem(place, "the table has no name", undefined, "a short name, once on this sheet");
      else if (index >= 0) this.#problem(place, "this table stands twice", table, "a short name, once on this sheet");
      // A requirement in words has no unit; limits without one are a problem of their own.
      const at = tables.push({ unit: "", ...record, rows: [] }) - 1;
      if (typeof table === "string" && index < 0) this.#tables.set(fold(table), at);
      this.#places.set(`tables[${at}].rows`, { ...place, accepted: "at least one row of the sheet Limits that names this table" });
      return `tables[${at}]`;
    }
    const target = tables[index];
    if (target === undefined) {
      const known = [...this.#tables.keys()].join(", ");
      this.#problem(
        place,
        "this table is not on the sheet Tables",
        typeof table === "string" ? table : "nothing",
        known || "a table of the sheet Tables",
      );
      return undefined;
    }
    const path = `tables[${index}].rows[${(target["rows"] as Json[]).push(record) - 1}]`;
    this.#lineRows.set(path, row);
    return path;
  }

  /** One cell into the record, under the column's key. */
  #take(record: Json, column: FormColumn, cell: CellRecord | undefined, place: Place): void {
    const text = this.#text(cell, place);
    if (text === undefined || text === "") return;
    switch (column.kind) {
      case "yes-no": {
        const word = text.toLowerCase();
        if (word === "yes" || word === "no") put(record, column.key, word === "yes");
        else this.#problem(place, "neither yes nor no", text, "yes, no");
        return;
      }
      case "whole":
        if (/^\d{1,9}$/.test(text)) put(record, column.key, Number(text));
        else this.#problem(place, "no whole number", text, "a whole number");
        return;
      case "list":
        put(
          record,
          column.key,
          text
            .split(LIST_SEPARATOR)
            .map((part) => part.trim())
            .filter((part) => part !== ""),
        );
        return;
      case "property-name": {
        const word = record[column.key];
        if (word === "other" || word === "chemistry") record[column.key] = `${word}:${text}`;
        else
          this.#problem(
            place,
            "a name stands beside a property that has its own",
            text,
            "nothing here, or the property other or chemistry",
          );
        return;
      }
      default:
        put(record, column.key, text);
    }
  }

  /** What was typed; undefined, with a problem, where the cell holds what could be read in more than one way. */
  #text(cell: CellRecord | undefined, place: Place): string | undefined {
    if (cell === undefined) return undefined;
    const no = (text: string, found: string): undefined => void this.#problem(place, text, found, "typed text or a plain number");
    if (cell.formula !== undefined) return no("a formula stands here", `=${cell.formula}`);
    if (cell.type === "text")
      return cell.raw
        .normalize("NFC")
        .replace(/[\s\u00a0]+/g, " ")
        .trim();
    if (cell.type !== "number") return cell.type === "empty" ? undefined : no("neither text nor number", cell.raw);
    if (cell.format !== undefined && (isDateFormat(cell.format) || isPercentFormat(cell.format)))
      return no("the cell is formatted as a date or a percentage", cell.raw);
    const number = Number(cell.raw);
    const text = Number.isFinite(number) ? numberText(number, 15) : "";
    return isDecimalText(text) ? text : no("no number that can be kept", cell.raw);
  }

  /** The place of `freeLength` is that of its first column; a key with two columns stands at the first of them. */
  #register(parent: string, column: FormColumn, place: Place): void {
    const full = { ...place, accepted: column.words === undefined ? column.hint : column.words.join(", ") };
    const parts = column.key.split(".");
    for (let length = parts.length; length > 0; length -= 1) {
      const path = [...(parent === "" ? [] : [parent]), ...parts.slice(0, length)].join(".");
      if (!this.#places.has(path)) this.#places.set(path, full);
    }
  }

  #locate(problem: SpecificationProblem): SpecificationProblem {
    let path = problem.path;
    while (path !== "" && !this.#places.has(path)) path = path.replace(/(^[^.[]+|\.[^.[]+|\[\d+\])$/, "");
    const place = this.#places.get(path) ?? { sheet: "Specification", cell: "A1" };
    const table = /^tables\[\d+\]/.exec(problem.path)?.[0];
    const inRows = (text: string): string =>
      text.replaceAll(/rows\[\d+\]/g, (line) => {
        const row = this.#lineRows.get(`${table}.${line}`);
        return row === undefined ? line : `row ${row} of Limits`;
      });
    // A missing value and a table without rows are spoken of in the words of the sheet; every other problem in its own.
    const emptyTable = path.endsWith(".rows");
    const { found, ...rest } = problem;
    const accepted = emptyTable || problem.text === "missing" ? place.accepted : problem.accepted;
    return {
      ...rest,
      ...(found === undefined || emptyTable ? {} : { found }),
      ...(accepted === undefined || accepted === "" ? {} : { accepted }),
      sheet: place.sheet,
      cell: place.cell,
      text: inRows(problem.text),
    };
  }

  #problem(place: Place, text: string, found: string | undefined, accepted: string): void {
    this.#problems.push({ path: "$", sheet: place.sheet, cell: place.cell, ...(found === undefined ? {} : { found }), accepted, text });
  }
}

/** Sets `a.b` of a record. */
function put(record: Json, key: string, value: unknown): void {
  const parts = key.split(".");
  const last = parts.pop() ?? key;
  let inner = record;
  for (const part of parts) {
    inner[part] ??= {};
    inner = inner[part] as Json;
  }
  inner[last] = value;
}
