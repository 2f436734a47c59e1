/** Check-wire series: an individuals chart a machine and wire, and what a signal says of later results. Invented readings. */
import { describe, expect, test } from "vitest";
import type { EntryRow, TestSheet } from "../../../core/model.ts";
import { checkReadings, checkSeries, checkWarnings, checkWireFindings } from "../../../core/statistics/index.ts";
import { row, torsionRow } from "../../helpers/judge.ts";

type Fields = Readonly<Record<string, string>>;
const day = (number: number): string => `2026-03-${String(number).padStart(2, "0")}`;
const check = (turns: string, on: number, rest: Fields = {}): EntryRow =>
  torsionRow({ coil: "CHECK-1", role: "check", turns, date: day(on), ...rest });

/** 100 d on 200 mm of 2.00 mm: turns as they are. Ten quiet checks, ranges of one turn. */
const QUIET = ["30", "31", "30", "29", "30", "31", "30", "29", "30", "31"];
const quiet = QUIET.map((turns, at) => check(turns, at + 1));

describe("figures of check rows", () => {
  const inInches = (made: EntryRow): EntryRow => {
    const units: Fields = { mm: "in", N: "lbf" };
    const fields = Object.entries(made.fields).map(([name, value]) => [name, value?.unit ? { ...value, unit: units[value.unit] } : value]);
    return { ...made, fields: Object.fromEntries(fields) };
  };
  const make = (sheet: TestSheet, fields: Fields): EntryRow => row(sheet, { coil: "CHECK-1", role: "check", ...fields });
  test.for([
    // row, figure, source
    [check("13", 1, { freeLength: "100" }), { property: "torsion", unit: "turns", value: "26", condition: "" }, "turns per 100 d"],
    [
      check("40", 1, { forwardTurns: "2", reverseTurns: "2", cycles: "10" }),
      { property: "torsion", value: "40", condition: "forward 2, back 2, cycles 10" },
      "a programme is another test",
    ],
    [
      make("tensile", { diameter: "2.00", maximumForce: "6250" }),
      { property: "tensile-strength", unit: "MPa", value: "1989.43678864869" },
      "product W21: 1989.4 MPa",
    ],
    [
      inInches(make("tensile", { diameter: "0.1", maximumForce: "1000" })),
      { property: "tensile-strength", unit: "ksi", value: "127.323954473516" },
      "by hand: 4 / (pi 0.01) psi, 1000 psi a ksi",
    ],
    [
      make("diameter", { largest: "2.015", smallest: "1.990" }),
      { property: "diameter", unit: "mm", value: "2.0025" },
      "mean of both readings",
    ],
    [
      make("reverse-bend", { diameter: "2", radius: "5", bends: "11" }),
      { property: "reverse-bend", unit: "bends", value: "11", condition: "radius 5 mm" },
      "",
    ],
    [
      make("coating-mass", { method: "strip", strippedDiameter: "3.00", massBefore: "25.000", massAfter: "24.200" }),
      { property: "coating-mass", unit: "g/m2", value: "194.380165289256", condition: "strip" },
      "product W9: 194.38",
    ],
  ] as const)("%#: $1 ($2)", ([given, figure]) => {
    const { readings, leftOut } = checkReadings([given]);
    expect(leftOut).toEqual([]);
    expect(readings).toMatchObject([{ machine: "M1", wire: "CHECK-1", ...figure }]);
  });
  test("coating by gas (product W16: 79.3066 g/m2 unrounded)", () => {
    const units = { hydrogen: "ml", temperature: "degC", pressure: "mbar", length: "mm" } as const;
    const given = { hydrogen: "55.0", temperature: "20", pressure: "1013", length: "300" };
    const made = make("coating-mass", { method: "gas", strippedDiameter: "2.00", ...given });
    const fields = Object.fromEntries(
      Object.entries(made.fields).map(([name, value]) => [name, name in units ? { ...value, unit: units[name as "length"] } : value]),
    );
    const [reading] = checkReadings([{ ...made, fields } as EntryRow]).readings;
    expect(reading?.condition).toBe("gas");
    expect(Number(reading?.value)).toBeCloseTo(79.3066, 4);
    for (const name of ["strippedDiameter", ...Object.keys(given)]) {
      const without = Object.fromEntries(Object.entries(fields).filter(([field]) => field !== name));
      expect(checkReadings([{ ...made, fields: without } as EntryRow]).leftOut, name).toMatchObject([{ why: "no-number" }]);
    }
  });

  test.for([
    // row, why it gives no figure
    [check(">30", 1, { breakAt: "none" }), "stopped-unbroken"],
    [check("30", 1, { breakAt: "none" }), "stopped-unbroken"],
    [check(">30", 1), "stopped-unbroken"],
    [make("reverse-bend", { diameter: "2", radius: "5", bends: ">9" }), "stopped-unbroken"],
    [check("12", 1, { breakAt: "grip" }), "grip-break"],
    [check("12", 1, { setAside: "slip" }), "set-aside"],
    [check("30", 1, { instrument: "" }), "no-machine"],
    [make("wrap", { purpose: "ductility", diameter: "2", mandrelDiameter: "2", wraps: "8", cracks: "none" }), "no-number"],
  ] as const)("%#: left out, $1", ([given, why]) => {
    expect(checkReadings([given])).toEqual({ readings: [], leftOut: [{ row: given, why }] });
  });
  const SHEETS = {
    torsion: { diameter: "2.00", freeLength: "200", turns: "30" },
    tensile: { diameter: "2.00", maximumForce: "6250" },
    diameter: { largest: "2.015", smallest: "1.990" },
    "reverse-bend": { bends: "11" },
    "coating-mass": { strippedDiameter: "3.00", massBefore: "25.000", massAfter: "24.200" },
  } as const;
  test.for(
    Object.entries(SHEETS).flatMap(([sheet, fields]) => Object.keys(fields).map((field) => [sheet as keyof typeof SHEETS, field] as const)),
  )("%s without %s gives no figure; with it, it does", ([sheet, field]) => {
    expect(checkReadings([make(sheet, SHEETS[sheet])]).readings).toHaveLength(1);
    const without = make(sheet, { ...SHEETS[sheet], [field]: "" });
    expect(checkReadings([without])).toEqual({ readings: [], leftOut: [{ row: without, why: "no-number" }] });
  });
  test.for(["acceptance", "repeat", "retest", ""])("a row of role %j is no check and is not even left out", (role) => {
    expect(checkReadings([check("30", 1, { role })])).toEqual({ readings: [], leftOut: [] });
  });
});

