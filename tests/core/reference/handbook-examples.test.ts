/**
 * Every line of handbook-example-results.csv (NIST/SEMATECH e-Handbook of Statistical Methods): by the project's own functions, or listed
 * with the reason why not. Where print and recomputation differ, the reference says which holds; the recomputed figure is held here.
 */
import { expect, describe as group, test } from "vitest";
import { exact } from "../../../core/decimal.ts";
import { chiSquareCdf, tQuantile } from "../../../core/statistics/distributions.ts";
import {
  acceptByDeviation,
  capability,
  cusumChart,
  describe,
  ewmaChart,
  grubbs,
  individualsChart,
  movingRangeChart,
  runSignals,
  toleranceFactor,
  toleranceInterval,
} from "../../../core/statistics/index.ts";
import { readReference } from "../spec/reference.ts";
import { figures, halfPlace } from "./worked.ts";

const ROWS = readReference("handbook-example-results");
const column = (name: string, field: string): readonly string[] => readReference(`handbook-example-${name}`).map((row) => row[field] ?? "");
const cars = (origin: "US" | "Japan"): readonly string[] => {
  const rows = readReference("handbook-example-auto83b");
  const groups = [...new Set(rows.map((row) => row["group"]))];
  const wanted = origin === "US" ? groups[0] : groups[1];
  return rows.filter((row) => row["group"] === wanted).map((row) => row["mpg"] ?? "");
};
const GEAR = column("gear", "diameter");
const ZARR = column("zarr13", "y");
const FLOW = column("imr-flowrate", "x");
const URANIUM = column("grubbs", "x");
const PARTICLES = column("onesample-t", "x");
const RESISTORS = column("100ohm", "y");
const sdOf = (values: readonly string[]): number => describe(values).sd ?? Number.NaN;
const { Cp = Number.NaN, Cpk } = capability("16", "2", { lower: "8", upper: "20" });
/** Distance of a mean from a supposed one in its standard deviations, the sum of the page; mean and s are the project's. */
const distance = (values: readonly string[], from: number): number =>
  (describe(values).mean - from) / (sdOf(values) / Math.sqrt(values.length));
const limitsOfEwma = ewmaChart({ values: column("ewma", "x"), target: 50, sigma: 2.0539, lambda: 0.3 }).points.at(-1);
const resistors = toleranceInterval(RESISTORS, 0.9, 0.99, "both");
const B1 = acceptByDeviation(["197", "188", "184", "205", "201"], { upper: "209" }, "1.53");

