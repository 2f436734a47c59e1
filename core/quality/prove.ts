/** Judges the proving cases of one specification as any entry is judged, and holds each against what its rule says. Pure. */
import { judge } from "../judge/index.ts";
import type { Coil, EntryRow, FieldValue, Measure, OrderItem, Result } from "../model.ts";
import type { HeldSpecification } from "../spec/index.ts";
import { casesOf, type ProveCase } from "./prove-cases.ts";

export interface ProvenCase {
  readonly grade: string;
  readonly nominal: string;
  readonly property: string;
  readonly limit: string;
  readonly name: string;
  readonly given: Readonly<Record<string, string>>;
  readonly expected: string;
  readonly found: string;
  /** What was held against the limit. */
  readonly compared: string;
}

export interface Proof {
  readonly cases: readonly ProvenCase[];
  /** Requirements no case was made for, with their sizes counted. */
  readonly notProved: readonly { readonly property: string; readonly sizes: number }[];
}

/** Every grade and tabulated size. @param today a day that every rule holds on, `YYYY-MM-DD` */
export function prove(view: HeldSpecification, today: string): Proof {
  const cases: ProvenCase[] = [];
  const notProved = new Map<string, number>();
  for (const grade of view.grades.length === 0 ? [""] : view.grades)
    for (const nominal of sizesOf(view)) {
      const wanted = view.properties.flatMap((property) => {
        const requirement = view.requirement(property, grade, nominal);
        if ("problem" in requirement || property.startsWith("chemistry:")) return [];
        const made = casesOf(requirement, nominal, view.conduct(nominal));
        if (made.length === 0) notProved.set(property, (notProved.get(property) ?? 0) + 1);
        return made.map((one) => ({ property, requirement, one }));
      });
      if (wanted.length === 0) continue;
      const results = judged(view, grade, nominal, wanted, today);
      wanted.forEach(({ property, requirement: { min, max, unit }, one }, i) => {
        const result = results[i];
        cases.push({
          ...{ grade, nominal: `${nominal.text} ${nominal.unit}`, property },
          limit: `${min ?? ""}..${max ?? ""} ${unit}`.trim(),
          name: one.name,
          given: Object.fromEntries(Object.entries(one.fields).map(([name, { text, unit: of }]) => [name, `${text} ${of ?? ""}`.trim()])),
          expected: one.expected,
          found: foundText(result),
          compared: result?.compared ?? "",
        });
      });
    }
  return { cases, notProved: [...notProved].map(([property, sizes]) => ({ property, sizes })) };
}

const foundText = (result: Result | undefined): string =>
  result === undefined ? "no result" : result.counts ? (result.outcome ?? "no outcome") : `void: ${result.voidReason ?? ""}`;

/** One size inside each row of the tables: the tabulated one, or the edge that belongs to the row. */
function sizesOf({ data }: HeldSpecification): readonly Measure[] {
  const sizes = new Map<string, Measure>();
  for (const table of data.tables)
    for (const row of table.rows) {
      const text = row.size ?? row.upTo ?? row.from;
      if (text !== undefined) sizes.set(`${text} ${table.diameterUnit}`, { text, unit: table.diameterUnit });
    }
  return [...sizes.values()];
}

const ITEM = { order: "PROOF", item: "1" } as const;

/** A coil a case, each its own test unit, so that no case touches another. @returns the result of each, in order */
function judged(
  view: HeldSpecification,
  grade: string,
  nominalDiameter: Measure,
  wanted: readonly { readonly property: string; readonly one: ProveCase }[],
  today: string,
): readonly (Result | undefined)[] {
  const order: OrderItem = {
    ...ITEM,
    ...{ customer: "", specification: view.id, edition: view.edition, grade, nominalDiameter },
    ...{ documentType: "2.1", decisionRule: "simple", language: "en" },
  };
  const coils = wanted.map((_, i): Coil => ({ ...ITEM, coil: `P${i}`, heat: "PROOF", testUnit: `P${i}` }));
  const [verdict] = judge({
    orders: [order],
    coils,
    ...{ agreed: [], heats: [], instruments: [], unread: [], settlements: [] },
    tests: wanted.map(({ one }, i) => rowOf(one, i, today)),
    specifications: { find: () => view, list: () => [view] },
    isAdopted: () => true,
    ...{ today, freeLengthTolerance: "0.01" },
  }).orders;
  const byCoil = new Map(verdict?.coils.map((coil) => [coil.coil, coil]));
  return wanted.map(({ property }, i) => byCoil.get(`P${i}`)?.requirements.find((r) => r.property === property)?.results[0]);
}

function rowOf({ sheet, fields }: ProveCase, i: number, today: string): EntryRow {
  const row = i + 2;
  const cell = (text: string, unit?: string): FieldValue =>
    ({ text, raw: text, cell: `A${row}`, ...(unit === undefined ? {} : { unit }) }) as FieldValue;
  const own = Object.entries(fields).map(([name, { text, unit }]) => [name, cell(text, unit)] as const);
  return {
    ...{ sheet, sheetName: sheet, row, file: "" },
    fields: { testPiece: cell(`P${i}-1`), coil: cell(`P${i}`), date: cell(today), ...Object.fromEntries(own) },
  };
}
