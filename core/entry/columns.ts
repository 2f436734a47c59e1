/** The sheets and columns of the entry workbook, as data. Everything that reads, writes or checks an entry goes by this list. */
import type { RegisterSheet, TestSheet, UnitSystem } from "../model.ts";
import type { AnyUnit } from "../quantity.ts";

export type ColumnType = "text" | "identifier" | "number" | "whole" | "date";
export type Kind =
  | "length"
  | "force"
  | "mass"
  | "coil-mass"
  | "coil-length"
  | "turns"
  | "wraps"
  | "bends"
  | "speed"
  | "rate"
  | "percent"
  | "volume"
  | "temperature"
  | "pressure"
  | "plain"
  | "cycles";

export interface Column {
  readonly field: string;
  readonly type: ColumnType;
  readonly required?: boolean;
  readonly kind?: Kind;
  readonly allowed?: readonly string[];
  /** Plausible values in SI units, both ends included. */
  readonly plausible?: readonly [number, number];
  /** `>N` is accepted: stopped unbroken at N. */
  readonly openEnd?: boolean;
  /** A date here may lie after today. */
  readonly mayBeAhead?: boolean;
  readonly computed?: boolean;
}

export interface EntrySheet {
  readonly sheet: TestSheet | RegisterSheet;
  readonly name: string;
  readonly columns: readonly Column[];
}

/** The unit of each kind of figure, by the workbook's unit system; counts and percentages have one. */
const UNITS: Readonly<Record<Kind, readonly [si: AnyUnit | "", inchPound: AnyUnit | ""]>> = {
  length: ["mm", "in"],
  force: ["N", "lbf"],
  mass: ["g", "g"],
  "coil-mass": ["kg", "lb"],
  "coil-length": ["m", "ft"],
  turns: ["turns", "turns"],
  wraps: ["wraps", "wraps"],
  bends: ["bends", "bends"],
  cycles: ["cycles", "cycles"],
  speed: ["r/min", "r/min"],
  rate: ["r/min", "r/min"],
  percent: ["%", "%"],
  volume: ["ml", "ml"],
  temperature: ["degC", "degC"],
  pressure: ["mbar", "mbar"],
  plain: ["", ""],
};

export function unitOf(column: Column, system: UnitSystem): AnyUnit | undefined {
  if (column.kind === undefined) return undefined;
  const unit = UNITS[column.kind][system === "SI" ? 0 : 1];
  return unit === "" ? undefined : unit;
}

const text = (field: string, rest: Partial<Column> = {}): Column => ({ field, type: "text", ...rest });
const identifier = (field: string, rest: Partial<Column> = {}): Column => ({ field, type: "identifier", ...rest });
const word = (field: string, allowed: readonly string[], rest: Partial<Column> = {}): Column => ({ field, type: "text", allowed, ...rest });
const date = (field: string, rest: Partial<Column> = {}): Column => ({ field, type: "date", ...rest });
const figure = (field: string, kind: Kind, plausible: readonly [number, number], rest: Partial<Column> = {}): Column => ({
  field,
  type: "number",
  kind,
  plausible,
  ...rest,
});
const count = (field: string, kind: Kind, plausible: readonly [number, number], rest: Partial<Column> = {}): Column => ({
  ...figure(field, kind, plausible, rest),
  type: "whole",
});
const required = { required: true } as const;

const DIAMETER: readonly [number, number] = [0.05, 25];
const diameter = (field: string, rest: Partial<Column> = {}): Column => figure(field, "length", DIAMETER, rest);
const turns = (field: string, rest: Partial<Column> = {}): Column => figure(field, "turns", [0, 1000], rest);
const force = (field: string, rest: Partial<Column> = {}): Column => figure(field, "force", [1, 1_000_000], rest);
const mandrel = figure("mandrelDiameter", "length", [0.05, 200], required);
const CRACKS = ["none", "visible", "broken"] as const;
const BREAK = ["clear", "grip"] as const;

const testSheet = (sheet: TestSheet, name: string, own: readonly Column[]): EntrySheet => ({
  sheet,
  name,
  columns: [
    identifier("testPiece", required),
    identifier("coil", required),
    word("end", ["outer", "inner", "between"]),
    ...own,
    word("role", ["acceptance", "repeat", "retest", "check"]),
    identifier("retestOf"),
    text("cutBack"),
    word("setAside", ["slip", "kink", "weld", "tool-mark", "misset", "machine"]),
    identifier("instrument"),
    date("date", required),
    text("tester"),
    text("remark"),
    text("correctionReason"),
    text("verdict", { computed: true }),
    text("why", { computed: true }),
    text("next", { computed: true }),
  ],
});

/** Chemical elements of the sheet Heats. */
export const ELEMENTS = ["C", "Si", "Mn", "P", "S", "Cr", "Ni", "Mo", "Cu", "Al", "V", "N"] as const;

