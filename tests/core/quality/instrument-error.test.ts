/** An instrument's error taken out of its readings. Sums worked by hand; readings invented. */
import { describe, expect, it } from "vitest";
import type { EntryRow } from "../../../core/model.ts";
import { correctedRow, parseInstrumentError } from "../../../core/quality/instrument-error.ts";

const row = (sheet: EntryRow["sheet"], fields: Record<string, readonly [string, string?]>): EntryRow => ({
  ...{ sheet, sheetName: sheet, row: 2, file: "" },
  fields: Object.fromEntries(
    Object.entries(fields).map(([name, [text, unit]]) => [name, { text, cell: "A2", raw: text, ...(unit ? { unit: unit as "mm" } : {}) }]),
  ),
});
const tensile = row("tensile", {
  instrument: ["TM-1"],
  diameterInstrument: ["MIC-1"],
  diameter: ["2.02", "mm"],
  maximumForce: ["6048", "N"],
  breakAt: ["clear"],
});
const figures = (corrected: EntryRow): object =>
  Object.fromEntries(Object.entries(corrected.fields).flatMap(([name, field]) => (field?.unit ? [[name, field.text]] : [])));

describe("the error", () => {
  it.each([
    ["+0.8 %", { text: "0.8", unit: "%" }],
    ["-2 N", { text: "-2", unit: "N" }],
    ["0.004mm", { text: "0.004", unit: "mm" }],
    ["- 1.5 %", { text: "-1.5", unit: "%" }],
  ])("%s is read", (text, read) => expect(parseInstrumentError(text)).toEqual(read));
  it.each(["", "0.8", "+ %", "0,8 %", "1 turns", "2 degC", "-100 %", "1e3 N"])("%s is not", (text) =>
    expect(parseInstrumentError(text)).toBeUndefined(),
  );
});

describe("a reading without the error", () => {
  it.each([
    // 6048 / 1.008 = 6000
    { instrument: "TM-1", error: "+0.8 %", diameter: "2.02", maximumForce: "6000" },
    { instrument: "TM-1", error: "-2 N", diameter: "2.02", maximumForce: "6050" },
    // 0.01 kN is 10 N
    { instrument: "TM-1", error: "0.01 kN", diameter: "2.02", maximumForce: "6038" },
    // 2.02 / 1.01 = 2
    { instrument: "MIC-1", error: "+1 %", diameter: "2", maximumForce: "6048" },
    { instrument: "MIC-1", error: "+0.02 mm", diameter: "2", maximumForce: "6048" },
    // Another instrument, and an error of another kind, change nothing.
    { instrument: "TM-2", error: "+1 %", diameter: "2.02", maximumForce: "6048" },
    { instrument: "TM-1", error: "+0.02 mm", diameter: "2.02", maximumForce: "6048" },
  ])("$instrument $error", ({ instrument, error, diameter, maximumForce }) => {
    const parsed = parseInstrumentError(error);
    expect(parsed && figures(correctedRow(tensile, instrument, parsed))).toEqual({ diameter, maximumForce });
  });

  it("counts stay counts", () => {
    const torsion = row("torsion", { instrument: ["TT-1"], turns: ["24", "turns"], freeLength: ["200", "mm"] });
    expect(correctedRow(torsion, "TT-1", { text: "5", unit: "%" })).toBe(torsion);
  });
});
