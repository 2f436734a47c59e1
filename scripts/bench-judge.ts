/**
 * CPU time of the judgement: 100,000 results of invented wire beside a baseline in the same run, and the growth from a quarter of them.
 * Exit 1 where the figure is missed. Usage: node dist/scripts/bench-judge.js [results]
 */
import { judge } from "../core/judge/index.ts";
import type { AnyUnit, Coil, EntryRow, FieldValue, JudgementInput, OrderItem, TestSheet } from "../core/model.ts";
import { builtInLibrary } from "../core/spec/index.ts";

/** Most CPU seconds for 100,000 results on one core, after start-up. */
const MOST_SECONDS = 1.0;
/** A quarter of the results may cost no less than a quarter of the time, within this factor. */
const MOST_GROWTH = 1.6;
const RESULTS = Number(process.argv[2] ?? 100_000);
/** Diameter and out of round, strength, torsion, wrap, coiling: what EN 10270-1 asks of a coil of 2.00 mm. */
const RESULTS_A_COIL = 6;
const COILS_AN_ITEM = 40;

const UNITS: Readonly<Record<string, AnyUnit>> = {
  largest: "mm",
  smallest: "mm",
  diameter: "mm",
  maximumForce: "N",
  freeLength: "mm",
  tension: "N",
  speed: "r/min",
  turns: "turns",
  mandrelDiameter: "mm",
  wraps: "wraps",
};

function row(sheet: TestSheet, number: number, coil: string, fields: Readonly<Record<string, string>>): EntryRow {
  const filled: Record<string, FieldValue> = {};
  const typed = { testPiece: `${coil}-${sheet}`, coil, date: "2026-03-02", instrument: "M1", ...fields };
  for (const [field, text] of Object.entries(typed)) {
    const unit = UNITS[field];
    filled[field] = { text, raw: text, cell: `C${number}`, ...(unit === undefined ? {} : { unit }) };
  }
  return { sheet, sheetName: sheet, row: number, file: "", fields: filled };
}

/** Readings spread over and beyond the limits, the same in every run. */
function invented(results: number): JudgementInput {
  const orders: OrderItem[] = [];
  const coils: Coil[] = [];
  const tests: EntryRow[] = [];
  for (let n = 0; n < results / RESULTS_A_COIL; n += 1) {
    const item = Math.floor(n / COILS_AN_ITEM);
    if (n % COILS_AN_ITEM === 0)
      orders.push({
        order: `O${item}`,
        item: "1",
        customer: "Invented customer",
        specification: "EN 10270-1",
        edition: "2011",
        grade: "SM",
        nominalDiameter: { text: "2.00", unit: "mm" },
        documentType: "2.2",
        decisionRule: "simple",
        language: "en",
      });
    const coil = `C${n}`;
    coils.push({ coil, order: `O${item}`, item: "1", heat: `H${n % 97}` });
    const diameter = (1.985 + (n % 31) / 1000).toFixed(3);
    tests.push(
      row("diameter", n, coil, { largest: (1.99 + (n % 29) / 1000).toFixed(3), smallest: (1.98 + (n % 23) / 1000).toFixed(3) }),
      row("tensile", n, coil, { diameter, maximumForce: String(5450 + (n % 800)), breakAt: "clear" }),
      row("torsion", n, coil, { diameter, freeLength: "200", tension: "40", speed: "30", turns: String(14 + (n % 17)), breakAt: "clear" }),
      row("wrap", n, coil, { purpose: "ductility", diameter, mandrelDiameter: "2", wraps: "8", cracks: n % 50 === 0 ? "visible" : "none" }),
      row("coiling", n, coil, { diameter, mandrelDiameter: "6.5", evenPitch: "yes", cracks: "none" }),
    );
  }
  return {
    orders,
    agreed: [],
    coils,
    heats: [],
    instruments: [{ instrument: "M1", calibratedOn: "2026-01-01", dueOn: "2026-12-31" }],
    tests,
    unread: [],
    settlements: [],
    specifications: builtInLibrary(),
    isAdopted: () => true,
    today: "2026-03-03",
    freeLengthTolerance: "0.01",
  };
}

function cpuSeconds(run: () => void): number {
  const before = process.cpuUsage();
  run();
  const { user, system } = process.cpuUsage(before);
  return (user + system) / 1e6;
}

/** The best of three: what else the machine does only ever adds. */
const best = (run: () => void): number => Math.min(...[1, 2, 3].map(() => cpuSeconds(run)));

const whole = invented(RESULTS);
const quarter = invented(RESULTS / 4);
judge(quarter);
const made = judge(whole).orders.flatMap((o) => o.coils.flatMap((c) => c.requirements.flatMap((r) => r.results))).length;
const seconds = best(() => judge(whole));
const quarterSeconds = best(() => judge(quarter));
// What any program pays that only moves the same rows: out to text and back.
const text = JSON.stringify(whole.tests);
const baseline = best(() => JSON.parse(text));
const growth = seconds / (quarterSeconds * 4);
const allowed = (MOST_SECONDS * RESULTS) / 100_000;
const missed = seconds > allowed || growth > MOST_GROWTH;
process.stdout.write(
  `${JSON.stringify({
    results: made,
    cpuSeconds: Number(seconds.toFixed(3)),
    allowedSeconds: allowed,
    baseline: "JSON.parse of the same rows",
    baselineSeconds: Number(baseline.toFixed(3)),
    ratio: Number((seconds / baseline).toFixed(2)),
    growthAgainstLinear: Number(growth.toFixed(2)),
    held: !missed,
  })}\n`,
);
process.exitCode = missed ? 1 : 0;
