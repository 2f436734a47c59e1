/** A mail server of the test's own that can misbehave. @source RFC 5321 (dialogue), RFC 3207 (STARTTLS), RFC 4954 (AUTH PLAIN); from memory */
import { type AddressInfo, createServer, type Socket } from "node:net";
import { TLSSocket } from "node:tls";

export interface Behaviour {
  /** What it does at a step; everything else is answered as it should be. */
  readonly greeting?: "hang" | "refuse" | "drop";
  readonly recipient?: "refuse" | "later";
  readonly data?: "drop";
  readonly dot?: "drop" | "hang" | "refuse" | "later";
  /** Offers STARTTLS; `at-once` speaks TLS from the first byte. */
  readonly tls?: { readonly key: string; readonly cert: string; readonly atOnce?: boolean };
  /** The one accepted user and password. */
  readonly login?: { readonly user: string; readonly password: string };
}

export interface TestSmtp {
  readonly port: number;
  /** Messages it took, dots undone. */
  readonly messages: string[];
  /** Commands as they came, in the clear or not. */
  readonly heard: { readonly line: string; readonly secure: boolean }[];
  behaviour: Behaviour;
  close(): Promise<void>;
}

export async function startSmtp(behaviour: Behaviour = {}): Promise<TestSmtp> {
  const sockets = new Set<Socket>();
  const server = createServer((socket) => {
    sockets.add(socket);
    socket.on("close", () => sockets.delete(socket));
    socket.on("error", () => undefined);
    const { tls } = smtp.behaviour;
    if (tls?.atOnce) serve(secured(socket, tls), smtp, true, true);
    else serve(socket, smtp, false, true);
  });
  await new Promise<void>((resolve) => server.listen(0, "127.0.0.1", resolve));
  const smtp: TestSmtp = {
    port: (server.address() as AddressInfo).port,
    messages: [],
    heard: [],
    behaviour,
    close: () =>
      new Promise((resolve) => {
        for (const socket of sockets) socket.destroy();
        server.close(() => resolve());
      }),
  };
  return smtp;
}

function secured(socket: Socket, { key, cert }: { key: string; cert: string }): TLSSocket {
  const secure = new TLSSocket(socket, { isServer: true, key, cert });
  secure.on("error", () => undefined);
  return secure;
}

function serve(socket: Socket, smtp: TestSmtp, secure: boolean, greet: boolean): void {
  const { greeting, recipient, data, dot, tls, login } = smtp.behaviour;
  const say = (text: string): void => {
    socket.write(`${text}\r\n`);
  };
  if (greet && greeting === "drop") return void socket.destroy();
  if (greet && greeting !== "hang") say(greeting === "refuse" ? "554 no service here" : "220 invented.example");
  let text = "";
  let inside = false;
  const onData = (chunk: Buffer): void => {
    text += chunk.toString("latin1");
    for (;;) {
      const end = text.indexOf(inside ? "\r\n.\r\n" : "\r\n");
      if (end < 0) return;
      const part = text.slice(0, end);
      text = text.slice(end + (inside ? 5 : 2));
      if (inside) {
        inside = false;
        if (dot === "drop") return void socket.destroy();
        if (dot === "hang") return;
        if (dot === "refuse") say("554 not wanted");
        else if (dot === "later") say("451 try later");
        else {
          smtp.messages.push(part.replaceAll("\r\n..", "\r\n."));
          say("250 taken");
        }
        continue;
      }
      smtp.heard.push({ line: part, secure });
      const command = part.slice(0, 4).toUpperCase();
      if (command === "EHLO") {
        const extensions = ["8BITMIME", ...(tls && !secure ? ["STARTTLS"] : []), ...(login ? ["AUTH PLAIN"] : [])];
        say(`250-invented.example\r\n${extensions.map((name, i) => `250${i === extensions.length - 1 ? " " : "-"}${name}`).join("\r\n")}`);
      } else if (command === "STAR" && tls) {
        say("220 go ahead");
        socket.off("data", onData);
        serve(secured(socket, tls), smtp, true, false);
        return;
      } else if (command === "AUTH") {
        const [, user, password] = Buffer.from(part.split(" ")[2] ?? "", "base64")
          .toString()
          .split("\0");
        say(user === login?.user && password === login?.password ? "235 welcome" : "535 wrong");
      } else if (command === "RCPT" && recipient) say(recipient === "refuse" ? "550 no such box" : "450 box busy");
      else if (command === "DATA") {
        if (data === "drop") return void socket.destroy();
        inside = true;
        say("354 go");
      } else if (command === "QUIT") {
        say("221 bye");
        socket.end();
      } else say("250 ok");
    }
  };
  socket.on("data", onData);
}
