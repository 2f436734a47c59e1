/**
 * What being off does: {mandrel, speed, rate, length, wraps, jaw, tension, straightening} x {pass, fail}: what counts, what is void, what is
 * printed. Requirements are invented (20 turns on 200 mm; mandrel 2 mm, 8 wraps); the rule stands beside each row.
 */
import { describe, expect, test } from "vitest";
import type { Requirement } from "../../../core/model.ts";
import { firstCoil, judged, requirement, row, type SpecOptions, TENSILE, TORSION, torsionRow, WRAP, wrapRow } from "../../helpers/judge.ts";

const VERDICTS = { pass: "conforms", fail: "retest-due", void: "not-tested" } as const;
type Told = readonly [counts: boolean, voidReason: string | undefined, deviation: string | undefined];

function told(spec: SpecOptions, entry: Parameters<typeof judged>[0][number]): readonly [...Told, string] {
  const coil = firstCoil(judged([entry], spec));
  const result = coil.requirements[0]?.results[0];
  return [result?.counts ?? false, result?.voidReason, result?.deviation, coil.verdict];
}

const VOID = (reason: string): Told => [false, reason, undefined];
const COUNTS: Told = [true, undefined, undefined];
const PRINTED = (deviation: string): Told => [true, undefined, deviation];

describe("torsion: 24 turns would pass, 12 would fail", () => {
  const tension: Partial<Requirement> = { property: "tensile-strength" };
  const own = { requirements: [TORSION] };
  const withStrength = { requirements: [TORSION, { ...TENSILE, ...tension }] };
  const banded = { ...own, conduct: { torsionTension: { min: { text: "10", unit: "N" }, max: { text: "20", unit: "N" } } } } as const;
  const byHand = { ...own, conduct: { torsionStraightening: ["none", "hand"] } };
  const inMillimetres = { ...own, conduct: { torsionGripDistance: { length: { text: "3.18", unit: "mm" } } } } as const;
  test.for([
    // what is off, specification, fields, pass, fail, source
    [
      "free length short",
      own,
      { freeLength: "150" },
      PRINTED("harder-free-length"),
      VOID("free-length"),
      "JIS C 3110 (read): turns go with the length",
    ],
    ["free length long", own, { freeLength: "300" }, VOID("free-length"), PRINTED("easier-free-length"), "JIS C 3110 (read)"],
    ["free length within 1 %", own, { freeLength: "198" }, COUNTS, COUNTS, "DESIGN section 8, free length"],
    [
      "speed over",
      own,
      { speed: "61" },
      PRINTED("harder-speed"),
      VOID("speed"),
      "EN 10270-1: not above one turn a second (read); faster is harder",
    ],
    ["speed at the maximum", own, { speed: "60" }, COUNTS, COUNTS, "EN 10270-1: not above (read)"],
    [
      "break near a jaw, by the word",
      own,
      { breakAt: "grip" },
      PRINTED("harder-grip-break"),
      VOID("grip-break"),
      "ISO 7800 (memory, high)",
    ],
    [
      "break near a jaw, by its distance",
      own,
      { breakAt: "", fractureFromGrip: "3.9" },
      PRINTED("harder-grip-break"),
      VOID("grip-break"),
      "ISO 7800: within 2 d (memory, high)",
    ],
    ["break at 2 d exactly", own, { breakAt: "", fractureFromGrip: "4.0" }, COUNTS, COUNTS, "nearer than 2 d only"],
    [
      "break within a distance in millimetres",
      inMillimetres,
      { breakAt: "", fractureFromGrip: "3.1" },
      PRINTED("harder-grip-break"),
      VOID("grip-break"),
      "API 9A, 1/8 in (memory, medium)",
    ],
    [
      "break beyond a distance in millimetres",
      inMillimetres,
      { breakAt: "", fractureFromGrip: "3.2" },
      COUNTS,
      COUNTS,
      "API 9A, 1/8 in = 3.18 mm (memory, medium)",
    ],
    [
      "tension over 2 %",
      withStrength,
      { tension: "112" },
      VOID("tension"),
      VOID("tension"),
      "T17: 1770 MPa on 2.00 mm, 2 % is 111.2124 N; ISO 7800 (memory, high); unknown: void",
    ],
    ["tension under 2 %", withStrength, { tension: "111.2" }, COUNTS, COUNTS, "T17: 111.2124 N"],
    [
      "tension without a strength to judge it by",
      own,
      { tension: "500" },
      COUNTS,
      COUNTS,
      "no strength in the specification: nothing is guessed",
    ],
    [
      "tension under a band",
      banded,
      { tension: "9.9" },
      VOID("tension"),
      VOID("tension"),
      "API 9A gives a minimum and twice it (read); figures invented",
    ],
    ["tension over a band", banded, { tension: "20.1" }, VOID("tension"), VOID("tension"), "API 9A (read); figures invented"],
    [
      "tension at the ends of a band",
      banded,
      { tension: "20" },
      COUNTS,
      COUNTS,
      "API 9A: at most twice the minimum (read); figures invented",
    ],
    [
      "straightened otherwise than required",
      byHand,
      { straightened: "rolled" },
      VOID("straightening"),
      VOID("straightening"),
      "ASTM A938: by hand unless otherwise specified (read)",
    ],
    ["straightened as required", byHand, { straightened: "hand" }, COUNTS, COUNTS, "ASTM A938 (read)"],
    [
      "straightened by rollers where nothing is required",
      own,
      { straightened: "rolled" },
      COUNTS,
      COUNTS,
      "common practice, no source: warned of, not void",
    ],
  ] as const)("%s (%j)", ([, spec, fields, pass, fail]) => {
    const [passed, failed] = [told(spec, torsionRow({ turns: "24", ...fields })), told(spec, torsionRow({ turns: "12", ...fields }))];
    // A second requirement without a piece leaves the coil untested; the torsion itself is told by its result.
    const single = spec.requirements.length === 1;
    expect(passed.slice(0, 3)).toEqual([...pass]);
    expect(failed.slice(0, 3)).toEqual([...fail]);
    if (single) expect([passed[3], failed[3]]).toEqual([pass[0] ? VERDICTS.pass : VERDICTS.void, fail[0] ? VERDICTS.fail : VERDICTS.void]);
  });

  test("rollers are warned of at their cell, and only they", () => {
    const codes = (straightened: string) => judged([torsionRow({ straightened })]).findings.map((f) => [f.code, f.actual]);
    expect(codes("rolled")).toEqual([["straightened-otherwise", "rolled"]]);
    expect(["none", "hand", "tapped"].flatMap(codes)).toEqual([]);
  });
});

