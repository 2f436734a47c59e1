import type { JobQueue } from "../ports/job-queue.ts";
import type { Workshop } from "../workshop.ts";
import { createEmbeddedQueue } from "./embedded-queue.ts";

/** The queue that the lab's settings ask for. */
export async function queueOf({ lab, ledger, clock }: Workshop): Promise<JobQueue> {
  const { redisUrl } = lab.settings.queue;
  if (redisUrl === "") return createEmbeddedQueue(ledger.database, clock, { session: ledger.session });
  const { createBullQueue } = await import("./bull-queue.ts");
  return createBullQueue(ledger.database, redisUrl);
}
