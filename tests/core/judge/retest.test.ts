/** Every path of every retest rule: what it leads to and the exact next step. Limits are invented; the rule stands beside each table. */
import { describe, expect, test } from "vitest";
import type { RetestRule } from "../../../core/model.ts";
import { coil, firstCoil, judged, TORSION, torsionRow } from "../../helpers/judge.ts";

const low = (testPiece: string, extra = {}) => torsionRow({ testPiece, turns: "12", ...extra });
const good = (testPiece: string, extra = {}) => torsionRow({ testPiece, turns: "24", ...extra });
const grip = (testPiece: string, extra = {}) => torsionRow({ testPiece, turns: "12", breakAt: "grip", ...extra });
const of = (piece: string) => ({ role: "retest", retestOf: piece });
const rule = (rest: Partial<RetestRule>): RetestRule => ({ pieces: 2, mustConform: "all", clause: "", provenance: "own", ...rest });
type Rows = Parameters<typeof judged>[0];

function path(retest: RetestRule | null, rows: Rows) {
  const told = [rows, [...rows].reverse()].map((order) => {
    const found = firstCoil(judged(order, { retest }));
    return [found.verdict, found.requirements[0]?.reason, found.next.map((s) => [s.do, s.pieces])] as const;
  });
  // Whatever the order of the rows.
  expect(told[0]).toEqual(told[1]);
  return told[0];
}

describe("both of two (ISO 404 / EN 10021; memory, high)", () => {
  test.for([
    ["a failure", [low("T1")], "retest-due", "retest-due", [["retest", 2]]],
    ["one good", [low("T1"), good("T2", of("T1"))], "retest-due", "retest-due", [["retest", 1]]],
    ["both good", [low("T1"), good("T2", of("T1")), good("T3", of("T1"))], "conforms", undefined, []],
    ["one low", [low("T1"), low("T2", of("T1"))], "does-not-conform", "retest-failed", []],
    ["good and low", [low("T1"), good("T2", of("T1")), low("T3", of("T1"))], "does-not-conform", "retest-failed", []],
    [
      "one void",
      [low("T1"), grip("T2", of("T1"))],
      "retest-due",
      "retest-due",
      [
        ["repeat", 1],
        ["retest", 1],
      ],
    ],
    ["good and void", [low("T1"), good("T2", of("T1")), grip("T3", of("T1"))], "retest-due", "retest-due", [["repeat", 1]]],
    [
      "void, repeated",
      [low("T1"), good("T2", of("T1")), grip("T3", of("T1")), good("T4", { role: "repeat", retestOf: "T3" })],
      "conforms",
      undefined,
      [],
    ],
    [
      "void, repeated and low",
      [low("T1"), good("T2", of("T1")), grip("T3", of("T1")), low("T4", { role: "repeat", retestOf: "T3" })],
      "does-not-conform",
      "retest-failed",
      [],
    ],
    [
      "three void",
      [low("T1"), grip("T2", of("T1")), grip("T3", of("T1")), grip("T4", of("T1"))],
      "undecided",
      "too-many-voids",
      [["inspect", undefined]],
    ],
    ["void before the failure", [grip("T0"), low("T1", { role: "repeat" })], "retest-due", "retest-due", [["retest", 2]]],
    [
      "a second failure of its own",
      [low("T1"), good("T2", of("T1")), good("T3", of("T1")), low("T5")],
      "retest-due",
      "retest-due",
      [["retest", 2]],
    ],
    [
      "a third piece beyond the two",
      [low("T1"), good("T2", of("T1")), good("T3", of("T1")), good("T4", of("T1"))],
      "conforms",
      undefined,
      [],
    ],
    [
      "three retest pieces, one low",
      [low("T1"), good("T2", of("T1")), good("T3", of("T1")), low("T4", of("T1"))],
      "does-not-conform",
      "retest-failed",
      [],
    ],
  ] as const)("%s: %s", ([, rows, verdict, reason, next]) => {
    expect(path(rule({}), rows)).toEqual([verdict, reason, next]);
  });
});

