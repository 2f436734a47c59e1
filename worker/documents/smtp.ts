/** One message over SMTP, with the one thing a sender must know afterwards: whether the server may have it. */
import { Readable } from "node:stream";
import nodemailer from "nodemailer";

export interface Message {
  readonly from: string;
  readonly to: string;
  readonly messageId: string;
  readonly date: Date;
  readonly subject: string;
  readonly text: string;
  readonly attachments: readonly { readonly filename: string; readonly content: Buffer }[];
}

/** The bytes of the message; the same for the same input. */
export async function composeMail({ attachments, ...message }: Message): Promise<Buffer> {
  const composer = nodemailer.createTransport({ streamTransport: true, buffer: true, newline: "windows" });
  const composed = await composer.sendMail({
    ...message,
    attachments: [...attachments],
    baseBoundary: message.messageId.replaceAll(/[^A-Za-z0-9]/g, ""),
    disableFileAccess: true,
    disableUrlAccess: true,
  } as Parameters<typeof composer.sendMail>[0]);
  return composed.message as Buffer;
}

/** How long a server may keep silent, milliseconds. */
const SILENCE_MS = 30_000;
const ATTEMPTS = 2;

export interface Delivery {
  readonly status: "sent" | "unsure" | "failed";
  readonly why?: string;
}

/**
 * A server that answers, whatever it says, leaves no doubt. A connection that breaks before the whole message was handed over is tried
 * once more; one that breaks after it leaves the mail unsure.
 * @source RFC 5321, 4.2.5 and 6.1 (a server that answered 250 to the final dot has the message; from memory)
 */
export async function deliverMail(
  url: string,
  envelope: { readonly from: string; readonly to: string },
  message: Buffer,
): Promise<Delivery> {
  let last: Delivery = { status: "failed" };
  for (let attempt = 0; attempt < ATTEMPTS && last.status === "failed"; attempt += 1) last = await attemptDelivery(url, envelope, message);
  return last;
}

async function attemptDelivery(url: string, envelope: { from: string; to: string }, message: Buffer): Promise<Delivery> {
  const transport = nodemailer.createTransport({
    ...{ url, connectionTimeout: SILENCE_MS, greetingTimeout: SILENCE_MS, socketTimeout: SILENCE_MS },
    ...{ disableFileAccess: true, disableUrlAccess: true },
  } as Parameters<typeof nodemailer.createTransport>[0]);
  // The message is read only once the server asked for it; its end is followed by the final dot at once.
  const raw = Readable.from([message]);
  let handedOver = false;
  raw.once("end", () => {
    handedOver = true;
  });
  try {
    await transport.sendMail({ envelope, raw } as Parameters<typeof transport.sendMail>[0]);
    return { status: "sent" };
  } catch (error) {
    const { message: why, responseCode } = error as Error & { responseCode?: number };
    const said = why.replaceAll(/\s+/g, " ");
    return { status: handedOver && responseCode === undefined ? "unsure" : "failed", why: said };
  } finally {
    transport.close();
  }
}
