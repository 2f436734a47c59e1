/**
 * Writes samples/: an invented mill with six order items, its workbooks, and a manifest of what is expected of each coil.
 * Expectations are written beside each story by hand, never asked of the judgement. The same seed gives the same bytes.
 */
import { mkdirSync, rmSync, writeFileSync } from "node:fs";
import { dirname, join } from "node:path";
import { ENTRY_SHEETS } from "../core/entry/index.ts";
import type { Verdict } from "../core/model.ts";
import { columnLetters } from "../core/workbook/index.ts";
import { type EntryRecord, entryWorkbook, recordRow } from "../templates/example/entry-workbook.ts";
import {
  addRetest,
  addStory,
  CUSTOMERS,
  coilsOf,
  noRows,
  type OrderPlan,
  OWN_SPECIFICATION,
  PEOPLE,
  type Rows,
  registerRows,
  SETTINGS,
  type Story,
  seeded,
} from "../templates/example/scenario.ts";

const root = join(import.meta.dirname ?? dirname(new URL(import.meta.url).pathname), "..", "..");
const out = join(process.argv[2] ?? join(root, "samples"));

const DAY = "2026-03-02";
const SECOND_DAY = "2026-03-03";
const CALIBRATION = { calibratedOn: "2026-01-12", dueOn: "2027-01-12", lapsedOn: "2026-01-15" };

// Limits as literals; sources: tests/data/reference/tensile-en10270-1.csv, tensile-astm-a228.csv, product-requirements-sources.csv.
const PLANS = {
  own: {
    order: "QM-2601",
    item: "10",
    customer: CUSTOMERS[0].name,
    customerOrder: "BF 40118",
    product: "Spring wire, bright",
    specification: "QW 100",
    grade: "Q2",
    nominal: "2.00",
    documentType: "3.1",
    language: "en",
    heat: "H2281",
    firstCoil: 71_001,
    coils: 12,
    coilMass: 240,
    limits: { strength: [1800, 2050], diameter: [1.98, 2.02], outOfRound: 0.02, turns: 22, freeLength: 200, mandrel: 2 },
  },
  european: {
    order: "QM-2602",
    item: "10",
    customer: CUSTOMERS[1].name,
    customerOrder: "OX 7-3310",
    product: "Patented cold drawn spring wire",
    specification: "EN 10270-1",
    grade: "SH",
    nominal: "2.00",
    documentType: "2.2",
    language: "en",
    heat: "H2282",
    firstCoil: 72_001,
    coils: 25,
    coilMass: 310,
    limits: { strength: [1980, 2200], diameter: [1.975, 2.025], outOfRound: 0.025, turns: 16, freeLength: 200, mandrel: 2, coiling: 6.5 },
  },
  music: {
    order: "QM-2603",
    item: "10",
    customer: CUSTOMERS[1].name,
    customerOrder: "OX 7-3311",
    product: "Music spring wire",
    specification: "ASTM A228",
    grade: "",
    nominal: "0.080",
    documentType: "2.2",
    language: "en",
    heat: "H2283",
    firstCoil: 73_001,
    coils: 12,
    unitOf: 12,
    coilMass: 110,
    limits: { strength: [282, 312], diameter: [0.0795, 0.0805], outOfRound: 0.0005 },
  },
  musicBetween: {
    order: "QM-2603",
    item: "20",
    customer: CUSTOMERS[1].name,
    customerOrder: "OX 7-3311",
    product: "Music spring wire",
    specification: "ASTM A228",
    grade: "",
    nominal: "0.062",
    documentType: "2.2",
    language: "en",
    heat: "H2284",
    firstCoil: 73_101,
    coils: 12,
    unitOf: 12,
    coilMass: 90,
    limits: { strength: [294, 324], diameter: [0.0616, 0.0624], outOfRound: 0.0004 },
  },
  german: {
    order: "QM-2604",
    item: "10",
    customer: CUSTOMERS[2].name,
    customerOrder: "TF 2210",
    product: "Federstahldraht, patentiert gezogen",
    specification: "EN 10270-1",
    grade: "DH",
    nominal: "1.00",
    documentType: "2.2",
    language: "de",
    heat: "H2285",
    firstCoil: 74_001,
    coils: 8,
    coilMass: 120,
    limits: { strength: [2230, 2470], diameter: [0.985, 1.015], outOfRound: 0.015, turns: 25, freeLength: 100, mandrel: 1, coiling: 3.2 },
  },
  errors: {
    order: "QM-2605",
    item: "10",
    customer: CUSTOMERS[1].name,
    customerOrder: "OX 7-3312",
    product: "Patented cold drawn spring wire",
    specification: "EN 10270-1",
    grade: "SH",
    nominal: "2.00",
    documentType: "2.2",
    language: "en",
    heat: "H2286",
    firstCoil: 75_001,
    coils: 9,
    coilMass: 300,
    limits: { strength: [1980, 2200], diameter: [1.975, 2.025], outOfRound: 0.025, turns: 16, freeLength: 200, mandrel: 2, coiling: 6.5 },
  },
} as const satisfies Record<string, OrderPlan>;

