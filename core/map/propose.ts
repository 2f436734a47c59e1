/** A map for a workbook that nobody described yet: proposed by its labels, with all that it could not place. */
import { type Column, ENTRY_SHEETS, type EntrySheet, isTestSheet, unitOf } from "../entry/columns.ts";
import { findColumn, findSheet, foldLabel } from "../entry/labels.ts";
import type { CellRecord, SheetRecord, UnitSystem, WorkbookRecord } from "../model.ts";
import { dimensionOf, isUnit, type Unit } from "../quantity.ts";
import type { IntakeMapInput } from "./schema.ts";
import { SHEET_WORDS, SYNONYMS } from "./synonyms.ts";

export interface ProposedMap {
  readonly map: IntakeMapInput;
  /** Sheets and labels that were recognised, in words a person can check. */
  readonly placed: readonly {
    readonly sheet: string;
    readonly cell: string;
    readonly label: string;
    readonly as: string;
    readonly field: string;
    readonly unit?: string;
  }[];
  /** Labels for which no field was found; the map passes over none of them. */
  readonly unplacedLabels: readonly { readonly sheet: string; readonly cell: string; readonly label: string }[];
  /** Sheets without a header that could be recognised. */
  readonly unplacedSheets: readonly string[];
  /** Fields that the entry workbook requires and the sheet does not show: a person must name a label or a fixed value. */
  readonly missing: readonly { readonly sheet: string; readonly as: string; readonly field: string }[];
}

type SheetInput = IntakeMapInput["sheets"][number];

/** Letters without accents and signs, words parted by one blank: `Ring-Nr.` is `ring nr`. */
const plain = (text: string): string =>
  foldLabel(text)
    .normalize("NFD")
    .replaceAll(/\p{M}/gu, "")
    .replaceAll("ß", "ss")
    .replaceAll("ł", "l")
    .replaceAll(/[^\p{L}\p{N}ø%]+/gu, " ")
    .trim();

const HEADER_WITHIN = 40;

/** @param name of the map, letters, digits, `.`, `_` and `-` */
export function proposeMap(workbook: WorkbookRecord, name: string): ProposedMap {
  const placed: ProposedMap["placed"][number][] = [];
  const unplacedLabels: ProposedMap["unplacedLabels"][number][] = [];
  const unplacedSheets: string[] = [];
  const missing: ProposedMap["missing"][number][] = [];
  const sheets: SheetInput[] = [];
  const units: string[] = [];
  for (const record of workbook.sheets) {
    if (record.rows.size === 0) continue;
    const found = recognise(record);
    if (found === undefined) {
      unplacedSheets.push(record.name);
      continue;
    }
    const reads = found.reads.map(({ definition, columns }) => {
      const own = columns.filter(({ column }) => !column.computed);
      for (const { cell, label, column, unit } of own) {
        placed.push({
          sheet: record.name,
          cell: cell.cell,
          label,
          as: definition.sheet,
          field: column.field,
          ...(unit === undefined ? {} : { unit }),
        });
        if (unit !== undefined) units.push(unit);
      }
      for (const { field, required } of definition.columns)
        if (required && field !== "grade" && !own.some(({ column }) => column.field === field))
          missing.push({ sheet: record.name, as: definition.sheet, field });
      return {
        as: definition.sheet,
        columns: Object.fromEntries(own.map(({ column, label, unit }) => [column.field, unit === undefined ? label : { label, unit }])),
        ...(found.reads.length > 1
          ? {
              rows: {
                filled: ownFields(
                  definition,
                  own.map(({ column }) => column.field),
                ),
              },
            }
          : {}),
      };
    });
    for (const { cell, label } of found.unplaced) unplacedLabels.push({ sheet: record.name, cell: cell.cell, label });
    sheets.push({ name: record.name, reads });
  }
  const system = units.filter((unit) => ["in", "lbf", "lb", "ft"].includes(unit)).length * 2 > units.length ? "inch-pound" : "SI";
  return {
    map: { map: name, units: system, sheets: sheets.map((sheet) => withUnits(sheet, system)) },
    placed,
    unplacedLabels,
    unplacedSheets,
    missing,
  };
}

/** A unit that is the workbook's own needs no word. */
const withUnits = (sheet: SheetInput, system: UnitSystem): SheetInput => ({
  ...sheet,
  reads: sheet.reads.map((read) => {
    const definition = ENTRY_SHEETS.find((entry) => entry.sheet === read.as);
    const columns = Object.entries(read.columns).map(([field, given]) => {
      const column = definition?.columns.find((one) => one.field === field);
      if (typeof given === "string" || Array.isArray(given) || column === undefined || given.unit !== unitOf(column, system))
        return [field, given];
      return [field, given.label];
    });
    return { ...read, columns: Object.fromEntries(columns) as typeof read.columns };
  }),
});

/** Fields of a test that belong to it alone. */
const ownFields = (definition: EntrySheet, fields: readonly string[]): string[] => {
  const shared = new Set(
    ENTRY_SHEETS.filter((other) => other !== definition).flatMap((other) => other.columns.map((column) => column.field)),
  );
  return fields.filter((field) => !shared.has(field));
};

