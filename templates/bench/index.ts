/** The bench workbook of an order list: set-up plan, cards, cut list, entry sheets with the pieces filled in, live limits. */
import { ENTRY_SHEETS, type EntrySheet, HEADER_ROW, headerOf, type Registers, sheetNameOf, unitOf } from "../../core/entry/index.ts";
import { judge } from "../../core/judge/index.ts";
import type { OrderVerdict, SpecificationLibrary, TestSheet, UnitSystem } from "../../core/model.ts";
import { convertMeasure, convertNumber, type Unit } from "../../core/quantity.ts";
import { type Piece, planSetUps, type SetUp, type Tester } from "../../core/setup/index.ts";
import {
  type CellStyle,
  columnLetters,
  type DescribedCell,
  type DescribedSheet,
  dateToSerial,
  type Validation,
  writeWorkbook,
} from "../../core/workbook/index.ts";
import { measureText, nominalText } from "../phrases.ts";
import { propertyWord, type Say, words } from "../wording.ts";
import { type Card, requirementsText, toCard } from "./cards.ts";
import { LIMIT_COLUMNS, limitsRow } from "./limits-sheet.ts";
import { liveFormula } from "./live-formulas.ts";

export interface BenchOrder extends Registers {
  readonly library: SpecificationLibrary;
  readonly units: UnitSystem;
  readonly language: string;
  readonly paper: "A4" | "Letter";
  readonly labName: string;
  readonly testers: readonly Tester[];
  /** The lab's day, `YYYY-MM-DD`. */
  readonly today: string;
  /** Share, "0.01". */
  readonly freeLengthTolerance: string;
  /** Lines of a first sheet for a newcomer. */
  readonly startHere?: readonly string[];
}

/** Rows without a piece behind the prepared ones, with the same live formula, for repeats and retests. */
const SPARE_ROWS = 25;

const STYLES: Readonly<Record<string, CellStyle>> = {
  title: { bold: true, size: 14 },
  note: { italic: true, color: "555555" },
  header: { bold: true, fill: "E9E7E0", border: true, wrap: true },
  headerRequired: { bold: true, fill: "D8D4C6", border: true, wrap: true },
  headerOurs: { bold: true, color: "FFFFFF", fill: "3A3A3A", border: true, wrap: true },
  given: { border: true, fill: "F5F4F0" },
  entry: { border: true, unlocked: true },
  entryDate: { border: true, unlocked: true, format: "yyyy-mm-dd" },
  entryText: { border: true, unlocked: true, format: "@" },
  ours: { border: true, fill: "F2F2F2", wrap: true },
  label: { bold: true, border: true, fill: "F5F4F0", wrap: true },
  text: { border: true, wrap: true },
  caution: { border: true, wrap: true, italic: true },
  cardTitle: { bold: true, size: 13, fill: "E9E7E0" },
  limit: { border: true, format: '[>=1E+89]"–";[<=-1E+89]"–";General' },
  limitText: { border: true },
  box: { border: true },
  plain: { wrap: true },
};

type Rows = Map<number, Map<number, DescribedCell>>;

interface PlacedPiece extends Piece {
  readonly row: number;
}

export function prepareWorkbook(bench: BenchOrder): Uint8Array {
  const say = words(bench.language);
  const judgement = judge({
    orders: bench.orders,
    agreed: bench.agreed,
    coils: bench.coils,
    heats: bench.heats,
    instruments: bench.instruments,
    tests: [],
    unread: [],
    settlements: [],
    specifications: bench.library,
    isAdopted: () => true,
    today: bench.today,
    freeLengthTolerance: bench.freeLengthTolerance,
  });
  const setUps = inChangeOrder(judgement.orders.flatMap((verdict) => setUpsOf(verdict, bench)));
  const placed = placePieces(setUps);
  const cards = setUps.map((setUp, index) => {
    const own = new Set(setUp.pieces.map((piece) => piece.testPiece));
    const rows = (placed.get(setUp.sheet) ?? []).filter((piece) => own.has(piece.testPiece)).map((piece) => piece.row);
    const sheet = ENTRY_SHEETS.find((s) => s.sheet === setUp.sheet) as EntrySheet;
    return toCard(
      setUp,
      index + 1,
      rows.length === 0 ? undefined : { sheet: sheetNameOf(sheet, say.language), first: Math.min(...rows), last: Math.max(...rows) },
      say,
    );
  });
  const limits = {
    sheet: say("bench.sheet.limits"),
    firstRow: HEADER_ROW + 1,
    lastRow: Math.max(HEADER_ROW + 1, HEADER_ROW + bench.coils.length + SPARE_ROWS),
  };
  return writeWorkbook({
    styles: STYLES,
    sheets: [
      ...(bench.startHere === undefined ? [] : [startSheet(bench.startHere)]),
      planSheet(setUps, cards, placed, bench, say),
      cardsSheet(cards, bench, say),
      cutSheet(setUps, placed, bench, say),
      ...ENTRY_SHEETS.filter((sheet) => isNeeded(sheet, placed)).map((sheet) => entrySheet(sheet, placed, limits, bench, say)),
      limitsSheet(judgement.orders, bench, say),
    ],
  });
}

