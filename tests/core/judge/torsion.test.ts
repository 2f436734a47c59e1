import { describe, expect, test } from "vitest";
import { firstCoil, judged, ORDER, RETEST, specification, TORSION, torsionRow } from "../../helpers/judge.ts";

/** Invented minimum 20 turns on 200 mm; the rules are those named beside each row. */
describe("one torsion piece: what counts, what is void, what is printed", () => {
  test.for([
    // fields                                              counts void                     outcome             deviation              source
    [{ turns: "24.75" }, true, undefined, "conforms", undefined, "EN 10270-1: complete rotations are counted (read)"],
    [{ turns: "20" }, true, undefined, "conforms", undefined, "the limit itself conforms"],
    [{ turns: "19.9" }, true, undefined, "does-not-conform", undefined, "ISO 7800: whole turns; 19.9 is 19"],
    [
      { turns: "24", breakAt: "grip" },
      true,
      undefined,
      "conforms",
      "harder-grip-break",
      "ISO 7800: reached, valid wherever it broke (memory, high)",
    ],
    [
      { turns: "12", breakAt: "grip" },
      false,
      "grip-break",
      undefined,
      undefined,
      "ISO 7800: not reached and broken at the grip: void (memory, high)",
    ],
    [
      { turns: "12", breakAt: "", fractureFromGrip: "3.9" },
      false,
      "grip-break",
      undefined,
      undefined,
      "ISO 7800: within 2 d of a grip (memory, high)",
    ],
    [
      { turns: "12", breakAt: "", fractureFromGrip: "4.0" },
      true,
      undefined,
      "does-not-conform",
      undefined,
      "nearer than 2 d only: 4.0 mm is clear",
    ],
    [{ turns: "24", speed: "61" }, true, undefined, "conforms", "harder-speed", "EN 10270-1: not above 1 turn/s (read); harder"],
    [{ turns: "12", speed: "61" }, false, "speed", undefined, undefined, "EN 10270-1: not above 1 turn/s (read); a low result is void"],
    [{ turns: "12", speed: "60" }, true, undefined, "does-not-conform", undefined, "the highest speed itself is allowed"],
    [
      { turns: "24", freeLength: "150" },
      true,
      undefined,
      "conforms",
      "harder-free-length",
      "proportional rule, JIS C 3110 (read): shorter is harder",
    ],
    [{ turns: "12", freeLength: "150" }, false, "free-length", undefined, undefined, "shorter is harder: a low result is void"],
    [{ turns: "24", freeLength: "300" }, false, "free-length", undefined, undefined, "longer is easier: a pass is void"],
    [{ turns: "12", freeLength: "300" }, true, undefined, "does-not-conform", "easier-free-length", "longer is easier: a failure counts"],
    [{ turns: "20", freeLength: "202" }, true, undefined, "conforms", undefined, "DESIGN: within 1 % it is as required"],
    [
      { turns: ">20", breakAt: "none" },
      true,
      undefined,
      "conforms",
      undefined,
      "ISO 7800: may be stopped at the required count (memory, high)",
    ],
    [
      { turns: ">15", breakAt: "none" },
      false,
      "stopped-before-limit",
      undefined,
      undefined,
      "DESIGN default: stopped below the minimum is void",
    ],
    [{ turns: "24", setAside: "kink" }, false, "set-aside", undefined, undefined, "ASTM A938: kinked wire is not used (read)"],
    [
      { turns: "24", date: "2025-12-31" },
      false,
      "instrument-not-in-force",
      undefined,
      undefined,
      "ISO/IEC 17025 6.4 (memory): the day before the calibration",
    ],
    [{ turns: "24", date: "2026-12-31" }, true, undefined, "conforms", undefined, "DESIGN: both days of the calibration are included"],
    [
      { turns: "12", breakAt: "grip", speed: "90", freeLength: "150" },
      false,
      "free-length",
      undefined,
      undefined,
      "DESIGN: conditions before grips, free length first",
    ],
  ] as const)("%j: counts %s, void %s, %s, %s (%s)", ([fields, counts, voidReason, outcome, deviation]) => {
    const result = firstCoil(judged([torsionRow(fields)])).requirements[0]?.results[0];
    expect({ counts: result?.counts, voidReason: result?.voidReason, outcome: result?.outcome, deviation: result?.deviation }).toEqual({
      counts,
      voidReason,
      outcome,
      deviation,
    });
  });

  test("where the standard scales, the requirement is scaled and never rounded down (T8 of the worked examples: 25 turns on 200 mm is 25.4 on 203.2)", () => {
    const spec = { requirements: [{ ...TORSION, min: "25" }], conduct: { torsionScalingAllowed: true } };
    const outcome = (turns: string) =>
      firstCoil(judged([torsionRow({ turns, freeLength: "203.2" })], spec)).requirements[0]?.results[0]?.outcome;
    expect(outcome("25")).toBe("does-not-conform");
    expect(outcome("26")).toBe("conforms");
  });

  test.for([
    [{ breakAt: "clear", fractureFromGrip: "3.0" }, "contradicting-entry"],
    [{ breakAt: "grip", fractureFromGrip: "40" }, "contradicting-entry"],
    [{ breakAt: "none", fractureFromGrip: "40" }, "contradicting-entry"],
  ] as const)("%j contradicts itself and holds the requirement back (DESIGN section 8)", ([fields, code]) => {
    const judgement = judged([torsionRow(fields)]);
    expect(judgement.findings.filter((f) => f.severity === "error").map((f) => f.code)).toEqual([code]);
    expect(firstCoil(judgement)).toMatchObject({ verdict: "undecided", requirements: [{ reason: "unread-row", results: [] }] });
  });
});