describe("series", () => {
  test("machines, wires, properties, conditions and units make series of their own", () => {
    const rows = [
      check("30", 1),
      check("31", 2, { instrument: "M2" }),
      check("32", 3, { coil: "CHECK-2" }),
      check("33", 4, { forwardTurns: "1", reverseTurns: "1" }),
      row("reverse-bend", { coil: "CHECK-1", role: "check", radius: "5", bends: "11" }),
      check("34", 5),
    ];
    expect(checkSeries(rows).map((s) => [s.machine, s.wire, s.property, s.condition, s.readings.map((r) => r.value).join(" ")])).toEqual([
      ["M1", "CHECK-1", "torsion", "", "30 34"],
      ["M2", "CHECK-1", "torsion", "", "31"],
      ["M1", "CHECK-2", "torsion", "", "32"],
      ["M1", "CHECK-1", "torsion", "forward 1, back 1, cycles 1", "33"],
      ["M1", "CHECK-1", "reverse-bend", "radius 5 mm", "11"],
    ]);
  });
  test("readings stand by day, those of one day as they came; the chart is the individuals chart", () => {
    const [series] = checkSeries([check("30", 3), check("28", 1), check("33", 3), check("29", 2)]);
    expect(series?.readings.map((reading) => reading.value)).toEqual(["28", "29", "30", "33"]);
    // Ranges 1 1 3: mean 5/3; 30 ∓ 3 x (5/3) / 1.128.
    expect(series?.chart).toMatchObject({ centre: 30, signals: [] });
    expect(series?.chart.upper).toBeCloseTo(34.4326, 4);
  });
  test("readings on other free lengths belong to the same series, per 100 d", () => {
    const [series, ...others] = checkSeries([check("30", 1), check("15", 2, { freeLength: "100" })]);
    expect(others).toEqual([]);
    expect(series?.readings.map((reading) => reading.value)).toEqual(["30", "30"]);
  });
});

