/** What differs between two specifications. All limits are invented. */
import { describe, expect, test } from "vitest";
import {
  BUILT_IN,
  parseSpecification,
  type SpecificationData,
  specificationDifferences,
  specificationSchema,
} from "../../../core/spec/index.ts";

const own = (change: object = {}): SpecificationData =>
  specificationSchema.parse({
    id: "TX 28",
    edition: "2026",
    title: "Invented",
    grades: ["P", "Q"],
    tables: [
      {
        property: "torsion",
        clause: "4.2",
        unit: "turns",
        diameterUnit: "mm",
        between: "bands",
        freeLength: { times: "100" },
        rows: [
          { from: "1.00", upTo: "2.00", min: "22", provenance: "own" },
          { over: "2.00", upTo: "4.00", min: "18", provenance: "own" },
        ],
      },
    ],
    chemistry: [{ element: "C", min: "0.60", max: "0.80", provenance: "own" }],
    required: [{ property: "torsion" }],
    sampling: { kind: "per-coils", coils: 10, clause: "6.1", provenance: "own" },
    retest: [{ properties: ["torsion"], pieces: 2, mustConform: "all", clause: "6.2", provenance: "own" }],
    conduct: { torsionMaximumSpeed: { text: "60", provenance: "own" } },
    ...change,
  });
const [table] = own().tables;
if (table === undefined) throw new Error("no table");
const withTable = (change: object): SpecificationData => own({ tables: [{ ...table, ...change }] });
const withRow = (change: object): SpecificationData => withTable({ rows: [{ ...table.rows[0], ...change }, table.rows[1]] });

const row1 = { part: "row", property: "torsion", grades: ["P", "Q"], row: "from 1.00 up to 2.00 mm" };
const both = ["P", "Q"];

