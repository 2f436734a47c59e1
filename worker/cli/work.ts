import type { Command } from "commander";
import { systemClock } from "../clock.ts";
import { ServiceAway, ServiceUnreachable, UsageError } from "../errors.ts";
import type { HealthServer } from "../health.ts";
import { jsonLog, type Log, textLog } from "../log.ts";
import type { Lab } from "../settings/settings.ts";
import { openWorkshop, type Workshop, type WorkshopOptions } from "../workshop.ts";
import { answer, checkedToday, demandLab, type LabFlags, labCommand, withToday } from "./context.ts";

/** A service that is away for so long at the start ends a drain. */
const PATIENCE_MS = 60_000;
const PAUSE_MS = 1000;
const FORCED = 70;

interface WorkFlags extends LabFlags {
  readonly drain?: boolean;
  readonly log: string;
  readonly healthPort?: string;
  readonly healthHost: string;
}

export function workCommand(): Command {
  return withToday(labCommand("work", "the worker on the inbox", "coilbook work --drain"))
    .option("--drain", "end when nothing is left to do")
    .option("--log <form>", "text, or json: one object a line, with ids that lead from a file to its documents", "text")
    .option("--health-port <port>", "answer on /health/live, /health/ready and /metrics")
    .option("--health-host <address>", "where to listen for those", "127.0.0.1")
    .action(async (flags: WorkFlags) => {
      const { newPulse, work } = await import("../work.ts");
      const today = checkedToday(flags.today);
      const log = logOf(flags.log);
      const stop = new AbortController();
      const unhear = hearSignals(stop, log);
      const pulse = newPulse();
      const health = await healthOf(flags, pulse, log);
      const lab = demandLab(flags);
      const options = today === undefined ? {} : { today };
      const workshop = await openPatiently(lab, options, log, stop.signal, flags.drain ? PATIENCE_MS : Number.POSITIVE_INFINITY);
      try {
        const summary = await work(workshop, { drain: flags.drain === true, signal: stop.signal, log, pulse });
        // The first document brings the first key, and with it the page that customers check files with.
        const { writeSealFiles } = await import("../seal/register-files.ts");
        if (summary.reason === undefined) await writeSealFiles(workshop);
        answer(
          flags,
          { schema: "work/1", ...summary },
          () =>
            `${summary.files} files (${summary.refused} refused), ${summary.jobs} jobs done${summary.dead > 0 ? `, ${summary.dead} given up` : ""}`,
        );
        if (summary.serviceAway || summary.dead > 0) throw new ServiceAway(summary.reason ?? (await reasonOf(workshop)));
      } finally {
        await workshop.ledger.close();
        await health?.close();
        unhear();
      }
    });
}

function logOf(form: string): Log {
  const write = (text: string): void => {
    process.stderr.write(text);
  };
  if (form === "text") return textLog(write);
  if (form === "json") return jsonLog(write, systemClock);
  throw new UsageError(`--log: found "${form}", accepted are text and json`);
}

/** The first signal finishes what is begun, the second forces. @returns what ends the hearing */
function hearSignals(stop: AbortController, log: Log): () => void {
  const onSignal = (): void => {
    if (stop.signal.aborted) process.exit(FORCED);
    log("coilbook: stopping after the work in hand; once more forces", { event: "stopping" });
    stop.abort();
  };
  process.on("SIGINT", onSignal);
  process.on("SIGTERM", onSignal);
  return () => {
    process.off("SIGINT", onSignal);
    process.off("SIGTERM", onSignal);
  };
}

async function healthOf(
  { healthPort, healthHost }: WorkFlags,
  pulse: Parameters<typeof import("../health.ts").startHealth>[0],
  log: Log,
): Promise<HealthServer | undefined> {
  if (healthPort === undefined) return undefined;
  const port = Number(healthPort);
  if (!/^\d{1,5}$/.test(healthPort) || port > 65_535)
    throw new UsageError(`--health-port: found "${healthPort}", accepted is a port from 0 to 65535`);
  const { startHealth } = await import("../health.ts");
  const server = await startHealth(pulse, port, healthHost);
  log(`health: http://${healthHost}:${server.port}/health/ready`, { event: "health-listens" });
  return server;
}

/** Waits for a ledger on a server that cannot be reached yet. @throws ServiceAway after `patienceMs`, or at once on what waiting does not mend */
export async function openPatiently(
  lab: Lab,
  options: WorkshopOptions,
  log: Log,
  signal: AbortSignal,
  patienceMs: number,
): Promise<Workshop> {
  const started = performance.now();
  for (let tried = 0; ; tried += 1)
    try {
      return await openWorkshop(lab, systemClock, options);
    } catch (error) {
      if (!(error instanceof ServiceUnreachable) || signal.aborted || performance.now() - started > patienceMs) throw error;
      if (tried === 0) log(`${error.message}; it is tried again until it is back`, { event: "service-away", level: "error" });
      await new Promise((resolve) => setTimeout(resolve, Math.min(PAUSE_MS, patienceMs)));
    }
}

async function reasonOf({ ledger }: Workshop): Promise<string> {
  const { openJobs } = await import("../queue/job-records.ts");
  const job = (await openJobs(ledger.database)).find(({ error }) => error !== "");
  return `work: ${job?.key ?? "a job"} could not be done: ${job?.error ?? "no reason known"}`;
}
