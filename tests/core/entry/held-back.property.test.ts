/** A row with an error gives no result and holds its requirement back. Source: WORKBOOK.md, "unread rows". */
import fc from "fast-check";
import { expect, test } from "vitest";
import { judge } from "../../../core/judge/index.ts";
import type { Entry, SheetRecord, UnreadRow } from "../../../core/model.ts";
import { ORDER, requirement, specification, TENSILE, TORSION, WRAP } from "../../helpers/judge.ts";
import { entryOf, sheet, TENSILE_ROW, TORSION_ROW, type Typed, type TypedRow, WRAP_ROW } from "./workbook.ts";

/** Values that a clerk may type into any column, good in some and wrong in others; wrong ones outweigh. */
const typed: fc.Arbitrary<Typed> = fc.constantFrom<Typed>(
  24,
  5800,
  2,
  8,
  "24",
  "1,234",
  "24 turns",
  ">30",
  "~20",
  "clear",
  "Clear",
  "visible",
  "ductility",
  "adherence",
  "2026-03-02",
  "02.03.2026",
  "T\u200b1",
  undefined,
  { type: "boolean", raw: "1" },
  { type: "error", raw: "#REF!" },
  { type: "number", raw: "1e400" },
  { type: "number", raw: "0.5", format: "0%" },
  { type: "date-text", raw: "2026-03-02" },
  { type: "number", raw: "24", formula: "RAND()" },
  { type: "empty", raw: "", formula: "1", unevaluated: true },
);
const COILS = ["C1", "C2"] as const;
const SHEETS: readonly (readonly [string, TypedRow, string])[] = [
  ["Torsion", TORSION_ROW, "torsion"],
  ["Tensile", TENSILE_ROW, "tensile-strength"],
  ["Wrap", WRAP_ROW, "wrap"],
];

/** A row that would conform, then some of its cells typed over; pieces and coils may fall together. */
const rowOf = (good: TypedRow): fc.Arbitrary<TypedRow> =>
  fc
    .record({
      testPiece: fc.constantFrom("T1", "T2", "T3", "T4", "T5", "T6", "t1"),
      coil: fc.constantFrom<Typed>(...COILS, "c1", undefined),
      over: fc.dictionary(
        fc.constantFrom(
          ...Object.keys(good).filter((field) => field !== "testPiece" && field !== "coil"),
          "remark",
          "breakAt",
          "lineTurns",
        ),
        typed,
        {
          maxKeys: 2,
        },
      ),
    })
    .map(({ testPiece, coil, over }) => ({ ...good, testPiece, coil, ...over }));

const workbooks = fc.tuple(...SHEETS.map(([name, good]) => fc.array(rowOf(good), { maxLength: 4 }).map((rows) => ({ name, rows }))));

const rowNumber = (cell: string): number => Number(/\d+$/.exec(cell)?.[0]);

test("a row with any error never produces a result, and its requirement is held", () => {
  const spec = specification({
    requirements: [TORSION, TENSILE, WRAP, requirement("adherence", { ...WRAP, property: "adherence" })],
    retest: null,
  });
  const seen = { errors: 0, results: 0 };
  fc.assert(
    fc.property(workbooks, (given) => {
      const sheets: SheetRecord[] = given.map(({ name, rows }) => sheet(name, rows));
      const coils = sheet(
        "Coils",
        COILS.map((coil) => ({ coil, order: ORDER.order, item: ORDER.item, heat: "H1" })),
      );
      const entry = entryOf([coils, ...sheets]);
      const verdicts = verdictsOf(entry, spec);
      for (const finding of entry.findings) {
        const definition = SHEETS.find(([name]) => name === finding.sheet);
        if (finding.severity !== "error" || definition === undefined) continue;
        seen.errors += 1;
        const here = ({ sheetName, row }: { sheetName: string; row: number }): boolean =>
          sheetName === finding.sheet && row === rowNumber(finding.cell);
        expect(entry.tests.filter(here)).toEqual([]);
        const unread = entry.unread.filter(here);
        expect(unread).toHaveLength(1);
        for (const coil of unread[0]?.coil === undefined ? COILS : [unread[0].coil]) {
          const held = verdicts.filter((v) => v.coil === coil && unread[0]?.properties.includes(v.property));
          expect(held.length).toBeGreaterThan(0);
          for (const { verdict, results } of held) {
            expect(["does-not-conform", "retest-due", "undecided"]).toContain(verdict);
            expect(results.filter((r) => r.sheet === finding.sheet && r.row === rowNumber(finding.cell))).toEqual([]);
          }
        }
      }
      seen.results += entry.tests.length;
    }),
    { numRuns: 400, seed: 20260302 },
  );
  // The property says something only if both kinds of rows came up often.
  expect(Math.min(seen.errors, seen.results)).toBeGreaterThan(300);
});

function verdictsOf(entry: Entry, spec: ReturnType<typeof specification>) {
  const everywhere = (row: UnreadRow): readonly UnreadRow[] => (row.coil === undefined ? COILS.map((coil) => ({ ...row, coil })) : [row]);
  const judgement = judge({
    orders: [ORDER],
    agreed: [],
    coils: COILS.map((coil) => ({ coil, order: ORDER.order, item: ORDER.item, heat: "H1" })),
    heats: [],
    instruments: [],
    tests: entry.tests,
    unread: entry.unread.flatMap(everywhere),
    settlements: [],
    specifications: { find: () => spec, list: () => [spec] },
    isAdopted: () => true,
    today: "2026-06-30",
    freeLengthTolerance: "0.01",
  });
  return judgement.orders.flatMap((order) =>
    order.coils.flatMap(({ coil, requirements }) =>
      requirements.map(({ property, verdict, results }) => ({ coil, property, verdict, results })),
    ),
  );
}
