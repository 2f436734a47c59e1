/** Mail of issued documents: once a number and address, claimed in the ledger before the first byte leaves. */
import { existsSync, readFileSync } from "node:fs";
import { basename, join } from "node:path";
import type { CertificateRecord } from "../../templates/certificate/record.ts";
import { words } from "../../templates/wording.ts";
import { InputRefused, RuleRefusal, ServiceAway, UsageError } from "../errors.ts";
import { safeName, sha256, writeAtomically } from "../files.ts";
import type { LedgerReader } from "../ports/ledger.ts";
import type { Customer } from "../registers.ts";
import type { Workshop } from "../workshop.ts";
import { endedText, issuedDocument } from "./changes.ts";
import { type DocumentState, isEnded } from "./life.ts";
import { composeMail, deliverMail } from "./smtp.ts";

export interface MailState {
  readonly number: string;
  readonly to: string;
  /**
   * `sending`: the server may have it, unless a later fact says more. `unsure`: the connection broke after the final dot.
   * `failed`: the server did not take it; it is tried again by the next send.
   */
  readonly status: "drafted" | "sending" | "sent" | "unsure" | "failed";
  readonly messageId: string;
  /** The draft in mail/. */
  readonly file?: string;
  readonly why?: string;
}

export interface SendOptions {
  /** Absent: the addresses of the customer. */
  readonly to?: readonly string[];
  readonly again: boolean;
  /** A person says that an unsure mail did arrive. */
  readonly done: boolean;
}

export interface SendAnswer {
  readonly mails: readonly (Omit<MailState, "status"> & { readonly status: MailState["status"]; readonly fresh: boolean })[];
  /** The service was away for at least one of them. */
  readonly failure?: ServiceAway;
}

const ADDRESS = /^[^\s@<>,;:"\\]+@[^\s@<>,;:"\\]+$/;

export const mailKey = (number: string, to: string): string => `${number}|${to.toLowerCase()}`;

/**
 * A number that was sent to an address is not sent to it again; what the server may have is left to a person.
 * @throws RuleRefusal where a document may not leave, InputRefused on an address that is none
 */
export async function sendDocuments(workshop: Workshop, numbers: readonly string[], options: SendOptions): Promise<SendAnswer> {
  const wishes: { readonly document: DocumentState; readonly to: string }[] = [];
  if (workshop.lab.settings.mail.smtpUrl !== "") checkServer(workshop.lab.settings.mail.smtpUrl);
  // Every refusal before the first mail: a list is sent whole or not begun.
  for (const number of new Set(numbers)) {
    const document = await issuedDocument(workshop.ledger, number);
    refuse(workshop, document);
    for (const to of await addressesOf(workshop.ledger, document, options.to)) wishes.push({ document, to });
  }
  const mails: SendAnswer["mails"][number][] = [];
  let failure: ServiceAway | undefined;
  for (const { document, to } of wishes) {
    const mail = await sendOne(workshop, document, to, options);
    mails.push(mail);
    if (mail.status === "failed")
      failure ??= new ServiceAway(`send: ${mail.number} to ${to}: ${mail.why ?? ""}; it is tried again by the next send`);
  }
  return { mails, ...(failure === undefined ? {} : { failure }) };
}

function refuse({ lab }: Workshop, document: DocumentState): void {
  const { number, status } = document;
  if (isEnded(document)) throw new RuleRefusal(endedText(document));
  if (status === "in-question") throw new RuleRefusal(`document ${number} is in question; confirm, amend or withdraw it first`);
  const files = Object.values(document.written ?? {});
  if (files.length === 0 || files.some(({ path }) => !existsSync(join(lab.folder, "documents", path))))
    throw new RuleRefusal(`document ${number}: its files are not written yet; "coilbook work --drain" writes them`);
}

async function addressesOf(reader: LedgerReader, { number, record }: DocumentState, given: readonly string[] | undefined) {
  const name = customerOf(record as CertificateRecord);
  const addresses = given ?? (await reader.get<Customer>("customer", name))?.email ?? [];
  if (addresses.length === 0)
    throw new RuleRefusal(`document ${number}: customer ${name} has no mail address; "coilbook customer add" gives one, or --to names one`);
  const strange = addresses.find((address) => !ADDRESS.test(address));
  if (strange !== undefined) throw new InputRefused(`send: found the address "${strange}", accepted is one such as goods-in@example.org`);
  return [...new Set(addresses)];
}