/** Properties that differ from `conforms`, by story; everything else of the coil conforms. */
const EXPECTED: Readonly<Record<Story, Readonly<Record<string, Verdict>>>> = {
  conforming: {},
  untested: {},
  "tie-passes": {},
  // 2.0255 goes to 2.026, above 2.025; diameter allows no retest.
  "tie-fails": { diameter: "does-not-conform" },
  "strength-on-limit": {},
  "strength-below": { "tensile-strength": "retest-due" },
  "strength-above": { "tensile-strength": "retest-due" },
  "diameter-out": { diameter: "does-not-conform" },
  "torsion-grip-void": { torsion: "not-tested" },
  "torsion-grip-void-repeated": {},
  "torsion-grip-passes": {},
  "torsion-short-low": { torsion: "not-tested" },
  "torsion-short-passes": {},
  "torsion-long-passes": { torsion: "not-tested" },
  "mandrel-larger": { wrap: "not-tested" },
  "mandrel-smaller": {},
  "instrument-out": { "tensile-strength": "not-tested" },
  "torsion-missing": { torsion: "not-tested" },
  "retest-due": { torsion: "retest-due" },
  // Due after the first workbook, made good by the second.
  "retest-done": {},
  "retest-failed": { torsion: "does-not-conform" },
  "retest-unlinked": { torsion: "retest-due" },
  "unread-beside-pass": { torsion: "undecided" },
};

const EUROPEAN_STORIES: readonly Story[] = [
  "conforming",
  "conforming",
  "conforming",
  "strength-on-limit",
  "strength-below",
  "strength-above",
  "tie-fails",
  "diameter-out",
  "torsion-grip-void",
  "torsion-grip-void-repeated",
  "torsion-grip-passes",
  "torsion-short-low",
  "torsion-short-passes",
  "torsion-long-passes",
  "mandrel-larger",
  "mandrel-smaller",
  "instrument-out",
  "torsion-missing",
  "retest-due",
  "retest-done",
  "retest-failed",
  "retest-unlinked",
  "unread-beside-pass",
  "conforming",
  "conforming",
];
const OWN_STORIES: readonly Story[] = [
  "conforming",
  "tie-passes",
  "strength-on-limit",
  "torsion-grip-passes",
  "torsion-grip-void-repeated",
];

interface ExpectedCoil {
  readonly coil: string;
  readonly order: string;
  readonly item: string;
  readonly story: string;
  /** After all workbooks. */
  readonly verdicts: Readonly<Record<string, string>>;
  readonly basis: "own-results" | "test-unit";
  /** After the first day, where that differs. */
  readonly firstDay?: Readonly<Record<string, string>>;
}

const coils: ExpectedCoil[] = [];
const files: Record<string, Uint8Array | string> = {};

function expectStories(plan: OrderPlan, properties: readonly string[], storyOf: (index: number) => Story): void {
  coilsOf(plan).forEach((coil, i) => {
    const story = storyOf(i);
    const verdicts = Object.fromEntries(properties.map((p) => [p, EXPECTED[story][p] ?? "conforms"]));
    coils.push({
      coil,
      order: plan.order,
      item: plan.item,
      story,
      verdicts,
      basis: "own-results",
      ...(story === "retest-done" ? { firstDay: { ...verdicts, torsion: "retest-due" } } : {}),
    });
  });
}

