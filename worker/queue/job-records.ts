/**
 * Every job is a row of the ledger, whichever queue runs it: what is open, what was given up and why is known there, so that nothing is
 * lost with a queue that lost its data.
 */
import type { Kysely } from "kysely";
import type { Db, Tables } from "../ledger/tables.ts";
import type { GaveUp, JobName } from "../ports/job-queue.ts";

export const ATTEMPTS = 5;
/** 1 s, 2 s, 4 s, 8 s between attempts: long enough for a browser to come back, short enough for a clerk who waits. */
export const BACK_OFF_MS = 1000;
/** Why a job is given up that never came to an end. */
export const DIED_OFTEN = `its worker stopped ${ATTEMPTS} times before it ended`;

type Job = Tables["job"];

export type NewJob = Pick<Job, "key" | "name" | "payload" | "priority">;

/** A key that is known is a no-op. */
export async function insertJob(db: Db, job: NewJob): Promise<void> {
  await db
    .insertInto("job")
    .values({ ...job, state: "waiting", attempts: 0, run_after: 0, locked_until: 0, locked_by: "", error: "" })
    .onConflict((conflict) => conflict.column("key").doNothing())
    .execute();
}

/** Makes jobs of committed outbox rows, in order and whole: both lie in the same store. */
export async function relay(database: Kysely<Tables>): Promise<void> {
  const waiting = await database.selectFrom("outbox").select("id").where("relayed", "=", 0).limit(1).executeTakeFirst();
  if (waiting === undefined) return;
  await database.transaction().execute(async (db) => {
    for (const row of await db.selectFrom("outbox").selectAll().where("relayed", "=", 0).orderBy("id").execute())
      await insertJob(db, { name: row.job, payload: row.payload, key: row.key, priority: row.priority });
    await db.updateTable("outbox").set({ relayed: 1 }).where("relayed", "=", 0).execute();
  });
}

export async function tellGivenUp(gaveUp: GaveUp, job: Pick<Job, "name" | "payload">, reason: string): Promise<void> {
  const told = gaveUp[job.name as JobName] as ((payload: unknown, reason: string) => Promise<void>) | undefined;
  await told?.(JSON.parse(job.payload), reason);
}

/** Gives jobs that were given up another set of attempts; not those whose worker died over them. @returns how many */
export async function revive(database: Kysely<Tables>): Promise<number> {
  const done = await database.updateTable("job").set(ANEW).where("state", "=", "dead").where("locked_by", "=", "").executeTakeFirst();
  return Number(done.numUpdatedRows);
}

const ANEW = { state: "waiting", attempts: 0, run_after: 0, locked_until: 0, locked_by: "" };

export interface ListedJob {
  readonly key: string;
  readonly job: string;
  readonly state: "waiting" | "running" | "dead";
  readonly attempts: number;
  /** Of its last attempt; empty where none failed. */
  readonly error: string;
}

/** Every job that is not done, those that were given up first. */
export async function openJobs(database: Kysely<Tables>): Promise<readonly ListedJob[]> {
  const rows = await database.selectFrom("job").selectAll().where("state", "in", OPEN).orderBy("state").orderBy("key").execute();
  return rows.map((row) => ({
    key: row.key,
    job: row.name,
    state: row.state as ListedJob["state"],
    attempts: row.attempts,
    error: row.error,
  }));
}

const OPEN = ["dead", "running", "waiting"];

/** @param keys of given-up jobs; empty: all of them, also those whose worker died over them. @returns the keys that get new attempts */
export const retryJobs = (database: Kysely<Tables>, keys: readonly string[]): Promise<readonly string[]> =>
  changeDead(database, keys, ANEW);

/** Takes given-up jobs off the list; they are never run again. @returns their keys */
export const dropJobs = (database: Kysely<Tables>, keys: readonly string[], reason: string): Promise<readonly string[]> =>
  changeDead(database, keys, { state: "dropped", error: reason, locked_by: "" });

async function changeDead(database: Kysely<Tables>, keys: readonly string[], values: Partial<Job>): Promise<readonly string[]> {
  return database.transaction().execute(async (db) => {
    let query = db.selectFrom("job").select("key").where("state", "=", "dead");
    if (keys.length > 0) query = query.where("key", "in", [...keys]);
    const found = (await query.orderBy("key").execute()).map((row) => row.key);
    if (found.length > 0) await db.updateTable("job").set(values).where("key", "in", found).execute();
    return found;
  });
}
