import fc from "fast-check";
import { describe, expect, it } from "vitest";
import { changesBetween, inChangeOrder, type Tooling, totalChanges } from "../../../core/setup/change-order.ts";

function* permutations<T>(items: readonly T[]): Generator<readonly T[]> {
  if (items.length === 0) yield [];
  for (const [i, item] of items.entries())
    for (const rest of permutations([...items.slice(0, i), ...items.slice(i + 1)])) yield [item, ...rest];
}

const tooling = fc.tuple(
  fc.constantFrom("100 mm", "200 mm", "300 mm"),
  fc.constantFrom("", "2 mm", "3 mm"),
  fc.constantFrom("A", "A+B", "C"),
  fc.constantFrom("", "30", "60"),
);

describe("the order of fewest changes", () => {
  it("is as good as the best of all orders (brute force, up to six set-ups)", () => {
    fc.assert(
      fc.property(fc.array(tooling, { minLength: 1, maxLength: 6 }), (setUps) => {
        const least = Math.min(...[...permutations<Tooling>(setUps)].map(totalChanges));
        expect(totalChanges(inChangeOrder<Tooling>(setUps, (t) => t))).toBe(least);
      }),
      { numRuns: 150, seed: 20260302 },
    );
  });

  it("keeps every set-up once, and equal tooling together in the given order, however many there are", () => {
    fc.assert(
      fc.property(fc.array(tooling, { minLength: 0, maxLength: 60 }), (list) => {
        const setUps = list.map((tools, id) => ({ tools, id }));
        const ordered = inChangeOrder(setUps, ({ tools }) => tools);
        expect(ordered.map(({ id }) => id).toSorted((a, b) => a - b)).toEqual(setUps.map(({ id }) => id));
        const seen = new Set<string>();
        let last = "";
        for (const { tools } of ordered) {
          const key = JSON.stringify(tools);
          expect(key === last || !seen.has(key)).toBe(true);
          seen.add(key);
          last = key;
        }
        expect(totalChanges(ordered.map(({ tools }) => tools))).toBeLessThanOrEqual(totalChanges(list));
      }),
      { numRuns: 60, seed: 20260302 },
    );
  });

  it.each([
    { order: ["b", "a"], tools: { a: ["1"], b: ["2"] }, expected: ["b", "a"] },
    // a and c share their weights, b shares nothing: b goes to an end.
    { order: ["a", "b", "c"], tools: { a: ["1", "x"], b: ["9", "y"], c: ["2", "x"] }, expected: ["a", "c", "b"] },
  ])("of equally good orders the one nearest to the given: $order", ({ order, tools, expected }) => {
    expect(inChangeOrder(order, (name) => tools[name as keyof typeof tools] ?? [])).toEqual(expected);
  });

  it("counts a tool that is taken away or put on as one change", () => {
    expect(changesBetween(["200 mm", "A"], ["200 mm", ""])).toBe(1);
    expect(changesBetween(["200 mm"], ["200 mm", "A"])).toBe(1);
    expect(changesBetween(["200 mm", "A"], ["100 mm", "B"])).toBe(2);
  });
});
