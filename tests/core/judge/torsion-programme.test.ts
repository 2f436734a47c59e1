/**
 * Programmes of forward and reverse turns. ISO 9649 leaves what counts to the product standard or the order (from memory), so every limit
 * here is invented and agreed in the order.
 */
import { describe, expect, test } from "vitest";
import type { AgreedRequirement } from "../../../core/model.ts";
import { firstCoil, judged, torsionRow, WRAP } from "../../helpers/judge.ts";

const agreed = (conditions: string, rest: Partial<AgreedRequirement> = {}): AgreedRequirement => ({
  order: "O1",
  item: "1",
  property: "torsion",
  conditions: `freeLength 200 mm; ${conditions}`,
  agreedIn: "invented letter",
  ...rest,
});

function tell(extra: AgreedRequirement, fields: Readonly<Record<string, string>>) {
  // The specification itself asks for a wrap only, so that the agreed torsion stands alone.
  const coil = firstCoil(judged([torsionRow({ turns: "0", ...fields })], { requirements: [WRAP] }, { agreed: [extra] }));
  const verdict = coil.requirements.find((r) => r.property === "torsion");
  const result = verdict?.results[0];
  return {
    verdict: verdict?.verdict,
    compared: result?.compared,
    reason: verdict?.reason,
    voidReason: result?.voidReason,
    result,
    verdictOf: verdict,
  };
}

const THREE = "forwardTurns 3; reverseTurns 3";
const turned = (forward: string, reverse: string, turns: string, rest: Readonly<Record<string, string>> = {}) => ({
  forwardTurns: forward,
  reverseTurns: reverse,
  turns,
  ...rest,
});

describe("what of a programme counts", () => {
  test.for([
    // programme, min, row, compared, verdict, why
    [
      `${THREE}; counts total`,
      "20",
      turned("3", "3", "21", { cycles: "3" }),
      "21",
      "conforms",
      "three cycles are 18, and 3 more: the counter adds both directions",
    ],
    [`${THREE}; counts total`, "20", turned("3", "3", "19", { cycles: "3" }), "19", "does-not-conform", "19 of 20"],
    [
      `${THREE}`,
      "20",
      turned("3", "3", "20.75", { cycles: "3" }),
      "20",
      "conforms",
      "total is what counts where nothing is named; whole turns",
    ],
    [`${THREE}; counts reverse`, "10", turned("3", "3", "21", { cycles: "3" }), "9", "does-not-conform", "3 x 3 back, then 3 forward: 9"],
    [
      `${THREE}; counts reverse`,
      "10",
      turned("3", "3", "22.5", { cycles: "3" }),
      "10",
      "conforms",
      "3 x 3 back, 3 forward, 1.5 back: 10.5",
    ],
    [
      `${THREE}; counts reverse`,
      "9",
      turned("3", "3", "19", { cycles: "3" }),
      "9",
      "conforms",
      "the fourth cycle broke on its way forward: nothing more went back",
    ],
    ["forwardTurns 5; counts reverse", "8", turned("5", "9", "14"), "9", "conforms", "5 forward, then back until the break: 9"],
    ["forwardTurns 5; counts reverse", "8", turned("5", "7.9", "12.9"), "7", "does-not-conform", "part turns do not count"],
    [
      "forwardTurns 5; counts reverse",
      "8",
      turned("4", "0", "4"),
      "0",
      "does-not-conform",
      "it broke on its way forward and never went back",
    ],
    [`${THREE}; counts cycles`, "4", turned("3", "3", "26", { cycles: "4" }), "4", "conforms", "four whole cycles are 24"],
    [`${THREE}; counts cycles`, "4", turned("3", "3", "23", { cycles: "3" }), "3", "does-not-conform", "the fourth was not done"],
    [`${THREE}; counts cycles`, "1", turned("3", "3", "6"), "1", "conforms", "without cycles in the row: once forward and back"],
    [`${THREE}; counts cycles`, "1", turned("3", "2", "5"), "0", "does-not-conform", "broke on its way back"],
    [
      `${THREE}; cycles 4; counts survives`,
      undefined,
      turned("3", "3", "24", { cycles: "4", breakAt: "none" }),
      "24",
      "conforms",
      "4 x 6 turns, unbroken",
    ],
    [
      `${THREE}; cycles 4; counts survives`,
      undefined,
      turned("3", "3", "26", { cycles: "4" }),
      "26",
      "conforms",
      "it broke beyond the programme",
    ],
    [
      `${THREE}; cycles 4; counts survives`,
      undefined,
      turned("3", "3", "24", { cycles: "4" }),
      "24",
      "does-not-conform",
      "it broke on the last turn: it did not survive",
    ],
    [
      `${THREE}; cycles 4; counts survives`,
      undefined,
      turned("3", "3", "20", { cycles: "3" }),
      "20",
      "does-not-conform",
      "it broke in the fourth cycle",
    ],
    [
      "3 forward, 3 back, 4 cycles; counts cycles",
      "4",
      turned("3", "3", "26", { cycles: "4" }),
      "4",
      "conforms",
      "the same programme in words",
    ],
  ] as const)("%s, at least %s, row %j: %s, %s (%s)", ([conditions, min, fields, compared, verdict]) => {
    expect(tell(agreed(conditions, min === undefined ? {} : { min }), fields)).toMatchObject({ compared, verdict });
  });

  test("a piece that broke in its programme is told so, and its limit is the turns of the whole programme", () => {
    const told = tell(agreed(`${THREE}; cycles 4; counts survives`), turned("3", "3", "24", { cycles: "4" }));
    expect(told.reason).toBe("broke-in-programme");
    expect(told.verdictOf?.requirement).toMatchObject({ min: "24", unit: "turns" });
  });

  test("the programme required and the one turned both stand in the answer", () => {
    const told = tell(agreed(`${THREE}; cycles 4; counts cycles`, { min: "4" }), turned("3", "3", "26", { cycles: "4" }));
    expect(told.verdictOf?.requirement.conditions.programme).toBe("3 forward, 3 back, 4 cycles; counts cycles");
    expect(told.verdictOf?.requirement.unit).toBe("cycles");
    expect(told.result?.conditions.programme).toBe("3 forward, 3 back, 4 cycles");
  });
});