const startSheet = (lines: readonly string[]): DescribedSheet => ({
  name: "Start-here",
  rows: new Map(lines.map((value, i) => [i + 1, new Map([[1, { value, style: i === 0 ? "title" : "plain" }]])])),
  widths: { 1: 120 },
});

function setUpsOf(verdict: OrderVerdict, bench: BenchOrder): readonly SetUp[] {
  const view = bench.library.find(verdict.specification, verdict.edition);
  return view === undefined ? [] : planSetUps(verdict, view.conduct(verdict.nominalDiameter), bench.testers);
}

const TEST_ORDER: readonly TestSheet[] = ["diameter", "tensile", "torsion", "wrap", "coiling", "reverse-bend", "coating-mass", "other"];

/** Set-ups of one machine follow each other, small tooling before large, so that the fewest changes are made. */
function inChangeOrder(setUps: readonly SetUp[]): readonly SetUp[] {
  const size = (s: SetUp): number => {
    const m = s.freeLength ?? s.mandrel ?? s.nominal;
    return convertNumber(m, "mm");
  };
  return [...setUps].sort(
    (a, b) => TEST_ORDER.indexOf(a.sheet) - TEST_ORDER.indexOf(b.sheet) || a.property.localeCompare(b.property, "en") || size(a) - size(b),
  );
}

/** One row a piece and sheet: diameter and out of round share theirs, as do strength and elongation. */
function placePieces(setUps: readonly SetUp[]): ReadonlyMap<TestSheet, readonly PlacedPiece[]> {
  const sheets = new Map<TestSheet, PlacedPiece[]>();
  for (const setUp of setUps) {
    const list = sheets.get(setUp.sheet) ?? [];
    sheets.set(setUp.sheet, list);
    for (const piece of setUp.pieces)
      if (!list.some((p) => p.testPiece === piece.testPiece)) list.push({ ...piece, row: HEADER_ROW + 1 + list.length });
  }
  return sheets;
}

const isTest = (sheet: EntrySheet): boolean => (TEST_ORDER as readonly string[]).includes(sheet.sheet);
const isNeeded = (sheet: EntrySheet, placed: ReadonlyMap<TestSheet, readonly PlacedPiece[]>): boolean =>
  !isTest(sheet) || placed.has(sheet.sheet as TestSheet) || sheet.sheet === "other";

function entrySheet(
  sheet: EntrySheet,
  placed: ReadonlyMap<TestSheet, readonly PlacedPiece[]>,
  limits: { sheet: string; firstRow: number; lastRow: number },
  bench: BenchOrder,
  say: Say,
): DescribedSheet {
  const { units } = bench;
  const rows: Rows = new Map();
  const name = sheetNameOf(sheet, say.language);
  rows.set(1, new Map([[1, { value: name, style: "title" }]]));
  const first = HEADER_ROW + 1;
  rows.set(2, new Map([[1, { value: say("bench.sheet.note", { row: first }), style: "note" }]]));
  rows.set(
    HEADER_ROW,
    new Map(
      sheet.columns.map((column, i) => [
        i + 1,
        {
          value: headerOf(column, units, say.language),
          style: column.computed ? "headerOurs" : column.required ? "headerRequired" : "header",
        },
      ]),
    ),
  );
  const pieces = isTest(sheet) ? (placed.get(sheet.sheet as TestSheet) ?? []) : [];
  const records = isTest(sheet) ? pieces.map(pieceRecord) : registerRecords(sheet, bench);
  const count = records.length + SPARE_ROWS;
  const letters = Object.fromEntries(sheet.columns.map((column, i) => [column.field, columnLetters(i + 1)]));
  for (let i = 0; i < count; i += 1) {
    const row = first + i;
    const record = records[i] ?? {};
    const cells = new Map<number, DescribedCell>();
    for (const [c, column] of sheet.columns.entries()) {
      const given = record[column.field];
      if (column.field === "verdict") {
        const formula = liveFormula(sheet.sheet as TestSheet, { row, columns: letters, limits });
        if (formula !== undefined) cells.set(c + 1, { formula, value: "", style: "ours" });
      } else if (column.computed) cells.set(c + 1, { style: "ours" });
      else {
        const style = column.type === "date" ? "entryDate" : column.type === "identifier" ? "entryText" : "entry";
        cells.set(c + 1, given === undefined ? { style } : { value: given, style });
      }
    }
    rows.set(row, cells);
  }
  const last = first + count - 1;
  const widths = Object.fromEntries(
    sheet.columns.map((column, c) => {
      if (column.field === "why") return [c + 1, 90];
      if (column.field === "next") return [c + 1, 70];
      if (column.field === "verdict") return [c + 1, 22];
      const longest = Math.max(...records.map((r) => String(r[column.field] ?? "").length), 0);
      return [c + 1, Math.min(40, Math.max(11, longest + 2, Math.ceil(headerOf(column, units, say.language).length / 2) + 3))];
    }),
  );
  return {
    name,
    rows,
    widths,
    heights: { [HEADER_ROW]: 30 },
    freezeRows: HEADER_ROW,
    freezeColumns: isTest(sheet) ? 2 : 1,
    validations: validations(sheet, first, last, units),
    ...(isTest(sheet) ? { conditions: verdictWords(letters["verdict"] ?? "A", first, last, say) } : {}),
    print: { paper: bench.paper, landscape: true, repeatRows: `$${HEADER_ROW}:$${HEADER_ROW}`, footer: `${bench.labName} · ${name}` },
  };
}