function testRows(plan: OrderPlan, storyOf: (index: number) => Story, inch = false): Rows {
  const rows = noRows();
  const random = seeded(plan.firstCoil);
  coilsOf(plan).forEach((coil, i) => {
    addStory(rows, coil, plan, storyOf(i), { inch, day: DAY, random });
  });
  return rows;
}

/** Sheets that hold rows. */
const filled = (rows: Rows): Partial<Rows> =>
  Object.fromEntries(Object.entries(rows).filter(([, list]) => (list as EntryRecord[]).length > 0));

const LIMITED = ["tensile-strength", "torsion", "wrap", "diameter", "out-of-round"];

// ---- 01 own specification, everything conforms: a 3.1 certificate that waits for a signature
const ownStory = (i: number): Story => OWN_STORIES[i] ?? "conforming";
files["inbox/01-return-springs.xlsx"] = entryWorkbook({
  units: "SI",
  sheets: { ...registerRows([PLANS.own], { ...CALIBRATION, inch: false }), ...filled(testRows(PLANS.own, ownStory)) },
});
expectStories(PLANS.own, LIMITED, ownStory);

// ---- 02 the day book with everything that can happen
const europeanStory = (i: number): Story => EUROPEAN_STORIES[i] ?? "conforming";
const dayBook = testRows(PLANS.european, europeanStory);
const dayBookRegisters = registerRows([PLANS.european], { ...CALIBRATION, inch: false });
files["inbox/02-day-book.xlsx"] = entryWorkbook({ units: "SI", sheets: { ...dayBookRegisters, ...filled(dayBook) } });
expectStories(PLANS.european, [...LIMITED, "coiling"], europeanStory);

// ---- 03 inch-pound: two test units, of which the second lacks a sample
const sampled = [0, 5];
const musicStory = (i: number): Story => (sampled.includes(i) ? "conforming" : "untested");
const betweenStory = (i: number): Story => (i === 0 ? "strength-on-limit" : "untested");
const music = testRows(PLANS.music, musicStory, true);
const between = testRows(PLANS.musicBetween, betweenStory, true);
files["inbox/03-music-wire.xlsx"] = entryWorkbook({
  units: "inch-pound",
  sheets: {
    ...registerRows([PLANS.music, PLANS.musicBetween], { ...CALIBRATION, inch: true }),
    diameter: [...music.diameter, ...between.diameter],
    tensile: [...music.tensile, ...between.tensile],
  },
});
const strengthAndSize = ["tensile-strength", "diameter", "out-of-round"];
coilsOf(PLANS.music).forEach((coil, i) => {
  coils.push({
    coil,
    order: "QM-2603",
    item: "10",
    story: sampled.includes(i) ? "sample of its test unit" : "stands on its test unit",
    verdicts: Object.fromEntries(strengthAndSize.map((p) => [p, "conforms"])),
    basis: sampled.includes(i) ? "own-results" : "test-unit",
  });
});
coilsOf(PLANS.musicBetween).forEach((coil, i) => {
  coils.push({
    coil,
    order: "QM-2603",
    item: "20",
    story: i === 0 ? "the only sample so far" : "its test unit lacks a sample",
    verdicts: Object.fromEntries(strengthAndSize.map((p) => [p, i === 0 ? "conforms" : "not-tested"])),
    basis: i === 0 ? "own-results" : "test-unit",
  });
});

// ---- 04 German workbook and document
files["inbox/04-federdraht.xlsx"] = entryWorkbook({
  units: "SI",
  language: "de",
  sheets: { ...registerRows([PLANS.german], { ...CALIBRATION, inch: false }), ...filled(testRows(PLANS.german, () => "conforming")) },
});
expectStories(PLANS.german, [...LIMITED, "coiling"], () => "conforming");

// ---- 05 a cell of every kind that is not taken, or taken with a warning
const wrong = cellsOfEveryKind();
files["inbox/05-every-cell.xlsx"] = wrong.bytes;

