/** What holds for every coil, whatever was tested. Limits are invented. */
import fc from "fast-check";
import { describe, test } from "vitest";
import type { EntryRow, Requirement, Verdict } from "../../core/model.ts";
import { VERDICTS } from "../../core/model.ts";
import { convertMeasure, type Unit } from "../../core/quantity.ts";
import {
  coil,
  DIAMETER,
  firstCoil,
  judged,
  ORDER,
  OUT_OF_ROUND,
  row,
  type SpecOptions,
  TENSILE,
  TORSION,
  tensileRow,
  torsionRow,
  WRAP,
  wrapRow,
} from "../helpers/judge.ts";

const RUNS = { numRuns: 150 };
const RULES = ["simple", "guarded", "guarded-open"] as const;
const instruments = [{ instrument: "M1", calibratedOn: "2026-01-01", dueOn: "2026-12-31", uncertainty: "0.4", uncertaintyUnit: "%" }];

const pieces = ["P1", "P2", "P3", "P4", "P5"];
const day = fc.integer({ min: 1, max: 9 }).map((n) => `2026-03-0${n}`);
const identity = fc.record(
  {
    role: fc.constantFrom("acceptance", "repeat", "retest", "check"),
    retestOf: fc.constantFrom(...pieces),
    date: day,
    end: fc.constantFrom("outer", "inner"),
  },
  { requiredKeys: ["date"] },
);
const torsion = fc
  .record(
    {
      turns: fc.integer({ min: 10, max: 30 }).map(String),
      freeLength: fc.constantFrom("150", "198", "200", "202", "300"),
      speed: fc.constantFrom("30", "60", "61"),
      breakAt: fc.constantFrom("clear", "grip"),
    },
    { requiredKeys: ["turns", "freeLength", "breakAt"] },
  )
  .map((fields) => ["torsion", fields] as const);
const tensile = fc
  .record({ maximumForce: fc.integer({ min: 5400, max: 6500 }).map(String), breakAt: fc.constantFrom("clear", "grip") })
  .map((fields) => ["tensile", fields] as const);
const wrap = fc
  .record({
    mandrelDiameter: fc.constantFrom("1.8", "2", "2.2"),
    cracks: fc.constantFrom("none", "visible", "broken"),
    firstCrackTurn: fc.constantFrom("1", "3"),
  })
  .map((fields) => ["wrap", fields] as const);
const diameter = fc
  .tuple(fc.integer({ min: 1960, max: 2030 }), fc.integer({ min: 0, max: 30 }))
  .map(([small, off]) => ["diameter", { smallest: (small / 1000).toFixed(3), largest: ((small + off) / 1000).toFixed(3) }] as const);

const MAKE = {
  torsion: torsionRow,
  tensile: tensileRow,
  wrap: wrapRow,
  diameter: (fields: Readonly<Record<string, string>>) => row("diameter", fields),
};
const entry = fc.tuple(fc.oneof(torsion, tensile, wrap, diameter), identity);
/** Up to eight rows of one coil; a test piece of one sheet stands once. */
const entries = fc
  .array(entry, { maxLength: 8 })
  .map((list) =>
    list.map(([[sheet, fields], who], at): EntryRow => MAKE[sheet]({ ...fields, ...withoutUndefined(who), testPiece: `P${at + 1}` })),
  );
const withoutUndefined = (fields: object): Record<string, string> =>
  Object.fromEntries(Object.entries(fields).filter((pair): pair is [string, string] => pair[1] !== undefined));

const REQUIREMENTS = [TORSION, TENSILE, WRAP, DIAMETER, OUT_OF_ROUND];
const spec: SpecOptions = { requirements: REQUIREMENTS };
const judge = (rows: readonly EntryRow[], rule: (typeof RULES)[number] = "simple", options: SpecOptions = spec) =>
  judged(rows, options, { orders: [{ ...ORDER, decisionRule: rule }], instruments, coils: [coil("C1")] });
const told = (rows: readonly EntryRow[], rule?: (typeof RULES)[number], options?: SpecOptions) => {
  const { verdict, requirements } = firstCoil(judge(rows, rule, options));
  return JSON.stringify([verdict, requirements.map((r) => [r.property, r.verdict, r.reason])]);
};
const rank = (verdict: Verdict): number => VERDICTS.indexOf(verdict);
const rule = fc.constantFrom(...RULES);

