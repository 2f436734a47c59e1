/**
 * Figures of ledger and queues: entries a second, jobs a second. SQLite always; PostgreSQL and Redis where COILBOOK_BENCH_LEDGER_URL (an
 * empty database) and COILBOOK_BENCH_REDIS_URL name them.
 */
import { mkdtempSync, rmSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { systemClock } from "../worker/clock.ts";
import type { OpenLedger } from "../worker/ledger/open-ledger.ts";
import { openPostgresLedger } from "../worker/ledger/postgres-ledger.ts";
import { openSqliteLedger } from "../worker/ledger/sqlite-ledger.ts";
import type { Handlers, JobQueue } from "../worker/ports/job-queue.ts";
import { createBullQueue } from "../worker/queue/bull-queue.ts";
import { createEmbeddedQueue } from "../worker/queue/embedded-queue.ts";

const ENTRIES = 200;
const JOBS = 500;
const nothing: Handlers = { "answer-file": () => Promise.resolve(), "render-document": () => Promise.resolve() };

const perSecond = (count: number, started: number): string => (count / ((performance.now() - started) / 1000)).toFixed(0).padStart(7);
const say = (what: string, figure: string): void => {
  process.stdout.write(`${what.padEnd(58)} ${figure} a second\n`);
};

async function measureEntries(name: string, ledger: OpenLedger): Promise<void> {
  const started = performance.now();
  for (let i = 0; i < ENTRIES; i += 1)
    await ledger.transaction("bench", async (tx) => {
      await tx.append({ kind: "coil-registered", key: `B-${i}`, payload: { coil: `B-${i}`, order: "O-1", item: "10" } });
    });
  say(`${name}: transactions of one fact`, perSecond(ENTRIES, started));
}

async function measureJobs(name: string, ledger: OpenLedger, queue: JobQueue): Promise<void> {
  await ledger.transaction("bench", async (tx) => {
    for (let i = 0; i < JOBS; i += 1) await tx.enqueue({ job: "answer-file", key: `${name}|${i}`, payload: { receipt: String(i) } });
  });
  const started = performance.now();
  let done = 0;
  while (done < JOBS) done += await queue.runDue(nothing, 2);
  say(`${name}: jobs, from the outbox to done in the ledger`, perSecond(JOBS, started));
  await queue.close();
}

const folder = mkdtempSync(join(tmpdir(), "coilbook-bench-"));
const { COILBOOK_BENCH_LEDGER_URL: url, COILBOOK_BENCH_REDIS_URL: redis } = process.env;
const ledgers: [string, OpenLedger][] = [["SQLite", await openSqliteLedger(join(folder, "ledger.db"), systemClock)]];
if (url) ledgers.push(["PostgreSQL", await openPostgresLedger(url, systemClock)]);
try {
  for (const [name, ledger] of ledgers) {
    await measureEntries(name, ledger);
    await measureJobs(
      `${name}, jobs in the ledger`,
      ledger,
      createEmbeddedQueue(ledger.database, systemClock, { session: ledger.session }),
    );
    if (redis) await measureJobs(`${name}, BullMQ on Redis`, ledger, createBullQueue(ledger.database, redis));
  }
} finally {
  for (const [, ledger] of ledgers) await ledger.close();
  rmSync(folder, { recursive: true, force: true });
}
