/** Late changes: issued documents whose content is not so any more are put in question, in the transaction that keeps the new verdict. */
import type { OrderItem, OrderVerdict } from "../../core/model.ts";
import { canonicalContent } from "../../core/spec/index.ts";
import type { CertificateCell, CertificateRecord, CertificateRequirement, CertificateRow } from "../../templates/certificate/record.ts";
import { type Difference, type DocumentState, type IssueContext, isEnded, recordOf } from "../documents/life.ts";
import type { Questioned } from "../documents/notices.ts";
import type { LedgerTransaction } from "../ports/ledger.ts";

/** Ink before words, so that a difference reads alike in every language. */
const SHAPES: Readonly<Record<string, string>> = { conforms: "■", "does-not-conform": "✕" };
const shape = (outcome: string): string => SHAPES[outcome] ?? "□";

/**
 * Every document of the item that would say something else now: verdicts and outcomes, printed figures that were corrected, limits, and
 * an adoption that a 3.1 or 3.2 document rests on. A difference that a person let stand is not asked again.
 * @returns the documents whose question is new or another
 */
export async function questionDocuments(
  tx: LedgerTransaction,
  order: OrderItem,
  verdict: OrderVerdict,
  context: IssueContext,
): Promise<readonly Questioned[]> {
  const questioned: Questioned[] = [];
  for (const { key, value } of await tx.list<DocumentState>("document", `${order.order}/${order.item}`)) {
    if (value.kind !== "certificate" || value.number === undefined || isEnded(value)) continue;
    const issued = value.record as CertificateRecord;
    const current = await recordOf(tx, order, verdict, value.coils, context, issued.delivery);
    const differences = differencesBetween(issued, current);
    const known = value.question?.differences ?? value.confirmations?.at(-1)?.differences ?? [];
    // What turned back while a person is asked is still for the person to end.
    if (differences.length === 0 || canonicalContent(differences) === canonicalContent(known)) continue;
    const since = value.question?.since ?? context.now.toISOString();
    await tx.append({ kind: "document-questioned", key, payload: { status: "in-question", question: { since, differences } } });
    questioned.push({ number: value.number, differences, round: value.confirmations?.length ?? 0 });
  }
  return questioned;
}

/** What an issued record says and the record of now does not. More pieces of the same outcome change nothing it says. */
export function differencesBetween(issued: CertificateRecord, current: CertificateRecord): readonly Difference[] {
  const rows = new Map(current.rows.map((row) => [row.coil, row]));
  return issued.rows.flatMap((row): readonly Difference[] => {
    const now = rows.get(row.coil);
    if (now === undefined) return [{ coil: row.coil, property: "", before: shape(row.verdict), now: "–" }];
    const own = issued.requirements.flatMap((requirement, i) => columnDifference(row, now, requirement, row.cells[i], issued, current));
    if (own.length > 0 || row.verdict === now.verdict) return own;
    return [{ coil: row.coil, property: "", before: shape(row.verdict), now: shape(now.verdict) }];
  });
}

function columnDifference(
  row: CertificateRow,
  now: CertificateRow,
  requirement: CertificateRequirement,
  cell: CertificateCell | null | undefined,
  issued: CertificateRecord,
  current: CertificateRecord,
): readonly Difference[] {
  const { property } = requirement;
  const at = current.requirements.findIndex((r) => r.property === property && r.agreedIn === requirement.agreedIn);
  const asked = current.requirements[at];
  const told = (before: string, after: string): readonly Difference[] => [{ coil: row.coil, property, before, now: after }];
  if (asked === undefined) return told(limitWords(requirement), "–");
  if (limitWords(requirement) !== limitWords(asked)) return told(limitWords(requirement), limitWords(asked));
  const specific = issued.type === "3.1" || issued.type === "3.2";
  const [before, after] = [cell ?? undefined, now.cells[at] ?? undefined];
  if (isOther(before, after)) return told(cellWords(before), cellWords(after));
  if (specific && requirement.rule.adopted && !asked.rule.adopted) return told(adoption(requirement), adoption(asked));
  return [];
}

function isOther(before: CertificateCell | undefined, now: CertificateCell | undefined): boolean {
  // A coil that stood on its test unit and has results of its own now says more, not something else, as long as they conform.
  if (before === undefined) return now !== undefined && now.outcome !== "conforms";
  if (now === undefined) return true;
  return (
    before.outcome !== now.outcome || (before.pieces === now.pieces && (before.value !== now.value || before.compared !== now.compared))
  );
}

const cellWords = (cell: CertificateCell | undefined): string =>
  cell === undefined ? "–" : `${cell.compared} ${shape(cell.outcome)}`.trim();

const adoption = ({ rule }: CertificateRequirement): string => `${rule.specification}:${rule.edition} ${rule.adopted ? "■" : "□"}`;

const limitWords = ({ min, max, unit, word, conditions }: CertificateRequirement): string =>
  [
    ...(min === undefined ? [] : [`≥ ${min}`]),
    ...(max === undefined ? [] : [`≤ ${max}`]),
    unit,
    ...(word === undefined ? [] : [word]),
    ...Object.entries(conditions).map(([name, value]) => `${name} ${typeof value === "string" ? value : `${value.text} ${value.unit}`}`),
  ]
    .filter((text) => text !== "")
    .join(" ");
