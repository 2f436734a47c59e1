/** The order of set-ups in which the least is changed on the machines. */

/** What stands on a machine, tool by tool: free length, weights, speed, mandrel, radius. Empty text is nothing. */
export type Tooling = readonly string[];

/** Sets of tooling up to here are ordered by trying everything, more by improving an order until nothing is won. */
const EXACT_UP_TO = 11;

/** Tools that differ between two neighbours. */
export function changesBetween(a: Tooling, b: Tooling): number {
  let changes = 0;
  for (let i = 0; i < Math.max(a.length, b.length); i += 1) if ((a[i] ?? "") !== (b[i] ?? "")) changes += 1;
  return changes;
}

/** Changes along an order; the first set-up is free. */
export function totalChanges(order: readonly Tooling[]): number {
  return order.slice(1).reduce((sum, tooling, i) => sum + changesBetween(order[i] as Tooling, tooling), 0);
}

/**
 * The set-ups of one machine in the order of fewest tool changes; equal tooling stays together in the given order, and of
 * several best orders the one nearest to the given order is taken. Exact up to eleven different toolings.
 */
export function inChangeOrder<T>(setUps: readonly T[], toolingOf: (setUp: T) => Tooling): readonly T[] {
  const groups = new Map<string, { tooling: Tooling; members: T[] }>();
  for (const setUp of setUps) {
    const tooling = toolingOf(setUp);
    const key = JSON.stringify(tooling);
    const group = groups.get(key) ?? { tooling, members: [] };
    groups.set(key, group);
    group.members.push(setUp);
  }
  const list = [...groups.values()];
  const costs = list.map((a) => list.map((b) => changesBetween(a.tooling, b.tooling)));
  const path = list.length <= EXACT_UP_TO ? shortestPath(costs) : improvedPath(costs);
  return path.flatMap((index) => list[index]?.members ?? []);
}

type Costs = readonly (readonly number[])[];
const cost = (costs: Costs, a: number, b: number): number => costs[a]?.[b] ?? 0;

/** The open path over all places with the least cost, by the sets of places already passed. */
function shortestPath(costs: Costs): readonly number[] {
  const n = costs.length;
  if (n === 0) return [];
  const all = (1 << n) - 1;
  // rest[set][last]: the least cost still to come when `set` is passed and `last` was the last of it.
  const rest = Array.from({ length: all + 1 }, () => new Array<number>(n).fill(Number.POSITIVE_INFINITY));
  (rest[all] as number[]).fill(0);
  for (let set = all - 1; set > 0; set -= 1)
    for (let last = 0; last < n; last += 1) {
      if ((set & (1 << last)) === 0) continue;
      for (let next = 0; next < n; next += 1) {
        if ((set & (1 << next)) !== 0) continue;
        const through = cost(costs, last, next) + (rest[set | (1 << next)]?.[next] ?? 0);
        if (through < (rest[set]?.[last] ?? 0)) (rest[set] as number[])[last] = through;
      }
    }
  const places = Array.from({ length: n }, (_, i) => i);
  const best = Math.min(...places.map((first) => rest[1 << first]?.[first] ?? 0));
  let last = places.find((first) => rest[1 << first]?.[first] === best) ?? 0;
  const path = [last];
  let set = 1 << last;
  while (set !== all) {
    const wanted: number = rest[set]?.[last] ?? 0;
    const from = last;
    const passed = set;
    last =
      places.find(
        (next) => (passed & (1 << next)) === 0 && cost(costs, from, next) + (rest[passed | (1 << next)]?.[next] ?? 0) === wanted,
      ) ?? 0;
    set |= 1 << last;
    path.push(last);
  }
  return path;
}

/** Always the nearest next, then stretches are turned round while that saves a change. */
function improvedPath(costs: Costs): readonly number[] {
  const left = new Set(costs.keys());
  const path = [0];
  left.delete(0);
  while (left.size > 0) {
    const last = path.at(-1) ?? 0;
    let next = -1;
    for (const place of left) if (next < 0 || cost(costs, last, place) < cost(costs, last, next)) next = place;
    path.push(next);
    left.delete(next);
  }
  for (let better = true; better; ) {
    better = false;
    for (let i = 0; i < path.length - 1; i += 1)
      for (let j = i + 1; j < path.length; j += 1) {
        const [before, first, final, after] = [path[i - 1], path[i] ?? 0, path[j] ?? 0, path[j + 1]];
        const edge = (a: number | undefined, b: number | undefined): number => (a === undefined || b === undefined ? 0 : cost(costs, a, b));
        if (edge(before, final) + edge(first, after) >= edge(before, first) + edge(final, after)) continue;
        path.splice(i, j - i + 1, ...path.slice(i, j + 1).reverse());
        better = true;
      }
  }
  return path;
}
