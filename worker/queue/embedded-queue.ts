import { randomUUID } from "node:crypto";
import type { Kysely } from "kysely";
import type { Clock } from "../clock.ts";
import type { Db, Tables } from "../ledger/tables.ts";
import { type GaveUp, type Handlers, type JobName, type JobQueue, PermanentJobError } from "../ports/job-queue.ts";

/** A job whose worker has not been heard of for so long is taken by another. The holder renews it while it works. */
const LEASE_MS = 30_000;
const ATTEMPTS = 5;
/** 1 s, 2 s, 4 s, 8 s between attempts: long enough for a browser to come back, short enough for a clerk who waits. */
const backOff = (attempt: number): number => 1000 * 2 ** (attempt - 1);

type Job = Tables["job"];

export interface EmbeddedQueueOptions {
  /** Unique to the process: jobs are held under it. The ledger's own session where it is open for writing. */
  readonly session?: string;
  readonly leaseMs?: number;
}

/** One machine: jobs are rows of the ledger, so nothing is lost when the process dies. */
export function createEmbeddedQueue(database: Kysely<Tables>, clock: Clock, options: EmbeddedQueueOptions = {}): JobQueue {
  const worker = options.session || randomUUID();
  const leaseMs = options.leaseMs ?? LEASE_MS;
  const now = (): number => clock.now().getTime();

  /** The attempt is counted here, so that a job that kills its worker is counted too. */
  const claim = (): Promise<Job | undefined> =>
    database.transaction().execute(async (db) => {
      const at = now();
      const job = await db
        .selectFrom("job")
        .selectAll()
        .where((where) =>
          where.or([
            where.and([where("state", "=", "waiting"), where("run_after", "<=", at)]),
            where.and([where("state", "=", "running"), where("locked_until", "<", at)]),
          ]),
        )
        .orderBy("run_after")
        .orderBy("key")
        .limit(1)
        .executeTakeFirst();
      if (job === undefined) return undefined;
      const held = { state: "running", attempts: job.attempts + 1, locked_until: at + leaseMs, locked_by: worker };
      await db.updateTable("job").set(held).where("key", "=", job.key).execute();
      return { ...job, ...held };
    });

  /** Only while this claim holds: after its lease another worker, or a later claim, has the say. */
  const change = async (job: Job, values: Partial<Job>): Promise<void> => {
    await database
      .updateTable("job")
      .set(values)
      .where("key", "=", job.key)
      .where("locked_by", "=", worker)
      .where("attempts", "=", job.attempts)
      .execute();
  };

  const give = async (job: Job, reason: string, gaveUp: GaveUp, byItself: boolean): Promise<void> => {
    const told = gaveUp[job.name as JobName] as ((payload: unknown, reason: string) => Promise<void>) | undefined;
    await told?.(JSON.parse(job.payload), reason);
    await change(job, { state: "dead", error: reason, locked_by: byItself ? "" : worker });
  };

  const run = async (job: Job, handlers: Handlers, gaveUp: GaveUp): Promise<void> => {
    if (job.attempts > ATTEMPTS) {
      const reason = `its worker stopped ${ATTEMPTS} times before it ended${job.error === "" ? "" : `; last error: ${job.error}`}`;
      return give(job, reason, gaveUp, false);
    }
    const handler = handlers[job.name as JobName] as (payload: unknown) => Promise<void>;
    const heart = setInterval(() => {
      // A renewal that fails is made up by the next one, or the job is taken by another: it bears that.
      change(job, { locked_until: now() + leaseMs }).catch(() => undefined);
    }, leaseMs / 3);
    try {
      await handler(JSON.parse(job.payload));
      await change(job, { state: "done", error: "", locked_by: "" });
    } catch (error) {
      const text = error instanceof Error ? error.message : String(error);
      if (error instanceof PermanentJobError || job.attempts >= ATTEMPTS) await give(job, text, gaveUp, true);
      else await change(job, { state: "waiting", error: text, locked_by: "", run_after: now() + backOff(job.attempts) });
    } finally {
      clearInterval(heart);
    }
  };

  return {
    enqueue: (name, payload, key) => insertJob(database, name, JSON.stringify(payload), key),
    async runDue(handlers, concurrency, gaveUp = {}) {
      await relay(database);
      let ended = 0;
      const lane = async (): Promise<void> => {
        for (let job = await claim(); job !== undefined; job = await claim()) {
          await run(job, handlers, gaveUp);
          ended += 1;
        }
      };
      await Promise.all(Array.from({ length: concurrency }, lane));
      return ended;
    },
    async revive() {
      const done = await database
        .updateTable("job")
        .set({ state: "waiting", attempts: 0, run_after: 0 })
        .where("state", "=", "dead")
        .where("locked_by", "=", "")
        .executeTakeFirst();
      return Number(done.numUpdatedRows);
    },
    async waiting() {
      const rows = await database.selectFrom("job").select(["state", "run_after"]).where("state", "!=", "done").execute();
      const outbox = await database.selectFrom("outbox").select("id").where("relayed", "=", 0).execute();
      const at = now();
      return {
        due: outbox.length + rows.filter((r) => r.state === "waiting" && r.run_after <= at).length,
        delayed: rows.filter((r) => r.state === "running" || (r.state === "waiting" && r.run_after > at)).length,
        dead: rows.filter((r) => r.state === "dead").length,
      };
    },
  };
}

async function insertJob(db: Db, name: string, payload: string, key: string): Promise<void> {
  await db
    .insertInto("job")
    .values({ key, name, payload, state: "waiting", attempts: 0, run_after: 0, locked_until: 0, locked_by: "", error: "" })
    .onConflict((conflict) => conflict.column("key").doNothing())
    .execute();
}

/** Moves committed outbox rows to the queue, in order and whole: both lie in the same store. */
async function relay(database: Kysely<Tables>): Promise<void> {
  const waiting = await database.selectFrom("outbox").select("id").where("relayed", "=", 0).limit(1).executeTakeFirst();
  if (waiting === undefined) return;
  await database.transaction().execute(async (db) => {
    for (const row of await db.selectFrom("outbox").selectAll().where("relayed", "=", 0).orderBy("id").execute())
      await insertJob(db, row.job, row.payload, row.key);
    await db.updateTable("outbox").set({ relayed: 1 }).where("relayed", "=", 0).execute();
  });
}
