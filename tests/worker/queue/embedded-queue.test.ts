/** Jobs in the ledger: at least once, counted attempts, leases. Figures of back-off and attempts: the project's own choice. */
import { mkdtempSync, rmSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { afterEach, beforeEach, describe, expect, it } from "vitest";
import { systemClock } from "../../../worker/clock.ts";
import type { OpenLedger } from "../../../worker/ledger/open-ledger.ts";
import { openSqliteLedger } from "../../../worker/ledger/sqlite-ledger.ts";
import { type Handlers, PermanentJobError } from "../../../worker/ports/job-queue.ts";
import { createEmbeddedQueue } from "../../../worker/queue/embedded-queue.ts";
import { testClock } from "../work/lab.ts";

let folder: string;
let ledger: OpenLedger;
let clock: ReturnType<typeof testClock>;

beforeEach(async () => {
  folder = mkdtempSync(join(tmpdir(), "coilbook-queue-"));
  clock = testClock();
  ledger = await openSqliteLedger(join(folder, "ledger.db"), clock);
});
afterEach(async () => {
  await ledger.close();
  rmSync(folder, { recursive: true, force: true });
});

const handlers = (answer: (receipt: string) => Promise<void>): Handlers => ({
  "answer-file": ({ receipt }) => answer(receipt),
  "render-document": () => Promise.reject(new Error("no such job in this test")),
});
const queueOf = (session: string, leaseMs = 30_000) => createEmbeddedQueue(ledger.database, clock, { session, leaseMs });
const jobs = () => ledger.database.selectFrom("job").select(["key", "state", "attempts", "run_after", "error"]).orderBy("key").execute();
const ask = (receipt: string) =>
  ledger.transaction("worker", (tx) => tx.enqueue({ job: "answer-file", key: `answer|${receipt}`, payload: { receipt } }));

describe("the outbox", () => {
  it("reaches the queue once, however often the same work is asked for", async () => {
    const done: string[] = [];
    const queue = queueOf("a");
    await ask("1");
    await ask("1");
    await ask("2");
    expect(await queue.waiting()).toEqual({ due: 2, delayed: 0, dead: 0 });
    const count = () =>
      queue.runDue(
        handlers(async (receipt) => void done.push(receipt)),
        2,
      );
    expect(await count()).toBe(2);
    await ask("1");
    expect(await count()).toBe(0);
    expect(done.sort()).toEqual(["1", "2"]);
    expect(await queue.waiting()).toEqual({ due: 0, delayed: 0, dead: 0 });
  });
});

describe("a job that fails", () => {
  it("runs again after 1, 2, 4 and 8 seconds, not before, and is given up at the fifth", async () => {
    const told: string[] = [];
    let runs = 0;
    const queue = queueOf("a");
    await ask("1");
    const turn = () =>
      queue.runDue(
        handlers(async () => {
          runs += 1;
          throw new Error(`fault ${runs}`);
        }),
        1,
        { "answer-file": async ({ receipt }, reason) => void told.push(`${receipt}: ${reason}`) },
      );
    await turn();
    for (const seconds of [1, 2, 4, 8]) {
      const before = runs;
      clock.at += seconds * 1000 - 1;
      await turn();
      expect(runs).toBe(before);
      expect(await queue.waiting()).toEqual({ due: 0, delayed: 1, dead: 0 });
      clock.at += 1;
      await turn();
      expect(runs).toBe(before + 1);
    }
    expect(await queue.waiting()).toEqual({ due: 0, delayed: 0, dead: 1 });
    clock.at += 3_600_000;
    await turn();
    expect(runs).toBe(5);
    expect(told).toEqual(["1: fault 5"]);
    expect(await jobs()).toMatchObject([{ state: "dead", attempts: 5, error: "fault 5" }]);
  });

  it("and then succeeds is done, although its effect came twice", async () => {
    const effects: string[] = [];
    const queue = queueOf("a");
    await ask("1");
    const turn = () =>
      queue.runDue(
        handlers(async (receipt) => {
          effects.push(receipt);
          if (effects.length === 1) throw new Error("after its effect");
        }),
        1,
      );
    await turn();
    clock.at += 1000;
    await turn();
    expect(effects).toEqual(["1", "1"]);
    expect(await jobs()).toMatchObject([{ state: "done", error: "" }]);
  });

  it("for good is given up at once, and gets new attempts when the worker starts anew", async () => {
    const queue = queueOf("a");
    await ask("1");
    await queue.runDue(
      handlers(() => Promise.reject(new PermanentJobError("never"))),
      1,
    );
    expect(await jobs()).toMatchObject([{ state: "dead", attempts: 1, error: "never" }]);
    expect(await queue.revive()).toBe(1);
    await queue.runDue(
      handlers(() => Promise.resolve()),
      1,
    );
    expect(await jobs()).toMatchObject([{ state: "done", attempts: 1 }]);
  });

  it("stays open where even giving it up could not be written down", async () => {
    const queue = queueOf("a");
    await ask("1");
    const giveUp = { "answer-file": () => Promise.reject(new Error("the disk is full")) };
    await expect(
      queue.runDue(
        handlers(() => Promise.reject(new PermanentJobError("never"))),
        1,
        giveUp,
      ),
    ).rejects.toThrow("the disk is full");
    expect(await jobs()).toMatchObject([{ state: "running" }]);
  });
});

describe("a worker that dies over a job", () => {
  it("is counted: after five the job is given up, and no restart wakes it", async () => {
    await ask("1");
    const ends: (() => void)[] = [];
    const hung: Promise<number>[] = [];
    for (let i = 1; i <= 5; i += 1) {
      // It never ends while the lease lasts: to the store that is a dead worker.
      hung.push(
        queueOf(`worker ${i}`).runDue(
          handlers(() => new Promise((resolve) => ends.push(resolve))),
          1,
        ),
      );
      await expect.poll(async () => (await jobs())[0]).toMatchObject({ state: "running", attempts: i });
      const early = queueOf("impatient");
      await early.runDue(
        handlers(() => Promise.reject(new Error("taken too early"))),
        1,
      );
      expect(await early.waiting()).toEqual({ due: 0, delayed: 1, dead: 0 });
      clock.at += 30_001;
    }
    const told: string[] = [];
    const last = queueOf("last");
    await last.runDue(
      handlers(() => Promise.reject(new Error("run a sixth time"))),
      1,
      {
        "answer-file": async (_, reason) => void told.push(reason),
      },
    );
    expect(told).toEqual(["its worker stopped 5 times before it ended"]);
    expect(await last.revive()).toBe(0);
    // The late finishers change nothing any more.
    for (const end of ends) end();
    await Promise.all(hung);
    expect(await jobs()).toMatchObject([{ state: "dead" }]);
  });
});

describe("leases", () => {
  it("of an earlier claim count no more, although the same process made both", async () => {
    await ask("1");
    const ends: (() => void)[] = [];
    const hanging = () =>
      queueOf("a").runDue(
        handlers(() => new Promise((resolve) => ends.push(resolve))),
        1,
      );
    const first = hanging();
    await expect.poll(async () => (await jobs())[0]).toMatchObject({ state: "running", attempts: 1 });
    clock.at += 30_001;
    const second = hanging();
    await expect.poll(() => ends.length).toBe(2);
    ends[0]?.();
    await first;
    expect(await jobs()).toMatchObject([{ state: "running", attempts: 2 }]);
    ends[1]?.();
    await second;
    expect(await jobs()).toMatchObject([{ state: "done", attempts: 2 }]);
  });

  it("are renewed while the work lasts", async () => {
    const [busy, other] = [1, 2].map((n) => createEmbeddedQueue(ledger.database, systemClock, { session: String(n), leaseMs: 150 }));
    await ask("1");
    let runs = 0;
    const slow = handlers(async () => {
      runs += 1;
      await new Promise((resolve) => setTimeout(resolve, 900));
    });
    const working = busy?.runDue(slow, 1);
    for (let i = 0; i < 16; i += 1) {
      await new Promise((resolve) => setTimeout(resolve, 50));
      await other?.runDue(slow, 1);
    }
    await working;
    expect(runs).toBe(1);
  });

  it("keep every job with one of four lanes of two workers", async () => {
    for (let i = 0; i < 60; i += 1) await ask(String(i).padStart(2, "0"));
    const held = new Set<string>();
    const done: string[] = [];
    const work = handlers(async (receipt) => {
      expect(held.has(receipt)).toBe(false);
      held.add(receipt);
      await new Promise((resolve) => setTimeout(resolve, Number(receipt) % 3));
      held.delete(receipt);
      done.push(receipt);
    });
    await Promise.all([queueOf("a").runDue(work, 2), queueOf("b").runDue(work, 2)]);
    expect(done.sort()).toEqual(Array.from({ length: 60 }, (_, i) => String(i).padStart(2, "0")));
    expect((await jobs()).every((job) => job.state === "done" && job.attempts === 1)).toBe(true);
  });
});
