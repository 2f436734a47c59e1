/** What the ledger knows, as input of the judgement. */
import type { Registers } from "../core/entry/index.ts";
import { judge } from "../core/judge/index.ts";
import type {
  AgreedRequirement,
  Coil,
  EntryRow,
  Heat,
  InstrumentRange,
  Judgement,
  JudgementInput,
  OrderItem,
  Settlement,
  UnreadRow,
} from "../core/model.ts";
import type { HeldLibrary } from "../core/spec/index.ts";
import type { LedgerReader, State } from "./ports/ledger.ts";
import { adoptionOf } from "./specifications.ts";

export const itemKey = (order: string, item: string): string => `${order}/${item}`;

/** A row as the ledger keeps it. */
export interface KeptRow {
  readonly coil: string;
  readonly row: EntryRow;
}
export interface KeptUnread {
  readonly coil: string;
  readonly fileName: string;
  readonly row: UnreadRow;
}

const values = <T>(states: readonly State<T>[]): readonly T[] => states.map((state) => state.value);

export async function readRegisters(reader: LedgerReader): Promise<Registers> {
  return {
    orders: values(await reader.list<OrderItem>("order")),
    agreed: values(await reader.list<AgreedRequirement>("agreed")),
    coils: values(await reader.list<Coil>("coil")),
    heats: values(await reader.list<Heat>("heat")),
    instruments: values(await reader.list<{ instrument: string; ranges: readonly InstrumentRange[] }>("instrument")).flatMap(
      (entry) => entry.ranges,
    ),
  };
}

export interface JudgeLabOptions {
  readonly library: HeldLibrary;
  readonly today: string;
  readonly freeLengthTolerance: string;
}

/** Everything the ledger knows of the given order items. */
export async function loadJudgementInput(
  reader: LedgerReader,
  items: readonly string[],
  options: JudgeLabOptions,
): Promise<JudgementInput> {
  const orders: OrderItem[] = [];
  const coils: Coil[] = [];
  const agreed: AgreedRequirement[] = [];
  const tests: EntryRow[] = [];
  const unread: UnreadRow[] = [];
  const settlements: Settlement[] = [];
  for (const key of items) {
    const order = await reader.get<OrderItem>("order", key);
    if (order === undefined) continue;
    orders.push(order);
    agreed.push(...values(await reader.list<AgreedRequirement>("agreed", key)));
    for (const coil of values(await reader.list<Coil>("coil", key))) {
      coils.push(coil);
      const rows = await earlierRows(reader, [coil.coil]);
      tests.push(...rows.tests);
      unread.push(...rows.unread);
      settlements.push(...rows.settlements);
    }
  }
  const heats: Heat[] = [];
  for (const name of new Set(coils.map((coil) => coil.heat))) heats.push(...values(await reader.list<Heat>("heat", name)));
  const instruments = values(await reader.list<{ ranges: readonly InstrumentRange[] }>("instrument")).flatMap((entry) => entry.ranges);
  return {
    orders,
    agreed,
    coils,
    heats,
    instruments,
    tests,
    unread,
    settlements,
    specifications: options.library,
    isAdopted: await adoptionOf(reader, options.library),
    today: options.today,
    freeLengthTolerance: options.freeLengthTolerance,
  };
}

export async function judgeItems(reader: LedgerReader, items: readonly string[], options: JudgeLabOptions): Promise<Judgement> {
  return judge(await loadJudgementInput(reader, items, options));
}

/** What the ledger holds of these coils. */
export async function earlierRows(
  reader: LedgerReader,
  coils: readonly string[],
): Promise<Pick<JudgementInput, "tests" | "unread" | "settlements">> {
  const tests: EntryRow[] = [];
  const unread: UnreadRow[] = [];
  const settlements: Settlement[] = [];
  for (const coil of coils) {
    tests.push(...values(await reader.list<KeptRow>("row", coil)).map((kept) => kept.row));
    unread.push(...values(await reader.list<KeptUnread>("unread", coil)).map((kept) => ({ ...kept.row, coil })));
    settlements.push(...values(await reader.list<Settlement>("settlement", coil)));
  }
  return { tests, unread, settlements };
}