// ---- 06 the next day: the retest of one coil, test rows only
const retested = coilsOf(PLANS.european)[EUROPEAN_STORIES.indexOf("retest-done")] as string;
const retest = noRows();
addRetest(retest, retested, PLANS.european, { inch: false, day: SECOND_DAY, random: seeded(6) });
files["second-day/06-retest.xlsx"] = entryWorkbook({ units: "SI", sheets: { torsion: retest.torsion } });

// ---- 07 a corrected reading: the coil below the minimum was misread
const corrected = coilsOf(PLANS.european)[EUROPEAN_STORIES.indexOf("strength-below")] as string;
const first = dayBook.tensile.find((row) => row["coil"] === corrected) as EntryRecord;
files["second-day/07-correction.xlsx"] = entryWorkbook({
  units: "SI",
  sheets: { tensile: [{ ...first, maximumForce: Number(first["maximumForce"]) + 200, correctionReason: "the dial was read 200 N low" }] },
});
const misread = coils.find((c) => c.coil === corrected) as ExpectedCoil;
coils[coils.indexOf(misread)] = {
  ...misread,
  firstDay: misread.verdicts,
  verdicts: { ...misread.verdicts, "tensile-strength": "conforms" },
};

// ---- broken files
const good = files["inbox/01-return-springs.xlsx"];
files["broken/empty.xlsx"] = new Uint8Array();
files["broken/renamed-text.xlsx"] = "coil;turns\n71001;24\n71002;26\n";
files["broken/renamed-page.xlsx"] = "<!DOCTYPE html><html><body><table><tr><td>71001</td></tr></table></body></html>\n";
files["broken/password.xlsx"] = compoundFile("EncryptedPackage");
files["broken/old-format.xlsx"] = compoundFile("Workbook");
files["broken/damaged.xlsx"] = good.map((byte, i) => (i > 400 && i < 440 ? byte ^ 0x55 : byte));
files["broken/truncated.xlsx"] = good.slice(0, Math.floor(good.length * 0.6));
files["broken/missing-column.xlsx"] = missingColumn();

// ---- order lists, specification, manifest
const { orders, coils: coilRows, heats, instruments } = registerRows([PLANS.own, PLANS.european], { ...CALIBRATION, inch: false });
files["orders.json"] = json({
  units: "SI",
  orders: plain(orders),
  coils: plain(coilRows),
  heats: plain(heats),
  instruments: plain(instruments),
});
const nine = { ...PLANS.european, order: "QM-2606", firstCoil: 76_001, coils: 9, heat: "H2287" };
const nineRows = registerRows([nine], { ...CALIBRATION, inch: false });
files["nine-coils.json"] = json({
  units: "SI",
  orders: plain(nineRows.orders),
  coils: plain(nineRows.coils),
  heats: plain(nineRows.heats),
  instruments: plain(nineRows.instruments),
});
files["specifications/QW-100.json"] = json(OWN_SPECIFICATION);
files["settings.json"] = json(SETTINGS);
files["people.json"] = json({ people: PEOPLE, customers: CUSTOMERS });
files["manifest.json"] = json({
  note: "Expected verdicts, written beside the stories by hand. Everything here is invented.",
  today: SECOND_DAY,
  coils,
  cells: wrong.expected,
  broken: {
    "empty.xlsx": "empty-file",
    "renamed-text.xlsx": "csv-file",
    "renamed-page.xlsx": "html-file",
    "password.xlsx": "password-protected",
    "old-format.xlsx": "old-format",
    "damaged.xlsx": "damaged",
    "truncated.xlsx": "truncated",
  },
});

rmSync(out, { recursive: true, force: true });
for (const [name, content] of Object.entries(files)) {
  mkdirSync(dirname(join(out, name)), { recursive: true });
  writeFileSync(join(out, name), content);
}
writeFileSync(join(out, "README.md"), readme());
process.stdout.write(
  `${Object.keys(files).length + 1} files in ${out}: ${coils.length} coils expected, ${wrong.expected.length} findings expected\n`,
);