interface Placed {
  readonly cell: CellRecord;
  readonly label: string;
  readonly column: Column;
  readonly unit?: Unit;
}
interface Recognised {
  readonly reads: readonly { readonly definition: EntrySheet; readonly columns: readonly Placed[] }[];
  readonly unplaced: readonly { readonly cell: CellRecord; readonly label: string }[];
}

/** The header row and sheets of the entry workbook that explain most of it. */
function recognise(record: SheetRecord): Recognised | undefined {
  let best: { readonly score: number; readonly found: Recognised } | undefined;
  for (const [row, cells] of record.rows) {
    if (row > HEADER_WITHIN) break;
    const labels = cells.filter((cell) => cell.type === "text" && plain(cell.raw) !== "");
    if (labels.length < 2) continue;
    const candidates = ENTRY_SHEETS.map((definition) => ({
      definition,
      columns: place(definition, labels),
      named: isNamed(definition, record.name),
    }))
      .filter(({ columns }) => columns.length >= 2)
      .map((one) => ({ ...one, score: score(one.definition, one.columns) + (one.named ? 2 : 0) }))
      .sort((a, b) => b.score - a.score);
    const [first] = candidates;
    if (first === undefined || (best !== undefined && first.score <= best.score)) continue;
    const reads = isTestSheet(first.definition.sheet) ? severalTests(candidates) : [first];
    const used = new Set(reads.flatMap(({ columns }) => columns.map(({ cell }) => cell.cell)));
    const unplaced = labels.filter((cell) => !used.has(cell.cell)).map((cell) => ({ cell, label: cell.raw }));
    best = { score: first.score, found: { reads, unplaced } };
  }
  return best !== undefined && best.score >= 3 ? best.found : undefined;
}

/** A sheet may hold several tests: each that shows a required field of its own beside the piece. */
function severalTests<T extends { readonly definition: EntrySheet; readonly columns: readonly Placed[] }>(
  candidates: readonly T[],
): readonly T[] {
  const tests = candidates.filter(
    ({ definition, columns }) =>
      isTestSheet(definition.sheet) &&
      ownFields(
        definition,
        columns.filter(({ column }) => column.required).map(({ column }) => column.field),
      ).length > 0,
  );
  return tests.length > 0 ? tests : candidates.slice(0, 1);
}

/** Required fields say more than others, fields of one sheet alone more than those of all. */
const score = (definition: EntrySheet, columns: readonly Placed[]): number =>
  columns.reduce((sum, { column }) => sum + 1 + (column.required ? 0.5 : 0), 0) +
  ownFields(
    definition,
    columns.map(({ column }) => column.field),
  ).length;

const isNamed = (definition: EntrySheet, name: string): boolean =>
  findSheet([definition], name) !== undefined || (SHEET_WORDS[definition.sheet] ?? []).some((word) => plain(name).includes(word));

/** Each label to the field it names, each field once; a label that is exactly ours goes before one that only resembles it. */
function place(definition: EntrySheet, labels: readonly CellRecord[]): Placed[] {
  const found: (Placed & { readonly sure: boolean })[] = [];
  for (const cell of labels) {
    const exact = findColumn(definition, cell.raw);
    const { label, unit } = parted(cell.raw);
    const column = exact?.column ?? definition.columns.find((one) => (SYNONYMS[one.field] ?? []).includes(plain(label)));
    if (column === undefined) continue;
    const fitting = unit !== undefined && unitOf(column, "SI") !== undefined && fitsUnit(unit, column) ? unit : undefined;
    found.push({ cell, label: cell.raw, column, sure: exact !== undefined, ...(fitting === undefined ? {} : { unit: fitting }) });
  }
  found.sort((a, b) => Number(b.sure) - Number(a.sure));
  const taken = new Set<string>();
  return found.filter(({ column }) => {
    if (taken.has(column.field)) return false;
    taken.add(column.field);
    return true;
  });
}

function fitsUnit(unit: Unit, column: Column): boolean {
  const own = unitOf(column, "SI");
  return own !== undefined && isUnit(own) && dimensionOf(own) === dimensionOf(unit);
}

/** A label and the unit behind it: `F [kN]`, `Kraft (N)`, `d, mm`, `Länge in mm`. */
function parted(raw: string): { readonly label: string; readonly unit?: Unit } {
  const found = /^(.*?)[\s,]*(?:[[(]\s*([^\])]{1,8}?)\s*[\])]|(?:,|\/|\bin\b)\s*(\S{1,8}))\s*$/.exec(raw.trim());
  const written = (found?.[2] ?? found?.[3] ?? "").replaceAll("²", "2").replace("µ", "u").replace("°C", "degC");
  return found !== null && isUnit(written)
    ? { label: found[1] as string, unit: written }
    : { label: found?.[2] === undefined ? raw : (found[1] as string) };
}
