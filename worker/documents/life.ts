/** The life of a document: draft, signed with its number in one transaction, written. A number is never used again. */
import type { Coil, Heat, OrderItem, OrderVerdict } from "../../core/model.ts";
import { canonicalContent } from "../../core/spec/index.ts";
import { CERTIFICATE_TEMPLATE, type CertificateRecord, type LabParty, toCertificateRecord } from "../../templates/certificate/record.ts";
import type { NoticeRecord } from "../../templates/notice/record.ts";
import { dayIn } from "../clock.ts";
import { RuleRefusal } from "../errors.ts";
import { sha256 } from "../files.ts";
import { type JudgeLabOptions, judgeItems } from "../judge-lab.ts";
import type { Ledger, LedgerReader, LedgerTransaction } from "../ports/ledger.ts";
import { type Concession, holdText, standingOf, type WireStanding } from "../quality/standing.ts";
import type { Person } from "../registers.ts";
import type { Settings } from "../settings/settings.ts";
import type { Workshop } from "../workshop.ts";
import { nextNumber } from "./numbers.ts";

export interface DocumentState {
  readonly id: string;
  /** The order item it belongs to. */
  readonly owner: string;
  readonly kind: "certificate" | "notice";
  readonly status: "draft" | "signed" | "failed" | "in-question" | "withdrawn" | "replaced";
  readonly coils: readonly string[];
  readonly record: CertificateRecord | NoticeRecord;
  readonly number?: string;
  readonly issuedOn?: string;
  /** ISO time of the signature. */
  readonly issuedAt?: string;
  readonly signedBy?: readonly string[];
  /** Why a file of it was given up, by format. */
  readonly failed?: Readonly<Record<string, string>>;
  readonly written?: Readonly<Record<string, { readonly path: string; readonly sha256: string }>>;
  /** What it says and what is known now, while it is in question. */
  readonly question?: { readonly since: string; readonly differences: readonly Difference[] };
  /** Each time a person looked and let it stand. */
  readonly confirmations?: readonly Confirmation[];
  /** The document it stands in for. */
  readonly replaces?: { readonly id: string; readonly number: string; readonly why: string };
  readonly withdrawnOn?: string;
  readonly withdrawnBy?: string;
  readonly withdrawnWhy?: string;
  readonly replacedOn?: string;
  readonly replacedBy?: string;
}

/** One thing a document says that is not so any more. */
export interface Difference {
  readonly coil: string;
  readonly property: string;
  readonly before: string;
  readonly now: string;
}

export interface Confirmation {
  readonly why: string;
  readonly by: string;
  readonly on: string;
  readonly differences: readonly Difference[];
}

/** Called back or replaced: it names no coil any more. */
export const isEnded = ({ status }: Pick<DocumentState, "status">): boolean => status === "withdrawn" || status === "replaced";

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
  /** To judge again at the moment of signing. */
  readonly judging: JudgeLabOptions;
}

export const issueContext = (workshop: Workshop): IssueContext => ({
  settings: workshop.lab.settings,
  now: workshop.clock.now(),
  judging: workshop.judgeOptions(),
});

export const labParty = ({ lab, documents }: Settings): LabParty => ({
  name: lab.name,
  address: lab.address,
  ...(documents.footer === "" ? {} : { footer: documents.footer }),
});

type Allowing = Pick<WireStanding, "holds" | "concessions">;