/** By example and statistic. */
const ANSWERS: Readonly<Record<string, () => readonly (number | undefined)[]>> = {
  "two-sample-t AUTO83B/n1": () => [cars("US").length],
  "two-sample-t AUTO83B/mean1": () => [describe(cars("US")).mean],
  "two-sample-t AUTO83B/sd1": () => [sdOf(cars("US"))],
  "two-sample-t AUTO83B/n2": () => [cars("Japan").length],
  "two-sample-t AUTO83B/mean2": () => [describe(cars("Japan")).mean],
  "two-sample-t AUTO83B/sd2": () => [sdOf(cars("Japan"))],
  "two-sample-t AUTO83B/t crit two-sided 0.05": () => [tQuantile(0.975, 326)],
  "two-sample-t AUTO83B/t crit one-sided 0.05": () => [tQuantile(0.95, 326)],
  "Variance GEAR, sigma0 = 0.1/chi-square": () => [99 * (sdOf(GEAR) / 0.1) ** 2],
  "CI mean ZARR13/mean": () => [describe(ZARR).mean],
  "CI mean ZARR13/sd": () => [sdOf(ZARR)],
  "CI mean ZARR13/95 % CI": () => [-1, 1].map((side) => describe(ZARR).mean + (side * tQuantile(0.975, 194) * sdOf(ZARR)) / Math.sqrt(195)),
  "CI mean ZARR13/t vs 5": () => [distance(ZARR, 5)],
  "Grubbs/G": () => [grubbs(URANIUM, 0.05, 2)?.G],
  "Grubbs/crit one-sided upper 0.05, n = 8": () => [grubbs(URANIUM, 0.05, 1)?.critical],
  "Grubbs/crit two-sided 0.05, n = 8": () => [grubbs(URANIUM, 0.05, 2)?.critical],
  "I-MR flow rate/mean": () => [individualsChart(FLOW).centre],
  "I-MR flow rate/mean MR": () => [individualsChart(FLOW).movingRangeMean],
  "I-MR flow rate/UCL": () => [individualsChart(FLOW).upper],
  "I-MR flow rate/LCL": () => [individualsChart(FLOW).lower],
  "I-MR flow rate/UCL of MR with D4 = 3.267": () => [movingRangeChart(FLOW)?.upper],
  "EWMA/UCL": () => [limitsOfEwma?.upper],
  "EWMA/LCL": () => [limitsOfEwma?.lower],
  "Capability USL 20 LSL 8 mean 16 s 2/Cp": () => [Cp],
  "Capability USL 20 LSL 8 mean 16 s 2/Cpk = Cpu": () => [Cpk],
  "Capability USL 20 LSL 8 mean 16 s 2/Cpl": () => [capability("16", "2", { lower: "8" }).Cpk],
  // k = |middle - mean| over half the tolerance, so Cpk = Cp (1 - k).
  "Capability USL 20 LSL 8 mean 16 s 2/k": () => [1 - Cpk / Cp],
  'Tolerance n 43 P 0.90 conf 0.99/k2 "exact" as printed': () => [toleranceFactor({ n: 43, coverage: 0.9, confidence: 0.99, sides: 2 })],
  "Tolerance n 43 P 0.90 conf 0.99/k1 exact (non-central t)": () => [toleranceFactor({ n: 43, coverage: 0.9, confidence: 0.99, sides: 1 })],
  "Tolerance 100OHM n 25 P 0.90 conf 0.99/two-sided limits": () => [resistors.lower, resistors.upper, resistors.k],
  "One-sample t particle counts/mean, s, t, crit": () => [
    describe(PARTICLES).mean,
    sdOf(PARTICLES),
    distance(PARTICLES, 50),
    tQuantile(0.975, 9),
  ],
  "Variables sampling MIL-STD-414 example B-1/mean, s, (U - mean)/s": () => [B1.mean, B1.spread, B1.qualityIndex],
};

/** Lines whose figures are signals, in tests of their own below. */
const SIGNALS = ["CUSUM/first signal", "c chart wafers/CL, UCL, LCL", "p chart wafers/p-bar, UCL, LCL"];

const TWO_SAMPLES = "two samples are not compared: no such test is asked for";
const SPREADS = "spreads of several samples are not compared: no such test is asked for";
const APPROXIMATE = "an approximation; the project has the exact factor only";
const NOT_EXPRESSED: Readonly<Record<string, string>> = {
  "two-sample-t AUTO83B/T equal variances": TWO_SAMPLES,
  "two-sample-t AUTO83B/pooled sd": TWO_SAMPLES,
  "two-sample-t AUTO83B/df": TWO_SAMPLES,
  "two-sample-t AUTO83B/T unequal variances (Welch)": TWO_SAMPLES,
  "two-sample-t AUTO83B/Welch df": TWO_SAMPLES,
  "two-sample-t AUTO83B/two-sided p equal variances": TWO_SAMPLES,
  "Bartlett GEAR/T": SPREADS,
  "Bartlett GEAR/p": SPREADS,
  "Levene GEAR (median centred = Brown-Forsythe)/W": `${SPREADS} (the printed 1.705910 is a misprint of 1.705918)`,
  "Levene GEAR (median centred = Brown-Forsythe)/F crit 0.95, 9, 90": SPREADS,
  "Levene GEAR (median centred = Brown-Forsythe)/p": SPREADS,
  "Levene GEAR (mean centred)/W": SPREADS,
  "Tolerance n 43 P 0.90 conf 0.99/k2 Howe": APPROXIMATE,
  "Tolerance n 43 P 0.90 conf 0.99/k1 Natrella approximation": APPROXIMATE,
  "Tolerance n 43, mean 97.07, s 0.0268/two-sided limits (Howe)": APPROXIMATE,
  "Tolerance n 43, mean 97.07, s 0.0268/upper one-sided": `${APPROXIMATE} (Natrella's k)`,
};

const keyOf = (row: Readonly<Record<string, string>>): string => `${row["example"]}/${row["statistic"]}`;

