/** How many pieces, of which coils and ends, and who stands on whose pieces. Limits are invented; the rule stands beside each table. */
import { describe, expect, test } from "vitest";
import type { Coil, SamplingRule } from "../../../core/model.ts";
import { coil, firstCoil, judged, requirement, TENSILE, tensileRow } from "../../helpers/judge.ts";

const rule = (rest: Partial<SamplingRule>): SamplingRule => ({
  kind: "per-coils",
  bothEnds: false,
  perHeat: false,
  clause: "",
  provenance: "own",
  ...rest,
});
const coils = (count: number, rest: (n: number) => Partial<Coil> = () => ({})): Coil[] =>
  Array.from({ length: count }, (_, n) => coil(`C${n + 1}`, rest(n)));
const piece = (name: string, rest: Readonly<Record<string, string>> = {}) => tensileRow({ coil: name, testPiece: `${name}-1`, ...rest });
const LOW = { maximumForce: "5000" };
const VOID = { maximumForce: "5000", breakAt: "grip" };

function run(sampling: SamplingRule, members: readonly Coil[], rows: Parameters<typeof judged>[0]) {
  const order = judged(rows, { requirements: [TENSILE], sampling, retest: null }, { coils: members }).orders[0];
  if (order === undefined) throw new Error("the judgement holds no order");
  return order;
}
const steps = (order: ReturnType<typeof run>) =>
  order.next.map((step) => [step.do, step.coil, step.pieces, step.end].filter((x) => x !== undefined));

describe("one in ten coils or part, at most seven", () => {
  test.for([
    [rule({ coils: 10 }), 1, 1, "ASTM A227, A228, A229 (memory, medium)"],
    [rule({ coils: 10 }), 10, 1, "ASTM A227, A228, A229 (memory, medium)"],
    [rule({ coils: 10 }), 11, 2, "or part of ten (memory, medium)"],
    [rule({ coils: 10, atMost: 7 }), 65, 7, "ASTM A818-06, 10.2 (read); worked example S3: 65 coils, 7"],
    [rule({ coils: 10, atMost: 7 }), 71, 7, "ASTM A818-06, 10.2 (read): seven in all"],
    [rule({ coils: 5 }), 23, 5, "ASTM A1000-11, 7.2.4 (read); worked example S6: 23 coils, 5"],
  ] as const)("%j of %i coils: %i pieces (%s)", ([sampling, count, wanted]) => {
    const members = coils(count);
    const none = run(sampling, members, []);
    expect(steps(none)).toEqual(members.slice(0, wanted).map((c) => ["test", c.coil, 1]));
    const done = run(
      sampling,
      members,
      members.slice(0, wanted).map((c) => piece(c.coil)),
    );
    expect([done.verdict, done.next]).toEqual(["conforms", []]);
    const oneShort = run(
      sampling,
      members,
      members.slice(1, wanted).map((c) => piece(c.coil)),
    );
    expect([oneShort.verdict, steps(oneShort)]).toEqual(["not-tested", [["test", "C1", 1]]]);
  });

  test("a void sample is repeated on its own coil, and no other coil is named for it", () => {
    expect(steps(run(rule({ coils: 10 }), coils(11), [piece("C3", VOID)]))).toEqual([
      ["test", "C1", 1],
      ["repeat", "C3", 1],
    ]);
    expect(steps(run(rule({ coils: 10 }), coils(11), [piece("C3", VOID), piece("C1")]))).toEqual([["repeat", "C3", 1]]);
    const done = run(rule({ coils: 10 }), coils(11), [piece("C3", VOID), piece("C1"), piece("C2")]);
    expect([done.verdict, done.next, done.coils[2]?.basis]).toEqual(["conforms", [], "test-unit"]);
    expect(run(rule({ coils: 10 }), coils(11), [piece("C3", VOID), piece("C1")]).verdict).toBe("not-tested");
  });
});

describe("every heat of the unit is tested (ASTM A1000-11, 7.2.4, read)", () => {
  const mixed = coils(6, (n) => ({ heat: n < 4 ? "H1" : n === 4 ? "H2" : "H3" }));
  test.for([
    [
      [],
      [
        ["test", "C1", 1],
        ["test", "C5", 1],
        ["test", "C6", 1],
      ],
      "not-tested",
    ],
    [
      [piece("C2")],
      [
        ["test", "C5", 1],
        ["test", "C6", 1],
      ],
      "not-tested",
    ],
    [
      [piece("C2"), piece("C3")],
      [
        ["test", "C5", 1],
        ["test", "C6", 1],
      ],
      "not-tested",
    ],
    [[piece("C2"), piece("C5"), piece("C6")], [], "conforms"],
  ] as const)("%j: next %j, %s", ([rows, next, verdict]) => {
    const order = run(rule({ coils: 5, perHeat: true }), mixed, rows);
    expect([steps(order), order.verdict]).toEqual([next, verdict]);
  });
});

