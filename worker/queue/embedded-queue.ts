import { randomUUID } from "node:crypto";
import type { Kysely } from "kysely";
import type { Clock } from "../clock.ts";
import type { Tables } from "../ledger/sqlite-ledger.ts";
import { type Handlers, type JobName, type JobQueue, PermanentJobError } from "../ports/job-queue.ts";

/** A job whose worker has not been heard of for so long is taken by another; longer than any rendering with its retries. */
const LEASE_MS = 60_000;
const ATTEMPTS = 5;
/** 1 s, 2 s, 4 s, 8 s between attempts: long enough for a browser to come back, short enough for a clerk who waits. */
const backOff = (attempt: number): number => 1000 * 2 ** (attempt - 1);

/** One machine: jobs are rows of the ledger, so nothing is lost when the process dies. */
export function createEmbeddedQueue(database: Kysely<Tables>, clock: Clock): JobQueue {
  const worker = randomUUID();
  const claim = async (): Promise<Tables["job"] | undefined> => {
    const now = clock.now().getTime();
    return database.transaction().execute(async (db) => {
      const job = await db
        .selectFrom("job")
        .selectAll()
        .where((where) =>
          where.or([
            where.and([where("state", "=", "waiting"), where("run_after", "<=", now)]),
            where.and([where("state", "=", "running"), where("locked_until", "<", now)]),
          ]),
        )
        .orderBy("run_after")
        .orderBy("key")
        .limit(1)
        .executeTakeFirst();
      if (job === undefined) return undefined;
      const attempts = job.attempts + 1;
      await db
        .updateTable("job")
        .set({ state: "running", attempts, locked_until: now + LEASE_MS, locked_by: worker })
        .where("key", "=", job.key)
        .execute();
      return { ...job, attempts };
    });
  };
  const run = async (job: Tables["job"], handlers: Handlers): Promise<void> => {
    const handler = handlers[job.name as JobName] as (payload: unknown) => Promise<void>;
    const end = (values: Partial<Tables["job"]>) =>
      database.updateTable("job").set(values).where("key", "=", job.key).where("locked_by", "=", worker).execute();
    try {
      await handler(JSON.parse(job.payload));
      await end({ state: "done", error: "" });
    } catch (error) {
      const text = error instanceof Error ? error.message : String(error);
      const dead = error instanceof PermanentJobError || job.attempts >= ATTEMPTS;
      await end({ state: dead ? "dead" : "waiting", error: text, run_after: clock.now().getTime() + backOff(job.attempts) });
    }
  };
  const enqueue: JobQueue["enqueue"] = async (name, payload, key) => {
    await database
      .insertInto("job")
      .values({
        key,
        name,
        payload: JSON.stringify(payload),
        state: "waiting",
        attempts: 0,
        run_after: 0,
        locked_until: 0,
        locked_by: "",
        error: "",
      })
      .onConflict((conflict) => conflict.column("key").doNothing())
      .execute();
  };
  return {
    enqueue,
    async runDue(handlers, concurrency) {
      await relay(database, enqueue);
      let ended = 0;
      const lane = async (): Promise<void> => {
        for (let job = await claim(); job !== undefined; job = await claim()) {
          await run(job, handlers);
          ended += 1;
        }
      };
      await Promise.all(Array.from({ length: concurrency }, lane));
      return ended;
    },
    async waiting() {
      const rows = await database.selectFrom("job").select(["state", "run_after"]).where("state", "!=", "done").execute();
      const outbox = await database.selectFrom("outbox").select("id").where("relayed", "=", 0).execute();
      const now = clock.now().getTime();
      return {
        due: outbox.length + rows.filter((r) => r.state === "waiting" && r.run_after <= now).length,
        delayed: rows.filter((r) => r.state === "running" || (r.state === "waiting" && r.run_after > now)).length,
        dead: rows.filter((r) => r.state === "dead").length,
      };
    },
  };
}

/** Moves committed outbox rows to the queue, in order. A crash in between repeats and never loses. */
async function relay(database: Kysely<Tables>, enqueue: JobQueue["enqueue"]): Promise<void> {
  const rows = await database.selectFrom("outbox").selectAll().where("relayed", "=", 0).orderBy("id").execute();
  for (const row of rows) {
    await enqueue(row.job as JobName, JSON.parse(row.payload) as object, row.key);
    await database.updateTable("outbox").set({ relayed: 1 }).where("key", "=", row.key).execute();
  }
}
