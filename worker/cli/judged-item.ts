import type { OrderItem, OrderVerdict } from "../../core/model.ts";
import { UsageError } from "../errors.ts";
import { itemKey } from "../judge-lab.ts";
import type { LedgerReader } from "../ports/ledger.ts";

/** The one item that a command speaks of, and what it was judged. @throws UsageError where it is unknown, several, or not judged yet */
export async function judgedItem(
  reader: LedgerReader,
  order: string,
  item: string | undefined,
): Promise<{ order: OrderItem; verdict: OrderVerdict }> {
  const items = (await reader.list<OrderItem>("order"))
    .map((state) => state.value)
    .filter((o) => o.order === order && (item === undefined || o.item === item));
  if (items.length === 0)
    throw new UsageError(
      `order ${order}${item === undefined ? "" : ` item ${item}`}: is not registered; "coilbook order list" names what is`,
    );
  if (items.length > 1) throw new UsageError(`order ${order}: has the items ${items.map((o) => o.item).join(", ")}; name one with --item`);
  const [found] = items as [OrderItem];
  const kept = await reader.get<{ verdict: OrderVerdict }>("verdict", itemKey(found.order, found.item));
  if (kept === undefined)
    throw new UsageError(`order ${order} item ${found.item}: nothing was judged yet; drop its workbook and run "coilbook work"`);
  return { order: found, verdict: kept.verdict };
}