describe("wrap: no crack would pass, a visible one in turn 3 would fail", () => {
  const own = { requirements: [WRAP] };
  const rated = { ...own, conduct: { wrapMaximumRate: "15" } };
  test.for([
    [
      "mandrel smaller",
      own,
      { mandrelDiameter: "1.8" },
      PRINTED("harder-mandrel"),
      VOID("mandrel"),
      "outer-fibre strain d/(D+d) (geometry)",
    ],
    [
      "mandrel larger",
      own,
      { mandrelDiameter: "2.2" },
      VOID("mandrel"),
      PRINTED("easier-mandrel"),
      "outer-fibre strain d/(D+d) (geometry)",
    ],
    ["mandrel 5 % larger", own, { mandrelDiameter: "2.1" }, COUNTS, COUNTS, "DESIGN section 8, wrap"],
    ["mandrel 5 % smaller", own, { mandrelDiameter: "1.9" }, COUNTS, COUNTS, "DESIGN section 8, wrap"],
    ["too few wraps", own, { wraps: "7" }, VOID("wraps"), PRINTED("easier-wraps"), "DESIGN section 8: too few wraps are easier"],
    ["more wraps", own, { wraps: "9" }, PRINTED("harder-wraps"), VOID("wraps"), "DESIGN section 8, the other way round"],
    ["rate over", rated, { rate: "16" }, PRINTED("harder-speed"), VOID("speed"), "EN 50189: 15 a minute (read, 'not exceeding' assumed)"],
    ["rate at the maximum", rated, { rate: "15" }, COUNTS, COUNTS, "EN 50189 (read)"],
    ["rate over the usual", own, { rate: "61" }, COUNTS, COUNTS, "ISO 7802: one a second (read); not the specification's own: warns"],
  ] as const)("%s (%j)", ([, spec, fields, pass, fail]) => {
    const passed = told(spec, wrapRow(fields));
    const failed = told(spec, wrapRow({ cracks: "visible", firstCrackTurn: "3", ...fields }));
    expect(passed).toEqual([...pass, pass[0] ? VERDICTS.pass : VERDICTS.void]);
    expect(failed).toEqual([...fail, fail[0] ? VERDICTS.fail : VERDICTS.void]);
  });

  test("a rate above the usual one is warned of at its cell", () => {
    expect(judged([wrapRow({ rate: "61" })], own).findings.map((f) => [f.code, f.actual])).toEqual([["speed-advised", "61"]]);
    expect(judged([wrapRow({ rate: "60" })], own).findings).toEqual([]);
  });
});

