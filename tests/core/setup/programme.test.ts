import { expect, it } from "vitest";
import { parseProgramme, programmeOf } from "../../../core/setup/programme.ts";
import { setUpOf } from "./plans.ts";

// Common practice, no source: the wire counter of a forward-and-reverse programme shows the sum of both directions.
it.each([
  { text: "3 forward, 3 back, 4 cycles", programme: { forward: "3", reverse: "3", cycles: "4", perCycle: "6", total: "24" } },
  { text: "forwardTurns 2.5; reverseTurns 1.5", programme: { forward: "2.5", reverse: "1.5", perCycle: "4" } },
  { text: "reverse 2, forward 3, cycles 10", programme: { forward: "3", reverse: "2", cycles: "10", perCycle: "5", total: "50" } },
  { text: "4 vor; 4 zurück", programme: { forward: "4", reverse: "4", perCycle: "8" } },
])("$text", ({ text, programme }) => {
  expect(parseProgramme(text)).toEqual({ ...programme, counts: "total" });
});

it.each([
  undefined,
  "",
  "3 forward",
  "3 forward, 3 forward",
  "3 forward 3, 2 back",
  "forward, back",
  "as drawing 7",
  "3 forward, 3 back, slowly",
])("%s is no programme", (text) => {
  expect(parseProgramme(text)).toBeUndefined();
});

it("the specification's own programme comes before the order's words", () => {
  const { requirement } = setUpOf("torsion", { specification: "EN 10270-1", grade: "SH", diameter: "2.00 mm" });
  const torsionProgramme = { forwardTurns: "10", counts: "reverse" } as const;
  expect(programmeOf({ ...requirement, conditions: { programme: "3 forward, 3 back" }, torsionProgramme })).toEqual({
    forward: "10",
    counts: "reverse",
  });
  expect(programmeOf(requirement)).toBeUndefined();
});