describe("turned otherwise than required", () => {
  const total = agreed(`${THREE}; counts total`, { min: "20" });
  test.for([
    ["four forward instead of three", turned("4", "3", "21", { cycles: "3" }), "not-tested", "programme"],
    ["four back instead of three", turned("3", "4", "21", { cycles: "3" }), "not-tested", "programme"],
    ["as required", turned("3", "3", "21", { cycles: "3" }), "conforms", undefined],
    ["it broke on its way forward", turned("2", "0", "2"), "does-not-conform", undefined],
    ["one way only, nothing said", { turns: "24" }, "undecided", undefined],
    ["stopped before the requirement", turned("3", "3", "18", { cycles: "3", breakAt: "none" }), "not-tested", "stopped-before-limit"],
  ] as const)("%s: %s (which way it moves the count is not known: void)", ([, fields, verdict, voidReason]) => {
    expect(tell(total, fields)).toMatchObject({ verdict, voidReason });
  });

  test("a row that does not say how it was turned is undecided, with its reason and a person to ask", () => {
    const told = tell(total, { turns: "24" });
    expect(told.reason).toBe("programme-not-stated");
    expect(told.verdictOf?.next).toMatchObject([{ do: "inspect", who: "quality" }]);
  });

  test("a one-way requirement and a piece turned back: all turns count, with a warning at the cell", () => {
    const judgement = judged([torsionRow({ forwardTurns: "12", reverseTurns: "12", turns: "24" })]);
    expect(judgement.findings.map((f) => [f.code, f.severity, f.actual])).toEqual([["programme-not-asked", "warning", "12"]]);
    expect(firstCoil(judgement).verdict).toBe("conforms");
    expect(judged([torsionRow({ forwardTurns: "24", reverseTurns: "0" })]).findings).toEqual([]);
  });
});
