/** Nonconformance notices: one for what is new among the failures of an order item. */
import type { OrderItem, OrderVerdict, Result } from "../../core/model.ts";
import { NOTICE_TEMPLATE, toNoticeRecord } from "../../templates/notice/record.ts";
import { sha256 } from "../files.ts";
import type { LedgerTransaction } from "../ports/ledger.ts";
import { type DocumentState, type IssueContext, issue, labParty, safeOwner } from "./life.ts";

interface NoticeState {
  readonly owner: string;
  /** The failing results it stands for. */
  readonly facts: readonly string[];
  readonly document: string;
  readonly number: string;
}

const isFailing = (result: Result): boolean => result.counts && result.outcome === "does-not-conform";

/** One failing result: the piece and where on it, so that another piece of the same coil is a failure of its own. */
const failureKey = (coil: string, property: string, { testPiece, position }: Result): string =>
  [coil, property, testPiece, position ?? ""].join("|");

/** A failing result that stands under a notice never raises another, however often its workbook comes again. @returns the number */
export async function raiseNotice(
  tx: LedgerTransaction,
  order: OrderItem,
  verdict: OrderVerdict,
  context: IssueContext,
): Promise<string | undefined> {
  const owner = `${order.order}/${order.item}`;
  const known = new Set((await tx.list<NoticeState>("notice", owner)).flatMap((state) => state.value.facts));
  const fresh = verdict.coils.flatMap((coil) =>
    coil.requirements
      .filter((r) => r.verdict === "does-not-conform")
      .map((r) => ({
        coil: coil.coil,
        property: r.property,
        failures: r.results.filter(isFailing).map((result) => failureKey(coil.coil, r.property, result)),
      }))
      .filter(({ failures }) => failures.some((failure) => !known.has(failure))),
  );
  if (fresh.length === 0) return undefined;
  const record = toNoticeRecord(order, verdict, fresh, labParty(context.settings));
  const facts = fresh.flatMap(({ failures }) => failures);
  // Named by what it is about, so that a draft never needs the number that comes after it.
  const id = `${safeOwner(owner)}.notice-${sha256(facts.join("\n")).slice(0, 12)}`;
  const draft: DocumentState = { id, owner, kind: "notice", status: "draft", coils: record.held, record };
  await tx.append({ kind: "document-drafted", key: id, payload: draft });
  const { number = "" } = await issue(tx, draft, [], NOTICE_TEMPLATE, context);
  await tx.append({ kind: "notice-raised", key: number, payload: { owner, facts, document: id, number } satisfies NoticeState });
  return number;
}
