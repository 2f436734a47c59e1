/** The night run: judges every open order again, raises what is missing, and writes one digest a receiver and day. */
import { judge } from "../core/judge/index.ts";
import type { OrderItem, OrderVerdict } from "../core/model.ts";
import { type DocumentState, issueContext } from "./documents/life.ts";
import type { MailState } from "./documents/send.ts";
import { safeName } from "./files.ts";
import { loadJudgementInput } from "./judge-lab.ts";
import { type MailOutcome, mayHaveArrived, sendMail } from "./mail/send-mail.ts";
import type { LedgerTransaction } from "./ports/ledger.ts";
import { keepVerdicts } from "./process-file.ts";
import { noticeLines } from "./quality/notice-life.ts";
import type { Hold } from "./quality/standing.ts";
import type { Workshop } from "./workshop.ts";

export interface NightlySummary {
  readonly date: string;
  readonly notices: readonly string[];
  /** The draft, or the receiver and what became of the mail. */
  readonly digests: readonly string[];
  /** Digests that the server did not take; the next run of the same day tries them again. */
  readonly failures?: readonly string[];
}

type DigestState = Partial<MailOutcome> & { readonly receiver: string; readonly date: string };

export async function nightly(workshop: Workshop, date: string): Promise<NightlySummary> {
  const { ledger, lab } = workshop;
  const before = new Set((await ledger.list("notice")).map((state) => state.key));
  for (const { key } of await ledger.list<OrderItem>("order")) {
    await ledger.transaction("worker", async (tx) => {
      const options = { ...workshop.judgeOptions(), today: date };
      const judgement = judge(await loadJudgementInput(tx, [key], options));
      await keepVerdicts(workshop, asBatch(tx), judgement, { ...issueContext(workshop), judging: options });
    });
  }
  const notices = (await ledger.list("notice")).map((state) => state.key).filter((key) => !before.has(key));
  const digests: string[] = [];
  const failures: string[] = [];
  for (const receiver of lab.settings.mail.digestTo) {
    const sent = await sendDigest(workshop, receiver, date);
    if (sent === undefined) continue;
    if (sent.status === "failed") failures.push(`${receiver}: ${sent.why ?? "no reason given"}`);
    else digests.push("file" in sent ? sent.file : `${receiver} (${sent.status})`);
  }
  return { date, notices, digests, ...(failures.length === 0 ? {} : { failures }) };
}

/** Claimed in the ledger before the first byte leaves. @returns undefined where it was sent, or may have been */
async function sendDigest(workshop: Workshop, receiver: string, date: string): Promise<MailOutcome | undefined> {
  const { ledger, lab } = workshop;
  const key = `${receiver}|${date}`;
  const write = (outcome: MailOutcome): Promise<unknown> =>
    ledger.transaction("worker", (tx) => tx.append({ kind: "digest-written", key, payload: { receiver, date, ...outcome } }));
  const claimed = await ledger.transaction("worker", async (tx) => {
    const known = await tx.get<DigestState>("digest", key);
    if (known !== undefined && known.status !== "failed") return false;
    if (lab.settings.mail.smtpUrl !== "")
      await tx.append({ kind: "digest-written", key, payload: { receiver, date, status: "sending" } satisfies DigestState });
    return true;
  });
  if (!claimed) return undefined;
  const bytes = Buffer.from(await digestMail(workshop, receiver, date));
  const outcome = await sendMail(lab, { to: receiver, bytes, draftName: `digest-${date}-${safeName(receiver)}.eml` });
  await write(outcome);
  return outcome;
}

/** Work of the night waits until nobody waits for anything else. */
const BATCH_PRIORITY = 10;

const asBatch = (tx: LedgerTransaction): LedgerTransaction => ({
  ...tx,
  enqueue: (entry) => tx.enqueue({ ...entry, priority: BATCH_PRIORITY }),
});

/** A header holds one line of printable characters; what comes from outside can never start another. */
const headerText = (text: string): string => text.replaceAll(/[^\x20-\x7e]/g, "?");

async function digestMail({ ledger, lab, clock }: Workshop, receiver: string, date: string): Promise<string> {
  const documents = (await ledger.list<DocumentState>("document")).map((state) => state.value);
  const notices = (await noticeLines(ledger, date)).filter((line) => line.status !== "closed");
  const holds = (await ledger.list<Hold>("hold")).map((state) => state.value);
  const mails = (await ledger.list<MailState>("mail")).map((state) => state.value);
  const earlier = (await ledger.list<DigestState>("digest")).map((state) => state.value).filter((digest) => digest.date !== date);
  const verdicts = (await ledger.list<{ verdict: OrderVerdict }>("verdict")).map((state) => state.value.verdict);
  const lines = [
    `${lab.settings.lab.name}, ${date}`,
    "",
    "Notices that are open:",
    ...notices.map(
      (n) =>
        `  ${n.number}  ${n.order}  coils ${n.coils.join(", ")}  ${n.status}${n.answerBy === undefined ? "" : `  answer by ${n.answerBy}${n.overdue ? " (overdue)" : ""}`}  ${n.next}`,
    ),
    "",
    "Documents in question:",
    ...documents.filter((d) => d.status === "in-question").map((d) => `  ${d.number}  ${d.owner}  coils ${d.coils.join(", ")}`),
    "",
    "Held:",
    ...holds.map((h) => `  ${h.scope} ${h.id}  since ${h.on} by ${h.by}: ${h.why}`),
    "",
    "Mail that may have arrived:",
    ...mails.filter(mayHaveArrived).map((m) => `  ${m.number}  ${m.to}`),
    ...earlier.filter(mayHaveArrived).map((d) => `  digest of ${d.date}  ${d.receiver}`),
    "",
    "Drafts that wait for a signature:",
    ...documents.filter((d) => d.status === "draft").map((d) => `  ${d.id}  ${d.owner}  ${d.coils.length} coils`),
    "",
    "What is to be done:",
    ...verdicts.flatMap((v) =>
      v.coils
        .filter((coil) => coil.verdict !== "conforms")
        .map((coil) => `  ${v.order}/${v.item}  ${coil.coil}  ${coil.verdict}  ${coil.next.map((step) => step.text).join(" ")}`),
    ),
    "",
    "Issued:",
    ...documents
      .filter((d) => d.kind === "certificate" && d.number !== undefined)
      .map((d) => `  ${d.number}  ${d.owner}  ${d.coils.length} coils`),
  ];
  const [last] = (await ledger.facts()).slice(-1);
  return [
    `From: ${headerText(lab.settings.mail.from)}`,
    `To: ${headerText(receiver)}`,
    `Subject: ${headerText(`Coilbook digest ${date}`)}`,
    `Date: ${clock.now().toUTCString()}`,
    `Message-ID: <digest-${date}-${safeName(receiver)}@coilbook.invalid>`,
    "MIME-Version: 1.0",
    "Content-Type: text/plain; charset=utf-8",
    "Content-Transfer-Encoding: 8bit",
    "",
    ...lines,
    "",
    `Last fact of the ledger: ${last?.seq ?? 0} ${last?.hash ?? ""}`,
    "",
  ].join("\r\n");
}
