/** What becomes of a mail at each step of the dialogue. Rule: the contract, section 8 (mail); codes: RFC 5321, from memory. */
import { spawn, spawnSync } from "node:child_process";
import { readdirSync, readFileSync, writeFileSync } from "node:fs";
import { join } from "node:path";
import { afterEach, describe, expect, it } from "vitest";
import { deliverMail } from "../../../worker/documents/smtp.ts";
import { nightly } from "../../../worker/nightly.ts";
import { projectPath, temporaryFolder } from "../../helpers/cli.ts";
import { freePort } from "../../helpers/services.ts";
import { type Behaviour, startSmtp, type TestSmtp } from "../../helpers/smtp-server.ts";
import { describeWith } from "../../helpers/tools.ts";
import { DAY, type TestLab, testLab } from "../work/lab.ts";

let server: TestSmtp | undefined;
let lab: TestLab | undefined;
afterEach(async () => {
  await server?.close();
  await lab?.remove();
  server = undefined;
  lab = undefined;
});

const ENVELOPE = { from: "lab@mill.example", to: "quality@mill.example" };
const MESSAGE = Buffer.from("Message-ID: <a@coilbook.invalid>\r\nSubject: s\r\n\r\nline\r\n.dot\r\n");
const SILENCE_MS = 400;
const deliver = async (behaviour: Behaviour, address = "") => {
  server = await startSmtp(behaviour);
  return deliverMail(`smtp://${address}127.0.0.1:${server.port}`, ENVELOPE, MESSAGE, SILENCE_MS);
};

describe("a message", () => {
  it.each<[string, Behaviour, "sent" | "unsure" | "failed", RegExp | undefined, number]>([
    ["that is taken", {}, "sent", undefined, 1],
    ["whose server hangs up before a word", { greeting: "drop" }, "failed", /closed|reset/i, 0],
    ["whose server gives no greeting", { greeting: "hang" }, "failed", /greeting|timeout/i, 0],
    ["whose server refuses to talk", { greeting: "refuse" }, "failed", /554/, 0],
    ["whose receiver is unknown", { recipient: "refuse" }, "failed", /550/, 0],
    ["whose receiver is busy", { recipient: "later" }, "failed", /450/, 0],
    ["whose server hangs up at DATA", { data: "drop" }, "failed", /closed|reset|timeout/i, 0],
    ["that the server refuses after its final dot", { dot: "refuse" }, "failed", /554/, 0],
    ["that the server puts off after its final dot", { dot: "later" }, "failed", /451/, 0],
    ["whose server hangs up after the final dot", { dot: "drop" }, "unsure", /closed|reset/i, 0],
    ["whose server is silent after the final dot", { dot: "hang" }, "unsure", /timeout/i, 0],
  ])("%s", async (_what, behaviour, status, why, taken) => {
    const done = await deliver(behaviour);
    expect(done.status, done.why).toBe(status);
    if (why === undefined) expect(done.why).toBeUndefined();
    else expect(done.why).toMatch(why);
    expect(server?.messages.length).toBe(taken);
    if (taken > 0) expect(server?.messages[0]).toBe(MESSAGE.toString().replace(/\r\n$/, ""));
    // Offered twice at most, and once only where the server may have it.
    const offered = server?.heard.filter(({ line }) => line === "DATA").length ?? 0;
    expect(offered).toBeLessThanOrEqual(status === "failed" ? 2 : 1);
  });

  it("waits for the next run where no server is there", async () => {
    const done = await deliverMail(`smtp://127.0.0.1:${await freePort()}`, ENVELOPE, MESSAGE, SILENCE_MS);
    expect(done).toMatchObject({ status: "failed", why: expect.stringContaining("ECONNREFUSED") });
  });

  it("is sent under a name and password, and told where they are wrong, without repeating them", async () => {
    const login = { user: "lab", password: "hu/sh" };
    expect(await deliver({ login }, "lab:hu%2Fsh@")).toEqual({ status: "sent" });
    await server?.close();
    const wrong = await deliver({ login }, "lab:other@");
    expect(wrong).toMatchObject({ status: "failed", why: expect.stringContaining("535") });
    expect(wrong.why).not.toContain("other");
  });
});