describe("one change, one difference", () => {
  test.for<[string, SpecificationData, object[]]>([
    ["nothing", own(), []],
    ["a minimum", withRow({ min: "24" }), [{ ...row1, a: "min 22 turns", b: "min 24 turns", judged: true }]],
    ["a maximum more", withRow({ max: "90" }), [{ ...row1, a: "min 22 turns", b: "min 22, max 90 turns", judged: true }]],
    ["only shown", withRow({ indicative: true }), [{ ...row1, a: "min 22 turns", b: "min 22 turns; indicative true", judged: true }]],
    ["where it comes from", withRow({ provenance: "read", source: "page 7" }), [{ ...row1, a: "own", b: "read, page 7", judged: false }]],
    [
      "an edge written otherwise",
      withRow({ from: "1.0" }),
      [{ part: "order-of-rows", grades: [], a: expect.any(String), b: expect.any(String), judged: false }],
    ],
    [
      "an edge",
      withRow({ from: "0.90" }),
      [
        { ...row1, a: "min 22 turns", judged: true },
        { ...row1, row: "from 0.90 up to 2.00 mm", b: "min 22 turns", judged: true },
      ],
    ],
    ["a row less", withTable({ rows: [table.rows[0]] }), [{ ...row1, row: "over 2.00 up to 4.00 mm", a: "min 18 turns", judged: true }]],
    ["a row for one grade only", withRow({ grades: ["Q"] }), [{ ...row1, grades: ["P"], a: "min 22 turns", judged: true }]],
    [
      "the free length",
      withTable({ freeLength: { times: "100", atMost: "300 mm" } }),
      [
        {
          part: "table",
          property: "torsion",
          grades: both,
          row: "mm",
          a: "unit turns, freeLength times 100, between bands",
          b: "unit turns, freeLength times 100, atMost 300 mm, between bands",
          judged: true,
        },
      ],
    ],
    [
      "the clause",
      withTable({ clause: "4.3" }),
      [{ part: "table", property: "torsion", grades: both, row: "mm", a: "4.2", b: "4.3", judged: false }],
    ],
    [
      "an element",
      own({ chemistry: [{ element: "C", min: "0.60", max: "0.85", provenance: "own" }] }),
      [{ part: "chemistry", property: "chemistry:C", grades: both, a: "min 0.60, max 0.80 %", b: "min 0.60, max 0.85 %", judged: true }],
    ],
    ["what is required", own({ required: [] }), [{ part: "required", property: "torsion", grades: both, a: "required", judged: true }]],
    [
      "from which size it is required",
      own({ required: [{ property: "torsion", from: "1.50 mm" }] }),
      [{ part: "required", property: "torsion", grades: both, a: "required", b: "required from 1.50 mm", judged: true }],
    ],
    [
      "sampling",
      own({ sampling: { kind: "each-coil", clause: "6.1", provenance: "own" } }),
      [
        {
          part: "sampling",
          grades: [],
          a: "perHeat false, kind per-coils, coils 10, bothEnds false",
          b: "perHeat false, kind each-coil, bothEnds false",
          judged: true,
        },
      ],
    ],
    [
      "no retest",
      own({ retest: [] }),
      [{ part: "retest", property: "torsion", grades: [], a: "2 pieces, all must conform", judged: true }],
    ],
    [
      "a speed",
      own({ conduct: { torsionMaximumSpeed: { text: "30", provenance: "own" } } }),
      [
        {
          part: "conduct",
          grades: [],
          row: "torsionMaximumSpeed",
          a: "text 60, provenance own",
          b: "text 30, provenance own",
          judged: true,
        },
      ],
    ],
    ["the title", own({ title: "Other" }), [{ part: "head", grades: [], row: "title", a: "Invented", b: "Other", judged: false }]],
    [
      "the order of rows",
      withTable({ rows: [table.rows[1], table.rows[0]] }),
      [{ part: "order-of-rows", grades: [], a: expect.any(String), b: expect.any(String), judged: false }],
    ],
  ])("%s", ([, changed, expected]) => {
    expect(specificationDifferences(own(), changed)).toEqual(expected);
    // The other way round the sides change places, and nothing else.
    const sides = (list: readonly object[]): string[] => list.map((entry) => JSON.stringify(Object.entries(entry).sort())).sort();
    const turned = specificationDifferences(changed, own()).map(({ a, b, ...rest }) => ({
      ...rest,
      ...(b === undefined ? {} : { a: b }),
      ...(a === undefined ? {} : { b: a }),
    }));
    if (expected.some((entry) => JSON.stringify(entry).includes("order-of-rows"))) return;
    expect(sides(turned)).toEqual(sides(specificationDifferences(own(), changed)));
  });
});

test("one that extends a grade is compared with that grade: only its own table differs", () => {
  const base = BUILT_IN.find((s) => s.id === "EN 10270-1");
  const parsed = parseSpecification(
    {
      id: "TX 28",
      edition: "2026",
      title: "Invented",
      grades: [],
      extends: { specification: "EN 10270-1", grade: "SM" },
      tables: [{ ...base?.tables.find((t) => t.property === "torsion"), rows: [{ min: "28", provenance: "own" }] }],
      required: [],
    },
    () => base,
  );
  if (!parsed.ok || base === undefined) throw new Error(JSON.stringify(parsed));
  const found = specificationDifferences(base, parsed.specification);
  expect(new Set(found.map(({ property }) => property))).toEqual(new Set(["torsion"]));
  // Eight ranges of SM go (torsion-minimum-en10270-1.csv), one row for all sizes comes.
  expect(found.filter(({ b }) => b === undefined)).toHaveLength(8);
  expect(found.filter(({ a }) => a === undefined)).toMatchObject([{ row: "all sizes", b: "min 28 turns", grades: [] }]);
});

test("every specification held is equal to itself and to no other", () => {
  for (const a of BUILT_IN)
    for (const b of BUILT_IN) expect([a.id, b.id, specificationDifferences(a, b).length === 0]).toEqual([a.id, b.id, a === b]);
});
