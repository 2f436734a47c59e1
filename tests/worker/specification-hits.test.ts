/** Which orders a change of limits meets. All limits are invented. */
import { describe, expect, test } from "vitest";
import { createSpecificationLibrary, type SpecificationData, specificationSchema } from "../../core/spec/index.ts";
import type { LedgerReader, State, StateKind } from "../../worker/ports/ledger.ts";
import { openOrdersHit } from "../../worker/specification-hits.ts";

const content = (id: string, change: { min?: string; pieces?: number; speed?: string } = {}): SpecificationData =>
  specificationSchema.parse({
    id,
    edition: "2026",
    title: "Invented",
    grades: ["A", "B"],
    tables: [
      {
        property: "coating-mass",
        clause: "4.1",
        unit: "g/m2",
        diameterUnit: "mm",
        between: "bands",
        rows: [
          { grades: ["A"], from: "1.00", upTo: "2.00", min: change.min ?? "200", provenance: "own" },
          { grades: ["B"], from: "1.00", upTo: "2.00", min: "100", provenance: "own" },
        ],
      },
    ],
    required: [{ property: "coating-mass" }],
    retest: [{ properties: ["coating-mass"], pieces: change.pieces ?? 2, mustConform: "all", clause: "5", provenance: "own" }],
    conduct: change.speed === undefined ? {} : { torsionMaximumSpeed: { text: change.speed, provenance: "own" } },
  });

const order = {
  order: "T-1",
  item: "10",
  specification: "ZC 1",
  edition: "2026",
  grade: "A",
  nominalDiameter: { text: "1.50", unit: "mm" },
};
const signed = { kind: "certificate", status: "signed", coils: ["c1", "c2"] };

/** A ledger with one order item of two coils. */
function ledger(given: { order?: object; documents?: readonly object[]; coils?: readonly string[] }): LedgerReader {
  const states: Partial<Record<StateKind, readonly object[]>> = {
    order: [{ ...order, ...given.order }],
    document: given.documents ?? [],
    coil: (given.coils ?? ["c1", "c2"]).map((coil) => ({ coil })),
  };
  return {
    get: async () => undefined,
    facts: async () => [],
    list: async <T>(kind: StateKind) =>
      (states[kind] ?? []).map((value): State<T> => ({ kind, key: "T-1/10", owner: "T-1/10", value: value as T })),
  };
}

async function hits(given: Parameters<typeof ledger>[0], after: SpecificationData, before = content("ZC 1")): Promise<readonly object[]> {
  return openOrdersHit(ledger(given), createSpecificationLibrary([before]), before, after);
}
const higher = content("ZC 1", { min: "220" });

describe("an order is hit where one of its own requirements changes and a coil of it has no signed document", () => {
  test.for<[string, Parameters<typeof ledger>[0], number]>([
    ["open", {}, 1],
    ["without coils yet", { coils: [] }, 1],
    ["one coil not documented", { documents: [{ ...signed, coils: ["c1"] }] }, 1],
    ["only a draft", { documents: [{ ...signed, status: "draft" }] }, 1],
    ["only a notice", { documents: [{ ...signed, kind: "notice" }] }, 1],
    ["every coil documented", { documents: [signed] }, 0],
    [
      "every coil documented, by two",
      {
        documents: [
          { ...signed, coils: ["c1"] },
          { ...signed, coils: ["c2"] },
        ],
      },
      0,
    ],
    ["another grade", { order: { grade: "B" } }, 0],
    ["another size", { order: { nominalDiameter: { text: "2.50", unit: "mm" } } }, 0],
    ["another edition", { order: { edition: "2025" } }, 0],
    ["another specification", { order: { specification: "ZC 2" } }, 0],
    ["another specification, coated to this one", { order: { specification: "ZC 2", coatingClass: "ZC 1 A" } }, 1],
    ["coated to another class of this one", { order: { specification: "ZC 2", coatingClass: "ZC 1 B" } }, 0],
  ])("%s", async ([, given, count]) => {
    expect(await hits(given, higher)).toHaveLength(count);
  });

  test("says which requirement, before and after", async () => {
    const [hit] = await hits({}, higher);
    expect(hit).toMatchObject({
      order: "T-1",
      item: "10",
      grade: "A",
      nominalDiameter: "1.50 mm",
      requirements: [
        {
          property: "coating-mass",
          a: "min 200 g/m2; rounding round 1 even; every coil; retest 2, all",
          b: "min 220 g/m2; rounding round 1 even; every coil; retest 2, all",
        },
      ],
    });
  });
  test("a retest rule counts like a limit, and so does a rule of conduct", async () => {
    expect(await hits({}, content("ZC 1", { pieces: 1 }))).toMatchObject([{ requirements: [{ property: "coating-mass" }] }]);
    expect(await hits({}, content("ZC 1", { speed: "60" }))).toMatchObject([{ requirements: [{ property: "conduct" }] }]);
  });
  test("equal content hits nothing", async () => expect(await hits({}, content("ZC 1"))).toEqual([]));
});
