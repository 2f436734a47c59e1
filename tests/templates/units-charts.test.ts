/** Figures beside those of the limit, and charts. */
import { describe, expect, it } from "vitest";
import { coilChart, extremesOf } from "../../templates/charts.ts";
import { convertedText, systemsAsked, unitBeside } from "../../templates/units.ts";

/** @source factors of core/quantity.ts (inch 25.4 mm, pound-force 4.4482216152605 N), worked by hand; ties to even */
describe("a figure in the other system", () => {
  it.each([
    ["1800", "MPa", "261.1", "ksi"], // 1800 / 6.894757293168 = 261.0679
    ["1850.25", "MPa", "268.4", "ksi"], // 268.3560
    ["261.1", "ksi", "1800", "MPa"], // 1800.2211
    ["2.0035", "mm", "0.0789", "in"], // 0.078878
    ["0.0787", "in", "1.999", "mm"], // 1.99898
    ["240", "kg", "529", "lb"], // 529.1094
    ["275", "g/m2", "0.90", "oz/ft2"], // 0.90121
    ["7850", "N", "1765", "lbf"], // 1764.75
  ] as const)("%s %s is %s %s", (text, unit, expected, to) => {
    expect(unitBeside(unit, ["SI", "inch-pound"])).toBe(to);
    expect(convertedText(text, unit)).toBe(expected);
  });

  it.each([
    ["MPa", ["SI"], undefined],
    ["ksi", ["SI"], "MPa"],
    ["MPa", ["inch-pound"], "ksi"],
    ["turns", ["SI", "inch-pound"], undefined],
    ["%", ["inch-pound"], undefined],
    ["MPa", [], undefined],
  ] as const)("beside %s, asked for %j: %s", (unit, asked, expected) => {
    expect(unitBeside(unit, asked)).toBe(expected);
  });

  it.each([
    [undefined, []],
    ["", []],
    ["SI", ["SI"]],
    ["inch-pound", ["inch-pound"]],
    ["SI + inch-pound", ["SI", "inch-pound"]],
    ["both", ["SI", "inch-pound"]],
    ["US", ["inch-pound"]],
  ])("an order that says %s asks for %j", (text, expected) => {
    expect(systemsAsked(text)).toEqual(expected);
  });

  it("a unit without counterpart is refused", () => {
    expect(() => convertedText("22", "turns")).toThrow('no unit beside "turns"');
  });
});

describe("a chart", () => {
  const points = [
    { coil: "A", compared: "1800", outside: false },
    { coil: "B", compared: "1790", outside: true },
    { coil: "C", compared: "2050", outside: false },
  ];
  const chart = coilChart({ sentence: 'says "all"', points, min: "1800", max: "2050", figure: (text) => text });

  it("is one picture with one sentence", () => {
    expect(chart).toMatch(/^<svg class="chart" role="img" aria-label="says &quot;all&quot;"/);
    expect(chart.match(/role=/g)).toHaveLength(1);
  });

  it("draws two filled squares, one cross, two limits, and nothing by colour alone", () => {
    const filled = /<path d="([^"]*)" fill="#161616"\/>/.exec(chart)?.[1] ?? "";
    const crossed = /<path d="([^"]*)" fill="none" stroke="#161616" stroke-width="1"\/>/.exec(chart)?.[1] ?? "";
    expect(filled.match(/z/g)).toHaveLength(2);
    expect(crossed.match(/M/g)).toHaveLength(1);
    expect(chart.match(/stroke-dasharray/g)).toHaveLength(2);
  });

  it("spans every point and limit with round ticks", () => {
    const ticks = [...chart.matchAll(/text-anchor="end">(\d+)</g)].map((match) => Number(match[1]));
    expect(ticks).toEqual([1700, 1800, 1900, 2000, 2100]);
  });

  it("finds the first of equal extremes, exactly", () => {
    const [low, high] = extremesOf([
      ...points,
      { coil: "D", compared: "1790.0", outside: true },
      { coil: "E", compared: "2050.0", outside: false },
    ]);
    expect([low.coil, high.coil]).toEqual(["B", "C"]);
    expect(() => extremesOf([])).toThrow(RangeError);
  });

  it.each([
    ["one value without a spread", [{ coil: "A", compared: "28", outside: false }], "28"],
    ["zero", [{ coil: "A", compared: "0", outside: false }], undefined],
    ["a narrow band", [{ coil: "A", compared: "2.001", outside: false }], "2.000"],
  ])("%s makes no empty or endless scale", (_, few, min) => {
    const drawn = coilChart({ sentence: "s", points: few, ...(min === undefined ? {} : { min }), figure: (text) => text });
    expect(drawn).not.toMatch(/NaN|Infinity/);
    expect((drawn.match(/<text/g) ?? []).length).toBeLessThan(10);
  });

  it("text of a coil is escaped", () => {
    expect(coilChart({ sentence: "s", points: [{ coil: "<b>&", compared: "1", outside: false }], figure: (t) => t })).toContain(
      "&lt;b&gt;&amp;",
    );
  });
});