export const ENTRY_SHEETS: readonly EntrySheet[] = [
  {
    sheet: "orders",
    name: "Orders",
    columns: [
      identifier("order", required),
      identifier("item", required),
      identifier("customer", required),
      text("contact"),
      text("customerOrder"),
      text("product"),
      text("specification", required),
      text("edition"),
      text("grade", required),
      diameter("nominalDiameter", required),
      text("coatingClass"),
      word("documentType", ["2.1", "2.2", "3.1", "3.2"]),
      word("decisionRule", ["simple", "guarded", "guarded-open"]),
      text("decisionRuleAgreed"),
      text("language"),
      text("documentUnits"),
      text("documentDecimalMark"),
      text("remark"),
    ],
  },
  {
    sheet: "agreed",
    name: "Agreed",
    columns: [
      identifier("order", required),
      identifier("item", required),
      text("property", required),
      figure("min", "plain", [-1e9, 1e9]),
      figure("max", "plain", [-1e9, 1e9]),
      text("unit"),
      text("conditions"),
      text("agreedIn"),
    ],
  },
  {
    sheet: "coils",
    name: "Coils",
    columns: [
      identifier("coil", required),
      identifier("order", required),
      identifier("item", required),
      identifier("heat", required),
      identifier("testUnit"),
      identifier("motherCoil"),
      date("drawnOn"),
      figure("mass", "coil-mass", [0.001, 100_000]),
      figure("length", "coil-length", [0.001, 10_000_000]),
    ],
  },
  {
    sheet: "heats",
    name: "Heats",
    columns: [
      identifier("heat", required),
      word("analysis", ["heat", "product"]),
      word("source", ["own", "supplier", "external"]),
      text("process"),
      ...ELEMENTS.map((element) => figure(element, "percent", [0, 100])),
    ],
  },
  {
    sheet: "instruments",
    name: "Instruments",
    columns: [
      identifier("instrument", required),
      text("kind"),
      figure("rangeMin", "plain", [-1e12, 1e12]),
      figure("rangeMax", "plain", [-1e12, 1e12]),
      text("rangeUnit"),
      text("class"),
      date("calibratedOn"),
      date("dueOn", { mayBeAhead: true }),
      figure("uncertainty", "plain", [0, 1e12]),
      text("uncertaintyUnit"),
      figure("coverageFactor", "plain", [0.1, 10]),
    ],
  },
  testSheet("diameter", "Diameter", [identifier("position"), diameter("largest", required), diameter("smallest", required)]),
  testSheet("tensile", "Tensile", [
    diameter("diameter", required),
    force("maximumForce", required),
    force("proofForce"),
    figure("gaugeLength", "length", [1, 3000]),
    figure("elongation", "percent", [0, 100]),
    diameter("diameterAfter"),
    word("breakAt", BREAK),
    identifier("diameterInstrument"),
  ]),
  testSheet("torsion", "Torsion", [
    diameter("diameter", required),
    figure("freeLength", "length", [10, 3000], required),
    // Two hundredths of the strength of the finest wire is less than a tenth of a newton; no weight at all is an empty cell.
    figure("tension", "force", [0.01, 1_000_000]),
    figure("speed", "speed", [0, 1000]),
    turns("forwardTurns"),
    turns("reverseTurns"),
    count("cycles", "cycles", [0, 1000]),
    turns("turns", { ...required, openEnd: true }),
    word("breakAt", [...BREAK, "none"]),
    figure("fractureFromGrip", "length", [0, 3000]),
    word("fractureType", ["1a", "1b", "1c", "2a", "2b", "2c", "3a", "3b", "3c"]),
    turns("lineTurns"),
    word("straightened", ["none", "hand", "tapped", "rolled"]),
  ]),
  testSheet("wrap", "Wrap", [
    word("purpose", ["ductility", "adherence"], required),
    diameter("diameter", required),
    mandrel,
    count("wraps", "wraps", [1, 50], { ...required, openEnd: true }),
    figure("rate", "rate", [0, 1000]),
    word("cracks", CRACKS, required),
    figure("firstCrackTurn", "plain", [0, 50]),
    word("coating", ["sound", "cracked-firm", "dust-only", "comes-off", "uncoated"]),
    text("secondLook"),
  ]),
  testSheet("coiling", "Coiling", [
    diameter("diameter", required),
    mandrel,
    word("evenPitch", ["yes", "no"]),
    word("cracks", CRACKS, required),
  ]),
  testSheet("reverse-bend", "Reverse bend", [
    diameter("diameter", required),
    figure("radius", "length", [0.1, 200], required),
    count("bends", "bends", [0, 200], { ...required, openEnd: true }),
    word("breakAt", [...BREAK, "none"]),
  ]),
  testSheet("coating-mass", "Coating mass", [
    word("method", ["strip", "gas"], required),
    diameter("strippedDiameter", required),
    figure("massBefore", "mass", [0.001, 10_000]),
    figure("massAfter", "mass", [0.001, 10_000]),
    figure("hydrogen", "volume", [0, 100_000]),
    figure("temperature", "temperature", [-50, 100]),
    figure("pressure", "pressure", [500, 1200]),
    figure("length", "length", [1, 10_000]),
  ]),
  testSheet("other", "Other", [
    text("property", required),
    figure("value", "plain", [-1e12, 1e12]),
    text("word"),
    text("unit"),
    text("method"),
  ]),
];

/** Columns that only say which piece, when and by whom: a row with nothing else is not filled yet. */
export const IDENTIFYING: ReadonlySet<string> = new Set(["testPiece", "coil", "end", "role", "instrument", "date", "tester"]);

export const entrySheet = (sheet: string): EntrySheet => {
  const found = ENTRY_SHEETS.find((s) => s.sheet === sheet);
  if (found === undefined) throw new RangeError(`no entry sheet "${sheet}"`);
  return found;
};

export const isTestSheet = (sheet: string): sheet is TestSheet => entrySheet(sheet).columns.some((column) => column.field === "verdict");
