import { expect, it } from "vitest";
import { programmeOf } from "../../../core/setup/programme.ts";
import { plan, setUpOf } from "./plans.ts";

// Common practice, no source: the wire counter of a forward-and-reverse programme shows the sum of both directions.
it.each([
  {
    asked: { forwardTurns: "3", reverseTurns: "3", cycles: "4" },
    shown: { forward: "3", reverse: "3", cycles: "4", perCycle: "6", total: "24" },
  },
  { asked: { forwardTurns: "2.5", reverseTurns: "1.5" }, shown: { forward: "2.5", reverse: "1.5", perCycle: "4" } },
  { asked: { forwardTurns: "10" }, shown: { forward: "10" } },
  // Cycles without an end of the way back have no total.
  { asked: { forwardTurns: "10", cycles: "2" }, shown: { forward: "10", cycles: "2" } },
])("$asked", ({ asked, shown }) => {
  expect(programmeOf({ ...asked, counts: "reverse" })).toEqual({ ...shown, counts: "reverse" });
});

it("an agreed programme is a set-up and a piece of its own beside the specification's torsion", () => {
  const asked = {
    specification: "EN 10270-1",
    grade: "SH",
    diameter: "2.00 mm",
    agreed: [
      { property: "torsion", min: 24, conditions: "freeLength 200 mm; forwardTurns 3; reverseTurns 3; cycles 4", agreedIn: "letter" },
    ],
  };
  const torsion = plan(asked).filter((setUp) => setUp.sheet === "torsion");
  expect(torsion.map((setUp) => setUp.programme?.total)).toEqual(expect.arrayContaining([undefined, "24"]));
  expect(torsion.flatMap((setUp) => setUp.pieces.map((piece) => piece.testPiece)).toSorted()).toEqual(["K1-T1", "K1-T2"]);
});

it("an agreed limit that is tested in the same way shares the piece", () => {
  const asked = { specification: "EN 10270-1", grade: "SH", diameter: "2.00 mm" };
  const torsion = { property: "torsion", min: 28, conditions: "freeLength 200 mm", agreedIn: "letter" };
  const setUp = setUpOf("torsion", { ...asked, agreed: [torsion] });
  expect(setUp.pieces.map((piece) => piece.testPiece)).toEqual(["K1-T1"]);
  expect([setUp.requirement, ...setUp.also].map((r) => r.min).toSorted()).toEqual(["16", "28"]);
});
