/** How the question about an issued document ends: a named person confirms, amends or withdraws it. */

import type { OrderItem, OrderVerdict } from "../../core/model.ts";
import { COMMAND_RULES } from "../../core/quality/roles.ts";
import { canonicalContent } from "../../core/spec/index.ts";
import type { CertificateRecord } from "../../templates/certificate/record.ts";
import { propertyWord, words } from "../../templates/wording.ts";
import { RuleRefusal, UsageError } from "../errors.ts";
import { judgeItems } from "../judge-lab.ts";
import type { LedgerReader, LedgerTransaction } from "../ports/ledger.ts";
import { differencesBetween } from "../quality/question.ts";
import { standingOf } from "../quality/standing.ts";
import { requirePerson } from "../registers.ts";
import type { Workshop } from "../workshop.ts";
import {
  blockersOf,
  type Confirmation,
  type DocumentState,
  draftCertificate,
  isEnded,
  issueContext,
  recordOf,
  signDocument,
} from "./life.ts";

/** @throws UsageError where no certificate of that number was issued */
export async function issuedDocument(reader: LedgerReader, number: string): Promise<DocumentState> {
  const given = await reader.get<{ document: string }>("number", number);
  const document = given === undefined ? undefined : await reader.get<DocumentState>("document", given.document);
  if (document === undefined) throw new UsageError(`document ${number}: no document of this number was issued`);
  return document;
}

async function standingCertificate(reader: LedgerReader, number: string): Promise<DocumentState> {
  const document = await issuedDocument(reader, number);
  if (document.kind !== "certificate") throw new RuleRefusal(`document ${number} is a notice; "coilbook notice" is for those`);
  if (isEnded(document)) throw new RuleRefusal(endedText(document));
  return document;
}

/** Why a document that ended is no more. */
export const endedText = ({ number, status, withdrawnOn, withdrawnBy, replacedOn, replacedBy }: DocumentState): string =>
  status === "withdrawn"
    ? `document ${number} was withdrawn on ${withdrawnOn} by ${withdrawnBy}`
    : `document ${number} was replaced by ${replacedBy} on ${replacedOn}`;

export interface DocumentReason {
  readonly why: string;
  readonly by: string;
}

/** A person looked, and the document stands as it is. The same change is not asked again. */
export async function confirmDocument(workshop: Workshop, number: string, { why, by }: DocumentReason): Promise<DocumentState> {
  return workshop.ledger.transaction(by, async (tx) => {
    const person = await requirePerson(tx, by, COMMAND_RULES.confirm.roles, workshop.today());
    const document = await standingCertificate(tx, number);
    if (document.question === undefined) throw new RuleRefusal(`document ${number} is not in question`);
    const confirmation: Confirmation = {
      ...{ why, by: person.name, on: workshop.today() },
      differences: document.question.differences,
    };
    await tx.append({ kind: "document-confirmed", key: document.id, payload: confirmation });
    return (await tx.get<DocumentState>("document", document.id)) as DocumentState;
  });
}

/** Called back: it names no coil any more, and the signed list of the register says so. */
export async function withdrawDocument(workshop: Workshop, number: string, { why, by }: DocumentReason): Promise<DocumentState> {
  return workshop.ledger.transaction(by, async (tx) => {
    const person = await requirePerson(tx, by, COMMAND_RULES.withdraw.roles, workshop.today());
    const document = await standingCertificate(tx, number);
    const ended = { status: "withdrawn", withdrawnOn: workshop.today(), withdrawnBy: person.name, withdrawnWhy: why };
    await tx.append({ kind: "document-withdrawn", key: document.id, payload: ended });
    return (await tx.get<DocumentState>("document", document.id)) as DocumentState;
  });
}

export interface Amendment {
  readonly document: DocumentState;
  /** Coils of the old document that the new one does not name. */
  readonly leftOut: readonly string[];
}

/**
 * A new document with a number of its own that names the old one and says what changed. Coils that have something against them are left
 * out and told; the old one is replaced in the transaction that signs the new one, so a 3.2 document waits for its second party.
 * @source ISO/IEC 17025:2017, 7.8.8 (amendments to reports; memory)
 */
export async function amendDocument(
  workshop: Workshop,
  number: string,
  { why, by }: DocumentReason,
  wanted?: readonly string[],
): Promise<Amendment> {
  return workshop.ledger.transaction(by, async (tx) => {
    const person = await requirePerson(tx, by, COMMAND_RULES.amend.roles, workshop.today());
    const old = await standingCertificate(tx, number);
    const context = issueContext(workshop);
    const order = await tx.get<OrderItem>("order", old.owner);
    const verdict = (await judgeItems(tx, [old.owner], context.judging)).orders[0];
    if (order === undefined || verdict === undefined) throw new RuleRefusal(`document ${number}: its order ${old.owner} is not registered`);
    const strange = wanted?.find((coil) => !old.coils.includes(coil));
    if (strange !== undefined) throw new RuleRefusal(`coil ${strange} is not on document ${number}; it names ${old.coils.join(", ")}`);
    const coils = await coilsThatMay(tx, old, order, verdict, wanted, workshop.today());
    const issued = old.record as CertificateRecord;
    const record = await recordOf(tx, order, verdict, coils, context, issued.delivery);
    if (canonicalContent(record) === canonicalContent(issued))
      throw new RuleRefusal(`document ${number} says what is known now; "coilbook confirm ${number}" ends the question`);
    const leftOut = old.coils.filter((coil) => !coils.includes(coil));
    const replaces = { id: old.id, number, why: changeText(why, issued, record, leftOut) };
    const draft = await draftCertificate(tx, order, verdict, coils, context, issued.delivery, replaces);
    return { document: await signDocument(tx, draft.id, person, context, verdict), leftOut };
  });
}

async function coilsThatMay(
  tx: LedgerTransaction,
  old: DocumentState,
  order: OrderItem,
  verdict: OrderVerdict,
  wanted: readonly string[] | undefined,
  today: string,
): Promise<readonly string[]> {
  const standing = await standingOf(tx, old.owner, verdict, today);
  const blockers = (coils: readonly string[]) => blockersOf(order, verdict, coils, standing);
  const coils = wanted ?? old.coils.filter((coil) => blockers([coil]).every((blocker) => blocker.coil === undefined));
  const [first] = coils.length === 0 ? blockers(old.coils) : blockers(coils);
  if (first !== undefined)
    throw new RuleRefusal(`document ${old.number} cannot be amended: ${first.text} "coilbook withdraw" calls it back`);
  return coils;
}

/** The reason and every change, in the document's own language. */
function changeText(why: string, before: CertificateRecord, now: CertificateRecord, leftOut: readonly string[]): string {
  const say = words(before.language);
  const changes = differencesBetween({ ...before, rows: before.rows.filter((row) => !leftOut.includes(row.coil)) }, now);
  return [
    why,
    ...changes.map(({ coil, property, before: old, now: present }) =>
      say("document.changed", {
        ...{ coil, before: old, now: present },
        property: property === "" ? say("document.verdict") : propertyWord(say, property),
      }),
    ),
    ...(leftOut.length === 0 ? [] : [say("document.leftOut", { coils: leftOut.join(", ") })]),
  ].join("; ");
}
