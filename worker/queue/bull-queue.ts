/**
 * Many machines: BullMQ on Redis hands jobs to workers. The ledger knows every job and how it ended, so that Redis may be restarted or
 * lose its data: what is open there is handed over again, and what is done there is not run again.
 */
import { randomUUID } from "node:crypto";
import { type Job, Queue, UnrecoverableError, Worker } from "bullmq";
import { Redis } from "ioredis";
import type { Kysely } from "kysely";
import { isAway, ServiceAway, withoutPassword } from "../errors.ts";
import { sha256 } from "../files.ts";
import type { Tables } from "../ledger/tables.ts";
import { type GaveUp, type Handlers, type JobName, type JobQueue, PermanentJobError } from "../ports/job-queue.ts";
import { ATTEMPTS, BACK_OFF_MS, DIED_OFTEN, insertJob, relay, revive, tellGivenUp } from "./job-records.ts";

const LEASE_MS = 30_000;
/** How often all open jobs are handed over again: a no-op for those that Redis holds, a rescue for those it lost. */
const AGAIN_MS = 10_000;
/** Of BullMQ: lower first, 1 is the highest of those that have one. */
const HIGHEST = 1;
const PREFIX = "coilbook";

interface Handed {
  readonly key: string;
}

export interface BullQueueOptions {
  readonly leaseMs?: number;
  /** Before the second attempt; each later pause is twice as long, less a random part of up to a quarter. */
  readonly backOffMs?: number;
  /** How often all open jobs are handed over again. */
  readonly againMs?: number;
}

interface Connected {
  readonly client: Redis;
  readonly queue: Queue<Handed>;
  readonly worker: Worker<Handed>;
  /** Keys handed over since `since`. */
  readonly handed: Set<string>;
  since: number;
}

/** BullMQ takes no colon and no bare number in a name of a job. */
const jobId = (key: string): string => `job-${sha256(key).slice(0, 40)}`;

