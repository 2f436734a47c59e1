/** Enters what a workbook says into the ledger: registers only grow, equal rows are no-ops, differing ones need a reason. */
import type { Registers } from "../core/entry/index.ts";
import { toUnread } from "../core/entry/index.ts";
import type { Entry, EntryRow, Finding, UnreadRow } from "../core/model.ts";
import { itemKey, type KeptRow, type KeptUnread } from "./judge-lab.ts";
import type { LedgerTransaction } from "./ports/ledger.ts";

/** One result is keyed by property (its sheet, purpose or name), test piece and position. */
export function rowKey(row: EntryRow): string {
  const part = (field: string): string => row.fields[field]?.text ?? "";
  return [
    row.sheet,
    part("testPiece"),
    part("position"),
    row.sheet === "wrap" ? part("purpose") : "",
    row.sheet === "other" ? part("property").replace(/^other:/, "") : "",
  ].join("|");
}

/** What a row says, without where it stands and why it was corrected. */
function content(row: EntryRow): string {
  const said = Object.entries(row.fields)
    .filter(([field, value]) => value !== undefined && !["remark", "correctionReason", "verdict", "why", "next"].includes(field))
    .map(([field, value]) => `${field}=${value?.atLeast ? ">" : ""}${value?.text} ${value?.unit ?? ""}`);
  return said.sort().join("\n");
}

export interface ComparedRows {
  /** Rows that say something the ledger does not hold yet. */
  readonly fresh: readonly EntryRow[];
  /** Rows that differ from the ledger without a reason: they give no result. */
  readonly conflicts: readonly UnreadRow[];
  readonly findings: readonly Finding[];
}

/** Rows of a workbook beside the kept ones of the same key. */
export function comparedWithKept(rows: readonly EntryRow[], kept: ReadonlyMap<string, EntryRow>): ComparedRows {
  const [fresh, conflicts, findings]: [EntryRow[], UnreadRow[], Finding[]] = [[], [], []];
  for (const row of rows) {
    const before = kept.get(rowKey(row));
    if (before !== undefined && content(before) === content(row)) continue;
    if (before === undefined || row.fields["correctionReason"] !== undefined) {
      fresh.push(row);
      continue;
    }
    const piece = row.fields["testPiece"];
    const cell = piece?.cell ?? `A${row.row}`;
    findings.push({
      code: "conflicting-result",
      severity: "error",
      sheet: row.sheetName,
      cell,
      actual: piece?.raw ?? "",
      expected: "the earlier reading, or a correctionReason",
      text: `Test piece ${piece?.text ?? ""} was entered before with other readings; give a correctionReason, or a new test piece.`,
    });
    conflicts.push(toUnread(row, [cell]));
  }
  return { fresh, conflicts, findings };
}

export async function registerAdded(tx: LedgerTransaction, added: Registers): Promise<void> {
  for (const order of added.orders) await tx.append({ kind: "order-registered", key: itemKey(order.order, order.item), payload: order });
  for (const agreed of added.agreed)
    await tx.append({
      kind: "agreed-registered",
      key: `${itemKey(agreed.order, agreed.item)}|${agreed.property}|${agreed.min ?? ""}|${agreed.max ?? ""}`,
      payload: agreed,
    });
  for (const coil of added.coils) await tx.append({ kind: "coil-registered", key: coil.coil, payload: coil });
  for (const heat of added.heats) await tx.append({ kind: "heat-registered", key: `${heat.heat}|${heat.analysis}`, payload: heat });
  const names = new Set(added.instruments.map((range) => range.instrument));
  for (const instrument of names)
    await tx.append({
      kind: "instrument-registered",
      key: instrument,
      payload: { instrument, ranges: added.instruments.filter((range) => range.instrument === instrument) },
    });
}

/**
 * Rows of one receipt. A row that differs from the ledger without a correctionReason gives no result and is returned as unread.
 * @param coils every coil the workbook speaks of: an unread row without a readable coil holds all of them back
 */
export async function recordRows(
  tx: LedgerTransaction,
  entry: Entry,
  fileName: string,
  coils: readonly string[],
): Promise<readonly Finding[]> {
  const kept = new Map<string, EntryRow>();
  for (const row of entry.tests) {
    const before = await tx.get<KeptRow>("row", rowKey(row));
    if (before !== undefined) kept.set(rowKey(row), before.row);
  }
  const { fresh, conflicts, findings } = comparedWithKept(entry.tests, kept);
  for (const row of fresh)
    await tx.append({ kind: "row-read", key: rowKey(row), payload: { coil: row.fields["coil"]?.text ?? "", row } satisfies KeptRow });
  await recordUnread(tx, [...entry.unread, ...conflicts], entry.tests, fileName, coils, new Set(conflicts));
  return findings;
}

/** The unread rows of this file name are replaced by what is unread now; a readable row of the same piece ends an unread one of any file. */
async function recordUnread(
  tx: LedgerTransaction,
  unread: readonly UnreadRow[],
  readable: readonly EntryRow[],
  fileName: string,
  coils: readonly string[],
  conflicts: ReadonlySet<UnreadRow>,
): Promise<void> {
  const now = new Map<string, KeptUnread>();
  for (const row of unread)
    for (const coil of row.coil === undefined ? coils : [row.coil])
      now.set(`${row.sheet}|${row.testPiece ?? `row ${row.row}`}|${coil}|${fileName}`, { coil, fileName, row });
  const conflicting = new Set([...conflicts].map((row) => `${row.sheet}|${row.testPiece ?? ""}`));
  const mended = new Set(
    readable.map((row) => `${row.sheet}|${row.fields["testPiece"]?.text ?? ""}`).filter((key) => !conflicting.has(key)),
  );
  for (const state of await tx.list<KeptUnread>("unread")) {
    const { row, fileName: from } = state.value;
    const gone =
      (from === fileName && !now.has(state.key)) ||
      (row.testPiece !== undefined && mended.has(`${row.sheet}|${row.testPiece}`) && !now.has(state.key));
    if (gone) await tx.append({ kind: "row-mended", key: state.key, payload: { by: fileName } });
  }
  for (const [key, value] of now) {
    const before = await tx.get<KeptUnread>("unread", key);
    if (before === undefined || JSON.stringify(before.row.cells) !== JSON.stringify(value.row.cells))
      await tx.append({ kind: "row-unread", key, payload: value });
  }
}
