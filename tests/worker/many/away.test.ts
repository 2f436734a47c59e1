/** Services that go away under a worker, in this process. Rule: the contract, section 4: a service away for 60 s ends a drain with 69. */
import { existsSync, readdirSync, readFileSync, rmSync, writeFileSync } from "node:fs";
import { join } from "node:path";
import { afterAll, afterEach, beforeAll, beforeEach, describe, expect, it } from "vitest";
import { openPatiently } from "../../../worker/cli/work.ts";
import { systemClock } from "../../../worker/clock.ts";
import { ServiceUnreachable } from "../../../worker/errors.ts";
import { type HealthServer, startHealth } from "../../../worker/health.ts";
import { jsonLog, type LogFields } from "../../../worker/log.ts";
import { newPulse, type WorkSummary, work } from "../../../worker/work.ts";
import { coilbook, jsonLines } from "../../helpers/cli.ts";
import { freePort, startPostgres, startRedis, type TestPostgres, type TestRedis } from "../../helpers/services.ts";
import { describeWith } from "../../helpers/tools.ts";
import { book, plan, type TestLab, testLab } from "../work/lab.ts";

const never = new AbortController().signal;
const get = async (server: HealthServer, path: string): Promise<readonly [number, string]> => {
  const response = await fetch(`http://127.0.0.1:${server.port}${path}`);
  return [response.status, await response.text()];
};

describe("health", () => {
  it("says what a worker does, and shows no contents", async () => {
    const lab = await testLab();
    const pulse = newPulse();
    const server = await startHealth(pulse, 0, "127.0.0.1");
    expect((await get(server, "/health/live"))[0]).toBe(200);
    expect(await get(server, "/health/ready")).toEqual([503, expect.stringContaining("not listed yet")]);
    lab.drop("good.xlsx", book(plan()));
    lab.drop("broken.xlsx", "coil;turns\n");
    const lines: string[] = [];
    await work(lab.workshop, { drain: true, signal: never, log: jsonLog((text) => lines.push(text), systemClock), pulse });
    expect((await get(server, "/health/ready"))[0]).toBe(200);
    const [, metrics] = await get(server, "/metrics");
    for (const line of [
      'coilbook_files_total{outcome="judged"} 1',
      'coilbook_files_total{outcome="refused"} 1',
      'coilbook_jobs_total{job="render-document",outcome="done"} 1',
      'coilbook_documents_written_total{format="xlsx"} 1',
      'coilbook_jobs_open{state="dead"} 0',
      "coilbook_service_away 0",
      "# TYPE coilbook_turns_total counter",
    ])
      expect(metrics).toContain(`${line}\n`);
    expect(metrics).not.toMatch(/good|T-001|90001/);
    expect((await get(server, "/elsewhere"))[0]).toBe(404);
    expect((await fetch(`http://127.0.0.1:${server.port}/metrics`, { method: "POST" })).status).toBe(405);
    const told = lines.map((line) => JSON.parse(line) as LogFields & { time: string });
    const [file, document] = [told.find((l) => l.event === "file-judged"), told.find((l) => l.event === "document-written")];
    expect(file?.items).toEqual([document?.item]);
    expect(document?.number).toBe("2026-00001");
    expect(told.find((l) => l.event === "job-done" && l.receipt === file?.receipt)?.job).toBe("answer-file");
    await server.close();
    await lab.remove();
  });

  it("refuses a port that is taken or none, and a form of log that is none", async () => {
    const server = await startHealth(newPulse(), 0, "127.0.0.1");
    await expect(startHealth(newPulse(), server.port, "127.0.0.1")).rejects.toThrow(
      /--health-port: 127\.0\.0\.1:\d+ cannot be listened on/,
    );
    await server.close();
    expect(coilbook(["work", "--health-port", "high"])).toMatchObject({ status: 64, err: expect.stringContaining('found "high"') });
    expect(coilbook(["work", "--log", "xml"])).toMatchObject({ status: 64, err: expect.stringContaining("accepted are text and json") });
  });
});

