import type { AgreedRequirement, Coil, EntryRow, Heat, InstrumentRange, JudgementInput, Settlement, UnreadRow } from "../model.ts";
import { inOrderOfDays } from "./results.ts";
import { text } from "./row.ts";

/** What the judgement is given, found by name, so that no list is walked once a coil. */
export interface JudgementIndex {
  readonly coilsByItem: ReadonlyMap<string, readonly Coil[]>;
  readonly coils: ReadonlyMap<string, Coil>;
  /** In the order of their days. */
  readonly rowsByCoil: ReadonlyMap<string, readonly EntryRow[]>;
  readonly heats: ReadonlyMap<string, readonly Heat[]>;
  readonly agreedByItem: ReadonlyMap<string, readonly AgreedRequirement[]>;
  readonly instruments: ReadonlyMap<string, readonly InstrumentRange[]>;
  unreadOf(coil: string, property: string): readonly UnreadRow[];
  settlementOf(coil: string, property: string): Settlement | undefined;
}

const SEPARATOR = "\u0000";
export const itemKey = (order: string, item: string): string => order + SEPARATOR + item;

export function indexOf(input: JudgementInput): JudgementIndex {
  const rowsByCoil = new Map<string, readonly EntryRow[]>();
  for (const [coil, rows] of groupBy(input.tests, (row) => text(row, "coil") ?? "")) rowsByCoil.set(coil, inOrderOfDays(rows));
  const unreadByCoil = groupBy(
    input.unread.filter((row) => row.coil !== undefined),
    (row) => row.coil ?? "",
  );
  // Rows whose coil could not be read hold every coil of their workbook; the caller gives only coils concerned.
  const anywhere = new Map<string, UnreadRow[]>();
  for (const row of input.unread) if (row.coil === undefined) for (const property of row.properties) push(anywhere, property, row);
  const settlements = new Map<string, Settlement>();
  for (const settlement of input.settlements) {
    const key = settlement.coil + SEPARATOR + settlement.property;
    if (!settlements.has(key)) settlements.set(key, settlement);
  }
  return {
    coilsByItem: groupBy(input.coils, (coil) => itemKey(coil.order, coil.item)),
    coils: new Map(input.coils.map((coil) => [coil.coil, coil])),
    rowsByCoil,
    heats: groupBy(input.heats, (heat) => heat.heat),
    agreedByItem: groupBy(input.agreed, (extra) => itemKey(extra.order, extra.item)),
    instruments: groupBy(input.instruments, (range) => range.instrument),
    unreadOf(coil, property) {
      const own = unreadByCoil.get(coil);
      const loose = anywhere.get(property);
      if (own === undefined) return loose ?? NOTHING;
      return [...own.filter((row) => row.properties.includes(property)), ...(loose ?? NOTHING)];
    },
    settlementOf: (coil, property) => (settlements.size === 0 ? undefined : settlements.get(coil + SEPARATOR + property)),
  };
}

const NOTHING: readonly UnreadRow[] = [];

/** Groups by key, in the order in which keys first appear. */
export function groupBy<T>(list: readonly T[], keyOf: (item: T) => string): ReadonlyMap<string, readonly T[]> {
  const groups = new Map<string, T[]>();
  for (const item of list) push(groups, keyOf(item), item);
  return groups;
}

function push<T>(groups: Map<string, T[]>, key: string, item: T): void {
  const group = groups.get(key);
  if (group === undefined) groups.set(key, [item]);
  else group.push(item);
}