describe("one of two (API 9A, torpedo line, older text, read: two more, one must comply)", () => {
  test.for([
    ["a failure", [low("T1")], "retest-due", "retest-due", [["retest", 2]]],
    ["one good", [low("T1"), good("T2", of("T1"))], "conforms", undefined, []],
    ["one low", [low("T1"), low("T2", of("T1"))], "retest-due", "retest-due", [["retest", 1]]],
    ["low and good", [low("T1"), low("T2", of("T1")), good("T3", of("T1"))], "conforms", undefined, []],
    ["both low", [low("T1"), low("T2", of("T1")), low("T3", of("T1"))], "does-not-conform", "retest-failed", []],
    ["low and void", [low("T1"), low("T2", of("T1")), grip("T3", of("T1"))], "retest-due", "retest-due", [["repeat", 1]]],
  ] as const)("%s: %s", ([, rows, verdict, reason, next]) => {
    expect(path(rule({ mustConform: "one" }), rows)).toEqual([verdict, reason, next]);
  });
});

describe("replaced once (ASTM A1000-11, 11.1 and A407-07, read: another specimen is used)", () => {
  test.for([
    ["a failure", [low("T1")], "retest-due", "retest-due", [["retest", 1]]],
    ["the other good", [low("T1"), good("T2", of("T1"))], "conforms", undefined, []],
    ["the other low", [low("T1"), low("T2", of("T1"))], "does-not-conform", "retest-failed", []],
    ["the other void", [low("T1"), grip("T2", of("T1"))], "retest-due", "retest-due", [["repeat", 1]]],
  ] as const)("%s: %s", ([, rows, verdict, reason, next]) => {
    expect(path(rule({ pieces: 1 }), rows)).toEqual([verdict, reason, next]);
  });

  test("a piece with a weld or a kink is set aside and repeated with the same right", () => {
    expect(path(rule({ pieces: 1 }), [low("T1", { setAside: "weld" })])).toEqual(["not-tested", "all-void", [["repeat", 1]]]);
    expect(path(rule({ pieces: 1 }), [low("T1", { setAside: "weld" }), good("T2", { role: "repeat" })])).toEqual([
      "conforms",
      undefined,
      [],
    ]);
  });
});

describe("no retest at all (ASTM and JIS in this reference)", () => {
  test.for([
    ["a failure", [low("T1")], "does-not-conform", "below-min", []],
    ["a failure and a good new piece", [low("T1"), good("T2")], "does-not-conform", "below-min", []],
    ["a failure and a piece named as its retest", [low("T1"), good("T2", of("T1"))], "does-not-conform", "below-min", []],
  ] as const)("%s: %s", ([, rows, verdict, reason, next]) => {
    expect(path(null, rows)).toEqual([verdict, reason, next]);
  });
});

describe("every coil of the unit (ASTM A818-06, 10.3 and ASTM A407-07, read: each coil is tested for the failed property)", () => {
  const sampling = { kind: "per-coils", coils: 10, bothEnds: false, perHeat: false, clause: "", provenance: "own" } as const;
  const coils = [1, 2, 3, 4].map((n) => coil(`C${n}`));
  const at = (n: number, make: typeof low, extra = {}) => make(`C${n}-1`, { coil: `C${n}`, ...extra });
  const run = (rows: Rows) => {
    const order = judged(rows, { requirements: [TORSION], sampling, retest: rule({ kind: "every-coil", pieces: 1 }) }, { coils });
    return {
      verdicts: order.orders[0]?.coils.map((c) => c.verdict),
      basis: order.orders[0]?.coils.map((c) => c.basis),
      next: order.orders[0]?.next.map((s) => [s.do, s.coil, s.pieces]),
      unit: order.orders[0]?.testUnits[0]?.verdict,
      findings: order.findings,
    };
  };
  test.for([
    ["the sample good", [at(1, good)], ["conforms", "conforms", "conforms", "conforms"], [], "conforms"],
    [
      "the sample low",
      [at(1, low)],
      ["does-not-conform", "retest-due", "retest-due", "retest-due"],
      [
        ["retest", "C2", 1],
        ["retest", "C3", 1],
        ["retest", "C4", 1],
      ],
      "does-not-conform",
    ],
    [
      "two tested since",
      [at(1, low), at(2, good), at(3, low)],
      ["does-not-conform", "conforms", "does-not-conform", "retest-due"],
      [["retest", "C4", 1]],
      "does-not-conform",
    ],
    [
      "all tested",
      [at(1, low), at(2, good), at(3, good), at(4, good)],
      ["does-not-conform", "conforms", "conforms", "conforms"],
      [],
      "does-not-conform",
    ],
    [
      "one void",
      [at(1, low), at(2, grip), at(3, good), at(4, good)],
      ["does-not-conform", "retest-due", "conforms", "conforms"],
      [["retest", "C2", 1]],
      "does-not-conform",
    ],
  ] as const)("%s", ([, rows, verdicts, next, unit]) => {
    expect(run(rows)).toMatchObject({ verdicts, next, unit });
  });

  test("a coil's piece may name the failure that asked for it", () => {
    const told = run([at(1, low), at(2, good, of("C1-1")), at(3, low, of("C1-1")), at(4, good, of("C1-1"))]);
    expect(told).toMatchObject({ verdicts: ["does-not-conform", "conforms", "does-not-conform", "conforms"], findings: [] });
    expect(told.basis).toEqual(["own-results", "own-results", "own-results", "own-results"]);
  });
});