type Given = Readonly<Record<string, string | number | undefined>>;

const pieceRecord = (piece: PlacedPiece): Given => ({ testPiece: piece.testPiece, coil: piece.coil, end: piece.end });

/** The formula stores the code; the cell's format shows the word of the language. */
function verdictWords(column: string, first: number, last: number, say: Say): NonNullable<DescribedSheet["conditions"]> {
  const range = `${column}${first}:${column}${last}`;
  return [
    { range, formula: `$${column}${first}="does-not-conform"`, style: "strong", show: say("verdict.does-not-conform") },
    { range, formula: `$${column}${first}="void"`, style: "pale", show: say("row.void") },
    { range, formula: `$${column}${first}="conforms"`, style: "none", show: say("verdict.conforms") },
  ];
}

function validations(sheet: EntrySheet, first: number, last: number, units: UnitSystem): readonly Validation[] {
  return sheet.columns.flatMap((column, c): Validation[] => {
    const range = `${columnLetters(c + 1)}${first}:${columnLetters(c + 1)}${last}`;
    const title = headerOf(column, units);
    if (column.allowed !== undefined)
      return [{ range, kind: "list", words: column.allowed, title, message: `Accepted: ${column.allowed.join(", ")}.` }];
    if (column.type === "date")
      return [
        {
          range,
          kind: "date",
          min: dateToSerial("1990-01-01"),
          max: dateToSerial("2199-12-31"),
          title,
          message: "Accepted: a date since 1990.",
        },
      ];
    // Columns that take `>N` stay open, so that the spreadsheet program lets it in.
    if (column.plausible === undefined || column.openEnd || column.type === "text" || column.type === "identifier") return [];
    const unit = unitOf(column, units);
    const shown = column.plausible.map((edge) =>
      column.kind === "length" && units === "inch-pound"
        ? edge / 25.4
        : column.kind === "force" && units === "inch-pound"
          ? edge / 4.4482216152605
          : edge,
    );
    return [
      {
        range,
        kind: "decimal",
        min: Number((shown[0] as number).toPrecision(6)),
        max: Number((shown[1] as number).toPrecision(6)),
        title,
        message: `Accepted: a number from ${Number((shown[0] as number).toPrecision(3))} to ${Number((shown[1] as number).toPrecision(3))}${unit === undefined ? "" : ` ${unit}`}.`,
      },
    ];
  });
}

