/** Mail of issued documents against an invented server that breaks off where the test says. Replies: RFC 5321 (from memory). */
import { existsSync, readFileSync } from "node:fs";
import { createServer, type Server } from "node:net";
import { join } from "node:path";
import { afterEach, describe, expect, it } from "vitest";
import { QUALITY } from "../../../templates/example/scenario.ts";
import { withdrawDocument } from "../../../worker/documents/changes.ts";
import { type SendAnswer, type SendOptions, sendDocuments } from "../../../worker/documents/send.ts";
import { createEmbeddedQueue } from "../../../worker/queue/embedded-queue.ts";
import { gaveUpOf, handlersOf } from "../../../worker/queue/handlers.ts";
import { putCustomer } from "../../../worker/registers.ts";
import { createRenderer } from "../../../worker/rendering/index.ts";
import { book, change, plan, type TestLab, testLab } from "../work/lab.ts";

let lab: TestLab;
let server: Server | undefined;
afterEach(async () => {
  await lab.remove();
  await new Promise((resolve) => (server === undefined ? resolve(0) : server.close(resolve)));
  server = undefined;
});

const ADDRESS = "goods-in@brindlefoot.example";
const send = (options: Partial<SendOptions> = {}, number = "2026-00001"): Promise<SendAnswer> =>
  sendDocuments(lab.workshop, [number], { again: false, done: false, ...options });
const status = ({ mails }: SendAnswer): object => mails.map((mail) => [mail.to, mail.status, mail.fresh]);

async function issuedLab(smtpUrl = ""): Promise<void> {
  lab = await testLab();
  if (smtpUrl !== "") await lab.reopen({ mail: { ...lab.workshop.lab.settings.mail, smtpUrl } });
  await putCustomer(lab.workshop.ledger, { name: "Brindlefoot Springs", email: [ADDRESS], address: [] }, QUALITY);
  await lab.take("a.xlsx", book(plan()));
}
async function write(): Promise<void> {
  const queue = createEmbeddedQueue(lab.workshop.ledger.database, lab.clock, { session: lab.workshop.ledger.session });
  const renderer = createRenderer({ browserPath: "", browsers: 1, paper: "A4" });
  while ((await queue.runDue(handlersOf(lab.workshop, renderer), 1, gaveUpOf(lab.workshop))) > 0);
  await renderer.close();
}

/** @param breakAt where the server closes the line: `data` before it takes the message, `dot` after it, without an answer */
async function smtp(breakAt: "never" | "data" | "dot" | "refused"): Promise<{ url: string; messages: string[] }> {
  const messages: string[] = [];
  server = createServer((socket) => {
    let inside = false;
    let text = "";
    socket.on("error", () => undefined);
    socket.write("220 invented.example\r\n");
    socket.on("data", (chunk) => {
      text += chunk.toString("latin1");
      for (;;) {
        const end = inside ? text.indexOf("\r\n.\r\n") : text.indexOf("\r\n");
        if (end < 0) return;
        const line = text.slice(0, end);
        text = text.slice(end + (inside ? 5 : 2));
        if (inside) {
          inside = false;
          if (breakAt === "dot") {
            socket.destroy();
            return;
          }
          if (breakAt === "never") messages.push(line);
          socket.write(breakAt === "refused" ? "554 no\r\n" : "250 taken\r\n");
        } else if (line.startsWith("DATA")) {
          if (breakAt === "data") {
            socket.destroy();
            return;
          }
          inside = true;
          socket.write("354 go\r\n");
        } else socket.write(line.startsWith("QUIT") ? "221 bye\r\n" : "250 ok\r\n");
      }
    });
  });
  await new Promise<void>((resolve) => server?.listen(0, "127.0.0.1", resolve));
  const { port } = server.address() as { port: number };
  return { url: `smtp://127.0.0.1:${port}`, messages };
}

