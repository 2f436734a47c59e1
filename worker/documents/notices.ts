/** Nonconformance notices: one for what is new among the failures of an order item. */
import type { OrderItem, OrderVerdict, Result } from "../../core/model.ts";
import { NOTICE_TEMPLATE, toNoticeRecord } from "../../templates/notice/record.ts";
import { sha256 } from "../files.ts";
import type { LedgerTransaction } from "../ports/ledger.ts";
import { standingOf } from "../quality/standing.ts";
import { type Difference, type DocumentState, type IssueContext, issue, labParty, safeOwner } from "./life.ts";

export interface NoticeState {
  readonly owner: string;
  /** The failing results and the questions it stands for. */
  readonly facts: readonly string[];
  readonly document: string;
  readonly number: string;
  readonly coils: readonly string[];
  /** `YYYY-MM-DD` */
  readonly raisedOn: string;
  readonly audience?: "customer";
  /** Absent: raised. */
  readonly status?: "contained" | "decided" | "closed";
  readonly contained?: { readonly coils: readonly string[]; readonly why: string; readonly by: string; readonly on: string };
  readonly decisions?: readonly Decision[];
  readonly answerBy?: string;
  readonly closed?: { readonly why: string; readonly by: string; readonly on: string };
}

/** What a named person decided about coils of a notice. @source ISO 9001:2015, 8.7.1 and 8.7.2 (memory) */
export interface Decision {
  readonly decision: "scrap" | "concession" | "regrade" | "retest" | "return" | "release";
  readonly coils: readonly string[];
  readonly why: string;
  readonly by: string;
  readonly on: string;
  /** Of a concession: the customer's own. */
  readonly reference?: string;
  /** Of a regrade: specification, edition and grade, and how near each coil comes to its limits. */
  readonly regrade?: { readonly specification: string; readonly edition: string; readonly grade: string; readonly margins: object };
}

/** A document whose content is not so any more, with what is new since it was last looked at. */
export interface Questioned {
  readonly number: string;
  readonly differences: readonly Difference[];
  /** Times a person let it stand before: a new question after that is a fact of its own. */
  readonly round: number;
}

const questionKey = ({ number, round }: Questioned, { coil, property }: Difference): string =>
  ["document", number, coil, property, round].join("|");

const isFailing = (result: Result): boolean => result.counts && result.outcome === "does-not-conform";

/** One failing result: the piece and where on it, so that another piece of the same coil is a failure of its own. */
const failureKey = (coil: string, property: string, { testPiece, position }: Result): string =>
  [coil, property, testPiece, position ?? ""].join("|");

/**
 * One notice for everything that is new: failing results, and documents that became questionable. What stands under a notice never
 * raises another, however often its workbook comes again. Where wire of it has left, it is the customer's.
 * @returns the number
 */
export async function raiseNotice(
  tx: LedgerTransaction,
  order: OrderItem,
  verdict: OrderVerdict,
  context: IssueContext,
  questioned: readonly Questioned[] = [],
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
  const documents = questioned.flatMap((question) =>
    question.differences
      .filter((difference) => !known.has(questionKey(question, difference)))
      .map((difference) => ({ number: question.number, ...difference, key: questionKey(question, difference) })),
  );
  if (fresh.length === 0 && documents.length === 0) return undefined;
  const coils = [...new Set([...fresh, ...documents].map(({ coil }) => coil))].sort();
  const { shipped } = await standingOf(tx, owner, verdict, context.judging.today);
  const audience = coils.some((coil) => shipped.has(coil)) ? { audience: "customer" as const } : {};
  const record = toNoticeRecord(order, verdict, fresh, labParty(context.settings), {
    ...audience,
    ...(documents.length === 0 ? {} : { documents: documents.map(({ key: _, ...document }) => document) }),
  });
  const facts = [...fresh.flatMap(({ failures }) => failures), ...documents.map(({ key }) => key)];
  // Named by what it is about, so that a draft never needs the number that comes after it.
  const id = `${safeOwner(owner)}.notice-${sha256(facts.join("\n")).slice(0, 12)}`;
  const draft: DocumentState = { id, owner, kind: "notice", status: "draft", coils, record: { ...record, held: coils } };
  await tx.append({ kind: "document-drafted", key: id, payload: draft });
  const { number = "", issuedOn = "" } = await issue(tx, draft, [], NOTICE_TEMPLATE, context);
  const raised: NoticeState = { owner, facts, document: id, number, coils, raisedOn: issuedOn, ...audience };
  await tx.append({ kind: "notice-raised", key: number, payload: raised });
  return number;
}
