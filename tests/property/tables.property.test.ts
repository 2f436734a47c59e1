/** The built-in tables as a whole: bands without gap or overlap, figures between sizes between those of their rows. */
import fc from "fast-check";
import { describe, expect, test } from "vitest";
import { builtInLibrary } from "../../core/spec/index.ts";
import { compareExact, exact, toDecimalText } from "./exact-helpers.ts";

const TABLES = builtInLibrary()
  .list()
  .flatMap((held) => held.data.tables.map((table, at) => ({ held, table, name: `${held.id} ${held.edition} ${table.property} ${at}` })));
type Table = (typeof TABLES)[number]["table"];
type Row = Table["rows"][number];

const gradesOf = (table: Table, all: readonly string[]): readonly string[] => table.grades ?? (all.length === 0 ? [""] : all);
const concerns = (row: Row, grade: string): boolean => row.grades === undefined || row.grades.includes(grade);

/** Edges as the standards print them, worked out apart from the product: integers of 0.00001. */
const units = (text: string): number => Math.round(Number(text) * 100_000);
const holds = (row: Row, d: number): boolean =>
  (row.over === undefined || d > units(row.over)) &&
  (row.from === undefined || d >= units(row.from)) &&
  (row.upTo === undefined || d <= units(row.upTo)) &&
  (row.below === undefined || d < units(row.below));
const edges = (row: Row): readonly number[] =>
  [row.over, row.from, row.upTo, row.below].flatMap((edge) => (edge === undefined ? [] : [units(edge)]));

describe("bands", () => {
  const bands = TABLES.filter(({ table }) => table.between === "bands" && table.rows.every((row) => row.size === undefined));
  test.for(bands.map((t) => [t.name, t] as const))(
    "%s: every size from the first edge to the last lies in exactly one row",
    ([, { held, table }]) => {
      for (const grade of gradesOf(table, held.grades)) {
        const rows = table.rows.filter((row) => concerns(row, grade));
        const all = rows.flatMap(edges).sort((a, b) => a - b);
        const [first, last] = [all[0], all.at(-1)];
        if (first === undefined || last === undefined) continue;
        // A table whose edges are printed with gaps says to how many places a diameter is rounded first.
        const grain = table.places === undefined ? 1 : 10 ** (5 - table.places);
        for (const edge of all)
          for (const d of [edge - grain, edge, edge + grain]) {
            const count = rows.filter((row) => holds(row, d)).length;
            expect(count, `${grade} at ${d / 100_000}`).toBeLessThanOrEqual(1);
            if (d > first && d < last) expect(count, `${grade} at ${d / 100_000}`).toBe(1);
          }
      }
    },
  );
});

describe("linear between sizes", () => {
  const linear = TABLES.filter(({ table }) => table.between === "linear");
  test.for(linear.map((t) => [t.name, t] as const))("%s: a figure between two sizes lies between theirs", ([, { held, table }]) => {
    for (const grade of gradesOf(table, held.grades)) {
      const rows = table.rows.filter((row) => concerns(row, grade) && !row.undecided).toSorted((a, b) => Number(a.size) - Number(b.size));
      const pairs = rows.slice(1).map((high, at) => [rows[at] as Row, high] as const);
      if (pairs.length === 0) continue;
      fc.assert(
        fc.property(fc.constantFrom(...pairs), fc.integer({ min: 0, max: 1000 }), ([low, high], share) => {
          const [a, b] = [units(low.size ?? ""), units(high.size ?? "")];
          const d = Math.round(a + ((b - a) * share) / 1000);
          const text = toDecimalText({ numerator: BigInt(d), denominator: 100_000n });
          let found: ReturnType<typeof held.select>;
          try {
            found = held.select(table.property, grade, { text, unit: table.diameterUnit });
          } catch {
            // Rows of another table of the property may leave a size to a person.
            return true;
          }
          return between(found.min, low.min, high.min) && between(found.max, low.max, high.max);
        }),
        { numRuns: 60 },
      );
    }
  });
});

function between(value: string | undefined, a: string | undefined, b: string | undefined): boolean {
  if (value === undefined || a === undefined || b === undefined) return true;
  const [low, high] = compareExact(exact(a), exact(b)) <= 0 ? [a, b] : [b, a];
  return compareExact(exact(value), exact(low)) >= 0 && compareExact(exact(value), exact(high)) <= 0;
}
