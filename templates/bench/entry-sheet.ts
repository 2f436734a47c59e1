/** One entry sheet: header, prepared and spare rows, drop-downs and ranges, live formulas, protection of what is ours. */
import { type EntrySheet, HEADER_ROW, headerOf, sheetNameOf, unitOf } from "../../core/entry/index.ts";
import type { TestSheet, UnitSystem } from "../../core/model.ts";
import { convertMeasure, convertNumber, type Unit } from "../../core/quantity.ts";
import { columnLetters, type DescribedCell, type DescribedSheet, dateToSerial, type Validation } from "../../core/workbook/index.ts";
import { figure, type Say } from "../wording.ts";
import { type BenchOrder, isTest, type PlacedPiece, type Placement, type Rows, SPARE_ROWS, TITLE_HEIGHT } from "./bench-order.ts";
import { liveFigures, liveFormula } from "./live-formulas.ts";

export interface LimitsPlace {
  readonly sheet: string;
  readonly firstRow: number;
  readonly lastRow: number;
}

type Given = Readonly<Record<string, string | number | undefined>>;
type Column = EntrySheet["columns"][number];

export function entrySheet(sheet: EntrySheet, placed: Placement, limits: LimitsPlace, bench: BenchOrder, say: Say): DescribedSheet {
  const { units } = bench;
  const name = sheetNameOf(sheet, say.language);
  const first = HEADER_ROW + 1;
  const test = isTest(sheet);
  const records = test ? (placed.sheets.get(sheet.sheet as TestSheet) ?? []).map(pieceRecord) : registerRecords(sheet, bench);
  const count = records.length + SPARE_ROWS;
  const last = first + count - 1;
  const letters = Object.fromEntries(sheet.columns.map((column, i) => [column.field, columnLetters(i + 1)]));
  const ours = oursAt(sheet, letters, limits, say);
  const rows: Rows = new Map<number, Map<number, DescribedCell>>([
    [1, new Map([[1, { value: name, style: "title" }]])],
    [2, new Map([[1, { value: noteOf(test, first, last, say), style: "note" }]])],
    [
      HEADER_ROW,
      new Map(sheet.columns.map((column, i) => [i + 1, { value: headerOf(column, units, say.language), style: headStyle(column) }])),
    ],
  ]);
  const pasted = test ? pastedAsText(sheet, first, last) : undefined;
  if (pasted !== undefined)
    rows.set(
      3,
      new Map([
        [1, { formula: pasted, value: 0, style: "count" }],
        [2, { value: say("bench.pasted"), style: "note" }],
      ]),
    );
  for (let i = 0; i < count; i += 1) {
    const record = records[i] ?? {};
    const cells = sheet.columns.map((column): DescribedCell => {
      if (column.computed) return ours(column.field, first + i);
      const style = column.type === "date" ? "entryDate" : column.type === "identifier" ? "entryText" : "entry";
      const given = record[column.field];
      return given === undefined ? { style } : { value: given, style };
    });
    rows.set(first + i, new Map(cells.map((cell, c) => [c + 1, cell])));
  }
  const conditions = test
    ? [...verdictWords(letters["verdict"] ?? "A", first, last, say), ...shownWords(sheet, first, last, say), ...pastedMark()]
    : [];
  return {
    name,
    rows,
    widths: widthsOf(sheet, records, units, say),
    heights: { 1: TITLE_HEIGHT, [HEADER_ROW]: 30 },
    freezeRows: HEADER_ROW,
    freezeColumns: test ? 2 : 1,
    validations: validations(sheet, first, last, units, say),
    filter: `A${HEADER_ROW}:${columnLetters(sheet.columns.length)}${last}`,
    ...(test ? { conditions, protect: true } : {}),
    print: { paper: bench.paper, landscape: true, repeatRows: `$${HEADER_ROW}:$${HEADER_ROW}`, footer: `${bench.labName} · ${name}` },
  };
}

const headStyle = (column: Column): string => (column.computed ? "headerOurs" : column.required ? "headerRequired" : "header");

function noteOf(test: boolean, first: number, last: number, say: Say): string {
  const note = say("bench.sheet.note", { row: first });
  return test ? `${note} ${say("bench.sheet.locked", { row: last })}` : note;
}

/** Verdict and Why of a row, live until the program writes its own. An unfilled row shows nothing, and is stored so. */
function oursAt(
  sheet: EntrySheet,
  letters: Readonly<Record<string, string>>,
  limits: LimitsPlace,
  say: Say,
): (field: string, row: number) => DescribedCell {
  const test = sheet.sheet as TestSheet;
  const text = say("bench.figures", { value: "{value}", compared: "{compared}" });
  return (field, row) => {
    const place = { row, columns: letters, limits };
    const formula = field === "verdict" ? liveFormula(test, place) : field === "why" ? liveFigures(test, place, text) : undefined;
    return formula === undefined ? { style: "ours" } : { formula, value: "", style: "ours" };
  };
}

/**
 * How many cells of the number columns hold text. `>N` is text by intention where a count may be stopped. Undefined where a sheet has no
 * number column.
 */
function pastedAsText(sheet: EntrySheet, first: number, last: number): string | undefined {
  const parts: string[] = [];
  sheet.columns.forEach((column, c) => {
    if (column.type !== "number" && column.type !== "whole") return;
    const range = `${columnLetters(c + 1)}${first}:${columnLetters(c + 1)}${last}`;
    parts.push(column.openEnd ? `SUMPRODUCT(ISTEXT(${range})*(LEFT(${range},1)<>">"))` : `SUMPRODUCT(ISTEXT(${range})*1)`);
  });
  return parts.length === 0 ? undefined : parts.join("+");
}