function registerRecords(sheet: EntrySheet, bench: BenchOrder): readonly Given[] {
  const unit = (field: string): Unit | undefined => {
    const column = sheet.columns.find((c) => c.field === field);
    return column === undefined ? undefined : (unitOf(column, bench.units) as Unit | undefined);
  };
  const fields = new Set(sheet.columns.map((column) => column.field));
  const record = (source: object): Given =>
    Object.fromEntries(
      Object.entries(source).flatMap(([field, value]): [string, string | number][] => {
        if (!fields.has(field) || value === undefined) return [];
        const column = sheet.columns.find((c) => c.field === field);
        if (typeof value === "object" && value !== null && "text" in value) {
          const to = unit(field);
          return [[field, Number(to === undefined ? value.text : convertMeasure(value, to).text)]];
        }
        if (typeof value !== "string") return [];
        if (column?.type === "date") return [[field, dateToSerial(value)]];
        return [[field, column?.type === "number" && value !== "" ? Number(value) : value]];
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

function planSheet(
  setUps: readonly SetUp[],
  cards: readonly Card[],
  placed: ReadonlyMap<TestSheet, readonly PlacedPiece[]>,
  bench: BenchOrder,
  say: Say,
): DescribedSheet {
  const rows: Rows = new Map();
  rows.set(1, new Map([[1, { value: say("bench.plan.title"), style: "title" }]]));
  rows.set(2, new Map([[1, { value: say("bench.plan.intro"), style: "note" }]]));
  const columns = ["card", "test", "item", "wire", "pieces", "setUp", "limit", "rows"] as const;
  rows.set(HEADER_ROW, new Map(columns.map((name, i) => [i + 1, { value: say(`bench.plan.${name}`), style: "header" }])));
  setUps.forEach((setUp, i) => {
    const own = new Set(setUp.pieces.map((piece) => piece.testPiece));
    const at = (placed.get(setUp.sheet) ?? []).filter((piece) => own.has(piece.testPiece)).map((piece) => piece.row);
    const sheet = ENTRY_SHEETS.find((s) => s.sheet === setUp.sheet) as EntrySheet;
    const values: (string | number)[] = [
      i + 1,
      propertyWord(say, setUp.property),
      `${setUp.order} / ${setUp.item}`,
      nominalText(say, setUp.nominal),
      own.size,
      cards[i]?.brief ?? "",
      requirementsText(setUp, say),
      at.length === 0 ? "" : `${sheetNameOf(sheet, say.language)} ${Math.min(...at)}–${Math.max(...at)}`,
    ];
    rows.set(HEADER_ROW + 1 + i, new Map(values.map((value, c) => [c + 1, { value, style: "text" }])));
  });
  return {
    name: say("bench.sheet.plan"),
    rows,
    widths: { 1: 7, 2: 18, 3: 16, 4: 11, 5: 8, 6: 62, 7: 24, 8: 20 },
    freezeRows: HEADER_ROW,
    print: {
      paper: bench.paper,
      landscape: true,
      repeatRows: `$${HEADER_ROW}:$${HEADER_ROW}`,
      footer: `${bench.labName} · ${say("bench.sheet.plan")}`,
    },
  };
}

/** Readings by hand: at least this many lines a card. */
const BLANK_LINES = 6;
const BLANK_LINES_MOST = 14;

function cardsSheet(cards: readonly Card[], bench: BenchOrder, say: Say): DescribedSheet {
  const rows: Rows = new Map();
  const merges: string[] = [];
  const breaks: number[] = [];
  const heights: Record<number, number> = {};
  let at = 1;
  for (const card of cards) {
    rows.set(at, new Map([1, 2, 3, 4, 5].map((c) => [c, { value: c === 1 ? card.title : "", style: "cardTitle" }])));
    merges.push(`A${at}:E${at}`);
    heights[at] = 20;
    at += 1;
    let lastLabel = "";
    for (const line of card.lines) {
      rows.set(
        at,
        new Map(
          [1, 2, 3, 4, 5].map((c) => [
            c,
            {
              value: c === 1 ? (line.label === lastLabel ? "" : line.label) : c === 2 ? line.text : "",
              style: c === 1 ? "label" : line.kind === "caution" ? "caution" : "text",
            },
          ]),
        ),
      );
      merges.push(`B${at}:E${at}`);
      // A merged cell does not grow by itself, so its height is counted from the length of its text.
      heights[at] = 14 * Math.max(1, Math.ceil(line.text.length / 78));
      lastLabel = line.label;
      at += 1;
    }
    rows.set(at, new Map([[1, { value: say("card.blank"), style: "note" }]]));
    at += 1;
    rows.set(
      at,
      new Map(
        ["piece", "reading", "break", "tester", "date"].map((name, c) => [c + 1, { value: say(`card.blank.${name}`), style: "header" }]),
      ),
    );
    at += 1;
    const lines = Math.min(BLANK_LINES_MOST, Math.max(BLANK_LINES, card.pieces.length));
    for (let i = 0; i < lines; i += 1) {
      rows.set(at, new Map([1, 2, 3, 4, 5].map((c) => [c, { value: c === 1 ? (card.pieces[i] ?? "") : "", style: "box" }])));
      heights[at] = 18;
      at += 1;
    }
    breaks.push(at);
    at += 1;
  }
  return {
    name: say("bench.sheet.cards"),
    rows,
    merges,
    heights,
    widths: { 1: 20, 2: 22, 3: 20, 4: 20, 5: 16 },
    print: { paper: bench.paper, footer: `${bench.labName} · ${say("bench.sheet.cards")}`, breaks },
  };
}

function cutSheet(
  setUps: readonly SetUp[],
  placed: ReadonlyMap<TestSheet, readonly PlacedPiece[]>,
  bench: BenchOrder,
  say: Say,
): DescribedSheet {
  const rows: Rows = new Map();
  rows.set(1, new Map([[1, { value: say("bench.cut.title"), style: "title" }]]));
  rows.set(2, new Map([[1, { value: `${say("bench.cut.intro")} ${say("caution.strap")}`, style: "note" }]]));
  const columns = ["coil", "piece", "end", "test", "length", "row", "done"] as const;
  rows.set(HEADER_ROW, new Map(columns.map((name, i) => [i + 1, { value: say(`bench.cut.${name}`), style: "header" }])));
  const lines = setUps.flatMap((setUp) => setUp.pieces.map((piece) => ({ setUp, piece })));
  const order = new Map(bench.coils.map((coil, i) => [coil.coil, i]));
  // Coil by coil, because that is how they are cut; a piece shared by two tests is cut once.
  const seen = new Set<string>();
  const cuts = lines
    .filter(({ setUp, piece }) => {
      const key = `${setUp.sheet}\u0000${piece.testPiece}`;
      return !seen.has(key) && seen.add(key);
    })
    .sort((a, b) => (order.get(a.piece.coil) ?? 0) - (order.get(b.piece.coil) ?? 0));
  cuts.forEach(({ setUp, piece }, i) => {
    const sheet = ENTRY_SHEETS.find((s) => s.sheet === setUp.sheet) as EntrySheet;
    const row = (placed.get(setUp.sheet) ?? []).find((p) => p.testPiece === piece.testPiece)?.row;
    const values = [
      piece.coil,
      piece.testPiece,
      say(`bench.end.${piece.end ?? "any"}`),
      propertyWord(say, setUp.property),
      setUp.cutLength === undefined ? "" : measureText(say, setUp.cutLength),
      `${sheetNameOf(sheet, say.language)} ${row ?? ""}`,
      "",
    ];
    rows.set(HEADER_ROW + 1 + i, new Map(values.map((value, c) => [c + 1, { value, style: "text" }])));
  });
  return {
    name: say("bench.sheet.cut"),
    rows,
    widths: { 1: 16, 2: 20, 3: 12, 4: 22, 5: 16, 6: 20, 7: 10 },
    freezeRows: HEADER_ROW,
    print: { paper: bench.paper, repeatRows: `$${HEADER_ROW}:$${HEADER_ROW}`, footer: `${bench.labName} · ${say("bench.sheet.cut")}` },
  };
}

function limitsSheet(verdicts: readonly OrderVerdict[], bench: BenchOrder, say: Say): DescribedSheet {
  const rows: Rows = new Map();
  rows.set(1, new Map([[1, { value: say("bench.limits.title"), style: "title" }]]));
  rows.set(2, new Map([[1, { value: say("bench.limits.intro"), style: "note" }]]));
  rows.set(HEADER_ROW, new Map(LIMIT_COLUMNS.map((name, i) => [i + 1, { value: name, style: "header" }])));
  let at = HEADER_ROW + 1;
  for (const coil of bench.coils) {
    const order = bench.orders.find((o) => o.order === coil.order && o.item === coil.item);
    const verdict = verdicts.find((v) => v.order === coil.order && v.item === coil.item);
    const view = order === undefined ? undefined : bench.library.find(order.specification, order.edition);
    if (order === undefined || verdict === undefined || view === undefined) continue;
    const cells = limitsRow(
      { coil, order, verdict, conduct: view.conduct(order.nominalDiameter), freeLengthTolerance: bench.freeLengthTolerance },
      bench.units,
    );
    rows.set(at, new Map(cells.map((cell, i) => [i + 1, cell])));
    at += 1;
  }
  return {
    name: say("bench.sheet.limits"),
    rows,
    widths: Object.fromEntries(LIMIT_COLUMNS.map((_, i) => [i + 1, i < 5 ? 14 : 12])),
    heights: { [HEADER_ROW]: 30 },
    freezeRows: HEADER_ROW,
    freezeColumns: 1,
    protect: true,
  };
}
