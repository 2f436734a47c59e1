import { compareExact, exact } from "../decimal.ts";
import type { Provenance } from "../model.ts";
import { builtInLibrary, type HeldLibrary, type HeldSpecification } from "./library.ts";
import { aboutText, limitsText, rulesText, sizeText, wordsOf } from "./row-text.ts";
import type { SpecificationData, Table } from "./schema.ts";

/** From the smallest to the largest diameter a specification's tables name; an end is left out where they have none. */
export interface SizeRange {
  readonly unit: "mm" | "in";
  readonly from?: string;
  readonly upTo?: string;
}

/** One specification in a list: what it is, what it answers for, and how far its figures can be trusted. */
export interface SpecificationSummary {
  readonly id: string;
  readonly edition: string;
  readonly title: string;
  /** Empty where it has one only. */
  readonly grades: readonly string[];
  readonly properties: readonly string[];
  /** One for each unit system in which there are tables. */
  readonly sizes: readonly SizeRange[];
  /** Count of rows by where they come from, chemistry included. */
  readonly rows: Readonly<Record<Provenance, number>>;
  /** The same count of the rules beside the rows: what holds between sizes, and the free or gauge length. */
  readonly rules: Readonly<Record<Provenance, number>>;
}

/** Every specification held, in the order of the library. */
export const describeLibrary = (library: HeldLibrary = builtInLibrary()): readonly SpecificationSummary[] => library.list().map(describe);

function describe({ id, edition, title, grades, properties, data }: HeldSpecification): SpecificationSummary {
  const rows = countByProvenance([...data.tables.flatMap((table) => table.rows), ...data.chemistry].map((row) => row.provenance));
  const rules = countByProvenance(data.tables.flatMap((t) => [t.betweenProvenance, t.freeLength?.provenance, t.gaugeLength?.provenance]));
  const sizes = (["mm", "in"] as const).flatMap((unit) => sizeRange(data.tables, unit) ?? []);
  return { id, edition, title, grades, properties, sizes, rows, rules };
}

function countByProvenance(list: readonly (Provenance | undefined)[]): Record<Provenance, number> {
  const counts: Record<Provenance, number> = { read: 0, memory: 0, own: 0 };
  for (const provenance of list) if (provenance !== undefined) counts[provenance] += 1;
  return counts;
}

function sizeRange(all: readonly Table[], unit: "mm" | "in"): SizeRange | undefined {
  const rows = all.filter((table) => table.diameterUnit === unit).flatMap((table) => table.rows);
  if (rows.length === 0) return undefined;
  // A row without an end of its own ("up to 0.09 mm", "all sizes") says nothing about where the specification ends.
  const starts = rows.flatMap((row) => row.size ?? row.from ?? row.over ?? []).sort(ascending);
  const ends = rows.flatMap((row) => row.size ?? row.upTo ?? row.below ?? []).sort(ascending);
  const [from, upTo] = [starts[0], ends.at(-1)];
  return { unit, ...(from === undefined ? {} : { from }), ...(upTo === undefined ? {} : { upTo }) };
}

const ascending = (a: string, b: string): number => compareExact(exact(a), exact(b));

/**
 * The tables of a specification as lines for people, provenance in every line.
 * @param rows every row too, else a line a table
 */
export function tableText(data: SpecificationData, rows: boolean): readonly string[] {
  const of = (grades: readonly string[] | undefined): string => (grades === undefined ? "" : `${grades.join(" ")}: `);
  return [
    ...data.tables.flatMap((table) => [
      `${table.property}, ${table.clause}, ${rulesText(table)}: ${rowCount(table.rows)}, ${countWords(table.rows)}`,
      ...(rows
        ? table.rows.map(
            (row) =>
              `  ${of(row.grades ?? table.grades)}${sizeText(row, table.diameterUnit)}: ${row.undecided ? "undecided" : limitsText(row, table.unit)} (${aboutText(row)})`,
          )
        : []),
    ]),
    ...(data.chemistry.length === 0 ? [] : [`heat analysis: ${rowCount(data.chemistry)}, ${countWords(data.chemistry)}`]),
    ...(rows ? data.chemistry.map((row) => `  ${of(row.grades)}${row.element}: ${limitsText(row, "%")} (${aboutText(row)})`) : []),
    ...(data.sampling === undefined ? [] : [`sampling: ${wordsOf(data.sampling).trim()}`]),
    ...data.retest.map((rule) => `retest: ${rule.properties.join(", ")}: ${rule.pieces} pieces, ${rule.mustConform} (${rule.provenance})`),
  ];
}

const rowCount = (rows: readonly unknown[]): string => (rows.length === 1 ? "1 row" : `${rows.length} rows`);

function countWords(list: readonly { readonly provenance: Provenance }[]): string {
  const counts = countByProvenance(list.map((row) => row.provenance));
  const words = { read: "read", memory: "from memory", own: "own" } as const;
  return (["read", "own", "memory"] as const).flatMap((kind) => (counts[kind] === 0 ? [] : [`${counts[kind]} ${words[kind]}`])).join(", ");
}