describe("reverse bend: 12 bends would pass, 8 would fail (invented: at least 10 over 5 mm)", () => {
  const BEND = requirement("reverse-bend", {
    min: "10",
    unit: "bends",
    conditions: { radius: { text: "5", unit: "mm" } },
    rounding: { method: "whole", step: "1", ties: "none" },
  });
  test.for([
    ["as required", { radius: "5" }, COUNTS, COUNTS, "ISO 7801 (memory, high)"],
    ["radius smaller", { radius: "3.75" }, PRINTED("harder-mandrel"), VOID("mandrel"), "strain d/(2r+d) (geometry)"],
    ["radius larger", { radius: "7.5" }, VOID("mandrel"), PRINTED("easier-mandrel"), "strain d/(2r+d) (geometry)"],
    [
      "break near a jaw",
      { radius: "5", breakAt: "grip" },
      PRINTED("harder-grip-break"),
      VOID("grip-break"),
      "as torsion, ISO 7800 (memory, high)",
    ],
  ] as const)("%s", ([, fields, pass, fail]) => {
    const spec = { requirements: [BEND] };
    expect(told(spec, row("reverse-bend", { diameter: "2.00", bends: "12", ...fields })).slice(0, 3)).toEqual([...pass]);
    expect(told(spec, row("reverse-bend", { diameter: "2.00", bends: "8", ...fields })).slice(0, 3)).toEqual([...fail]);
  });
});

describe("several things off at once", () => {
  test.for([
    [{ turns: "12", freeLength: "150", speed: "90", breakAt: "grip" }, "free-length"],
    [{ turns: "12", speed: "90", breakAt: "grip", setAside: "kink" }, "speed"],
    [{ turns: "12", breakAt: "grip", setAside: "kink" }, "grip-break"],
    [{ turns: "24", setAside: "kink" }, "set-aside"],
    [{ turns: "12", freeLength: "150", date: "2025-12-31" }, "instrument-not-in-force"],
  ] as const)("%j gives %s first (DESIGN section 8: instrument, conditions, grip, others)", ([fields, reason]) => {
    expect(told({ requirements: [TORSION] }, torsionRow(fields))[1]).toBe(reason);
  });

  test("harder and easier together: a pass is void by what is easier, a failure by what is harder", () => {
    const both = { freeLength: "300", speed: "90" };
    expect(told({ requirements: [TORSION] }, torsionRow({ turns: "24", ...both })).slice(0, 2)).toEqual([false, "free-length"]);
    expect(told({ requirements: [TORSION] }, torsionRow({ turns: "12", ...both })).slice(0, 2)).toEqual([false, "speed"]);
  });
});