describe("void, repeat and retest (ISO 404 / EN 10021: two new tests, both must conform; memory, high)", () => {
  const low = (testPiece: string, extra = {}) => torsionRow({ testPiece, turns: "12", ...extra });
  const good = (testPiece: string, extra = {}) => torsionRow({ testPiece, turns: "24", ...extra });
  const grip = (testPiece: string, extra = {}) => torsionRow({ testPiece, turns: "12", breakAt: "grip", ...extra });
  test.for([
    ["nothing tested", [], "not-tested", "too-few-results", [["test", 1]]],
    ["one good piece", [good("T1")], "conforms", undefined, []],
    ["a void piece is repeated with the same right", [grip("T1")], "not-tested", "all-void", [["repeat", 1]]],
    ["void, then good", [grip("T1"), good("T2", { role: "repeat" })], "conforms", undefined, []],
    [
      "the third void piece ends it",
      [grip("T1"), grip("T2", { role: "repeat" }), grip("T3", { role: "repeat" })],
      "undecided",
      "too-many-voids",
      [["inspect", undefined]],
    ],
    ["a valid failure asks for two pieces", [low("T1")], "retest-due", "retest-due", [["retest", 2]]],
    [
      "one good retest piece asks for one more",
      [low("T1"), good("T2", { role: "retest", retestOf: "T1" })],
      "retest-due",
      "retest-due",
      [["retest", 1]],
    ],
    [
      "both good",
      [low("T1"), good("T2", { role: "retest", retestOf: "T1" }), good("T3", { role: "retest", retestOf: "T1" })],
      "conforms",
      undefined,
      [],
    ],
    [
      "one low retest piece",
      [low("T1"), low("T2", { role: "retest", retestOf: "T1" }), good("T3", { role: "retest", retestOf: "T1" })],
      "does-not-conform",
      "retest-failed",
      [],
    ],
    [
      "a void retest piece is repeated",
      [low("T1"), good("T2", { role: "retest", retestOf: "T1" }), grip("T3", { role: "retest", retestOf: "T1" })],
      "retest-due",
      "retest-due",
      [["repeat", 1]],
    ],
    [
      "a repeat of a void retest counts for it",
      [
        low("T1"),
        good("T2", { role: "retest", retestOf: "T1" }),
        grip("T3", { role: "retest", retestOf: "T1" }),
        good("T4", { role: "repeat", retestOf: "T3" }),
      ],
      "conforms",
      undefined,
      [],
    ],
    ["an unlinked new piece changes nothing", [low("T1"), good("T2")], "retest-due", "retest-due", [["retest", 2]]],
    ["a check-wire piece is no sample", [good("T1", { role: "check" })], "not-tested", "too-few-results", [["test", 1]]],
  ] as const)("%s", ([, rows, verdict, reason, next]) => {
    for (const order of [rows, [...rows].reverse()]) {
      const coil = firstCoil(judged(order));
      expect(coil.verdict).toBe(verdict);
      expect(coil.requirements[0]?.reason).toBe(reason);
      expect(coil.next.map((step) => [step.do, step.pieces])).toEqual(next);
    }
  });

  test("without a retest rule a valid failure stands", () => {
    expect(firstCoil(judged([low("T1")], { retest: null })).verdict).toBe("does-not-conform");
  });

  test("an unlinked retest is a finding at its cell", () => {
    const codes = (rows: Parameters<typeof judged>[0]) => judged(rows).findings.map((f) => [f.code, f.actual]);
    expect(codes([low("T1"), good("T2", { role: "retest" })])).toEqual([["unlinked-retest", "T2"]]);
    expect(codes([low("T1"), good("T2")])).toEqual([["unlinked-retest", "T2"]]);
    expect(codes([good("T1"), good("T2")])).toEqual([]);
  });

  test("an unread row beside a passing one holds the coil back until it is mended or settled", () => {
    const unread = [
      {
        sheet: "torsion" as const,
        sheetName: "Torsion",
        row: 9,
        file: "",
        coil: "C1",
        testPiece: "T2",
        properties: ["torsion"],
        cells: ["H9"],
      },
    ];
    expect(firstCoil(judged([good("T1")], {}, { unread }))).toMatchObject({
      verdict: "undecided",
      requirements: [{ reason: "unread-row" }],
      next: [{ do: "mend" }],
    });
    const settlements = [{ coil: "C1", property: "torsion", as: "conforms", why: "typing slip", by: "Q", on: "2026-03-03" }];
    expect(firstCoil(judged([good("T1")], {}, { unread, settlements })).verdict).toBe("conforms");
  });

  test("a guarded rule without an uncertainty decides nothing for a strength and leaves a count alone", () => {
    const rest = { orders: [{ ...ORDER, decisionRule: "guarded" as const }] };
    expect(firstCoil(judged([good("T1")], {}, rest)).verdict).toBe("conforms");
  });

  test("the view used here allows one retest of two pieces", () => {
    expect(specification().retest("torsion")).toEqual(RETEST);
  });
});
