/** EWMA, CUSUM, moving-range chart, tolerance interval and the printed factors. Worked by hand where no source is named; values are invented. */
import { describe, expect, test } from "vitest";
import { controlChartFactors, cusumChart, ewmaChart, movingRangeChart, toleranceInterval } from "../../../core/statistics/index.ts";
import { readReference } from "../spec/reference.ts";

describe("EWMA chart", () => {
  test.for([
    // value, lambda, width, limits, average and signal of the only point, source
    ["13", 0.5, 3, "asymptotic", 11.5, undefined, "10 + 0.5 x 3; limits 10 ∓ 3 x 1 x √(0.5 / 1.5) = 8.27 to 11.73"],
    ["13.6", 0.5, 3, "asymptotic", 11.8, "above", "11.8 is above 11.73"],
    ["6.4", 0.5, 3, "asymptotic", 8.2, "below", "8.2 is below 8.27"],
    ["13.2", 0.5, 3, "exact-time", 11.6, "above", "first point: 10 ∓ 3 x 0.5 = 8.5 to 11.5"],
    ["12.9", 0.5, 3, "exact-time", 11.45, undefined, "11.45 is not above 11.5"],
    ["13", 0.5, 2, "asymptotic", 11.5, "above", "width 2: 8.85 to 11.15"],
    ["12", 1, 3, "asymptotic", 12, undefined, "lambda 1 is the value itself, limits 3 sigma"],
    ["13", 1, 3, "asymptotic", 13, undefined, "on the upper limit: beyond means strictly"],
    ["7", 1, 3, "asymptotic", 7, undefined, "on the lower limit"],
  ] as const)("%s at lambda %d, width %d, %s: %d, %s (%s)", ([value, lambda, width, limits, ewma, signal]) => {
    const [point] = ewmaChart({ values: [value], target: 10, sigma: 1, lambda, width, limits }).points;
    expect(point?.ewma).toBeCloseTo(ewma, 12);
    expect(point?.signal).toBe(signal);
  });
  test("exact-time limits widen to the asymptotic ones; each average carries the one before (by hand)", () => {
    const values = Array<string>(60).fill("11");
    const question = { values, target: 10, sigma: 1, lambda: 0.3 };
    const exact = ewmaChart({ ...question, limits: "exact-time" }).points;
    const asymptotic = ewmaChart(question).points;
    expect(exact[1]?.ewma).toBeCloseTo(10 + 0.3 + 0.7 * 0.3, 12);
    expect(exact[0]?.upper).toBeCloseTo(10.9, 12);
    expect(exact[0]?.lower).toBeCloseTo(9.1, 12);
    expect(exact[59]?.upper).toBeCloseTo(asymptotic[59]?.upper ?? 0, 6);
    expect(exact.map((point) => point.index)).toEqual(values.map((_, at) => at + 1));
  });
  test.for([
    { sigma: 0, lambda: 0.3 },
    { sigma: 1, lambda: 0 },
    { sigma: 1, lambda: 1.01 },
    { sigma: 1, lambda: Number.NaN },
    { sigma: 1, lambda: 0.3, width: 0 },
  ])("%j is refused", (given) => {
    expect(() => ewmaChart({ values: ["1"], target: 1, ...given })).toThrow(RangeError);
  });
});

