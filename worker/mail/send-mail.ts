/** One message to one receiver: over SMTP where the lab has a server, else a draft in mail/ that a person sends. */
import { join } from "node:path";
import { type Delivery, deliverMail } from "../documents/smtp.ts";
import { writeAtomically } from "../files.ts";
import type { Lab } from "../settings/settings.ts";

export interface OutgoingMail {
  readonly to: string;
  /** Whole, with a Message-ID that is the same at every attempt. */
  readonly bytes: Buffer;
  /** Its name in mail/ where it becomes a draft. */
  readonly draftName: string;
}

/** `sending` is what stands in the ledger before the first byte leaves: after a crash nobody can say more. */
export type MailOutcome = { readonly status: "drafted"; readonly file: string } | Delivery | { readonly status: "sending" };

/** True of one that the server may have: it is never sent again by itself. */
export const mayHaveArrived = ({ status }: { readonly status?: string }): boolean => status === "unsure" || status === "sending";

/** Tried once more where the line broke before the message was handed over. Answers; what the server said stands in `why`. */
export async function sendMail({ folder, settings }: Lab, mail: OutgoingMail): Promise<MailOutcome> {
  if (settings.mail.smtpUrl === "") {
    const file = join("mail", mail.draftName);
    writeAtomically(join(folder, file), mail.bytes);
    return { status: "drafted", file };
  }
  return deliverMail(settings.mail.smtpUrl, { from: settings.mail.from, to: mail.to }, mail.bytes);
}