// ------------------------------------------------------------------------------------------------------------------

function json(value: unknown): string {
  return `${JSON.stringify(value, null, 2)}\n`;
}

function plain(records: readonly EntryRecord[]): object[] {
  return records.map((record) => Object.fromEntries(Object.entries(record).filter(([, value]) => value !== undefined)));
}

interface ExpectedFinding {
  readonly code: string;
  readonly severity: "error" | "warning";
  readonly sheet: string;
  readonly cell: string;
}

/** One workbook with a cell of every kind; each comes with the finding that WORKBOOK.md asks for. */
function cellsOfEveryKind(): { bytes: Uint8Array; expected: readonly ExpectedFinding[] } {
  const plan = PLANS.errors;
  const rows = testRows(plan, () => "conforming");
  const expected: ExpectedFinding[] = [];
  const names = coilsOf(plan);
  const cellOf = (
    sheet: "diameter" | "tensile" | "torsion" | "wrap" | "coils",
    field: string,
    index: number,
  ): { sheet: string; cell: string } => {
    const definition = ENTRY_SHEETS.find((s) => s.sheet === sheet);
    const column = (definition?.columns.findIndex((c) => c.field === field) ?? 0) + 1;
    return { sheet: definition?.name ?? "", cell: `${columnLetters(column)}${recordRow(index)}` };
  };
  type Cells = "diameter" | "tensile" | "torsion" | "wrap";
  const change = (
    sheet: Cells,
    index: number,
    field: string,
    value: EntryRecord[string],
    code: string,
    severity: "error" | "warning" = "error",
  ): void => {
    rows[sheet][index] = { ...rows[sheet][index], [field]: value };
    expected.push({ code, severity, ...cellOf(sheet, field, index) });
  };
  const add = (
    sheet: Cells,
    field: string,
    value: EntryRecord[string],
    code: string,
    severity: "error" | "warning" = "error",
    more: EntryRecord = {},
  ): void => {
    const index = rows[sheet].length;
    const like = rows[sheet][index % names.length] as EntryRecord;
    const coil = names[index % names.length] as string;
    rows[sheet].push({
      ...like,
      coil,
      testPiece: `${coil}-${sheet.slice(0, 1).toUpperCase()}${Math.floor(index / names.length) + 1}`,
      ...more,
    });
    change(sheet, index, field, value, code, severity);
  };
  // Numbers that are taken, with a warning.
  change("diameter", 0, "largest", "2.004", "number-as-text", "warning");
  change("diameter", 1, "largest", "\u00a02.006 ", "number-as-text", "warning");
  change("tensile", 0, "testPiece", ` ${names[0]}-S1 `, "blanks-trimmed", "warning");
  // Numbers that are not.
  add("diameter", "largest", "2,004", "ambiguous-number");
  add("diameter", "largest", "2.004 mm", "not-a-number");
  add("diameter", "largest", "~2.0", "not-a-number");
  add("diameter", "largest", "2 1/64", "not-a-number");
  add("diameter", "largest", "\uff12.004", "not-a-number");
  add("diameter", "largest", "2e0", "not-a-number");
  add("diameter", "largest", "<2.01", "not-a-number");
  add("diameter", "largest", ">2.00", "not-a-number");
  add("diameter", "largest", { value: true }, "not-a-number");
  add("diameter", "largest", { value: 46083, style: "day" }, "not-a-number");
  add("diameter", "largest", { value: 2.004, style: "percent" }, "percent-cell");
  add("diameter", "largest", 44, "implausible");
  add("diameter", "largest", 2.9, "implausible");
  add("diameter", "largest", undefined, "missing-value");
  add("tensile", "maximumForce", { error: "#DIV/0!", formula: "1/0" }, "error-value");
  add("tensile", "maximumForce", { formula: "6400+RAND()", value: 6400.5 }, "volatile-formula");
  add("tensile", "maximumForce", 0.2, "implausible");
  add("tensile", "date", "last Monday", "not-a-date");
  add("tensile", "date", { value: 46083, style: "cell" }, "not-a-date");
  add("tensile", "date", "1989-12-31", "date-too-early");
  add("tensile", "date", "2199-01-01", "date-ahead");
  add("torsion", "turns", "about 20", "not-a-number");
  add("torsion", "breakAt", "middle", "not-allowed");
  add("torsion", "turns", 24, "contradicting-entry", "error", { forwardTurns: 40, reverseTurns: 40, cycles: 2 });
  add("wrap", "cracks", "hairline", "not-allowed");
  add("wrap", "mandrelDiameter", 500, "implausible");
  return {
    bytes: entryWorkbook({ units: "SI", sheets: { ...registerRows([plan], { ...CALIBRATION, inch: false }), ...filled(rows) } }),
    expected,
  };
}