const customerOf = (record: DocumentState["record"]): string =>
  typeof record.customer === "string" ? record.customer : (record as CertificateRecord).customer.name;

async function sendOne(
  workshop: Workshop,
  document: DocumentState,
  to: string,
  options: SendOptions,
): Promise<SendAnswer["mails"][number]> {
  const { number = "" } = document;
  const { lab, ledger } = workshop;
  const key = mailKey(number, to);
  const bySmtp = lab.settings.mail.smtpUrl !== "";
  const base = { number, to, messageId: `<document-${safeName(number)}-${sha256(to.toLowerCase()).slice(0, 12)}@coilbook.invalid>` };
  const file = bySmtp ? {} : { file: join("mail", `${safeName(number)}-${safeName(to)}.eml`) };
  const write = (state: MailState): Promise<unknown> =>
    ledger.transaction("command line", (tx) => tx.append({ kind: "mail-changed", key, payload: state }));
  // Claimed under the lock of the ledger: two senders at once are one.
  const before = await ledger.transaction("command line", async (tx) => {
    const known = await tx.get<MailState>("mail", key);
    if (options.done) {
      if (known?.status !== "unsure" && known?.status !== "sending")
        throw new RuleRefusal(`document ${number} to ${to}: no mail of it is unsure`);
      await tx.append({ kind: "mail-changed", key, payload: { ...known, status: "sent" } satisfies MailState });
      return { ...known, status: "sent" as const };
    }
    if (known !== undefined && known.status !== "failed" && !options.again) return known;
    if (bySmtp) await tx.append({ kind: "mail-changed", key, payload: { ...base, status: "sending" } satisfies MailState });
    return undefined;
  });
  // One that was being sent when its process ended may have arrived.
  if (before !== undefined) return { ...before, status: before.status === "sending" ? "unsure" : before.status, fresh: false };
  const message = await composeMail({
    ...{ from: lab.settings.mail.from, to, messageId: base.messageId, date: workshop.clock.now() },
    ...wordsOf(document, lab.settings.lab.name),
    attachments: Object.values(document.written ?? {}).map(({ path }) => ({
      filename: basename(path),
      content: readFileSync(join(lab.folder, "documents", path)),
    })),
  });
  if (file.file !== undefined) {
    writeAtomically(join(lab.folder, file.file), message);
    const state: MailState = { ...base, ...file, status: "drafted" };
    await write(state);
    return { ...state, fresh: true };
  }
  const told = await deliverMail(
    lab.settings.mail.smtpUrl,
    { from: /<([^<>]+)>$/.exec(lab.settings.mail.from)?.[1] ?? lab.settings.mail.from, to },
    message,
  );
  const state: MailState = { ...base, ...told };
  await write(state);
  return { ...state, fresh: true };
}

function wordsOf(
  { number = "", record, coils, replaces }: DocumentState,
  lab: string,
): { readonly subject: string; readonly text: string } {
  const say = words(record.language);
  const customerOrder = "schema" in record && record.schema === "certificate-record/1" ? (record.customer.order ?? "–") : "–";
  return {
    subject: say("mail.document.subject", { lab, number, order: record.order }),
    text: [
      say("mail.document.body", { number, order: record.order, customerOrder, coils: coils.join(", ") }),
      ...(replaces === undefined ? [] : [say("mail.document.replaces", { number: replaces.number, why: replaces.why })]),
      say("mail.document.verify"),
      "",
      ...[record.lab.name, ...record.lab.address],
      "",
    ].join("\n"),
  };
}

/** @throws UsageError on a server address that is none; what was found may hold a password and is not repeated */
function checkServer(url: string): void {
  if (!/^smtps?:$/.test(URL.canParse(url) ? new URL(url).protocol : ""))
    throw new UsageError("setting mail.smtpUrl: found another text; accepted is an address such as smtp://mail.example:587");
}