/** @param url `redis://…`; the server is not reached before it is needed */
export function createBullQueue(database: Kysely<Tables>, url: string, options: BullQueueOptions = {}): JobQueue {
  const leaseMs = options.leaseMs ?? LEASE_MS;
  const backOffMs = options.backOffMs ?? BACK_OFF_MS;
  let connected: Connected | undefined;

  const connect = async (): Promise<Connected> => {
    if (connected !== undefined && connected.client.status !== "end") return connected;
    await close();
    const { value } = await database.selectFrom("identity").select("value").executeTakeFirstOrThrow();
    // A broken connection ends: the next turn makes a new one, and says in between that the service is away.
    const client = new Redis(url, { lazyConnect: true, maxRetriesPerRequest: null, retryStrategy: () => null, connectTimeout: 5000 });
    // The refused connection is told by an event; the promise only says that it is closed.
    let said: Error | undefined;
    client.on("error", (error) => {
      said = error;
    });
    await client.connect().catch((error: Error) => Promise.reject(said ?? error));
    await checkPolicy(client, url);
    const base = { connection: client, prefix: PREFIX };
    const queue = new Queue<Handed>(value, base);
    const worker = new Worker<Handed>(value, null, {
      ...base,
      autorun: false,
      lockDuration: leaseMs,
      stalledInterval: leaseMs,
      maxStalledCount: ATTEMPTS - 1,
    });
    // Whoever waits for an answer is told of the error; nobody else needs to know.
    queue.on("error", () => undefined);
    worker.on("error", () => undefined);
    await Promise.all([queue.waitUntilReady(), worker.waitUntilReady()]);
    await worker.startStalledCheckTimer();
    connected = { client, queue, worker, handed: new Set(), since: performance.now() };
    return connected;
  };

  const close = async (): Promise<void> => {
    const old = connected;
    connected = undefined;
    if (old === undefined) return;
    await Promise.allSettled([old.worker.close(true), old.queue.close()]);
    old.client.disconnect();
  };

  /** A connection that broke is let go of, so that the next turn makes a new one. @throws ServiceAway in place of what the socket said */
  const withRedis = async <T>(use: (redis: Connected) => Promise<T>): Promise<T> => {
    try {
      return await use(await connect());
    } catch (error) {
      const gone = connected === undefined || connected.client.status === "end";
      if (gone) await close();
      if (gone && isAway(error) && !(error instanceof ServiceAway))
        throw new ServiceAway(`queue ${withoutPassword(url)}: cannot be reached (${(error as Error).message})`);
      throw error;
    }
  };

  /** Everything that the ledger holds open is put into Redis; a job that is there already stays as it is. */
  const handOver = async (redis: Connected): Promise<void> => {
    if (performance.now() - redis.since > (options.againMs ?? AGAIN_MS)) {
      redis.handed.clear();
      redis.since = performance.now();
    }
    const open = await database
      .selectFrom("job")
      .select(["key", "name", "priority"])
      .where("state", "in", ["waiting", "running"])
      .execute();
    for (const { key, name, priority } of open) {
      if (redis.handed.has(key)) continue;
      await redis.queue.add(
        name,
        { key },
        {
          jobId: jobId(key),
          attempts: ATTEMPTS,
          backoff: { type: "exponential", delay: backOffMs, jitter: 0.25 },
          priority: HIGHEST + priority,
          removeOnComplete: true,
          // Those stay until the ledger has them on its list.
          removeOnFail: false,
        },
      );
      redis.handed.add(key);
    }
  };

  const rowOf = (key: string): Promise<Tables["job"] | undefined> =>
    database.selectFrom("job").selectAll().where("key", "=", key).executeTakeFirst();
  const change = async (key: string, values: Partial<Tables["job"]>): Promise<void> => {
    await database.updateTable("job").set(values).where("key", "=", key).where("state", "in", ["waiting", "running"]).execute();
  };

  /** What Redis holds as failed is written down as given up and then taken from there. */
  const bury = async (redis: Connected, gaveUp: GaveUp): Promise<number> => {
    const failed = await redis.queue.getFailed();
    for (const job of failed) {
      const row = await rowOf(job.data.key);
      if (row !== undefined && row.state !== "done" && row.state !== "dead") {
        const died = job.failedReason?.startsWith("job stalled") === true;
        const reason = died ? `${DIED_OFTEN}${row.error === "" ? "" : `; last error: ${row.error}`}` : (job.failedReason ?? "");
        await tellGivenUp(gaveUp, row, reason);
        // Marked where its worker died over it: such a job is not woken by a restart.
        await change(row.key, { state: "dead", error: reason, attempts: job.attemptsMade, locked_by: died ? "stalled" : "" });
      }
      await job.remove();
      redis.handed.delete(job.data.key);
    }
    return failed.length;
  };

  const run = async (redis: Connected, job: Job<Handed>, token: string, handlers: Handlers): Promise<void> => {
    // Given back too often by workers that died over it: to be failed by whoever gets it next.
    if (job.deferredFailure !== undefined && job.deferredFailure !== "")
      return finish(() => job.moveToFailed(new UnrecoverableError(job.deferredFailure), token, false));
    const row = await rowOf(job.data.key);
    const heart = setInterval(() => {
      // A renewal that fails is made up by the next one, or the job is taken by another: it bears that.
      job.extendLock(token, leaseMs).catch(() => undefined);
    }, leaseMs / 3);
    try {
      if (row !== undefined && (row.state === "waiting" || row.state === "running")) {
        await (handlers[row.name as JobName] as (payload: unknown) => Promise<void>)(JSON.parse(row.payload));
        // First in the ledger: after a crash in between, the job is run again and finds that it is done.
        await change(row.key, { state: "done", error: "", attempts: job.attemptsMade + 1 });
      }
      await finish(() => job.moveToCompleted(null, token, false));
    } catch (error) {
      if (isAway(error) && !(error instanceof ServiceAway)) {
        // The ledger is away: no fault of the job, so it does not cost an attempt.
        await finish(() => job.moveToDelayed(Date.now() + backOffMs, token));
        throw error;
      }
      const text = error instanceof Error ? error.message : String(error);
      await change(job.data.key, { error: text, attempts: job.attemptsMade + 1 });
      await finish(() =>
        job.moveToFailed(error instanceof PermanentJobError ? new UnrecoverableError(text) : new Error(text), token, false),
      );
    } finally {
      clearInterval(heart);
      redis.handed.delete(job.data.key);
    }
  };

  return {
    enqueue: (name, payload, key) => insertJob(database, { name, payload: JSON.stringify(payload), key, priority: 0 }),
    runDue: (handlers, concurrency, gaveUp = {}, pause = () => false) =>
      withRedis(async (redis) => {
        await relay(database);
        await handOver(redis);
        await bury(redis, gaveUp);
        let ended = 0;
        const lane = async (): Promise<void> => {
          const token = randomUUID();
          while (!pause()) {
            const job = await redis.worker.getNextJob(token, { block: false });
            if (job === undefined) return;
            await run(redis, job, token, handlers);
            ended += 1;
          }
        };
        const lanes = await Promise.allSettled(Array.from({ length: concurrency }, lane));
        await bury(redis, gaveUp);
        for (const one of lanes) if (one.status === "rejected") throw one.reason;
        return ended;
      }),
    revive: () => revive(database),
    waiting: () =>
      withRedis(async ({ queue }) => {
        const states = await database.selectFrom("job").select("state").where("state", "in", ["waiting", "running", "dead"]).execute();
        const outbox = await database.selectFrom("outbox").select("id").where("relayed", "=", 0).execute();
        const counts = await queue.getJobCounts("active", "delayed");
        const dead = states.filter((row) => row.state === "dead").length;
        const open = states.length - dead;
        const delayed = Math.min(open, (counts["active"] ?? 0) + (counts["delayed"] ?? 0));
        return { due: open - delayed + outbox.length, delayed, dead };
      }),
    close,
  };
}

/** A worker that was too slow for its lease finds that another has the job: its own end counts no more. */
async function finish(end: () => Promise<unknown>): Promise<void> {
  try {
    await end();
  } catch (error) {
    if (!/Missing lock|Missing key|not in the active state|Lock mismatch/i.test((error as Error).message)) throw error;
  }
}

/** A server that throws keys away when it is full would lose jobs; they would come back late, and nobody would know why. */
async function checkPolicy(client: Redis, url: string): Promise<void> {
  const policy = /maxmemory_policy:(\S+)/.exec(await client.info())?.[1];
  if (policy === undefined || policy === "noeviction") return;
  client.disconnect();
  throw new ServiceAway(`queue ${withoutPassword(url)}: the server's maxmemory-policy is ${policy}; accepted is noeviction`);
}