describe("the judgement of one coil", () => {
  test("the order of rows is irrelevant, to the last sentence", () => {
    fc.assert(
      fc.property(
        entries.chain((rows) => fc.tuple(fc.constant(rows), fc.shuffledSubarray(rows, { minLength: rows.length }))),
        rule,
        ([rows, shuffled], decision) => {
          const whole = (list: readonly EntryRow[]) => {
            const { orders, findings } = judge(list, decision);
            return JSON.stringify([orders, findings.map((f) => JSON.stringify(f)).sort()]);
          };
          return whole(rows) === whole(shuffled);
        },
      ),
      RUNS,
    );
  });

  test("a tighter limit never turns a failure into a pass", () => {
    const tightened = fc.record({
      min: fc.integer({ min: 0, max: 200 }),
      max: fc.integer({ min: 0, max: 200 }),
      turns: fc.integer({ min: 0, max: 6 }),
    });
    fc.assert(
      fc.property(entries, tightened, rule, (rows, by, decision) => {
        const tighter = REQUIREMENTS.map((r): Requirement => {
          if (r === TENSILE) return { ...r, min: String(1770 + by.min), max: String(Math.max(1770 + by.min, 2010 - by.max)) };
          return r === TORSION ? { ...r, min: String(20 + by.turns) } : r;
        });
        const [loose, tight] = [spec, { requirements: tighter }].map(
          (s) => firstCoil(judge(rows, decision, { ...s, retest: null })).requirements,
        );
        return (loose ?? []).every((r, at) => {
          const other = tight?.[at];
          // A low count at the grip is void and not failed: what must not happen is that it becomes a pass.
          return r.verdict === "conforms" || other?.verdict !== "conforms";
        });
      }),
      RUNS,
    );
  });

  test("a valid failure stays a failure under a tighter limit", () => {
    fc.assert(
      fc.property(fc.integer({ min: 10, max: 19 }), fc.integer({ min: 0, max: 10 }), (turns, by) => {
        const options = { requirements: [{ ...TORSION, min: String(20 + by) }], retest: null };
        return told([torsionRow({ turns: String(turns) })], "simple", options).includes("does-not-conform");
      }),
    );
  });

  test("adding a void result that would have passed changes nothing, up to the third void piece", () => {
    const passing = fc.constantFrom(
      torsionRow({ testPiece: "V1", turns: "28", freeLength: "300" }),
      wrapRow({ testPiece: "V1", mandrelDiameter: "2.2" }),
      tensileRow({ testPiece: "V1", setAside: "slip" }),
      row("diameter", { testPiece: "V1", largest: "2.001", smallest: "2.000", setAside: "misset" }),
      torsionRow({ testPiece: "V1", turns: "28", date: "2025-06-01" }),
    );
    fc.assert(
      fc.property(entries, passing, rule, (rows, extra, decision) => {
        const voids = new Set(
          firstCoil(judge(rows, decision)).requirements.flatMap((r) =>
            r.results.filter((x) => x.voidReason !== undefined).map((x) => `${r.property} ${x.testPiece}`),
          ),
        );
        fc.pre(voids.size < 2);
        const verdicts = (list: readonly EntryRow[]) => firstCoil(judge(list, decision)).requirements.map((r) => [r.property, r.verdict]);
        return JSON.stringify(verdicts(rows)) === JSON.stringify(verdicts([...rows, extra]));
      }),
      RUNS,
    );
  });

  test("the units in which figures are entered never change a verdict", () => {
    // Inch, pound and kilo figures are exact in SI units; the other way round a figure would end nowhere.
    const OTHER: Readonly<Record<string, Unit>> = { mm: "cm", N: "kN" };
    const inOther = (rows: readonly EntryRow[]): readonly EntryRow[] =>
      rows.map((r) => ({
        ...r,
        fields: Object.fromEntries(
          Object.entries(r.fields).map(([name, value]) => {
            const unit = value?.unit === undefined ? undefined : OTHER[value.unit];
            return [
              name,
              value === undefined || unit === undefined
                ? value
                : { ...value, ...convertMeasure({ text: value.text, unit: value.unit as Unit }, unit) },
            ];
          }),
        ),
      }));
    fc.assert(
      fc.property(entries, rule, (rows, decision) => told(rows, decision) === told(inOther(rows), decision)),
      RUNS,
    );
  });

  test("an inch row and the same row in millimetres and newtons are one", () => {
    const inch = fc.record({ thousandths: fc.integer({ min: 70, max: 90 }), pounds: fc.integer({ min: 1100, max: 1700 }) });
    fc.assert(
      fc.property(inch, rule, ({ thousandths, pounds }, decision) => {
        const given = {
          diameter: { text: `0.0${thousandths}`, unit: "in" as const },
          maximumForce: { text: String(pounds), unit: "lbf" as const },
        };
        const base = tensileRow();
        const filled = (of: typeof given | Record<keyof typeof given, { text: string; unit: Unit }>): EntryRow => ({
          ...base,
          fields: {
            ...base.fields,
            diameter: { ...of.diameter, cell: "D5", raw: "" },
            maximumForce: { ...of.maximumForce, cell: "E5", raw: "" },
          },
        });
        const metric = {
          diameter: convertMeasure(given.diameter, "mm") as { text: string; unit: Unit },
          maximumForce: convertMeasure(given.maximumForce, "N") as { text: string; unit: Unit },
        };
        const only = { requirements: [TENSILE] };
        return told([filled(given)], decision, only) === told([filled(metric)], decision, only);
      }),
      RUNS,
    );
  });

  test("a guarded rule never accepts what simple acceptance on the unrounded value refuses", () => {
    const absolute = { requirements: [{ ...TENSILE, rounding: { method: "absolute", step: "1", ties: "even" } as const }], retest: null };
    fc.assert(
      fc.property(fc.integer({ min: 5400, max: 6500 }), (force) => {
        const verdict = (decision: (typeof RULES)[number]) =>
          firstCoil(judge([tensileRow({ maximumForce: String(force) })], decision, absolute)).verdict;
        return verdict("guarded") !== "conforms" || verdict("simple") === "conforms";
      }),
      RUNS,
    );
  });

  test("not tested is never a pass: a coil without rows has no conforming requirement", () => {
    fc.assert(
      fc.property(fc.subarray(REQUIREMENTS, { minLength: 1 }), (requirements) =>
        firstCoil(judge([], "simple", { requirements })).requirements.every((r) => r.verdict === "not-tested" && r.next.length > 0),
      ),
    );
  });

  test("a coil is as bad as its worst requirement, and what is open says what comes next", () => {
    fc.assert(
      fc.property(entries, rule, (rows, decision) => {
        const { verdict, requirements } = firstCoil(judge(rows, decision));
        const open = requirements.filter((r) => r.verdict !== "conforms" && r.verdict !== "does-not-conform");
        return rank(verdict) === Math.min(...requirements.map((r) => rank(r.verdict))) && open.every((r) => r.next.length > 0);
      }),
      RUNS,
    );
  });
});
