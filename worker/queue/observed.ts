import type { Log } from "../log.ts";
import type { Metrics } from "../metrics.ts";
import type { Handlers, JobName, JobPayloads } from "../ports/job-queue.ts";

/** The same handlers; every attempt is logged with the ids of its payload, and counted. */
export function observed(handlers: Handlers, log: Log, metrics: Metrics): Handlers {
  const watch =
    <K extends JobName>(job: K) =>
    async (payload: JobPayloads[K]): Promise<void> => {
      const started = performance.now();
      const ms = (): number => Math.round(performance.now() - started);
      try {
        await handlers[job](payload);
        metrics.add("coilbook_jobs_total", { job, outcome: "done" });
        log(`${job}: done`, { event: "job-done", job, ...payload, ms: ms() });
      } catch (error) {
        metrics.add("coilbook_jobs_total", { job, outcome: "failed" });
        log(`${job}: ${(error as Error).message}`, { event: "job-failed", level: "warn", job, ...payload, ms: ms() });
        throw error;
      } finally {
        metrics.add("coilbook_job_seconds_total", { job }, (performance.now() - started) / 1000);
      }
    };
  return { "answer-file": watch("answer-file"), "render-document": watch("render-document") };
}