describe("warnings", () => {
  const warningsOf = (rows: readonly EntryRow[]) => checkWarnings(checkSeries(rows));
  test("a quiet series warns of nothing", () => {
    expect(warningsOf(quiet)).toEqual([]);
  });
  test("a check beyond three sigma warns from its day on; the next quiet check ends it", () => {
    const wild = check("20", 11);
    // 321 / 11 = 29.18; nine ranges of 1 and one of 11, mean 2; 29.18 ∓ 3 x 2 / 1.128 = 23.86 to 34.50.
    const before = warningsOf([...quiet, wild]);
    expect(before).toEqual([{ machine: "M1", wire: "CHECK-1", property: "torsion", from: day(11), rules: ["beyond-3-sigma"], row: wild }]);
    expect(warningsOf([...quiet, wild, check("30", 14)])).toMatchObject([{ from: day(11), until: day(14) }]);
  });
  test("two signals in a row end with the same quiet check", () => {
    const rows = [...quiet, ...quiet.map((_, at) => check(QUIET[at] ?? "", at + 11)), check("20", 21), check("19", 22), check("30", 23)];
    expect(warningsOf(rows)).toMatchObject([
      { from: day(21), until: day(23), rules: ["beyond-3-sigma"] },
      { from: day(22), until: day(23), rules: ["beyond-3-sigma", "2-of-3-beyond-2-sigma"] },
    ]);
  });

  const warnings = warningsOf([...quiet, check("20", 11), check("30", 14)]);
  const codes = (rows: readonly EntryRow[]): readonly string[] => checkWireFindings(rows, warnings).map((finding) => finding.code);
  test.for([
    // row, warned, source
    [torsionRow({ date: day(10) }), false, "before the signal"],
    [torsionRow({ date: day(11) }), true, "of that day: the hour is not known"],
    [torsionRow({ date: day(13), coil: "C9" }), true, "any coil of that machine"],
    [torsionRow({ date: day(14) }), false, "from the quiet check on"],
    [torsionRow({ date: day(12), instrument: "M2" }), false, "another machine"],
    [torsionRow({ date: day(12), instrument: "" }), false, "no machine named"],
    [row("tensile", { date: day(12), diameter: "2", maximumForce: "6000" }), false, "another kind of test"],
    [row("wrap", { date: day(12) }), false, "a test without a chart"],
    [check("30", 12), false, "the check itself"],
  ] as const)("%#: warned $1 ($2)", ([given, warned]) => {
    expect(codes([given])).toEqual(warned ? ["check-wire-signal"] : []);
  });
  test("a signal and a quiet check of one day: results of that day are warned of", () => {
    const sameDay = warningsOf([...quiet, check("20", 11), check("30", 11)]);
    const warned = (on: number): number => checkWireFindings([torsionRow({ date: day(on) })], sameDay).length;
    expect([warned(10), warned(11), warned(12)]).toEqual([0, 1, 0]);
  });
  test("the finding names cell, wire, machine, day and rule, and says that the result counts", () => {
    const given = torsionRow({ date: day(12) });
    expect(checkWireFindings([given], warnings)).toEqual([
      {
        code: "check-wire-signal",
        severity: "warning",
        sheet: "torsion",
        cell: given.fields["instrument"]?.cell,
        actual: "M1",
        expected: "an instrument whose last check wire gave no signal",
        text: "The check wire CHECK-1 on M1 signalled on 2026-03-11 (beyond-3-sigma); the result counts.",
      },
    ]);
  });
  test("of two standing warnings the latest speaks, once", () => {
    const late = { ...warnings[0], from: day(12), wire: "CHECK-2" } as (typeof warnings)[number];
    for (const order of [
      [...warnings, late],
      [late, ...warnings],
    ])
      expect(checkWireFindings([torsionRow({ date: day(13) })], order).map((finding) => finding.text)).toEqual([
        "The check wire CHECK-2 on M1 signalled on 2026-03-12 (beyond-3-sigma); the result counts.",
      ]);
  });
});
