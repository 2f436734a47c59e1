import { randomUUID } from "node:crypto";
import type { Kysely } from "kysely";
import type { Clock } from "../clock.ts";
import type { Tables } from "../ledger/tables.ts";
import { type GaveUp, type Handlers, type JobName, type JobQueue, PermanentJobError } from "../ports/job-queue.ts";
import { ATTEMPTS, BACK_OFF_MS, DIED_OFTEN, insertJob, relay, revive, tellGivenUp } from "./job-records.ts";

/** A job whose worker has not been heard of for so long is taken by another. The holder renews it while it works. */
const LEASE_MS = 30_000;

type Job = Tables["job"];

export interface EmbeddedQueueOptions {
  /** Unique to the process: jobs are held under it. The ledger's own session where it is open for writing. */
  readonly session?: string;
  readonly leaseMs?: number;
  /** Before the second attempt; each later pause is twice as long. */
  readonly backOffMs?: number;
}

/** One machine: jobs are rows of the ledger, so nothing is lost when the process dies. */
export function createEmbeddedQueue(database: Kysely<Tables>, clock: Clock, options: EmbeddedQueueOptions = {}): JobQueue {
  const worker = options.session || randomUUID();
  const leaseMs = options.leaseMs ?? LEASE_MS;
  const backOff = (attempt: number): number => (options.backOffMs ?? BACK_OFF_MS) * 2 ** (attempt - 1);
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
        .orderBy("priority")
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
    await tellGivenUp(gaveUp, job, reason);
    await change(job, { state: "dead", error: reason, locked_by: byItself ? "" : worker });
  };

  const run = async (job: Job, handlers: Handlers, gaveUp: GaveUp): Promise<void> => {
    if (job.attempts > ATTEMPTS) {
      const reason = `${DIED_OFTEN}${job.error === "" ? "" : `; last error: ${job.error}`}`;
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
    enqueue: (name, payload, key) => insertJob(database, { name, payload: JSON.stringify(payload), key, priority: 0 }),
    async runDue(handlers, concurrency, gaveUp = {}, pause = () => false) {
      await relay(database);
      let ended = 0;
      const lane = async (): Promise<void> => {
        while (!pause()) {
          const job = await claim();
          if (job === undefined) return;
          await run(job, handlers, gaveUp);
          ended += 1;
        }
      };
      await Promise.all(Array.from({ length: concurrency }, lane));
      return ended;
    },
    revive: () => revive(database),
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
    close: async () => undefined,
  };
}
