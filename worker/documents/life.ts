/** The life of a document: draft, signed with its number in one transaction, written. A number is never used again. */
import type { Coil, Heat, OrderItem, OrderVerdict } from "../../core/model.ts";
import { canonicalContent } from "../../core/spec/index.ts";
import { CERTIFICATE_TEMPLATE, type CertificateRecord, type LabParty, toCertificateRecord } from "../../templates/certificate/record.ts";
import { NOTICE_TEMPLATE, type NoticeRecord, toNoticeRecord } from "../../templates/notice/record.ts";
import { dayIn } from "../clock.ts";
import { RuleRefusal } from "../errors.ts";
import { sha256 } from "../files.ts";
import type { LedgerReader, LedgerTransaction } from "../ports/ledger.ts";
import { type Person, requirePerson } from "../registers.ts";
import type { Settings } from "../settings/settings.ts";

export interface DocumentState {
  readonly id: string;
  /** The order item it belongs to. */
  readonly owner: string;
  readonly kind: "certificate" | "notice";
  readonly status: "draft" | "signed" | "failed";
  readonly coils: readonly string[];
  readonly record: CertificateRecord | NoticeRecord;
  readonly number?: string;
  readonly issuedOn?: string;
  readonly signedBy?: readonly string[];
  readonly reason?: string;
  readonly written?: Readonly<Record<string, { readonly path: string; readonly sha256: string }>>;
}

export interface Blocker {
  readonly code: string;
  readonly coil?: string;
  readonly text: string;
  /** The role that can clear it. */
  readonly who: string;
}

export interface IssueContext {
  readonly settings: Settings;
  readonly now: Date;
}

const labParty = (settings: Settings): LabParty => ({ name: settings.lab.name, address: settings.lab.address });

/** Everything that stands between these coils and a document, at once. */
export function blockersOf(order: OrderItem, verdict: OrderVerdict, coils: readonly string[]): readonly Blocker[] {
  const blockers: Blocker[] = [];
  for (const name of coils) {
    const coil = verdict.coils.find((c) => c.coil === name);
    if (coil === undefined) {
      blockers.push({
        code: "unknown-coil",
        coil: name,
        text: `Coil ${name} does not belong to order ${order.order} item ${order.item}.`,
        who: "clerk",
      });
      continue;
    }
    if (coil.verdict === "conforms") continue;
    for (const requirement of coil.requirements.filter((r) => r.verdict !== "conforms")) {
      const steps = requirement.next.map((step) => step.text).join(" ");
      blockers.push({
        code: requirement.verdict,
        coil: name,
        text: `Coil ${name}: ${requirement.property} ${requirement.verdict}${requirement.reason ? ` (${requirement.reason})` : ""}. ${steps}`.trim(),
        who:
          requirement.next[0]?.who ?? (requirement.verdict === "not-tested" || requirement.verdict === "retest-due" ? "bench" : "quality"),
      });
    }
  }
  if (coils.length === 0)
    blockers.push({ code: "no-coils", text: `Order ${order.order} item ${order.item} has no coil to write a document for.`, who: "clerk" });
  if (order.documentType === "3.1" || order.documentType === "3.2") {
    const open = new Set(
      verdict.coils.flatMap((c) =>
        c.requirements
          .filter((r) => !r.requirement.rule.adopted)
          .map((r) => `${r.requirement.rule.specification}:${r.requirement.rule.edition}`),
      ),
    );
    for (const name of open)
      blockers.push({
        code: "not-adopted",
        text: `The limits of ${name} are not adopted; a ${order.documentType} document waits for that.`,
        who: "quality",
      });
  }
  return blockers;
}

/** Coils that no document names yet. */
export async function undocumentedCoils(reader: LedgerReader, owner: string, coils: readonly string[]): Promise<readonly string[]> {
  const documents = (await reader.list<DocumentState>("document", owner))
    .map((state) => state.value)
    .filter((d) => d.kind === "certificate");
  const named = new Set(documents.flatMap((d) => d.coils));
  return coils.filter((coil) => !named.has(coil));
}

