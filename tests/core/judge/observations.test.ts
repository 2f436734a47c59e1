/** What is seen and told beside a figure: fractures, straightening, days after drawing, coatings, first turns. Limits are invented. */
import { describe, expect, test } from "vitest";
import type { Requirement } from "../../../core/model.ts";
import { coil, firstCoil, judged, requirement, row, TORSION, torsionRow, WRAP, wrapRow } from "../../helpers/judge.ts";
import { readReference } from "../spec/reference.ts";

const resultOf = (rows: Parameters<typeof judged>[0], requirements: readonly Requirement[], rest: Parameters<typeof judged>[2] = {}) =>
  firstCoil(judged(rows, { requirements, retest: null }, rest)).requirements[0]?.results[0];

describe("the class of a torsion fracture is shown with its count", () => {
  const classes = readReference("torsion-fracture-types").filter((r) => /^[123][abc]$/.test(r["code"] ?? ""));
  const SAID: Readonly<Record<string, string>> = {
    "1": "no cracks",
    "2": "local cracks",
    "3": "spiral cracks over most of the length (delamination)",
  };
  test.for(classes.map((r) => [r["code"] ?? "", r["description"] ?? ""] as const))("%s: %s (ISO 7800 annex; memory, medium)", ([code]) => {
    const result = resultOf([torsionRow({ fractureType: code })], [TORSION]);
    expect(result).toMatchObject({ fractureType: code, outcome: "conforms" });
    expect(result?.steps).toContain(`fracture ${code}: ${SAID[code[0] ?? ""]}`);
  });
  test("without a class nothing is said of it", () => {
    expect(resultOf([torsionRow()], [TORSION])?.steps.join(" ")).not.toContain("fracture");
  });
});

describe("the appearance of a fracture is judged where a row names it (JIS G 3522:2014, 7.3, read; classes ISO 7800, memory)", () => {
  const FACE = requirement("fracture-appearance", {
    unit: "",
    word: "square-face-even-twist",
    listedOnly: true,
    rounding: { method: "absolute", step: "1", ties: "even" },
  });
  const told = (rows: Parameters<typeof judged>[0], coils = [coil("C1")]) => {
    const order = judged(rows, { requirements: [TORSION, FACE], retest: null }, { coils }).orders[0];
    return {
      verdicts: order?.coils.map((c) => c.requirements.find((r) => r.property === "fracture-appearance")?.verdict),
      reason: order?.coils[0]?.requirements.find((r) => r.property === "fracture-appearance")?.reason,
      listed: order?.listed.map((r) => r.property),
    };
  };
  test.for([
    ["1a", "conforms", undefined],
    ["1b", "undecided", "needs-a-person"],
    ["2a", "does-not-conform", "fracture-appearance"],
    ["2b", "does-not-conform", "fracture-appearance"],
    ["2c", "does-not-conform", "fracture-appearance"],
    ["3a", "does-not-conform", "fracture-appearance"],
    ["3b", "does-not-conform", "fracture-appearance"],
    ["3c", "does-not-conform", "fracture-appearance"],
  ] as const)("%s: %s", ([fractureType, verdict, reason]) => {
    expect(told([torsionRow({ fractureType })])).toEqual({ verdicts: [verdict], reason, listed: [] });
  });
  test("left blank it is listed and not judged (DESIGN section 8)", () => {
    expect(told([torsionRow()])).toEqual({ verdicts: [undefined], reason: undefined, listed: ["fracture-appearance"] });
  });
  test("named for one coil of two: judged there, still listed for the other", () => {
    const two = [torsionRow({ fractureType: "1a" }), torsionRow({ coil: "C2" })];
    expect(told(two, [coil("C1"), coil("C2")])).toEqual({
      verdicts: ["conforms", undefined],
      reason: undefined,
      listed: ["fracture-appearance"],
    });
  });
  test("on the sheet Other, delamination in words fails", () => {
    const word = (text: string) => told([torsionRow(), row("other", { property: "fracture-appearance", word: text })]).verdicts;
    expect([word("delamination"), word("square-face-even-twist"), word("odd")]).toEqual([
      ["does-not-conform"],
      ["conforms"],
      ["undecided"],
    ]);
  });
});

describe("straightening and days after drawing are told", () => {
  test.for(["none", "hand", "tapped", "rolled"])("straightened %s", (straightened) => {
    expect(resultOf([torsionRow({ straightened })], [TORSION])).toMatchObject({ straightened, counts: true });
  });
  test.for([
    ["2026-03-02", "tested 0 days after drawing", []],
    ["2026-02-27", "tested 3 days after drawing", []],
    ["2026-03-03", undefined, ["tested-before-drawn"]],
  ] as const)(
    "drawn on %s, tested on 2026-03-02: %s (ageing: no figure in the reference, so nothing is void)",
    ([drawnOn, said, codes]) => {
      const judgement = judged([torsionRow()], {}, { coils: [coil("C1", { drawnOn })] });
      const steps = firstCoil(judgement).requirements[0]?.results[0]?.steps ?? [];
      expect(steps.filter((s) => s.includes("after drawing"))).toEqual(said === undefined ? [] : [said]);
      expect(judgement.findings.map((f) => f.code)).toEqual(codes);
      expect(firstCoil(judgement).verdict).toBe("conforms");
    },
  );
});