const pastedMark = (): NonNullable<DescribedSheet["conditions"]> => [{ range: "A3", formula: "$A$3>0", style: "strong" }];

const pieceRecord = (piece: PlacedPiece): Given => ({ testPiece: piece.testPiece, coil: piece.coil, end: piece.end });

function widthsOf(sheet: EntrySheet, records: readonly Given[], units: UnitSystem, say: Say): Readonly<Record<number, number>> {
  const fixed: Readonly<Record<string, number>> = { why: 90, next: 70, verdict: 22 };
  return Object.fromEntries(
    sheet.columns.map((column, c) => {
      const longest = records.reduce((most, record) => Math.max(most, String(record[column.field] ?? "").length), 0);
      const usual = Math.min(40, Math.max(11, longest + 2, Math.ceil(headerOf(column, units, say.language).length / 2) + 3));
      return [c + 1, fixed[column.field] ?? usual];
    }),
  );
}

type Conditions = NonNullable<DescribedSheet["conditions"]>;

/** The formula stores the code; the cell's format shows the word of the language. */
function verdictWords(column: string, first: number, last: number, say: Say): Conditions {
  const range = `${column}${first}:${column}${last}`;
  return [
    { range, formula: `$${column}${first}="does-not-conform"`, style: "strong", show: say("verdict.does-not-conform") },
    { range, formula: `$${column}${first}="void"`, style: "pale", show: say("row.void") },
    { range, formula: `$${column}${first}="conforms"`, style: "none", show: say("verdict.conforms") },
  ];
}

/** The words of a drop-down are stored as the entry reads them, and shown in the tester's language. */
function shownWords(sheet: EntrySheet, first: number, last: number, say: Say): Conditions {
  return sheet.columns.flatMap((column, c) =>
    (column.allowed ?? []).flatMap((word): Conditions => {
      const shown = wordOf(word, say);
      const letter = columnLetters(c + 1);
      return shown === word
        ? []
        : [{ range: `${letter}${first}:${letter}${last}`, formula: `$${letter}${first}="${word}"`, style: "none", show: shown }];
    }),
  );
}

/** A fracture class is its own word in every language. */
const wordOf = (word: string, say: Say): string => (/^[a-z-]+$/.test(word) ? say(`entry.${word}`) : word);

function validations(sheet: EntrySheet, first: number, last: number, units: UnitSystem, say: Say): readonly Validation[] {
  return sheet.columns.flatMap((column, c): Validation[] => {
    const range = `${columnLetters(c + 1)}${first}:${columnLetters(c + 1)}${last}`;
    const title = headerOf(column, units, say.language);
    if (column.allowed !== undefined) {
      const explained = column.allowed.map((word) => {
        const shown = isTest(sheet) ? wordOf(word, say) : word;
        return shown === word ? word : `${word} (${shown})`;
      });
      return [{ range, kind: "list", words: column.allowed, title, message: say("bench.accepted.words", { words: explained.join(", ") }) }];
    }
    if (column.type === "date")
      return [
        {
          range,
          kind: "date",
          min: dateToSerial("1990-01-01"),
          max: dateToSerial("2199-12-31"),
          title,
          message: say("bench.accepted.date"),
        },
      ];
    // Columns that take `>N` stay open, so that the spreadsheet program lets it in.
    if (column.plausible === undefined || column.openEnd || column.type === "text" || column.type === "identifier") return [];
    const unit = unitOf(column, units);
    const [min, max] = column.plausible.map((edge) => inSheetUnit(column, edge, units)) as [number, number];
    const shown = (value: number): string => figure(say, String(Number(value.toPrecision(3))));
    const message = say("bench.accepted.range", { min: shown(min), max: shown(max), unit: unit === undefined ? "" : ` ${unit}` });
    return [{ range, kind: "decimal", min: Number(min.toPrecision(6)), max: Number(max.toPrecision(6)), title, message }];
  });
}

/** Plausible edges stand in SI. */
function inSheetUnit(column: Column, edge: number, units: UnitSystem): number {
  if (units === "SI") return edge;
  if (column.kind === "length") return convertNumber({ text: String(edge), unit: "mm" }, "in");
  return column.kind === "force" ? convertNumber({ text: String(edge), unit: "N" }, "lbf") : edge;
}

function registerRecords(sheet: EntrySheet, bench: BenchOrder): readonly Given[] {
  const columns = new Map(sheet.columns.map((column) => [column.field, column]));
  const record = (source: object): Given =>
    Object.fromEntries(
      Object.entries(source).flatMap(([field, value]): [string, string | number][] => {
        const column = columns.get(field);
        if (column === undefined || value === undefined) return [];
        if (typeof value === "object" && value !== null && "text" in value) {
          const to = unitOf(column, bench.units) as Unit | undefined;
          return [[field, Number(to === undefined ? value.text : convertMeasure(value, to).text)]];
        }
        if (typeof value !== "string") return [];
        if (column.type === "date") return [[field, dateToSerial(value)]];
        return [[field, column.type === "number" && value !== "" ? Number(value) : value]];
      }),
    );
  switch (sheet.sheet) {
    case "orders":
      return bench.orders.map((order) => ({ ...record(order), grade: order.grade === "" ? "-" : order.grade }));
    case "agreed":
      return bench.agreed.map(record);
    case "coils":
      return bench.coils.map(record);
    case "heats":
      return bench.heats.map((heat) => ({
        ...record(heat),
        ...Object.fromEntries(Object.entries(heat.elements).map(([e, v]) => [e, Number(v)])),
      }));
    case "instruments":
      return bench.instruments.map(record);
    default:
      return [];
  }
}
