/** One suite for both queues, over both stores, and what only Redis can meet. */
import { randomUUID } from "node:crypto";
import { mkdtempSync, rmSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { Worker } from "bullmq";
import { Redis } from "ioredis";
import { afterAll, afterEach, beforeAll, beforeEach, describe, expect, it } from "vitest";
import { systemClock } from "../../worker/clock.ts";
import { ServiceAway } from "../../worker/errors.ts";
import type { OpenLedger } from "../../worker/ledger/open-ledger.ts";
import { openPostgresLedger } from "../../worker/ledger/postgres-ledger.ts";
import { openSqliteLedger } from "../../worker/ledger/sqlite-ledger.ts";
import type { JobQueue } from "../../worker/ports/job-queue.ts";
import { createBullQueue } from "../../worker/queue/bull-queue.ts";
import { createEmbeddedQueue } from "../../worker/queue/embedded-queue.ts";
import { openJobs } from "../../worker/queue/job-records.ts";
import { freePort, startPostgres, startRedis, type TestPostgres, type TestRedis } from "../helpers/services.ts";
import { describeWith } from "../helpers/tools.ts";
import { ask, BACK_OFF_MS, handlers, LEASE_MS, type QueueHome, queueContract, turn } from "./queue.contract.ts";

const sqlite = async (): Promise<{ ledger: OpenLedger; remove: () => Promise<void> }> => {
  const folder = mkdtempSync(join(tmpdir(), "coilbook-queue-"));
  const ledger = await openSqliteLedger(join(folder, "ledger.db"), systemClock);
  return {
    ledger,
    async remove() {
      await ledger.close();
      rmSync(folder, { recursive: true, force: true });
    },
  };
};

const embeddedHome = (ledger: OpenLedger, remove: () => Promise<void>): QueueHome => {
  const worker = (session: string): JobQueue =>
    createEmbeddedQueue(ledger.database, systemClock, { session, leaseMs: LEASE_MS, backOffMs: BACK_OFF_MS });
  return {
    ledger,
    worker,
    // What a process that is killed leaves behind: the claim, and nobody who renews it.
    async dieOver() {
      const before = (await ledger.database.selectFrom("job").select("attempts").executeTakeFirst())?.attempts ?? 0;
      const attempts = async (): Promise<number> => {
        void worker("gone").runDue(
          handlers(() => new Promise(() => undefined)),
          1,
        );
        await new Promise((resolve) => setTimeout(resolve, 20));
        return (await ledger.database.selectFrom("job").select("attempts").executeTakeFirst())?.attempts ?? 0;
      };
      await expect.poll(attempts, { timeout: 20_000, interval: 30 }).toBe(before + 1);
      await ledger.database.updateTable("job").set({ locked_by: "nobody" }).execute();
    },
    remove,
  };
};

queueContract("jobs in SQLite", async () => {
  const { ledger, remove } = await sqlite();
  return embeddedHome(ledger, remove);
});

describeWith(["postgres"], "with PostgreSQL", () => {
  let postgres: TestPostgres;
  beforeAll(async () => {
    postgres = await startPostgres();
  });
  afterAll(() => postgres.remove());
  queueContract("jobs in PostgreSQL", async () => {
    const ledger = await openPostgresLedger(await postgres.database(), systemClock);
    return embeddedHome(ledger, () => ledger.close());
  });
});

describeWith(["redis-server"], "with Redis", () => {
  let redis: TestRedis;
  beforeAll(async () => {
    redis = await startRedis();
  });
  afterAll(() => redis.remove());
  const short = { leaseMs: LEASE_MS, backOffMs: BACK_OFF_MS };

  queueContract("BullMQ", async () => {
    const { ledger, remove } = await sqlite();
    const identity = await ledger.database.selectFrom("identity").select("value").executeTakeFirstOrThrow();
    const relaying = createBullQueue(ledger.database, redis.url, short);
    return {
      ledger,
      worker: () => createBullQueue(ledger.database, redis.url, short),
      async dieOver() {
        // Hands over what is committed, and runs nothing.
        await relaying.runDue(
          handlers(() => Promise.reject(new Error("not this one"))),
          0,
        );
        const client = new Redis(redis.url, { lazyConnect: true, maxRetriesPerRequest: null });
        await client.connect();
        const dying = new Worker(identity.value, null, { connection: client, prefix: "coilbook", autorun: false, lockDuration: LEASE_MS });
        dying.on("error", () => undefined);
        await dying.waitUntilReady();
        await expect.poll(async () => dying.getNextJob(randomUUID(), { block: false }), { timeout: 20_000, interval: 50 }).toBeDefined();
        await dying.close(true);
        client.disconnect();
      },
      async remove() {
        await relaying.close();
        await remove();
      },
    };
  });

  describe("a Redis", () => {
    let home: Awaited<ReturnType<typeof sqlite>>;
    let queue: JobQueue;
    const done: string[] = [];
    const given = handlers(async (receipt) => void done.push(receipt));
    beforeEach(async () => {
      home = await sqlite();
      queue = createBullQueue(home.ledger.database, redis.url, short);
      done.length = 0;
    });
    afterEach(async () => {
      await queue.close();
      await home.remove();
    });

    it("that was restarted is used again without a restart of the worker", async () => {
      await ask(home.ledger, "1");
      await turn(queue, given);
      await redis.stop("SIGKILL");
      await ask(home.ledger, "2");
      await expect(queue.runDue(given, 1)).rejects.toBeInstanceOf(ServiceAway);
      await expect(queue.waiting()).rejects.toThrow(/^queue redis:\/\/127\.0\.0\.1:\d+\/?: cannot be reached/);
      await redis.start();
      await turn(queue, given);
      expect(done).toEqual(["1", "2"]);
    });

    it("that lost its data gets every open job again, and none that is done or given up", async () => {
      for (const receipt of ["1", "2", "3"]) await ask(home.ledger, receipt);
      // One is done, one has failed and waits for its next attempt, one was never begun.
      let failed = false;
      const first = handlers(async (receipt) => {
        if (receipt === "2" && !failed) {
          failed = true;
          throw new Error("later");
        }
        if (receipt === "3") throw new Error("not yet");
        done.push(receipt);
      });
      const patient = createBullQueue(home.ledger.database, redis.url, { ...short, backOffMs: 60_000 });
      await patient.runDue(first, 1);
      expect((await patient.waiting()).delayed).toBe(2);
      await patient.close();
      await redis.stop("SIGKILL");
      redis.lose();
      await redis.start();
      await turn(queue, given);
      expect(done.sort()).toEqual(["1", "2", "3"]);
      expect(await openJobs(home.ledger.database)).toEqual([]);
    });

    it("that is emptied while jobs wait in it gets them again within seconds", async () => {
      await ask(home.ledger, "1");
      const watching = createBullQueue(home.ledger.database, redis.url, { ...short, againMs: 200 });
      // Handed over, and not run.
      await watching.runDue(given, 0);
      const client = new Redis(redis.url, { lazyConnect: true, maxRetriesPerRequest: null });
      await client.connect();
      await client.flushall();
      client.disconnect();
      expect(await watching.runDue(given, 1)).toBe(0);
      await turn(watching, given);
      await watching.close();
      expect(done).toEqual(["1"]);
    });

    it("that would throw jobs away when it is full is refused", async () => {
      const client = new Redis(redis.url, { lazyConnect: true, maxRetriesPerRequest: null });
      await client.connect();
      await client.config("SET", "maxmemory-policy", "allkeys-lru");
      try {
        await expect(queue.runDue(given, 1)).rejects.toThrow(/maxmemory-policy is allkeys-lru; accepted is noeviction/);
      } finally {
        await client.config("SET", "maxmemory-policy", "noeviction");
        client.disconnect();
      }
    });

    it("holds the jobs of two labs apart", async () => {
      const other = await sqlite();
      const otherQueue = createBullQueue(other.ledger.database, redis.url, short);
      await ask(home.ledger, "mine");
      await ask(other.ledger, "theirs");
      await otherQueue.runDue(
        handlers(async (receipt) => void done.push(`other ${receipt}`)),
        1,
      );
      expect(done).toEqual(["other theirs"]);
      await otherQueue.close();
      await other.remove();
    });

    it("that is not there is named without its password", async () => {
      const away = createBullQueue(home.ledger.database, `redis://:hush@127.0.0.1:${await freePort()}`);
      await expect(away.waiting()).rejects.toThrow(/^queue redis:\/\/:\*\*\*@127\.0\.0\.1:\d+\/?: cannot be reached \(.*ECONNREFUSED/);
    });
  });
});
