/** One message over SMTP, with the one thing a sender must know afterwards: whether the server may have it. */
import { Readable } from "node:stream";
import nodemailer from "nodemailer";
import SMTPConnection from "nodemailer/lib/smtp-connection/index.js";

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
  silenceMs = SILENCE_MS,
): Promise<Delivery> {
  let last: Delivery = { status: "failed" };
  for (let attempt = 0; attempt < ATTEMPTS && last.status === "failed"; attempt += 1)
    last = await attemptDelivery(url, envelope, message, silenceMs);
  return last;
}

async function attemptDelivery(url: string, envelope: { from: string; to: string }, message: Buffer, silenceMs: number): Promise<Delivery> {
  const connection = new SMTPConnection(optionsOf(url, silenceMs));
  // Read only once the server asked for the message; its end is followed by the final dot at once.
  const bytes = Readable.from([message], { objectMode: false });
  let handedOver = false;
  bytes.once("end", () => {
    handedOver = true;
  });
  try {
    await new Promise<void>((resolve, reject) => {
      const then = (next: () => void) => (error?: Error | null) => (error ? reject(error) : next());
      // A server that hangs up without a word ends the attempt, whatever step it was in.
      connection.on("error", reject);
      connection.on("end", () => reject(new Error("the server closed the connection")));
      const sendNow = (): void => connection.send(envelope, bytes, then(resolve));
      const credentials = credentialsOf(url);
      connection.connect(
        then(() =>
          credentials === undefined ? sendNow() : connection.login({ credentials } as SMTPConnection.AuthenticationType, then(sendNow)),
        ),
      );
    });
    return { status: "sent" };
  } catch (error) {
    const { message: why, responseCode } = error as Error & { responseCode?: number };
    const said = why.replaceAll(/\s+/g, " ");
    return { status: handedOver && responseCode === undefined ? "unsure" : "failed", why: said };
  } finally {
    connection.close();
  }
}

const SUBMISSION_PORT = 587;
const SECURE_PORT = 465;

const LOOPBACK = /^(localhost|127\.\d+\.\d+\.\d+|\[::1\])$/;

/** A password leaves this machine over TLS only; the server's certificate must be one that the system trusts. */
function optionsOf(url: string, silenceMs: number): SMTPConnection.Options {
  const { hostname, port, protocol, username } = new URL(url);
  const secure = protocol === "smtps:";
  return {
    ...{ host: hostname, secure, port: port === "" ? (secure ? SECURE_PORT : SUBMISSION_PORT) : Number(port) },
    ...{ connectionTimeout: silenceMs, greetingTimeout: silenceMs, socketTimeout: silenceMs },
    requireTLS: !secure && username !== "" && !LOOPBACK.test(hostname),
  };
}

function credentialsOf(url: string): { readonly user: string; readonly pass: string } | undefined {
  const { username, password } = new URL(url);
  return username === "" ? undefined : { user: decodeURIComponent(username), pass: decodeURIComponent(password) };
}