describe("CUSUM chart", () => {
  const chart = (values: readonly string[], target = "10", allowance = "0.5", decisionInterval = "4") =>
    cusumChart({ values, target, allowance, decisionInterval }).map(({ high, low, signals }) => [high, low, ...signals]);
  test.for([
    // values, [high, low, signals], source: by hand
    [
      ["10.5", "9.5"],
      [
        [0, 0],
        [0, 0],
      ],
      "what stays within the allowance counts nowhere",
    ],
    [
      ["12.5", "12.5"],
      [
        [2, 0],
        [4, 0],
      ],
      "a sum of h is no signal",
    ],
    [
      ["12.5", "12.501"],
      [
        [2, 0],
        [4.001, 0, "high"],
      ],
      "a sum above h is one",
    ],
    [
      ["7.5", "7.4"],
      [
        [0, 2],
        [0, 4.1, "low"],
      ],
      "downward",
    ],
    [["5.5"], [[0, 4]], "downward too, a sum of h is no signal"],
    [
      ["12.5", "7", "12.5"],
      [
        [2, 0],
        [0, 2.5],
        [2, 0],
      ],
      "no sum falls below zero",
    ],
    [
      ["20", "5"],
      [
        [9.5, 0, "high"],
        [4, 4.5, "low"],
      ],
      "a jump to the other side",
    ],
    [
      ["20", "5.2"],
      [
        [9.5, 0, "high"],
        [4.2, 4.3, "high", "low"],
      ],
      "both sums may stand above h",
    ],
  ] as const)("%j: %j (%s)", ([values, sums]) => {
    expect(chart(values)).toEqual(sums);
  });
  test("sums are exact in decimals: 0.1 ten times is 1", () => {
    expect(chart(Array<string>(10).fill("0.1"), "0", "0", "1").at(-1)).toEqual([1, 0]);
  });
  test("an allowance below zero and a decision interval of zero are refused", () => {
    expect(() => chart(["1"], "1", "-0.1")).toThrow(RangeError);
    expect(() => chart(["1"], "1", "0.5", "0")).toThrow(RangeError);
    expect(chart(["1"], "1", "0", "1")).toEqual([[0, 0]]);
  });
});

describe("moving-range chart", () => {
  test("ranges of the flow rate (handbook-example-imr-flowrate.csv), centre 1.8778, no signal", () => {
    const rows = readReference("handbook-example-imr-flowrate");
    const chart = movingRangeChart(rows.map((row) => row["x"] ?? ""));
    expect(chart?.ranges).toEqual(rows.slice(1).map((row) => Number(row["moving_range"])));
    expect(chart?.centre).toBeCloseTo(1.8778, 4);
    expect(chart).toMatchObject({ lower: 0, signals: [] });
  });
  test.for([
    // values, signals, source
    [["0", "1", "0", "1", "0", "10"], [6], "ranges 1 1 1 1 10, mean 2.8, limit 9.1476: 10 is above"],
    [["0", "1", "0", "1", "0", "6"], [], "ranges 1 1 1 1 6, mean 2, limit 6.534: 6 is not"],
    // Ranges 0 x 2 and 3.267 x 1: the mean is 1.089 and 3.267 x 1.089 is above the range.
    [["5", "5", "5", "8.267"], [], "three ranges: none can pass 3.267 times its own third"],
    [["7", "7", "7"], [], "no spread"],
  ] as const)("%j: %j (%s)", ([values, signals]) => {
    expect(movingRangeChart(values)?.signals).toEqual(signals);
  });
  test("a range exactly on the limit is no signal", () => {
    // A thousand ranges that make a million: the mean is 1000, the limit 3267.
    const ranges = [3267, ...Array<number>(998).fill(998), 729];
    const values = ["0"];
    for (const [at, range] of ranges.entries()) values.push(String(Number(values.at(-1)) + (at % 2 === 0 ? range : -range)));
    const chart = movingRangeChart(values);
    expect(chart).toMatchObject({ centre: 1000, upper: 3267 });
    expect(chart?.signals).toEqual([]);
  });
  test("two values have one range (by hand: 3.267 x 2)", () => {
    expect(movingRangeChart(["1", "3"])).toEqual({ centre: 2, upper: 6.534, lower: 0, ranges: [2], signals: [] });
  });
  test("one value has no range", () => {
    expect(movingRangeChart(["1"])).toBeUndefined();
    expect(movingRangeChart([])).toBeUndefined();
  });
});

describe("tolerance interval", () => {
  test.for([
    // side, limits in standard deviations, source
    ["both", { lower: -3.393, upper: 3.393 }, "statistics-and-documents.md D3: n 10, 0.95/0.95, exact"],
    ["lower", { lower: -2.911 }, "D3: one-sided, n 10"],
    ["upper", { upper: 2.911 }, "D3: one-sided, n 10"],
  ] as const)("%s: %j (%s)", ([side, limits]) => {
    const values = ["1", "2", "3", "4", "5", "6", "7", "8", "9", "10"];
    const { mean, sd, lower, upper } = toleranceInterval(values, 0.95, 0.95, side);
    const is = { ...(lower === undefined ? {} : { lower }), ...(upper === undefined ? {} : { upper }) };
    expect(Object.keys(is)).toEqual(Object.keys(limits));
    for (const [name, distance] of Object.entries(limits)) expect(((is[name as "lower"] ?? 0) - mean) / sd).toBeCloseTo(distance, 3);
  });
  test("one value is refused", () => {
    expect(() => toleranceInterval(["1"], 0.95, 0.95, "both")).toThrow(RangeError);
  });
});