describeWith(["openssl"], "with TLS", () => {
  const folder = temporaryFolder();
  const certificate = (): { key: string; cert: string; file: string } => {
    const [key, file] = [join(folder.path, "key.pem"), join(folder.path, "cert.pem")];
    const subject = ["-subj", "/CN=localhost", "-addext", "subjectAltName=DNS:localhost,IP:127.0.0.1"];
    const done = spawnSync("openssl", [
      "req",
      "-x509",
      "-newkey",
      "rsa:2048",
      "-nodes",
      "-days",
      "2",
      "-keyout",
      key,
      "-out",
      file,
      ...subject,
    ]);
    if (done.status !== 0) throw new Error(String(done.stderr));
    return { key: readFileSync(key, "utf8"), cert: readFileSync(file, "utf8"), file };
  };

  /** In a process of its own: whom it trusts is read when it starts. */
  const deliverTrusting = (url: string, trusted: string): Promise<string> => {
    const program = `
      import { deliverMail } from ${JSON.stringify(projectPath("dist", "worker", "documents", "smtp.js"))};
      console.log(JSON.stringify(await deliverMail(${JSON.stringify(url)}, ${JSON.stringify(ENVELOPE)}, Buffer.from(${JSON.stringify(MESSAGE.toString())}), 5000)));`;
    const child = spawn(process.execPath, ["--input-type=module", "-e", program], {
      stdio: ["ignore", "pipe", "inherit"],
      env: { ...process.env, NODE_EXTRA_CA_CERTS: trusted },
    });
    let out = "";
    child.stdout.on("data", (text) => {
      out += text;
    });
    return new Promise((resolve) => child.on("exit", () => resolve(out.trim())));
  };

  it("a server nobody vouches for gets neither password nor message; one that is trusted gets both, encrypted", async () => {
    const tls = certificate();
    const login = { user: "lab", password: "hush" };
    for (const atOnce of [false, true]) {
      server = await startSmtp({ tls: { ...tls, atOnce }, login });
      const url = `${atOnce ? "smtps" : "smtp"}://lab:hush@localhost:${server.port}`;
      const refused = await deliverMail(url, ENVELOPE, MESSAGE, 5000);
      expect(refused).toMatchObject({ status: "failed", why: expect.stringMatching(/self-signed/) });
      expect(server.messages).toEqual([]);
      expect(server.heard.some(({ line }) => line.startsWith("AUTH"))).toBe(false);
      expect(await deliverTrusting(url, tls.file)).toBe('{"status":"sent"}');
      expect(server.messages.length).toBe(1);
      expect(server.heard.filter(({ line }) => /^(AUTH|MAIL|DATA)/.test(line)).every(({ secure }) => secure)).toBe(true);
      await server.close();
    }
    folder.remove();
  });
});

describe("the digest", () => {
  const RECEIVER = "quality@mill.example";
  const digestLab = async (smtpUrl: string): Promise<TestLab> => {
    lab = await testLab();
    await lab.reopen({ mail: { ...lab.workshop.lab.settings.mail, smtpUrl, digestTo: [RECEIVER] } });
    return lab;
  };
  const states = async () => (await lab?.workshop.ledger.list<{ status: string }>("digest"))?.map((state) => state.value.status);

  it("is a draft where no server is set, one a receiver and day", async () => {
    const { workshop, folder } = await digestLab("");
    expect((await nightly(workshop, DAY)).digests).toEqual([
      `mail/digest-${DAY}-quality_mill.example-${/-(\w{8})\.eml/.exec(readdirSync(join(folder, "mail"))[0] ?? "")?.[1]}.eml`,
    ]);
    const [file = ""] = readdirSync(join(folder, "mail"));
    const text = readFileSync(join(folder, "mail", file), "utf8");
    expect(text).toMatch(/^Message-ID: <digest-2026-03-03-\S+@coilbook\.invalid>\r$/m);
    writeFileSync(join(folder, "mail", file), "sent by hand");
    expect((await nightly(workshop, DAY)).digests).toEqual([]);
    expect(readFileSync(join(folder, "mail", file), "utf8")).toBe("sent by hand");
  });

  it("is sent once; a server that is away or refuses is asked again by the next run", async () => {
    server = await startSmtp({ greeting: "refuse" });
    const { workshop } = await digestLab(`smtp://127.0.0.1:${server.port}`);
    const failed = await nightly(workshop, DAY);
    expect(failed.digests).toEqual([]);
    expect(failed.failures?.[0]).toMatch(/^quality@mill\.example: .*554/);
    expect(await states()).toEqual(["failed"]);
    server.behaviour = {};
    expect((await nightly(workshop, DAY)).digests).toEqual([`${RECEIVER} (sent)`]);
    expect((await nightly(workshop, DAY)).digests).toEqual([]);
    expect(server.messages.length).toBe(1);
  });

  it("that may have arrived is never sent again by itself, and the next day's digest says so", async () => {
    server = await startSmtp({ dot: "drop" });
    const { workshop } = await digestLab(`smtp://127.0.0.1:${server.port}`);
    expect((await nightly(workshop, DAY)).digests).toEqual([`${RECEIVER} (unsure)`]);
    server.behaviour = {};
    expect((await nightly(workshop, DAY)).digests).toEqual([]);
    expect(server.messages).toEqual([]);
    await nightly(workshop, "2026-03-04");
    expect(server.messages[0]).toContain(`Mail that may have arrived:\r\n  digest of ${DAY}  ${RECEIVER}`);
    expect(await workshop.ledger.audit()).toEqual([]);
  });

  it("whose process died while it was sent counts as one that may have arrived", async () => {
    server = await startSmtp();
    const { workshop } = await digestLab(`smtp://127.0.0.1:${server.port}`);
    await workshop.ledger.transaction("worker", async (tx) => {
      await tx.append({ kind: "digest-written", key: `${RECEIVER}|${DAY}`, payload: { receiver: RECEIVER, date: DAY, status: "sending" } });
    });
    expect((await nightly(workshop, DAY)).digests).toEqual([]);
    expect(server.messages).toEqual([]);
  });
});
