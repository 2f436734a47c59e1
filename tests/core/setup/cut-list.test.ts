import { describe, expect, it } from "vitest";
import { cutList, type SetUp } from "../../../core/setup/index.ts";
import { m, plan, setUpOf } from "./plans.ts";

const SH2 = { specification: "EN 10270-1", grade: "SH", diameter: "2.00 mm", coils: 2 } as const;

describe("cut list", () => {
  it("gives the places along the wire, the spares and the metres of each end", () => {
    const setUps = plan(SH2);
    const [first, second, ...more] = cutList(setUps, ["K1", "K2"]);
    expect(more).toEqual([]);
    expect([first?.coil, second?.coil]).toEqual(["K1", "K2"]);
    const torsion = setUps.find((s) => s.property === "torsion");
    const wrap = setUps.find((s) => s.property === "wrap");
    const coiling = setUps.find((s) => s.property === "coiling");
    // 200 + 2 x (20 + 5 x 2) mm; wrap and coiling: pi x (mandrel + d) x (turns + 1) + 2 x 150, rounded up (worked by hand):
    // pi x 4 x 9 + 300 = 413.1; pi x 9 x 11 + 300 = 611.02.
    expect([torsion, wrap, coiling].map((s) => s?.cutLength)).toEqual([m("260 mm"), m("414 mm"), m("612 mm")]);
    const places = Object.fromEntries((first?.cuts ?? []).map(({ setUp, from }) => [setUp.property, from?.text]));
    // Coiling, then wrap, then torsion, as the judgement lists them; the tensile piece has no length yet and comes last.
    expect(places).toEqual({ diameter: undefined, coiling: "0", wrap: "612", torsion: "1026", "tensile-strength": "1286" });
    expect(first?.takeOff).toEqual(m("1.286 m"));
    expect(first?.withoutLength).toBe(1);
    const spares = Object.fromEntries((first?.spares ?? []).map(({ setUp, pieces }) => [setUp.property, pieces]));
    expect(spares).toMatchObject({ torsion: 2, wrap: 2, "tensile-strength": 2 });
    expect(spares).not.toHaveProperty("diameter");
    const reserve = (first?.spares ?? []).reduce((sum, { setUp, pieces }) => sum + pieces * Number(setUp.cutLength?.text ?? 0), 0);
    expect(Number(first?.withSpares.text)).toBeCloseTo((1286 + reserve) / 1000, 9);
    expect(reserve).toBeGreaterThan(0);
  });

  it("keeps the two ends of a coil apart, outer before inner", () => {
    const torsion = setUpOf("torsion", SH2);
    const both: SetUp = {
      ...torsion,
      pieces: [
        { coil: "K2", testPiece: "K2-T1", end: "inner" },
        { coil: "K2", testPiece: "K2-T2", end: "outer" },
        { coil: "K1", testPiece: "K1-T1", end: "inner" },
      ],
    };
    const ends = cutList([both], ["K1", "K2"]);
    expect(ends.map(({ coil, end }) => `${coil} ${end}`)).toEqual(["K1 inner", "K2 outer", "K2 inner"]);
    expect(ends.every(({ takeOff }) => takeOff.text === "0.26")).toBe(true);
  });

  it("cuts a piece that two tests share once", () => {
    const torsion = setUpOf("torsion", { ...SH2, coils: 1 });
    expect(cutList([torsion, torsion], ["K1"])[0]?.cuts.length).toBe(1);
  });

  it("counts inch wire in feet", () => {
    // 0.062 in, A228 has no torsion; the wrap piece of A227: pi x (2 d + d ...) is left to the plan, its length is what counts here.
    const setUps = plan({ specification: "ASTM A227", grade: "I", diameter: "0.080 in" });
    const [end] = cutList(setUps, ["K1"]);
    const inches = setUps.filter((s) => s.sheet !== "diameter").reduce((sum, s) => sum + Number(s.cutLength?.text ?? 0), 0);
    expect(end?.takeOff.unit).toBe("ft");
    expect(Number(end?.takeOff.text)).toBeCloseTo(inches / 12, 5);
    expect(inches).toBeGreaterThan(0);
  });
});