describe("coating mass by stripping and by gas, the constant named", () => {
  const COATING = requirement("coating-mass", { min: "100", max: "400", unit: "g/m2" });
  test.for([
    [
      { method: "strip", strippedDiameter: "3.00", massBefore: "25.000", massAfter: "24.200" },
      "194",
      194.38,
      "constant 1960",
      "worked example W9: 194.38 g/m2",
    ],
    [
      { method: "gas", strippedDiameter: "2.00", hydrogen: "110.0", temperature: "20", pressure: "1013", length: "300" },
      "159",
      158.6,
      "constant 2.917 mg zinc a ml",
      "twice worked example W16: 79.30 g/m2",
    ],
  ] as const)("%j: %s (%s)", ([fields, compared, value, constant]) => {
    const result = resultOf([row("coating-mass", fields)], [COATING]);
    expect(result).toMatchObject({ compared, outcome: "conforms" });
    expect(result?.value).toBeCloseTo(value, 1);
    expect(result?.steps[0]).toContain(constant);
  });
});

describe("adherence and the second look (ASTM A818 8.2, A856 8.2, read: polish dust does not count; DESIGN section 8)", () => {
  test.for([
    ["sound", undefined, "conforms", "sound", undefined],
    ["comes-off", undefined, "does-not-conform", "comes-off", "comes-off"],
    ["comes-off", "sound", "does-not-conform", "comes-off", "comes-off"],
    ["sound", "comes-off", "conforms", "sound", undefined],
    ["dust-only", undefined, "undecided", "dust-only", "second-look"],
    ["dust-only", "seen by an invented person", "conforms", "dust-only", undefined],
    ["dust-only", "comes-off", "does-not-conform", "comes-off", "comes-off"],
    ["cracked-firm", undefined, "undecided", "cracked-firm", "second-look"],
    ["cracked-firm", "sound", "conforms", "sound", undefined],
    ["uncoated", undefined, "undecided", "uncoated", "second-look"],
    ["uncoated", "seen by an invented person", "does-not-conform", "uncoated", "uncoated"],
    [undefined, undefined, "undecided", "", "coating-not-stated"],
  ] as const)("%s, second look %s: %s", ([coating, secondLook, verdict, compared, reason]) => {
    const fields = { purpose: "adherence", ...(coating ? { coating } : {}), ...(secondLook ? { secondLook } : {}) };
    const found = firstCoil(judged([wrapRow(fields)], { requirements: [{ ...WRAP, property: "adherence" }], retest: null }))
      .requirements[0];
    expect([found?.verdict, found?.results[0]?.compared, found?.reason]).toEqual([verdict, compared, reason]);
  });
});

describe("a crack in the first turn: void once, then it fails (DESIGN section 8); ASTM A370 A4.7 does not count it (read, secondary)", () => {
  const cracked = (testPiece: string, rest = {}) => wrapRow({ testPiece, cracks: "visible", firstCrackTurn: "1", ...rest });
  const sound = (testPiece: string, rest = {}) => wrapRow({ testPiece, ...rest });
  test.for([
    ["once", [cracked("T1")], "not-tested", ["starting-turn"]],
    ["once, then sound", [cracked("T1"), sound("T2", { role: "repeat" })], "conforms", ["starting-turn", undefined]],
    ["twice", [cracked("T1"), cracked("T2", { role: "repeat" })], "does-not-conform", ["starting-turn", undefined]],
    [
      "set aside for something else first",
      [cracked("T1", { mandrelDiameter: "1.8" }), cracked("T2", { role: "repeat" })],
      "not-tested",
      ["mandrel", "starting-turn"],
    ],
    ["at turn 1.5", [cracked("T1", { firstCrackTurn: "1.5" })], "does-not-conform", [undefined]],
    ["broken in the first turn", [cracked("T1", { cracks: "broken" })], "not-tested", ["starting-turn"]],
    ["no turn named", [cracked("T1", { firstCrackTurn: "" })], "does-not-conform", [undefined]],
  ] as const)("%s: %s", ([, rows, verdict, voidReasons]) => {
    for (const order of [rows, [...rows].reverse()]) {
      const found = firstCoil(judged(order, { requirements: [WRAP], retest: null }));
      expect(found.verdict).toBe(verdict);
      expect(found.requirements[0]?.results.map((r) => r.voidReason)).toEqual(voidReasons);
    }
  });
  test.for([
    ["visible in the first turn", { cracks: "visible", firstCrackTurn: "1" }, "conforms"],
    ["visible in the second", { cracks: "visible", firstCrackTurn: "2" }, "does-not-conform"],
    ["broken in the first turn", { cracks: "broken", firstCrackTurn: "1" }, "does-not-conform"],
  ] as const)("ASTM, %s: %s", ([, fields, verdict]) => {
    const spec = { requirements: [WRAP], retest: null, conduct: { wrapFirstTurn: "passes" as const } };
    expect(firstCoil(judged([wrapRow(fields)], spec)).verdict).toBe(verdict);
  });
});
