/** What every queue does. Figures of attempts: the project's own choice; leases and pauses are shortened for the test. */
import { afterEach, beforeEach, describe, expect, it } from "vitest";
import type { OpenLedger } from "../../worker/ledger/open-ledger.ts";
import { type Handlers, type JobQueue, PermanentJobError } from "../../worker/ports/job-queue.ts";
import { dropJobs, openJobs, retryJobs } from "../../worker/queue/job-records.ts";

export const LEASE_MS = 400;
export const BACK_OFF_MS = 30;

export interface QueueHome {
  readonly ledger: OpenLedger;
  /** The queue as one more worker opens it. */
  worker(name: string): JobQueue;
  /** A worker takes the next job, as soon as it can be had, and is not heard of again. */
  dieOver(): Promise<void>;
  remove(): Promise<void>;
}

export const handlers = (answer: (receipt: string) => Promise<void>): Handlers => ({
  "answer-file": ({ receipt }) => answer(receipt),
  "render-document": ({ document }) => answer(document),
});

export const ask = (ledger: OpenLedger, receipt: string, priority?: number): Promise<void> =>
  ledger.transaction("worker", (tx) =>
    tx.enqueue({ job: "answer-file", key: `answer|${receipt}`, payload: { receipt }, ...(priority === undefined ? {} : { priority }) }),
  );

/** Turns a worker's queue until it has nothing left, as the worker's loop does. */
export async function turn(queue: JobQueue, given: Handlers, gaveUp = {}, concurrency = 1): Promise<void> {
  const started = performance.now();
  for (;;) {
    await queue.runDue(given, concurrency, gaveUp);
    const { due, delayed } = await queue.waiting();
    if (due === 0 && delayed === 0) return;
    if (performance.now() - started > 40_000) throw new Error(`not done after 40 s: ${due} due, ${delayed} delayed`);
    await new Promise((resolve) => setTimeout(resolve, 20));
  }
}

