/** The calculations of statistics: certified values, handbook examples and published tables. */
import { describe, expect, test } from "vitest";
import { exact } from "../../../core/decimal.ts";
import { runSignals } from "../../../core/statistics/individuals-chart.ts";
import { ask, numberAt, sharedDigits } from "../calc/answers.ts";
import { readReference } from "../spec/reference.ts";

describe("describe: NIST Statistical Reference Datasets, univariate (nist-strd-certified.csv)", () => {
  test.for(readReference("nist-strd-certified"))("$dataset", (row) => {
    const values = readReference(`nist-strd-${row["dataset"]?.toLowerCase()}`).map((each) => each["y"]);
    const answer = ask("describe", { values });
    expect(answer["n"]).toBe(Number(row["n"]));
    // Sums are exact, so every set is met to the printed digits, the ill-conditioned ones included.
    expect(sharedDigits(numberAt(answer, "mean"), Number(row["certified_mean"]))).toBeGreaterThan(14);
    expect(sharedDigits(numberAt(answer, "sd"), Number(row["certified_sd_n_minus_1"]))).toBeGreaterThan(13.9);
    expect(sharedDigits(numberAt(answer, "lag1"), Number(row["certified_lag1_autocorrelation"]))).toBeGreaterThan(13.9);
  });

  test.for([
    // values, answer, source
    [["5.0"], { n: 1, mean: 5 }, "contract: a figure without a value is left out"],
    [[2, "2.0"], { n: 2, mean: 2, sd: 0 }, "no spread: no autocorrelation (definition)"],
    [[1, 2], { n: 2, mean: 1.5, sd: Math.SQRT1_2, lag1: -0.5 }, "definition, by hand"],
  ] as const)("%j gives %j (%s)", ([values, answer]) => {
    expect(ask("describe", { values })).toEqual(answer);
  });
});

describe("individuals-chart", () => {
  test("flow rate (e-Handbook 6.3.2.2: 50.81, 1.8778, 55.8041, 45.8159)", () => {
    const values = readReference("handbook-example-imr-flowrate").map((row) => row["x"]);
    const answer = ask("individuals-chart", { values });
    expect(answer["signals"]).toEqual([]);
    for (const [path, figure] of [
      ["centre", 50.81],
      ["movingRangeMean", 1.8778],
      ["upper", 55.8041],
      ["lower", 45.8159],
    ] as const)
      expect(numberAt(answer, path)).toBeCloseTo(figure, 4);
  });

  test("signals of the constructed vector (run-rules-vector.csv)", () => {
    const names: Readonly<Record<string, string>> = {
      "4 of 5 beyond 1s same side": "4-of-5-beyond-1-sigma",
      "2 of 3 beyond 2s same side": "2-of-3-beyond-2-sigma",
      "8 in a row one side": "run-of-8",
      "one beyond 3s": "beyond-3-sigma",
      "6 in a row steadily up or down": "trend-of-6",
    };
    const rows = readReference("run-rules-vector");
    const expected = rows.flatMap((row) =>
      (row["rule_hits"] ?? "")
        .split("; ")
        .flatMap((hit) => (names[hit] === undefined ? [] : [{ index: Number(row["i"]), rule: names[hit] }])),
    );
    expect(expected).toHaveLength(6);
    expect(
      runSignals(
        rows.map((row) => exact(row["z"] ?? "")),
        exact("0"),
        exact("1"),
      ),
    ).toEqual(expected);
  });

  const hits = (points: readonly string[]): readonly string[] =>
    runSignals(points.map(exact), exact("0"), exact("1")).map(({ index, rule }) => `${index} ${rule}`);
  test.for([
    // points in sigma, hits, source: the contract's details
    [["3"], [], "beyond means strictly"],
    [["3.01"], ["1 beyond-3-sigma"], "beyond means strictly"],
    [["2.1", "2.2"], ["2 2-of-3-beyond-2-sigma"], "windows at the start may be shorter"],
    [["2.1", "-2.2"], [], "on one side"],
    [["2.1", "2.2", "0"], ["2 2-of-3-beyond-2-sigma"], "the point itself is beyond"],
    [["2.1", "-0.5", "2.2"], ["3 2-of-3-beyond-2-sigma"], "the two that count are on one side"],
    [["1.1", "1.2", "1.1", "1.2"], ["4 4-of-5-beyond-1-sigma"], "windows at the start may be shorter"],
    [["1", "2", "3", "4", "5", "6"].map((n) => `0.${n}`), ["6 trend-of-6"], "six points"],
    [["0.6", "0.5", "0.4", "0.3", "0.2", "0.1", "-0.1"], ["6 trend-of-6", "7 trend-of-6"], "each point that ends a pattern"],
    [["0.1", "0.2", "0.3", "0.3", "0.4", "0.5"], [], "equal neighbours end a trend"],
    [["0.1", "0.2", "0.1", "0.2", "0", "0.1", "0.2", "0.1", "0.2"], [], "a point on the centre line ends a run"],
    [["0.1", "0.2", "0.1", "0.2", "0.1", "0.2", "0.1", "0.2"], ["8 run-of-8"], "eight on one side"],
  ] as const)("%j: %j (%s)", ([points, expected]) => {
    expect(hits(points)).toEqual(expected);
  });

  test("equal values give no signals; one value has no limits (contract)", () => {
    expect(ask("individuals-chart", { values: Array(12).fill("7.1") })).toEqual({
      centre: 7.1,
      upper: 7.1,
      lower: 7.1,
      movingRangeMean: 0,
      signals: [],
    });
    expect(ask("individuals-chart", { values: [7.1] })).toEqual({ centre: 7.1, signals: [] });
  });
});