group("handbook-example-results.csv", () => {
  test("every line is run or listed with the reason why not", () => {
    const done = new Set([...Object.keys(ANSWERS), ...SIGNALS]);
    expect(ROWS).toHaveLength(done.size + Object.keys(NOT_EXPRESSED).length);
    expect(ROWS.map(keyOf).filter((key) => !done.has(key))).toEqual(Object.keys(NOT_EXPRESSED));
  });

  test.for(ROWS.filter((row) => keyOf(row) in ANSWERS))("$example, $statistic: published $published, recomputed $recomputed", (row) => {
    const printed = figures(row["recomputed"] ?? "");
    const is = ANSWERS[keyOf(row)]?.() ?? [];
    expect(is).toHaveLength(printed.length);
    printed.forEach((figure, at) => {
      expect(Math.abs((is[at] ?? Number.NaN) - Number(figure)), `${figure} against ${is[at]}`).toBeLessThan(halfPlace(figure));
    });
  });

  test("the sample of example B-1 is accepted: 1.59 is above 1.53", () => {
    expect(B1.accept).toBe(true);
  });
  test('the "exact" k2 of 2.210167 is that of P 0.99 and confidence 0.05: the arguments of the printed call are swapped', () => {
    expect(toleranceFactor({ n: 43, coverage: 0.99, confidence: 0.05, sides: 2 })).toBeCloseTo(2.210167, 5);
  });
  test("97.12 of an older edition: 102.096 came of 2.68 for s, and the exact factor gives 97.1202", () => {
    const k = toleranceFactor({ n: 43, coverage: 0.9, confidence: 0.99, sides: 1 });
    expect(97.07 + k * 0.0268).toBeCloseTo(97.12, 2);
    expect(97.07 + k * 2.68).toBeCloseTo(102.09, 2);
  });
  test.for([
    // chi-square, tail, source
    [73.36108, 0.025, "1.3.5.8, 99 degrees: lower critical value"],
    [128.421989, 0.975, "1.3.5.8, 99 degrees: upper critical value"],
  ] as const)("chi-square %d leaves %d below it (%s)", ([x, share]) => {
    expect(chiSquareCdf(x, 99)).toBeCloseTo(share, 7);
  });

  test("EWMA, 6.3.2.4: all 20 averages, as published to two places and recomputed to six, without a signal", () => {
    const rows = readReference("handbook-example-ewma");
    const { points } = ewmaChart({ values: rows.map((row) => row["x"] ?? ""), target: 50, sigma: 2.0539, lambda: 0.3 });
    expect(points).toHaveLength(20);
    for (const [at, row] of rows.entries()) {
      expect(Math.abs((points[at]?.ewma ?? 0) - Number(row["ewma_published"]))).toBeLessThan(0.0051);
      expect(points[at]?.ewma).toBeCloseTo(Number(row["ewma_recomputed"]), 6);
    }
    expect(points.filter((point) => point.signal !== undefined)).toEqual([]);
  });

  test("CUSUM, 6.3.2.3: both sums of all 20 points, the first signal at 14", () => {
    const rows = readReference("handbook-example-cusum");
    const points = cusumChart({
      values: rows.map((row) => row["x"] ?? ""),
      target: "325",
      allowance: "0.3175",
      decisionInterval: "4.1959",
    });
    expect(points.map(({ high, low, signals }) => [high, low, signals.length])).toEqual(
      rows.map((row) => [Number(row["S_hi_recomputed"]), Number(row["S_lo_recomputed"]), Number(row["signal_recomputed"])]),
    );
    expect(points.find((point) => point.signals.length > 0)).toMatchObject({ index: 14, signals: ["high"] });
  });

  const beyond = (values: readonly string[], centre: string, sigma: string): readonly number[] =>
    runSignals(values.map(exact), exact(centre), exact(sigma))
      .filter((signal) => signal.rule === "beyond-3-sigma")
      .map((signal) => signal.index);
  test("c chart, 6.3.3.1: 16 ∓ 3 x 4; wafer 24 is outside, wafer 3 on the limit of 28 is not", () => {
    const defects = column("cchart", "defects");
    expect(describe(defects).mean).toBe(16);
    expect(defects[2]).toBe("28");
    expect(beyond(defects, "16", "4")).toEqual([24]);
  });
  test("p chart, 6.3.3.2: samples 15 and 23 are outside 0.0524 to 0.4102", () => {
    const shares = column("pchart", "fraction_defective");
    const mean = describe(shares).mean;
    const sigma = Math.sqrt((mean * (1 - mean)) / 50);
    expect(mean).toBeCloseTo(0.231333, 6);
    expect(beyond(shares, mean.toFixed(12), sigma.toFixed(12))).toEqual([15, 23]);
  });
});