export function queueContract(name: string, makeHome: () => Promise<QueueHome>): void {
  describe(`${name}: a queue`, () => {
    let home: QueueHome;
    const opened: JobQueue[] = [];
    const worker = (who: string): JobQueue => {
      const queue = home.worker(who);
      opened.push(queue);
      return queue;
    };
    beforeEach(async () => {
      home = await makeHome();
    });
    afterEach(async () => {
      for (const queue of opened.splice(0)) await queue.close();
      await home.remove();
    });

    it("gets what was committed once, however often the same work is asked for", async () => {
      const queue = worker("a");
      const done: string[] = [];
      const given = handlers(async (receipt) => void done.push(receipt));
      for (const receipt of ["1", "1", "2"]) await ask(home.ledger, receipt);
      expect(await queue.waiting()).toEqual({ due: 2, delayed: 0, dead: 0 });
      expect(await queue.runDue(given, 2)).toBe(2);
      await ask(home.ledger, "1");
      expect(await queue.runDue(given, 2)).toBe(0);
      expect(done.sort()).toEqual(["1", "2"]);
      expect(await queue.waiting()).toEqual({ due: 0, delayed: 0, dead: 0 });
    });

    it("leaves the rest for the next turn when it is asked to pause", async () => {
      const queue = worker("a");
      const done: string[] = [];
      const given = handlers(async (receipt) => void done.push(receipt));
      for (const receipt of ["1", "2", "3"]) await ask(home.ledger, receipt);
      expect(await queue.runDue(given, 1, {}, () => done.length === 1)).toBe(1);
      expect(done.length).toBe(1);
      expect((await queue.waiting()).due).toBe(2);
      await turn(queue, given);
      expect(done.sort()).toEqual(["1", "2", "3"]);
    });

    it("never gets what was rolled back", async () => {
      const rolledBack = home.ledger.transaction("worker", async (tx) => {
        await tx.enqueue({ job: "answer-file", key: "k", payload: { receipt: "1" } });
        throw new Error("the power goes");
      });
      await expect(rolledBack).rejects.toThrow("the power goes");
      expect(await worker("a").waiting()).toEqual({ due: 0, delayed: 0, dead: 0 });
    });

    it("runs what somebody waits for before the batch of the night", async () => {
      const order: string[] = [];
      for (const receipt of ["a-night", "b-night"]) await ask(home.ledger, receipt, 10);
      for (const receipt of ["y-clerk", "z-clerk"]) await ask(home.ledger, receipt);
      await turn(
        worker("a"),
        handlers(async (receipt) => void order.push(receipt)),
      );
      expect(order.slice(0, 2).sort()).toEqual(["y-clerk", "z-clerk"]);
      expect(order.slice(2).sort()).toEqual(["a-night", "b-night"]);
    });

    it("tries a job five times, with pauses that grow, then says that it gave up, once", async () => {
      await ask(home.ledger, "1");
      const at: number[] = [];
      const told: string[] = [];
      const failing = handlers(async () => {
        at.push(performance.now());
        throw new Error(`fault ${at.length}`);
      });
      await turn(worker("a"), failing, {
        "answer-file": async ({ receipt }: { receipt: string }, reason: string) => void told.push(`${receipt}: ${reason}`),
      });
      expect(at.length).toBe(5);
      for (let i = 1; i < at.length; i += 1)
        expect((at[i] ?? 0) - (at[i - 1] ?? 0)).toBeGreaterThanOrEqual(BACK_OFF_MS * 2 ** (i - 1) * 0.7);
      expect(told).toEqual(["1: fault 5"]);
      expect(await worker("b").waiting()).toEqual({ due: 0, delayed: 0, dead: 1 });
      expect(await openJobs(home.ledger.database)).toEqual([
        { key: "answer|1", job: "answer-file", state: "dead", attempts: 5, error: "fault 5" },
      ]);
    });

    it("that failed after its effect runs again: every handler bears it", async () => {
      await ask(home.ledger, "1");
      const effects: string[] = [];
      await turn(
        worker("a"),
        handlers(async (receipt) => {
          effects.push(receipt);
          if (effects.length === 1) throw new Error("after its effect");
        }),
      );
      expect(effects).toEqual(["1", "1"]);
      expect(await openJobs(home.ledger.database)).toEqual([]);
    });

    it("gives a hopeless job up at once, and tries it again after a restart", async () => {
      await ask(home.ledger, "1");
      const queue = worker("a");
      await turn(
        queue,
        handlers(() => Promise.reject(new PermanentJobError("never"))),
      );
      expect(await openJobs(home.ledger.database)).toMatchObject([{ state: "dead", attempts: 1, error: "never" }]);
      expect(await queue.revive()).toBe(1);
      const done: string[] = [];
      await turn(
        queue,
        handlers(async (receipt) => void done.push(receipt)),
      );
      expect(done).toEqual(["1"]);
      expect(await queue.waiting()).toEqual({ due: 0, delayed: 0, dead: 0 });
    });

    it("gives new attempts to the jobs that a person names, and never runs those that were dropped", async () => {
      for (const receipt of ["1", "2"]) await ask(home.ledger, receipt);
      const queue = worker("a");
      await turn(
        queue,
        handlers(() => Promise.reject(new PermanentJobError("never"))),
      );
      const { database } = home.ledger;
      expect(await retryJobs(database, ["answer|1", "answer|9"])).toEqual(["answer|1"]);
      expect(await dropJobs(database, ["answer|2"], "typed in by hand")).toEqual(["answer|2"]);
      const done: string[] = [];
      await turn(
        queue,
        handlers(async (receipt) => void done.push(receipt)),
      );
      expect(done).toEqual(["1"]);
      await ask(home.ledger, "2");
      expect(await queue.revive()).toBe(0);
      expect(await queue.waiting()).toEqual({ due: 0, delayed: 0, dead: 0 });
      expect(await openJobs(database)).toEqual([]);
    });

    it("keeps a job open where even giving it up could not be written down", async () => {
      await ask(home.ledger, "1");
      const hopeless = handlers(() => Promise.reject(new PermanentJobError("never")));
      const queue = worker("a");
      await expect(queue.runDue(hopeless, 1, { "answer-file": () => Promise.reject(new Error("the disk is full")) })).rejects.toThrow(
        "the disk is full",
      );
      const { due, delayed, dead } = await queue.waiting();
      expect([due + delayed, dead]).toEqual([1, 0]);
    });

    it("takes a job from a worker that died over it, after its lease", async () => {
      await ask(home.ledger, "1");
      const queue = worker("a");
      const done: string[] = [];
      const given = handlers(async (receipt) => void done.push(receipt));
      await home.dieOver();
      expect(await queue.runDue(given, 1)).toBe(0);
      expect(await queue.waiting()).toEqual({ due: 0, delayed: 1, dead: 0 });
      await turn(queue, given);
      expect(done).toEqual(["1"]);
    });

    it("gives a job up that five workers died over, and no restart wakes it, but a person does", async () => {
      await ask(home.ledger, "1");
      const queue = worker("a");
      const told: string[] = [];
      const gaveUp = { "answer-file": async (_: unknown, reason: string) => void told.push(reason) };
      const none = handlers(() => Promise.reject(new Error("run a sixth time")));
      for (let i = 0; i < 5; i += 1) await home.dieOver();
      await turn(queue, none, gaveUp);
      expect(told).toEqual(["its worker stopped 5 times before it ended"]);
      expect(await queue.revive()).toBe(0);
      expect(await queue.waiting()).toEqual({ due: 0, delayed: 0, dead: 1 });
      expect(await retryJobs(home.ledger.database, [])).toEqual(["answer|1"]);
      const done: string[] = [];
      await turn(
        queue,
        handlers(async (receipt) => void done.push(receipt)),
      );
      expect(done).toEqual(["1"]);
    });

    it("is shared by two workers of two lanes: every job once, none held twice", async () => {
      for (let i = 0; i < 24; i += 1) await ask(home.ledger, String(i));
      const held = new Set<string>();
      const done: string[] = [];
      const given = handlers(async (receipt) => {
        expect(held.has(receipt)).toBe(false);
        held.add(receipt);
        await new Promise((resolve) => setTimeout(resolve, Number(receipt) % 3));
        held.delete(receipt);
        done.push(receipt);
      });
      await Promise.all([turn(worker("a"), given, {}, 2), turn(worker("b"), given, {}, 2)]);
      expect(done.sort()).toEqual(Array.from({ length: 24 }, (_, i) => String(i)).sort());
    });
  });
}