describe("capability (e-Handbook 6.1.6: USL 20, LSL 8, mean 16, s 2)", () => {
  test.for([
    [
      { mean: 16, sd: 2, lower: 8, upper: 20 },
      { Cp: 1, Cpk: 2 / 3 },
    ],
    [{ mean: 16, sd: 2, lower: 8 }, { Cpk: 4 / 3 }],
    [{ mean: 16, sd: 2, upper: "20" }, { Cpk: 2 / 3 }],
  ] as const)("%j gives %j", ([input, answer]) => {
    expect(ask("capability", input)).toEqual(answer);
  });
});

describe("grubbs (e-Handbook 1.3.5.17.1)", () => {
  const values = readReference("handbook-example-grubbs").map((row) => row["x"]);
  test.for([
    // sides, critical value, source
    [1, 2.031652, "handbook-example-results.csv: 2.032 published"],
    [2, 2.126645, "handbook-example-results.csv: 2.1266 published"],
  ] as const)("sides %d: critical %d (%s)", ([sides, critical]) => {
    const answer = ask("grubbs", { values, alpha: 0.05, sides });
    expect(answer).toMatchObject({ index: 8, outlier: true });
    expect(numberAt(answer, "G")).toBeCloseTo(2.468765, 6);
    expect(numberAt(answer, "critical")).toBeCloseTo(critical, 6);
  });
  test("a small alpha keeps its digits (t quantile at 1e-12 / 16, 6 degrees, computed with scipy)", () => {
    const t = 285.354653925933;
    const critical = (7 / Math.sqrt(8)) * Math.sqrt((t * t) / (6 + t * t));
    expect(numberAt(ask("grubbs", { values, alpha: "0.000000000001", sides: 2 }), "critical")).toBeCloseTo(critical, 9);
  });
  test("a point that stands out too little is named and is no outlier (invented values)", () => {
    expect(ask("grubbs", { values: [1, 2, 3, 4, 0], alpha: 0.05, sides: 2 })).toMatchObject({ index: 4, outlier: false });
  });
});

describe("tolerance-factor", () => {
  test("every row of tolerance-factors.csv: the exact column to four places, the published one to its last digit", () => {
    const rows = readReference("tolerance-factors");
    expect(rows).toHaveLength(621);
    for (const row of rows) {
      const sides = row["side"] === "one-sided" ? 1 : 2;
      const answer = ask("tolerance-factor", { n: row["n"], coverage: row["coverage_P"], confidence: row["confidence"], sides });
      expect(Math.abs(numberAt(answer, "k") - Number(row["k_exact_computed"])), JSON.stringify(row)).toBeLessThan(0.000051);
      // Two published figures are approximations (Howe's, Natrella's), as their sources say.
      const published = /published column is the/.test(row["source"] ?? "") ? "" : (row["k_published"] ?? "");
      const half = 0.51 * 10 ** -(published.split(".")[1]?.length ?? 0);
      if (published !== "") expect(Math.abs(numberAt(answer, "k") - Number(published)), JSON.stringify(row)).toBeLessThan(half);
    }
    expect(rows.filter((row) => row["k_published"] !== "")).toHaveLength(45);
  });
  test.for([
    // n, coverage, confidence, sides, k, source
    [43, 0.9, 0.99, 2, 2.222825, "statistics-and-documents.md D2: exact k2 (the printed 2.210167 is wrong)"],
    [43, 0.9, 0.99, 1, 1.873954, "D2: exact k1"],
    [10, 0.95, 0.95, 2, 3.393, "D3: exact, not 3.38"],
    [50, 0.95, 0.95, 1, 2.065, "D3, published"],
    [25, 0.9, 0.99, 2, 2.505927, "handbook-example-results.csv, 100OHM"],
    [1_000_000, 0.95, 0.95, 1, 1.6473791, "quantile of the non-central t, computed with scipy"],
    [25_000, 0.95, 0.95, 2, 1.974537, "between 1.9600 and the factor at 20,000; series and cube root agree there"],
  ] as const)("n %d, %d / %d, sides %d: %d (%s)", ([n, coverage, confidence, sides, k]) => {
    expect(Math.abs(numberAt(ask("tolerance-factor", { n, coverage, confidence, sides }), "k") - k)).toBeLessThan(
      k === 3.393 || k === 2.065 ? 5e-4 : 1e-6,
    );
  });
});