describe("one of the two retest pieces from another coil of the unit (ISO 404; memory, medium)", () => {
  const sampling = { kind: "per-coils", coils: 10, bothEnds: false, perHeat: false, clause: "", provenance: "own" } as const;
  const coils = [coil("C1"), coil("C2")];
  const run = (rows: Rows) => {
    const { orders, findings } = judged(rows, { requirements: [TORSION], sampling }, { coils });
    return [orders[0]?.coils.map((c) => c.verdict), findings.map((f) => f.code)];
  };
  const failed = low("A", { coil: "C1" });
  const own = good("B", { coil: "C1", ...of("A") });
  test("good in both coils: the unit conforms", () => {
    expect(run([failed, own, good("C", { coil: "C2", ...of("A") })])).toEqual([["conforms", "conforms"], []]);
  });
  test("low in the other coil: neither conforms", () => {
    expect(run([failed, own, low("C", { coil: "C2", ...of("A") })])).toEqual([["does-not-conform", "does-not-conform"], []]);
  });
  test("only one so far: the retest is due", () => {
    expect(run([failed, good("C", { coil: "C2", ...of("A") })])).toEqual([["retest-due", "conforms"], []]);
  });
});

describe("links that lead nowhere change nothing and are found (DESIGN section 8)", () => {
  const codes = (rows: Rows) => judged(rows).findings.map((f) => [f.code, f.actual]);
  test.for([
    ["without retestOf", [low("T1"), good("T2", { role: "retest" })], [["unlinked-retest", "T2"]]],
    ["of a piece that is not there", [low("T1"), good("T2", of("T9"))], [["unlinked-retest", "T2"]]],
    ["of a piece that passed", [good("T1"), good("T2", of("T1"))], [["unlinked-retest", "T2"]]],
    ["of a void piece", [grip("T1"), good("T2", of("T1"))], [["unlinked-retest", "T2"]]],
    ["of itself", [low("T1"), good("T2", of("T2"))], [["unlinked-retest", "T2"]]],
    [
      "of each other",
      [low("T1"), good("T2", of("T3")), good("T3", of("T2"))],
      [
        ["unlinked-retest", "T2"],
        ["unlinked-retest", "T3"],
      ],
    ],
    ["a new piece after the failure", [low("T1"), good("T2")], [["unlinked-retest", "T2"]]],
    ["a good piece on an earlier day", [low("T1"), good("T0", { date: "2026-03-01" })], []],
    ["a proper retest", [low("T1"), good("T2", of("T1"))], []],
  ] as const)("%s", ([, rows, findings]) => {
    expect(codes(rows)).toEqual(findings);
    expect(firstCoil(judged(rows)).verdict).not.toBe(
      rows[0].fields["turns"]?.text === "12" && rows[0].fields["breakAt"]?.text === "clear" ? "conforms" : "",
    );
  });
});