describeWith(["redis-server", "postgres"], "a worker on PostgreSQL and Redis", () => {
  let redis: TestRedis;
  let postgres: TestPostgres;
  let lab: TestLab;
  const said: string[] = [];
  const drain = (patienceMs: number): Promise<WorkSummary> =>
    work(lab.workshop, { drain: true, signal: never, log: (line) => said.push(line), patienceMs });
  const returned = (): readonly string[] => (existsSync(join(lab.folder, "returned")) ? readdirSync(join(lab.folder, "returned")) : []);
  beforeAll(async () => {
    [redis, postgres] = [await startRedis(), await startPostgres()];
  });
  beforeEach(async () => {
    said.length = 0;
    lab = await testLab({ ledger: { url: await postgres.database() }, queue: { redisUrl: redis.url } });
  });
  afterEach(() => lab.remove());
  afterAll(async () => {
    await redis?.remove();
    await postgres?.remove();
  });

  it("waits for Redis, says so once, and goes on when it is back; what it took is in the ledger", async () => {
    await redis.stop("SIGKILL");
    lab.drop("good.xlsx", book(plan()));
    const working = drain(60_000);
    await expect
      .poll(() => said.join("\n"), { timeout: 20_000 })
      .toMatch(/queue redis:.* cannot be reached .*; it is tried again until it is back/);
    await expect.poll(() => readdirSync(join(lab.folder, "inbox")), { timeout: 20_000 }).toEqual([]);
    await expect.poll(() => readFileSync(join(lab.folder, "register", "now.html"), "utf8"), { timeout: 20_000 }).toContain("good.xlsx");
    await redis.start();
    expect(await working).toMatchObject({ files: 1, serviceAway: false, dead: 0 });
    expect(said.filter((line) => line.includes("cannot be reached")).length).toBe(1);
    expect(said).toContain("what was away is back");
    expect(returned()).toEqual(["good.xlsx"]);
  });

  it("waits for PostgreSQL while the file stays in the inbox, and loses nothing", async () => {
    await postgres.stop("SIGQUIT");
    lab.drop("good.xlsx", book(plan()));
    const working = drain(120_000);
    await expect.poll(() => said.join("\n"), { timeout: 30_000 }).toMatch(/it is tried again until it is back/);
    expect(readdirSync(join(lab.folder, "inbox"))).toEqual(["good.xlsx"]);
    await postgres.start();
    expect(await working).toMatchObject({ files: 1, serviceAway: false, dead: 0 });
    expect(returned()).toEqual(["good.xlsx"]);
    expect(await lab.workshop.ledger.audit()).toEqual([]);
  });

  it("ends a drain after its patience and names the service; nothing is lost", async () => {
    await redis.stop("SIGKILL");
    lab.drop("good.xlsx", book(plan()));
    expect(await drain(500)).toMatchObject({ serviceAway: true, reason: expect.stringMatching(/^queue redis:.* cannot be reached/) });
    await redis.start();
    expect(await drain(60_000)).toMatchObject({ serviceAway: false, dead: 0 });
    expect(returned()).toEqual(["good.xlsx"]);
  });

  it("that starts before its ledger waits for it, and not for ever in a drain", async () => {
    const url = `postgres://coilbook@127.0.0.1:${await freePort()}/lab`;
    const away = { ...lab.workshop.lab, settings: { ...lab.workshop.lab.settings, ledger: { url } } };
    await expect(openPatiently(away, {}, (line) => said.push(line), never, 1200)).rejects.toBeInstanceOf(ServiceUnreachable);
    expect(said.length).toBe(1);
  });
});

describe("jobs", () => {
  it("are listed, tried again and dropped by name; what was not given up is named", async () => {
    const lab = await testLab();
    lab.drop("good.xlsx", book(plan()));
    await work(lab.workshop, { drain: true, signal: never, log: () => undefined });
    await lab.workshop.ledger.database
      .updateTable("job")
      .set({ state: "dead", error: "the disk is full" })
      .where("name", "=", "render-document")
      .execute();
    await lab.workshop.ledger.close();
    writeFileSync(join(lab.folder, "coilbook.json"), JSON.stringify(lab.workshop.lab.settings));
    const run = (...args: string[]) => coilbook(["jobs", ...args, "--lab", lab.folder]);
    const listed = run("list", "--json");
    expect(listed.status).toBe(1);
    const [{ jobs }] = jsonLines(listed.out) as unknown as [{ jobs: { key: string; state: string; error: string }[] }];
    expect(jobs).toMatchObject([{ state: "dead", error: "the disk is full", key: expect.stringMatching(/^render\|/) }]);
    expect(run("retry").status).toBe(64);
    expect(run("retry", "render|none")).toMatchObject({ status: 64, err: expect.stringContaining("render|none was not given up") });
    expect(run("retry", jobs[0]?.key ?? "").status).toBe(0);
    expect(run("list", "--json").out).toContain('"state":"waiting"');
    expect(run("drop", "--all").status).toBe(64);
    expect(run("drop", "--all", "--why", "printed by hand")).toMatchObject({ status: 0, out: "0 jobs are off the list\n" });
    rmSync(lab.folder, { recursive: true, force: true });
  });
});