describe("control chart factors (control-chart-constants.csv)", () => {
  const rows = readReference("control-chart-constants");
  const names = ["A2", "A3", "c4", "B3", "B4", "d2", "d3", "D3", "D4", "E2"] as const;
  test.for(rows)("n = $n as printed", (row) => {
    const factors = controlChartFactors(Number(row["n"]));
    for (const name of names) expect(Number(factors[name]), name).toBe(Number(row[name]));
  });
  test("n from 2 to 10 is held", () => {
    expect(rows).toHaveLength(9);
    for (const n of [1, 11, 2.5]) expect(() => controlChartFactors(n)).toThrow(RangeError);
  });
  test("each printed figure is the definition, rounded: mean and spread of range and standard deviation, by quadrature", () => {
    for (let n = 2; n <= 10; n += 1) {
      const { d2, d3, c4 } = fromDefinition(n);
      const held = controlChartFactors(n);
      const spread = Math.sqrt(1 - c4 * c4);
      const exact: Readonly<Record<(typeof names)[number], number>> = {
        d2,
        d3,
        c4,
        A2: 3 / (d2 * Math.sqrt(n)),
        A3: 3 / (c4 * Math.sqrt(n)),
        B3: Math.max(0, 1 - (3 * spread) / c4),
        B4: 1 + (3 * spread) / c4,
        D3: Math.max(0, 1 - (3 * d3) / d2),
        D4: 1 + (3 * d3) / d2,
        // Of the printed d2: of the exact one, n = 2 would give 2.659.
        E2: 3 / Number(held.d2),
      };
      for (const name of names) {
        const places = held[name].split(".")[1]?.length ?? 3;
        // Half a printed place and what the grid leaves; D4 of n = 3 is 2.5746, printed 2.574 by many tables.
        const width = name === "D4" && n === 3 ? 0.7 : 0.56;
        expect(Math.abs(Number(held[name]) - exact[name]), `${name} of ${n}`).toBeLessThan(width * 10 ** -places);
      }
    }
  });
});

/** Mean and standard deviation of the range, and mean standard deviation, of n standard normal values; by plain sums over a grid. */
function fromDefinition(n: number): { d2: number; d3: number; c4: number } {
  const step = 0.02;
  const grid = Array.from({ length: 801 }, (_, at) => -8 + at * step);
  const density = grid.map((x) => Math.exp((-x * x) / 2) / Math.sqrt(2 * Math.PI));
  const below: number[] = [];
  for (const [at, d] of density.entries()) below.push((below[at - 1] ?? 0) + ((density[at - 1] ?? 0) + d) * (step / 2));
  // E(R) = ∫ 1 - F^n - (1 - F)^n; E(R²) = 2 ∫∫ 1 - F(y)^n - (1 - F(x))^n + (F(y) - F(x))^n over x < y.
  const d2 = step * below.reduce((sum, f) => sum + 1 - f ** n - (1 - f) ** n, 0);
  let square = 0;
  for (const [at, fx] of below.entries())
    for (let to = at; to < below.length; to += 1) {
      const fy = below[to] ?? 1;
      square += (to === at ? 0.5 : 1) * (1 - fy ** n - (1 - fx) ** n + (fy - fx) ** n);
    }
  const d3 = Math.sqrt(2 * square * step * step - d2 * d2);
  const gamma = (twice: number): number => (twice === 1 ? Math.sqrt(Math.PI) : twice === 2 ? 1 : ((twice - 2) / 2) * gamma(twice - 2));
  return { d2, d3, c4: (Math.sqrt(2 / (n - 1)) * gamma(n)) / gamma(n - 1) };
}