describe("without a server", () => {
  it("a draft is written once a number and address", async () => {
    await issuedLab();
    await expect(send()).rejects.toThrow("document 2026-00001: its files are not written yet");
    await write();
    expect(status(await send())).toEqual([[ADDRESS, "drafted", true]]);
    const file = join(lab.folder, "mail", (await send()).mails[0]?.file?.slice(5) ?? "");
    const text = readFileSync(file, "utf8");
    const unfolded = text.replaceAll(/\r\n[ \t]/g, " ");
    expect(unfolded).toContain("Subject: Quillmark Wire (an invented mill): document 2026-00001, order T-001");
    expect(text).toContain(`To: ${ADDRESS}`);
    expect(text).toContain("2026-00001.xlsx");
    expect(text).toMatch(/^Message-ID: <document-2026-00001-[0-9a-f]{12}@coilbook\.invalid>\r$/m);
    const facts = await lab.factCount();
    expect(status(await send())).toEqual([[ADDRESS, "drafted", false]]);
    expect(status(await send({ to: [ADDRESS.toUpperCase()] }))).toEqual([[ADDRESS, "drafted", false]]);
    expect(await lab.factCount()).toBe(facts);
    expect(status(await send({ to: ["other@brindlefoot.example"] }))).toEqual([["other@brindlefoot.example", "drafted", true]]);
    expect(status(await send({ again: true }))).toEqual([[ADDRESS, "drafted", true]]);
    // The same message again, byte for byte.
    expect(readFileSync(file, "utf8")).toBe(text);
  });

  it.each([
    { to: ["not an address"], text: "accepted is one such as" },
    { to: ["a@b.example\r\nBcc: c@d.example"], text: "accepted is one such as" },
  ])("$to is refused", async ({ to, text }) => {
    await issuedLab();
    await write();
    await expect(send({ to })).rejects.toThrow(text);
    expect(existsSync(join(lab.folder, "mail"))).toBe(false);
  });

  it("documents that are in question or withdrawn do not leave, nor unknown numbers", async () => {
    await issuedLab();
    await write();
    const correction = book(plan(), {
      testsOnly: true,
      edit: (r) => change(r.torsion, "90002-T1", { turns: 3, correctionReason: "misread" }),
    });
    await lab.take("b.xlsx", correction);
    await expect(send()).rejects.toThrow("document 2026-00001 is in question");
    await withdrawDocument(lab.workshop, "2026-00001", { why: "fails", by: QUALITY });
    await expect(send()).rejects.toThrow("document 2026-00001 was withdrawn on 2026-03-03 by Ada Thornquist");
    await expect(send({}, "2026-99999")).rejects.toThrow("no document of this number was issued");
  });
});

describe("over SMTP", () => {
  it("is sent once, and once more only where a person says so", async () => {
    const { url, messages } = await smtp("never");
    await issuedLab(url);
    await write();
    expect(status(await send())).toEqual([[ADDRESS, "sent", true]]);
    expect(status(await send())).toEqual([[ADDRESS, "sent", false]]);
    expect(messages.length).toBe(1);
    expect(status(await send({ again: true }))).toEqual([[ADDRESS, "sent", true]]);
    expect(messages.length).toBe(2);
    expect(messages[1]).toBe(messages[0]);
  });

  it("that breaks before the message is failed, and the next send tries again", async () => {
    const { url } = await smtp("data");
    await issuedLab(url);
    await write();
    const told = await send();
    expect(status(told)).toEqual([[ADDRESS, "failed", true]]);
    expect(told.failure?.exitCode).toBe(69);
    expect(status(await send())).toEqual([[ADDRESS, "failed", true]]);
  });

  it("that is refused after the message leaves no doubt", async () => {
    const { url } = await smtp("refused");
    await issuedLab(url);
    await write();
    expect(status(await send())).toEqual([[ADDRESS, "failed", true]]);
  });

  it("that breaks after the final dot is unsure until a person says what became of it", async () => {
    const { url } = await smtp("dot");
    await issuedLab(url);
    await write();
    expect(status(await send())).toEqual([[ADDRESS, "unsure", true]]);
    expect(status(await send())).toEqual([[ADDRESS, "unsure", false]]);
    expect(status(await send({ done: true }))).toEqual([[ADDRESS, "sent", false]]);
    await expect(send({ done: true })).rejects.toThrow("no mail of it is unsure");
  });
});
