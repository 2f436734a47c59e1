/** Letters and plans of ISO 2859-1, normal single sampling, cell by cell, and what the plans let through. */
import { describe, expect, test } from "vitest";
import { attributesAcceptanceProbability } from "../../../core/statistics/index.ts";
import { ask, codeOf } from "../calc/answers.ts";
import { readReference } from "../spec/reference.ts";

describe("acceptance-plan (ISO 2859-1 normal single)", () => {
  /** A lot for each code letter at level II, and for Q and R at level III. */
  const LOTS: Readonly<Record<string, readonly [number, string]>> = {
    A: [8, "II"],
    B: [15, "II"],
    C: [25, "II"],
    D: [50, "II"],
    E: [90, "II"],
    F: [150, "II"],
    G: [280, "II"],
    H: [500, "II"],
    J: [1200, "II"],
    K: [3200, "II"],
    L: [10000, "II"],
    M: [35000, "II"],
    N: [150000, "II"],
    P: [500000, "II"],
    Q: [500001, "II"],
    R: [500001, "III"],
  };
  test("every cell of iso2859-1-single-normal.csv, arrows followed", () => {
    const rows = readReference("iso2859-1-single-normal");
    expect(rows).toHaveLength(416);
    for (const row of rows) {
      const [lot, level] = LOTS[row["code_letter"] ?? ""] ?? [0, ""];
      if (row["Ac"] === "") {
        // Letter A at AQL 10: the table leaves the arrow open.
        expect(codeOf("acceptance-plan", { lot, level, aql: row["aql"] })).toBe("no-rule");
        continue;
      }
      expect(ask("acceptance-plan", { lot, level, aql: row["aql"] }), JSON.stringify(row)).toEqual({
        letter: row["plan_letter_to_use"],
        n: Math.min(Number(row["n_to_use"]), lot),
        accept: Number(row["Ac"]),
        reject: Number(row["Re"]),
        provenance: "memory",
      });
    }
  });
  test("every letter of iso2859-1-code-letters.csv at both ends of its lots", () => {
    const SAMPLE = readReference("iso2859-1-single-normal");
    for (const row of readReference("iso2859-1-code-letters"))
      for (const level of ["S-1", "S-2", "S-3", "S-4", "I", "II", "III"])
        for (const lot of [row["lot_from"], row["lot_to"] || "900000"])
          expect(ask("acceptance-plan", { lot, level, aql: "1.0" })["letter"], `${lot} ${level}`).toBe(
            SAMPLE.find((cell) => cell["code_letter"] === row[level] && cell["aql"] === "1.0")?.["plan_letter_to_use"],
          );
  });
  test.for([
    // lot, level, aql, answer, source
    [1000, "II", "1.0", { letter: "J", n: 80, accept: 2, reject: 3 }, "statistics-and-documents.md F1, worked"],
    [1000, "II", 2.5, { letter: "J", n: 80, accept: 5, reject: 6 }, "F1, worked"],
    [60, "II", 1, { letter: "E", n: 13, accept: 0, reject: 1 }, "F1, worked"],
    [5, "II", "1.0", { letter: "E", n: 5, accept: 0, reject: 1 }, "contract: where n is not below the lot, n is the lot"],
    [1, "II", "1.0", { error: { code: "outside-scope" } }, "contract: a lot of one"],
    [60, "II", 3, { error: { code: "no-rule" } }, "contract: a hole, never the neighbour"],
    [60, "II", 1001, { error: { code: "outside-scope" } }, "beyond the list"],
    [60, "IV", 1, { error: { code: "wrong-input" } }, "contract: a word outside a listed set"],
  ] as const)("lot %d, %s, AQL %s: %j (%s)", ([lot, level, aql, answer]) => {
    expect(ask("acceptance-plan", { lot, level, aql })).toMatchObject(answer);
  });
});

describe("what a plan by attributes accepts", () => {
  test("every P(accept) at the AQL of iso2859-1-single-normal.csv (Poisson, computed with scipy)", () => {
    const rows = readReference("iso2859-1-single-normal").filter((row) => row["P_accept_at_AQL_poisson"] !== "");
    expect(rows).toHaveLength(152);
    for (const row of rows) {
      const plan = { n: Number(row["n_to_use"]), accept: Number(row["Ac"]) };
      const is = attributesAcceptanceProbability(plan, Number(row["aql"]) / 100, "poisson");
      expect(Math.abs(is - Number(row["P_accept_at_AQL_poisson"])), JSON.stringify(row)).toBeLessThan(0.000051);
    }
  });
  test.for([
    // n, accept, share, probability, source
    [80, 2, 0.01, 0.9534, "statistics-and-documents.md F1, worked: lot of 1000, AQL 1.0"],
    [80, 5, 0.025, 0.9848, "F1, worked: lot of 1000, AQL 2.5"],
    [13, 0, 0.01, 0.8775, "F1, worked: lot of 60, AQL 1.0; by hand 0.99^13"],
    [2, 1, 0.5, 0.75, "by hand: 1 - 0.5^2"],
    [5, 0, 0, 1, "nothing nonconforming"],
    [5, 0, 1, 0, "all nonconforming"],
    [5, 5, 1, 1, "every item may be nonconforming"],
  ] as const)("n %d, accept on %d, share %d: %d (%s)", ([n, accept, share, probability]) => {
    expect(attributesAcceptanceProbability({ n, accept }, share)).toBeCloseTo(probability, 4);
  });
  test("a share that is none is refused", () => {
    for (const share of [-0.01, 1.01, Number.NaN])
      expect(() => attributesAcceptanceProbability({ n: 5, accept: 0 }, share)).toThrow(RangeError);
    expect(attributesAcceptanceProbability({ n: 5, accept: 7 }, 1.2, "poisson")).toBeCloseTo(0.74398, 5);
  });
});
