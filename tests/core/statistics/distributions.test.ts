/** Distribution functions against figures of another library (scipy 1.17), and statistics of random values against plain sums of the library. */
import fc from "fast-check";
import jstat from "jstat";
import { expect, describe as group, test } from "vitest";
import { shortestText } from "../../../core/decimal.ts";
import { binomialCdf, chiSquareCdf, normalCdf, normalQuantile, poissonCdf, tQuantile } from "../../../core/statistics/distributions.ts";
import { describe, individualsChart, toleranceFactor } from "../../../core/statistics/index.ts";
import { sharedDigits } from "../calc/answers.ts";

group("distribution functions (computed with scipy 1.17)", () => {
  test.for([
    // p, degrees, quantile
    [0.975, 326, 1.9672675222597704],
    [0.95, 326, 1.6495411571983942],
    [0.025, 9, -2.262157162798205],
    [0.003125, 6, -4.1151701175957145],
    [0.3, 5, -0.5594296444693604],
    [0.0005, 30, -3.645958635042021],
    [0.025, 100000, -1.95998770753461],
    [1e-12, 1, -318309886183.7907],
    [0.7, 1, 0.7265425280053608],
  ] as const)("t quantile at %d, %d degrees: %d, to 13 digits", ([p, degrees, quantile]) => {
    expect(sharedDigits(tQuantile(p, degrees), quantile)).toBeGreaterThan(13);
    expect(tQuantile(1 - 0.25, degrees)).toBeCloseTo(-tQuantile(0.25, degrees), 12);
  });
  test("the middle of t is 0", () => {
    expect(Math.abs(tQuantile(0.5, 7))).toBe(0);
  });
  test("chi-square of more than 20,000 degrees keeps six places", () => {
    expect(chiSquareCdf(20300, 20001)).toBeCloseTo(0.9320069805613242, 6);
  });
  test.for([
    // function, value, figure
    ["normal below 1.4 (JCGM 106)", normalCdf(1.4), 0.9192433407662289],
    ["normal quantile 0.975", normalQuantile(0.975), 1.959963984540054],
    ["chi-square 16.918978, 9", chiSquareCdf(16.918978, 9), 0.9500000063406684],
    ["binomial to 2 of 80, 0.01", binomialCdf(2, 80, 0.01), 0.9534468142640684],
    ["Poisson to 21, mean 10", poissonCdf(21, 10), 0.9993003494876652],
  ] as const)("%s: %d is %d", ([, is, figure]) => {
    expect(Math.abs(is - figure)).toBeLessThan(1e-9);
  });
});

interface Library {
  mean(values: readonly number[]): number;
  stdev(values: readonly number[], sample: boolean): number;
  noncentralt: { cdf(x: number, degrees: number, delta: number): number };
}
const { jStat } = jstat as unknown as { jStat: Library };
const values = fc
  .array(fc.integer({ min: -500_000, max: 500_000 }), { minLength: 2, maxLength: 40 })
  .map((list) => list.map((n) => n / 100));

group("random values: the library computes the same", () => {
  test("mean and standard deviation", () => {
    fc.assert(
      fc.property(values, (list) => {
        const { n, mean, sd = Number.NaN } = describe(list.map(shortestText));
        expect(n).toBe(list.length);
        expect(mean).toBeCloseTo(jStat.mean(list), 8);
        expect(sd).toBeCloseTo(jStat.stdev(list, true), 7);
      }),
    );
  });
  test("limits of the individuals chart from plain sums", () => {
    fc.assert(
      fc.property(values, (list) => {
        const { centre, upper, lower } = individualsChart(list.map(shortestText));
        const moving = jStat.mean(list.slice(1).map((value, at) => Math.abs(value - (list[at] ?? 0))));
        expect(centre).toBeCloseTo(jStat.mean(list), 8);
        expect(upper).toBeCloseTo(jStat.mean(list) + (3 * moving) / 1.128, 6);
        expect(lower).toBeCloseTo(jStat.mean(list) - (3 * moving) / 1.128, 6);
      }),
    );
  });
  test("the one-sided tolerance factor is a quantile of the library's non-central t", () => {
    const share = fc.integer({ min: 500, max: 990 }).map((n) => n / 1000);
    fc.assert(
      fc.property(fc.integer({ min: 2, max: 60 }), share, share, (n, coverage, confidence) => {
        const k = toleranceFactor({ n, coverage, confidence, sides: 1 });
        const reached = jStat.noncentralt.cdf(k * Math.sqrt(n), n - 1, normalQuantile(coverage) * Math.sqrt(n));
        expect(reached).toBeCloseTo(confidence, 4);
      }),
    );
  });
});