describe("both ends of the coil (ASTM A877-17, 6.2.4, read)", () => {
  const each = rule({ kind: "each-coil", bothEnds: true });
  const outer = piece("C1", { testPiece: "T1", end: "outer" });
  const inner = piece("C1", { testPiece: "T2", end: "inner" });
  test.for([
    [
      "nothing",
      [],
      [
        ["test", "C1", 1, "outer"],
        ["test", "C1", 1, "inner"],
      ],
      "not-tested",
    ],
    ["the outer end", [outer], [["test", "C1", 1, "inner"]], "not-tested"],
    ["both ends", [outer, inner], [], "conforms"],
    ["the outer end twice", [outer, piece("C1", { testPiece: "T3", end: "outer" })], [["test", "C1", 1, "inner"]], "not-tested"],
    ["two pieces that name no end", [piece("C1", { testPiece: "T1" }), piece("C1", { testPiece: "T2" })], [], "conforms"],
    ["one void", [outer, piece("C1", { testPiece: "T2", end: "inner", ...VOID })], [["repeat", "C1", 1, "inner"]], "not-tested"],
    ["the inner end low", [outer, piece("C1", { testPiece: "T2", end: "inner", ...LOW })], [], "does-not-conform"],
  ] as const)("%s", ([, rows, next, verdict]) => {
    const order = run(each, coils(1), rows);
    expect([steps(order), order.verdict]).toEqual([next, verdict]);
  });

  test("of one coil in ten: a single end is no sample", () => {
    const sampled = rule({ coils: 10, bothEnds: true });
    expect(steps(run(sampled, coils(12), []))).toEqual([
      ["test", "C1", 1, "outer"],
      ["test", "C1", 1, "inner"],
      ["test", "C2", 1, "outer"],
      ["test", "C2", 1, "inner"],
    ]);
    const half = run(sampled, coils(12), [
      outer,
      piece("C2", { testPiece: "U1", end: "outer" }),
      piece("C2", { testPiece: "U2", end: "inner" }),
    ]);
    expect([half.verdict, steps(half)]).toEqual(["not-tested", [["test", "C1", 1, "inner"]]]);
    const whole = run(sampled, coils(12), [
      outer,
      inner,
      piece("C2", { testPiece: "U1", end: "outer" }),
      piece("C2", { testPiece: "U2", end: "inner" }),
    ]);
    expect(whole.verdict).toBe("conforms");
  });
});

describe("a coil without a piece of its own stands on its test unit (DESIGN section 3)", () => {
  const ten = rule({ coils: 10 });
  test.for([
    ["complete", [piece("C1"), piece("C2")], ["conforms", "conforms"], "conforms"],
    ["incomplete", [piece("C1")], ["conforms", "not-tested"], "not-tested"],
    ["one fails", [piece("C1"), piece("C2", LOW)], ["conforms", "does-not-conform"], "does-not-conform"],
    ["the only one fails", [piece("C1", LOW)], ["does-not-conform", "does-not-conform"], "does-not-conform"],
  ] as const)("%s", ([, rows, [first, ninth], unit]) => {
    const order = run(ten, coils(12), rows);
    expect(order.coils[0]).toMatchObject({ verdict: first, basis: "own-results" });
    expect(order.coils[8]).toMatchObject({ verdict: ninth, basis: "test-unit" });
    expect(order.testUnits.map((u) => [u.testUnit, u.verdict])).toEqual([["O1/1", unit]]);
  });

  test("units are judged apart, and an order is as bad as its worst coil", () => {
    const members = coils(4, (n) => ({ testUnit: n < 2 ? "U1" : "U2" }));
    const order = run(ten, members, [piece("C1"), piece("C3", LOW)]);
    expect(order.testUnits.map((u) => [u.testUnit, u.verdict])).toEqual([
      ["U1", "conforms"],
      ["U2", "does-not-conform"],
    ]);
    expect(order.coils.map((c) => c.verdict)).toEqual(["conforms", "conforms", "does-not-conform", "does-not-conform"]);
    expect(order.verdict).toBe("does-not-conform");
  });
});

describe("several pieces of one coil, and their mean (invented: mean of three at least 1770 MPa)", () => {
  // 4 F / (pi 2.00^2): 5500 N 1750.7, 5560 N 1769.8, 5600 N 1782.5, 5700 N 1814.4 MPa.
  const three = requirement("tensile-strength", { min: "1770", max: "2010", evaluate: "mean", pieces: 3 });
  const forces = (...list: readonly string[]) => list.map((maximumForce, n) => tensileRow({ testPiece: `T${n + 1}`, maximumForce }));
  test.for([
    ["one of three: not yet a mean, however low", forces("5000"), "not-tested", "too-few-results", [["test", 2]]],
    ["1750.7, 1782.5, 1814.4: mean 1782.5", forces("5500", "5600", "5700"), "conforms", undefined, []],
    ["1750.7, 1750.7, 1782.5: mean 1761.3", forces("5500", "5500", "5600"), "retest-due", "retest-due", [["retest", 2]]],
    ["1750.7, 1769.8, 1769.8: mean 1763.4", forces("5500", "5560", "5560"), "retest-due", "retest-due", [["retest", 2]]],
  ] as const)("%s", ([, rows, verdict, reason, next]) => {
    const found = firstCoil(judged([...rows].reverse(), { requirements: [three] }));
    expect([found.verdict, found.requirements[0]?.reason, found.next.map((s) => [s.do, s.pieces])]).toEqual([verdict, reason, next]);
  });

  test("without a retest rule a low mean fails, and a void piece enters no mean", () => {
    const low = forces("5500", "5500", "5600");
    expect(firstCoil(judged(low, { requirements: [three], retest: null })).requirements[0]).toMatchObject({
      verdict: "does-not-conform",
      reason: "below-min",
    });
    const voided = tensileRow({ testPiece: "T9", maximumForce: "4000", breakAt: "grip" });
    const good = forces("5600", "5600", "5700");
    expect(firstCoil(judged([...good, voided], { requirements: [three], retest: null })).verdict).toBe("conforms");
  });
});