/** A draft for the coils given; the existing one where the content is the same. */
export async function draftCertificate(
  tx: LedgerTransaction,
  order: OrderItem,
  verdict: OrderVerdict,
  coilNames: readonly string[],
  context: IssueContext,
  delivery?: string,
): Promise<DocumentState> {
  const owner = `${order.order}/${order.item}`;
  const wanted = new Set(coilNames);
  const coils = (await tx.list<Coil>("coil", owner)).map((state) => state.value).filter((coil) => wanted.has(coil.coil));
  const heats: Heat[] = [];
  for (const name of new Set(coils.map((coil) => coil.heat)))
    heats.push(...(await tx.list<Heat>("heat", name)).map((state) => state.value));
  const customer = await tx.get<{ name: string; address?: readonly string[] }>("customer", order.customer);
  const record = toCertificateRecord({
    order,
    verdict,
    coils,
    heats,
    lab: labParty(context.settings),
    customer: { name: customer?.name ?? order.customer, address: customer?.address ?? [] },
    ...(delivery === undefined ? {} : { delivery }),
  });
  const id = `${safeOwner(owner)}.${sha256(canonicalContent(record)).slice(0, 12)}`;
  const before = await tx.get<DocumentState>("document", id);
  if (before !== undefined) return before;
  const draft: DocumentState = { id, owner, kind: "certificate", status: "draft", coils: coils.map((coil) => coil.coil), record };
  await tx.append({ kind: "document-drafted", key: id, payload: draft });
  return draft;
}

const safeOwner = (owner: string): string => owner.replaceAll(/[^A-Za-z0-9-]/g, "_");

/**
 * Gives the number and the day, and asks for the files. 3.1 and 3.2 want a person of the role quality who did not test.
 * @throws RuleRefusal with one plain sentence
 */
export async function signDocument(tx: LedgerTransaction, id: string, signer: Person, context: IssueContext): Promise<DocumentState> {
  const draft = await tx.get<DocumentState>("document", id);
  if (draft === undefined) throw new RuleRefusal(`draft ${id}: not known; "coilbook certificate" makes drafts and lists them`);
  if (draft.status !== "draft") throw new RuleRefusal(`draft ${id}: is signed already as ${draft.number}`);
  const record = draft.record as CertificateRecord;
  await checkSigner(tx, draft, record, signer);
  const signers = [...(draft.signedBy ?? []), signer.name];
  if (record.type === "3.2" && signers.length < 2) {
    await tx.append({ kind: "document-drafted", key: id, payload: { ...draft, signedBy: signers } });
    return { ...draft, signedBy: signers };
  }
  const given = await nextNumber(tx, context);
  const signed = {
    number: given.number,
    series: given.series,
    counter: given.counter,
    issuedOn: dayIn(context.settings.timeZone, context.now),
    issuedAt: context.now.toISOString(),
    signedBy: signers,
    status: "signed" as const,
    template: CERTIFICATE_TEMPLATE,
    language: record.language,
  };
  await tx.append({ kind: "document-signed", key: id, payload: signed });
  for (const format of context.settings.documents.formats)
    await tx.enqueue({ job: "render-document", key: `render|${id}|${format}`, payload: { document: id, format } });
  return { ...draft, ...signed };
}