/** A torsion sheet whose column for the free length has another label. */
function missingColumn(): Uint8Array {
  const plan = { ...PLANS.errors, order: "QM-2607", firstCoil: 77_001, coils: 1, heat: "H2288" };
  const rows = testRows(plan, () => "conforming");
  return entryWorkbook({
    units: "SI",
    sheets: { ...registerRows([plan], { ...CALIBRATION, inch: false }), ...filled(rows) },
    headers: { torsion: { freeLength: "Span" } },
  });
}

/** The smallest compound file (the container of the old formats) that names one stream. */
function compoundFile(stream: string): Uint8Array {
  const bytes = new Uint8Array(2048);
  const view = new DataView(bytes.buffer);
  bytes.set([0xd0, 0xcf, 0x11, 0xe0, 0xa1, 0xb1, 0x1a, 0xe1]);
  view.setUint16(26, 3, true);
  view.setUint16(28, 0xfffe, true);
  view.setUint16(30, 9, true);
  view.setUint16(32, 6, true);
  view.setUint32(44, 1, true);
  view.setUint32(48, 1, true);
  view.setUint32(60, 0xfffffffe, true);
  view.setUint32(68, 0xfffffffe, true);
  bytes.fill(0xff, 76, 512);
  view.setUint32(76, 0, true);
  const table = 512;
  bytes.fill(0xff, table, table + 512);
  view.setUint32(table, 0xfffffffd, true);
  view.setUint32(table + 4, 0xfffffffe, true);
  const entry = (at: number, name: string, type: number): void => {
    const offset = 1024 + at * 128;
    for (let i = 0; i < name.length; i += 1) view.setUint16(offset + i * 2, name.charCodeAt(i), true);
    view.setUint16(offset + 64, (name.length + 1) * 2, true);
    bytes[offset + 66] = type;
    for (const field of [68, 72, 76]) view.setUint32(offset + field, 0xffffffff, true);
  };
  entry(0, "Root Entry", 5);
  entry(1, stream, 2);
  view.setUint32(1024 + 76, 1, true);
  view.setUint32(1024 + 116, 0xfffffffe, true);
  return bytes;
}

function readme(): string {
  return `# Samples

An invented mill, its people, customers, orders and readings. Nothing here is real; limits of published standards are the ones the product holds.
\`npm run samples\` writes this folder again; the same program gives the same bytes.

| file | holds |
| --- | --- |
| \`inbox/01-return-springs.xlsx\` | an own specification, twelve coils that conform, among them a rounding tie and a value exactly on the limit |
| \`inbox/02-day-book.xlsx\` | EN 10270-1, twenty-five coils: everything that can happen to a test |
| \`inbox/03-music-wire.xlsx\` | ASTM A228 in inch-pound units: coils that stand on their test unit, and a unit that lacks a sample |
| \`inbox/04-federdraht.xlsx\` | a German workbook with a German document |
| \`inbox/05-every-cell.xlsx\` | cells of every kind that are not taken, or taken with a warning |
| \`second-day/06-retest.xlsx\`, \`07-correction.xlsx\` | test rows only: a retest, and a corrected reading |
| \`broken/\` | files that are refused, each with one clear line |
| \`orders.json\`, \`nine-coils.json\` | order lists for \`coilbook prepare\` |
| \`specifications/QW-100.json\` | the invented customer specification |
| \`manifest.json\` | what is expected of every coil, cell and broken file, written by hand beside the stories |
`;
}