/** Everything that stands between these coils and a document, at once. @param standing what persons decided about the wire */
export function blockersOf(order: OrderItem, verdict: OrderVerdict, coils: readonly string[], standing: Allowing): readonly Blocker[] {
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
    for (const hold of standing.holds.get(name) ?? [])
      blockers.push({ code: "held", coil: name, text: `Coil ${name} is ${holdText(hold)}.`, who: "quality" });
    if (coil.verdict === "conforms") continue;
    const conceded = new Set(standing.concessions.get(name)?.map((concession) => concession.property));
    for (const requirement of coil.requirements.filter((r) => r.verdict !== "conforms")) {
      if (requirement.verdict === "does-not-conform" && conceded.has(requirement.property)) continue;
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

/** Coils that no standing document names yet. */
export async function undocumentedCoils(reader: LedgerReader, owner: string, coils: readonly string[]): Promise<readonly string[]> {
  const documents = (await reader.list<DocumentState>("document", owner))
    .map((state) => state.value)
    .filter((d) => d.kind === "certificate" && !isEnded(d));
  const named = new Set(documents.flatMap((d) => d.coils));
  return coils.filter((coil) => !named.has(coil));
}

/** What a certificate for these coils says now. */
export async function recordOf(
  reader: LedgerReader,
  order: OrderItem,
  verdict: OrderVerdict,
  coilNames: readonly string[],
  { settings, judging }: IssueContext,
  delivery: string | undefined,
): Promise<CertificateRecord> {
  const owner = `${order.order}/${order.item}`;
  const wanted = new Set(coilNames);
  const coils = (await reader.list<Coil>("coil", owner)).map((state) => state.value).filter((coil) => wanted.has(coil.coil));
  const heats: Heat[] = [];
  for (const name of new Set(coils.map((coil) => coil.heat)))
    heats.push(...(await reader.list<Heat>("heat", name)).map((state) => state.value));
  const { concessions } = await standingOf(reader, owner, verdict, judging.today);
  const decisions = coils.flatMap((coil) => concessionNotes(verdict, coil.coil, concessions.get(coil.coil) ?? []));
  const customer = await reader.get<{ name: string; address?: readonly string[] }>("customer", order.customer);
  return toCertificateRecord({
    order,
    verdict,
    coils,
    heats,
    lab: labParty(settings),
    customer: { name: order.customer, address: customer?.address ?? [] },
    methods: settings.documents.methods,
    ...(delivery === undefined ? {} : { delivery }),
    ...(decisions.length === 0 ? {} : { decisions }),
  });
}

/** Printed where the coil needs it: a property that conforms after all leans on no concession. */
function concessionNotes(verdict: OrderVerdict, coil: string, given: readonly Concession[]) {
  const failing = new Set(
    verdict.coils
      .find((c) => c.coil === coil)
      ?.requirements.filter((r) => r.verdict === "does-not-conform")
      .map((r) => r.property),
  );
  return given
    .filter(({ property }) => failing.has(property))
    .map(({ property, reference, until }) => ({
      kind: "concession" as const,
      coil,
      property,
      reference: until === undefined ? reference : `${reference}, ${until}`,
    }));
}

/** A draft for the coils given; the existing one where the content is the same. Drafts that no longer stand go. */
export async function draftCertificate(
  tx: LedgerTransaction,
  order: OrderItem,
  verdict: OrderVerdict,
  coilNames: readonly string[],
  context: IssueContext,
  delivery?: string,
  replaces?: DocumentState["replaces"],
): Promise<DocumentState> {
  await dropStaleDrafts(tx, order, verdict, context);
  const owner = `${order.order}/${order.item}`;
  const record = await recordOf(tx, order, verdict, coilNames, context, delivery);
  const said = canonicalContent(record);
  const id = `${safeOwner(owner)}.${sha256(replaces === undefined ? said : `${said}\n${replaces.number}`).slice(0, 12)}`;
  const before = await tx.get<DocumentState>("document", id);
  if (before !== undefined) return before;
  const coils = record.rows.map((row) => row.coil);
  const draft: DocumentState = {
    ...{ id, owner, kind: "certificate", status: "draft", coils, record },
    ...(replaces === undefined ? {} : { replaces }),
  };
  await tx.append({ kind: "document-drafted", key: id, payload: draft });
  return draft;
}

/** Why a draft may not be signed as it stands, or undefined. */
async function staleness(
  reader: LedgerReader,
  draft: DocumentState,
  order: OrderItem,
  verdict: OrderVerdict,
  context: IssueContext,
): Promise<string | undefined> {
  const drafted = draft.record as CertificateRecord;
  const standing = await standingOf(reader, draft.owner, verdict, context.judging.today);
  const [first, ...others] = blockersOf(order, verdict, draft.coils, standing);
  if (first !== undefined) return `${first.text}${others.length > 0 ? ` (and ${others.length} more)` : ""}`;
  const current = await recordOf(reader, order, verdict, draft.coils, context, drafted.delivery);
  if (canonicalContent(current) === canonicalContent(drafted)) return undefined;
  const text = (value: unknown): string => (value === undefined ? "" : canonicalContent(value));
  const parts = (Object.keys({ ...drafted, ...current }) as (keyof CertificateRecord)[])
    .filter((part) => text(drafted[part]) !== text(current[part]))
    .map((part) => (part === "rows" ? `the rows of coils ${changedCoils(drafted, current).join(", ")}` : part));
  return `What it says has changed since it was drafted: ${parts.join("; ")}.`;
}

function changedCoils(drafted: CertificateRecord, current: CertificateRecord): readonly string[] {
  const before = new Map(drafted.rows.map((row) => [row.coil, canonicalContent(row)]));
  return current.rows.filter((row) => before.get(row.coil) !== canonicalContent(row)).map((row) => row.coil);
}

/** An unsigned draft whose coils no longer conform or whose content changed makes way for a new one. */
async function dropStaleDrafts(tx: LedgerTransaction, order: OrderItem, verdict: OrderVerdict, context: IssueContext): Promise<void> {
  for (const { key, value } of await tx.list<DocumentState>("document", `${order.order}/${order.item}`)) {
    if (value.kind !== "certificate" || value.status !== "draft") continue;
    const reason = await staleness(tx, value, order, verdict, context);
    // Limits that are not adopted yet only make a draft wait.
    if (reason === undefined || onlyWaits(order, verdict, value.coils, await standingOf(tx, value.owner, verdict, context.judging.today)))
      continue;
    await tx.append({ kind: "document-superseded", key, payload: { reason } });
  }
}

const onlyWaits = (order: OrderItem, verdict: OrderVerdict, coils: readonly string[], standing: Allowing): boolean => {
  const blockers = blockersOf(order, verdict, coils, standing);
  return blockers.length > 0 && blockers.every((blocker) => blocker.code === "not-adopted");
};

export const safeOwner = (owner: string): string => owner.replaceAll(/[^A-Za-z0-9-]/g, "_");

/**
 * Gives the number and the day, and asks for the files. 3.1 and 3.2 want a person of the role quality who did not test.
 * The coils are judged and the content is made again at this moment; what differs from the draft is not signed.
 * @param current the verdict, where it was made in this transaction
 * @throws RuleRefusal with one plain sentence
 */
export async function signDocument(
  tx: LedgerTransaction,
  id: string,
  signer: Person,
  context: IssueContext,
  current?: OrderVerdict,
): Promise<DocumentState> {
  const draft = await tx.get<DocumentState>("document", id);
  if (draft === undefined) throw new RuleRefusal(await whyNoDraft(tx, id));
  if (draft.status !== "draft") throw new RuleRefusal(`draft ${id}: is signed already as ${draft.number}`);
  const record = draft.record as CertificateRecord;
  await checkSigner(tx, draft, record, signer);
  const order = await tx.get<OrderItem>("order", draft.owner);
  const verdict = current ?? (await judgeItems(tx, [draft.owner], context.judging)).orders[0];
  if (order === undefined || verdict === undefined) throw new RuleRefusal(`draft ${id}: order ${draft.owner} is not registered`);
  const reason = await staleness(tx, draft, order, verdict, context);
  if (reason !== undefined)
    throw new RuleRefusal(
      `draft ${id}: ${reason} "coilbook certificate ${order.order} --item ${order.item} --coils ${draft.coils.join(" ")}" makes a new one where nothing stands against it`,
    );
  const signers = [...(draft.signedBy ?? []), signer.name];
  if (record.type === "3.2" && signers.length < 2) {
    await tx.append({ kind: "document-drafted", key: id, payload: { ...draft, signedBy: signers } });
    return { ...draft, signedBy: signers };
  }
  return issue(tx, draft, signers, CERTIFICATE_TEMPLATE, context);
}

async function whyNoDraft(reader: LedgerReader, id: string): Promise<string> {
  const dropped = (await reader.facts({ kinds: ["document-superseded"], key: id })).at(-1);
  const reason = (dropped?.payload as { reason?: string } | undefined)?.reason;
  return reason === undefined
    ? `draft ${id}: not known; "coilbook certificate" makes drafts and lists them`
    : `draft ${id}: no longer stands. ${reason}`;
}

/** Number, day, signers and template are fixed here, before anything is rendered; the files are asked for in the same transaction. */
export async function issue(
  tx: LedgerTransaction,
  draft: DocumentState,
  signedBy: readonly string[],
  template: string,
  { settings, now }: IssueContext,
): Promise<DocumentState> {
  const signed = {
    ...(await nextNumber(tx, settings, now)),
    issuedOn: dayIn(settings.timeZone, now),
    issuedAt: now.toISOString(),
    signedBy,
    status: "signed" as const,
    template,
    language: draft.record.language,
  };
  await tx.append({ kind: "document-signed", key: draft.id, payload: signed });
  if (draft.replaces !== undefined)
    await tx.append({
      kind: "document-replaced",
      key: draft.replaces.id,
      payload: { status: "replaced", replacedOn: signed.issuedOn, replacedBy: signed.number },
    });
  for (const format of settings.documents.formats)
    await tx.enqueue({ job: "render-document", key: `render|${draft.id}|${format}`, payload: { document: draft.id, format } });
  return { ...draft, ...signed };
}

/** A file that was given up: the document keeps its number and says why. */
export async function failDocument(ledger: Ledger, id: string, format: string, reason: string): Promise<void> {
  await ledger.transaction("worker", async (tx) => {
    const document = await tx.get<DocumentState>("document", id);
    if (document?.number === undefined || document.written?.[format] !== undefined || document.failed?.[format] === reason) return;
    await tx.append({ kind: "document-failed", key: id, payload: { format, reason } });
  });
}

async function checkSigner(tx: LedgerTransaction, draft: DocumentState, record: CertificateRecord, signer: Person): Promise<void> {
  const specific = record.type === "3.1" || record.type === "3.2";
  if (!signer.roles.includes("quality") && (specific || !signer.roles.includes("sales")))
    throw new RuleRefusal(
      `${signer.name} has the roles ${signer.roles.join(", ")}; a ${record.type} document is signed by quality${specific ? "" : " or sales"}`,
    );
  if (!specific) return;
  if (draft.signedBy?.includes(signer.name)) throw new RuleRefusal(`${signer.name} has signed already; a 3.2 document wants two parties`);
  for (const coil of draft.coils)
    for (const row of await tx.list<{ row: { fields: Record<string, { text: string } | undefined> } }>("row", coil))
      if (row.value.row.fields["tester"]?.text === signer.name)
        throw new RuleRefusal(`${signer.name} tested coil ${coil}; a ${record.type} document is signed by somebody who did not test`);
}

/** The draft of a complete item and, for 2.1 and 2.2, its signature under the person named in the settings. */
export async function issueAutomatically(
  tx: LedgerTransaction,
  order: OrderItem,
  verdict: OrderVerdict,
  context: IssueContext,
): Promise<void> {
  await dropStaleDrafts(tx, order, verdict, context);
  if (!context.settings.documents.automatic || verdict.verdict !== "conforms") return;
  const owner = `${order.order}/${order.item}`;
  const { holds } = await standingOf(tx, owner, verdict, context.judging.today);
  const free = verdict.coils.map((coil) => coil.coil).filter((coil) => !holds.has(coil));
  const coils = await undocumentedCoils(tx, owner, free);
  if (coils.length === 0) return;
  const draft = await draftCertificate(tx, order, verdict, coils, context);
  const signer = context.settings.documents.signer;
  if (signer === "" || (order.documentType !== "2.1" && order.documentType !== "2.2")) return;
  const person = await tx.get<Person>("person", signer);
  if (person !== undefined && draft.status === "draft") await signDocument(tx, draft.id, person, context, verdict);
}