async function checkSigner(tx: LedgerTransaction, draft: DocumentState, record: CertificateRecord, signer: Person): Promise<void> {
  const specific = record.type === "3.1" || record.type === "3.2";
  if (!signer.roles.includes("quality") && (specific || !signer.roles.includes("sales")))
    throw new RuleRefusal(
      `${signer.name} has the roles ${signer.roles.join(", ")}; a ${record.type} document is signed by quality${specific ? "" : " or sales"}`,
    );
  if (!specific) return;
  const open = record.notes.find((note) => note.kind === "not-adopted");
  if (open !== undefined && open.kind === "not-adopted")
    throw new RuleRefusal(`the limits of ${open.specification} are not adopted; a ${record.type} document is never issued on them`);
  if (draft.signedBy?.includes(signer.name)) throw new RuleRefusal(`${signer.name} has signed already; a 3.2 document wants two parties`);
  for (const coil of draft.coils)
    for (const row of await tx.list<{ row: { fields: Record<string, { text: string } | undefined> } }>("row", coil))
      if (row.value.row.fields["tester"]?.text === signer.name)
        throw new RuleRefusal(`${signer.name} tested coil ${coil}; a ${record.type} document is signed by somebody who did not test`);
}

/** One series a year for all kinds; the row is read and written in the transaction that signs. */
async function nextNumber(
  tx: LedgerTransaction,
  { settings, now }: IssueContext,
): Promise<{ number: string; series: string; counter: number }> {
  const series = dayIn(settings.timeZone, now).slice(0, 4);
  const counter = ((await tx.get<{ last: number }>("series", series))?.last ?? 0) + 1;
  const number = settings.documents.numberPattern
    .replace("{year}", series)
    .replace(/\{number:(\d)\}/, (_, digits: string) => String(counter).padStart(Number(digits), "0"));
  return { number, series, counter };
}

/** The draft of a complete item and, for 2.1 and 2.2, its signature under the person named in the settings. */
export async function issueAutomatically(
  tx: LedgerTransaction,
  order: OrderItem,
  verdict: OrderVerdict,
  context: IssueContext,
): Promise<void> {
  if (!context.settings.documents.automatic || verdict.verdict !== "conforms") return;
  const owner = `${order.order}/${order.item}`;
  const coils = await undocumentedCoils(
    tx,
    owner,
    verdict.coils.map((coil) => coil.coil),
  );
  if (coils.length === 0) return;
  const draft = await draftCertificate(tx, order, verdict, coils, context);
  const signer = context.settings.documents.signer;
  if (signer === "" || (order.documentType !== "2.1" && order.documentType !== "2.2")) return;
  const person = await tx.get<Person>("person", signer);
  if (person !== undefined && draft.status === "draft") await signDocument(tx, draft.id, person, context);
}

interface NoticeState {
  readonly owner: string;
  readonly facts: readonly string[];
  readonly document: string;
  readonly number: string;
}

/** One notice for what is new among the failures of an order item; a fact that stands under a notice never raises another. */
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
      .filter(
        (r) =>
          r.verdict === "does-not-conform" &&
          r.results.some((result) => result.counts && result.outcome === "does-not-conform") &&
          !known.has(`${coil.coil}|${r.property}`),
      )
      .map((r) => ({ coil: coil.coil, property: r.property })),
  );
  if (fresh.length === 0) return undefined;
  const record = toNoticeRecord(order, verdict, fresh, labParty(context.settings));
  const given = await nextNumber(tx, context);
  const id = `${safeOwner(owner)}.${given.number}`;
  const document: DocumentState = { id, owner, kind: "notice", status: "draft", coils: record.held, record };
  await tx.append({ kind: "document-drafted", key: id, payload: document });
  await tx.append({
    kind: "document-signed",
    key: id,
    payload: {
      number: given.number,
      series: given.series,
      counter: given.counter,
      issuedOn: dayIn(context.settings.timeZone, context.now),
      issuedAt: context.now.toISOString(),
      signedBy: [],
      status: "signed",
      template: NOTICE_TEMPLATE,
      language: record.language,
    },
  });
  const notice: NoticeState = { owner, facts: fresh.map((fact) => `${fact.coil}|${fact.property}`), document: id, number: given.number };
  await tx.append({ kind: "notice-raised", key: given.number, payload: notice });
  for (const format of context.settings.documents.formats)
    await tx.enqueue({ job: "render-document", key: `render|${id}|${format}`, payload: { document: id, format } });
  return given.number;
}

export { requirePerson };
