/** The worker: inbox, jobs, pages, until it is told to stop or nothing is left. */
import { mkdirSync, watch } from "node:fs";
import { availableParallelism } from "node:os";
import { join } from "node:path";
import { isAway, isDisk, ServiceAway } from "./errors.ts";
import type { Pulse } from "./health.ts";
import { createInbox, type Inbox, type ReadyFile, type WaitingFile } from "./intake/inbox.ts";
import type { Log } from "./log.ts";
import { createMetrics } from "./metrics.ts";
import { writePages } from "./pages.ts";
import type { JobQueue, WaitingJobs } from "./ports/job-queue.ts";
import { takeFile } from "./process-file.ts";
import { clearUnfinished, gaveUpOf, handlersOf } from "./queue/handlers.ts";
import { observed } from "./queue/observed.ts";
import { queueOf } from "./queue/queue-of.ts";
import { createRenderer, lookOf } from "./rendering/index.ts";
import type { Workshop } from "./workshop.ts";

/** How often the inbox is looked at: free on a local disk, kind to a share. */
const POLL_MS = 1000;
const POLL_NETWORK_MS = 2000;
/** How long jobs are taken before the inbox is looked at again: a clerk waits two seconds, a night of documents may take an hour. */
const SLICE_MS = 1000;
/** With `--drain` nobody waits for a person, so the loop turns faster. */
const DRAIN_POLL_MS = 100;
/** A service that is away for so long ends a drain. */
const PATIENCE_MS = 60_000;
/** A watching worker shows at least so often that it is alive. */
const PAGES_MS = 60_000;
/** When a file that waits is spoken of. */
const SAID_AFTER_MS = 60_000;
/** How long a file that another program holds, or that cannot be taken, is left alone at most. */
const HELD_MS = 60_000;
const DRAIN_ATTEMPTS = 4;

export interface WorkOptions {
  readonly drain: boolean;
  readonly signal: AbortSignal;
  readonly log: Log;
  /** Kept up to date for those who ask from outside. */
  readonly pulse?: Pulse;
  /** Milliseconds after which a service that is away ends a drain; 60 s where none is given. */
  readonly patienceMs?: number;
}

export interface WorkSummary {
  readonly files: number;
  readonly refused: number;
  readonly jobs: number;
  /** Jobs that gave up; their reason stands in the ledger. */
  readonly dead: number;
  /** True where a drain ended because a service was away. */
  readonly serviceAway: boolean;
  /** What that service said. */
  readonly reason?: string;
}

export const newPulse = (): Pulse => ({ startedAt: performance.now(), listedAt: Number.NEGATIVE_INFINITY, metrics: createMetrics() });

/** @throws ServiceAway or Error at the end of a drain that could not take a file, after everything else was done */
export async function work(workshop: Workshop, options: WorkOptions): Promise<WorkSummary> {
  const { lab } = workshop;
  const { drain, log, pulse = newPulse(), patienceMs = PATIENCE_MS } = options;
  const { metrics } = pulse;
  prepareFolders(workshop);
  const inboxFolder = join(lab.folder, "inbox");
  const inbox = createInbox(
    inboxFolder,
    Math.max(lab.settings.intake.quietMs, lab.settings.intake.network ? 2000 : 0),
    () => performance.now(),
    drain,
  );
  const queue = await queueOf(workshop);
  const renderer = createRenderer({
    browserPath: lab.settings.browser.path,
    browsers: lab.settings.pdf.browsers === 0 ? availableParallelism() : lab.settings.pdf.browsers,
    paper: lab.settings.paper,
    look: lookOf(lab),
    codeAddress: lab.settings.documents.codeAddress,
  });
  const written: Log = (line, about) => {
    if (about?.event === "document-written") metrics.add("coilbook_documents_written_total", { format: about.format ?? "" });
    log(line, about);
  };
  const handlers = observed(handlersOf(workshop, renderer, written), log, metrics);
  const gaveUp = gaveUpOf(workshop);
  const waker = createWaker(inboxFolder, options.signal);
  const taker = createTaker(workshop, inbox, options);
  const teller = createTeller(options);
  const away = createAway(log, pulse);
  let [jobs, idle, pagesAt, revived] = [0, 0, Number.NEGATIVE_INFINITY, false];
  let stuckSince: number | undefined;
  let serviceAway = false;

  /** @returns true where there was something to do, or will be */
  const turn = async (): Promise<boolean> => {
    if (!revived) await queue.revive();
    revived = true;
    const poll = inbox.poll();
    pulse.listedAt = performance.now();
    metrics.set("coilbook_files_waiting", poll.waiting.length);
    for (const file of poll.ready) await taker.take(file);
    let [ended, trouble]: [number, unknown] = [0, undefined];
    try {
      const until = performance.now() + SLICE_MS;
      ended = await queue.runDue(handlers, lab.settings.worker.concurrency, gaveUp, () => performance.now() > until);
    } catch (error) {
      if (!isAway(error)) throw error;
      // What came in is shown all the same.
      trouble = error;
    }
    jobs += ended;
    const changed = teller.tell(poll.waiting);
    if (poll.ready.length > 0 || ended > 0 || changed || performance.now() - pagesAt > PAGES_MS) {
      await writePages(workshop, poll.waiting);
      pagesAt = performance.now();
    }
    if (trouble !== undefined) throw trouble;
    const left = await queue.waiting();
    for (const state of ["due", "delayed", "dead"] as const) metrics.set("coilbook_jobs_open", left[state], { state });
    stuckSince = left.delayed > 0 && ended === 0 ? (stuckSince ?? performance.now()) : undefined;
    return poll.ready.length > 0 || ended > 0 || left.due > 0 || left.delayed > 0 || poll.waiting.some((file) => file.settling);
  };

  try {
    while (!options.signal.aborted) {
      metrics.add("coilbook_turns_total");
      metrics.set("coilbook_last_turn_timestamp_seconds", Date.now() / 1000);
      try {
        idle = (await turn()) ? 0 : idle + 1;
        away.over();
      } catch (error) {
        if (!isAway(error) && !isDisk(error)) throw error;
        away.begins(error as Error);
        idle = 0;
      }
      serviceAway = away.lastsFor() > patienceMs || (stuckSince !== undefined && performance.now() - stuckSince > patienceMs);
      if (drain && (idle >= 2 || serviceAway)) break;
      await waker.sleep(drain ? DRAIN_POLL_MS : lab.settings.intake.network ? POLL_NETWORK_MS : POLL_MS);
    }
    const left = await lastLook(workshop, queue, inbox);
    if (drain) taker.throwFirst();
    const { reason } = away;
    return { files: taker.files, refused: taker.refused, jobs, dead: left.dead, serviceAway, ...(reason === undefined ? {} : { reason }) };
  } finally {
    waker.close();
    await renderer.close();
    await queue.close();
  }
}

/** Pages as they stand at the end, and what is left; nothing is known of either while a service is away. */
async function lastLook(workshop: Workshop, queue: JobQueue, inbox: Inbox): Promise<WaitingJobs> {
  try {
    await writePages(workshop, inbox.poll().waiting);
    return await queue.waiting();
  } catch (error) {
    if (!isAway(error) && !isDisk(error)) throw error;
    return { due: 0, delayed: 0, dead: 0 };
  }
}

interface Away {
  /** What the service said, while it is away. */
  readonly reason: string | undefined;
  begins(error: Error): void;
  over(): void;
  /** Milliseconds. */
  lastsFor(): number;
}

/** A ledger or queue that cannot be reached, or a disk that takes nothing, is said once, waited for, and said again when it is back. */
function createAway(log: Log, pulse: Pulse): Away {
  let since: number | undefined;
  return {
    get reason() {
      return pulse.away;
    },
    begins(error) {
      pulse.away = error.message;
      pulse.metrics.set("coilbook_service_away", 1);
      if (since === undefined) log(`${error.message}; it is tried again until it is back`, { event: "service-away", level: "error" });
      since ??= performance.now();
    },
    over() {
      if (since !== undefined) log("what was away is back", { event: "service-back" });
      since = undefined;
      delete pulse.away;
      pulse.metrics.set("coilbook_service_away", 0);
    },
    lastsFor: () => (since === undefined ? 0 : performance.now() - since),
  };
}

function prepareFolders({ lab }: Workshop): void {
  for (const name of ["inbox", "returned", "refused", "documents", "mail", "register", "specifications", "maps"])
    mkdirSync(join(lab.folder, name), { recursive: true });
  mkdirSync(join(lab.data, "kept"), { recursive: true });
  clearUnfinished(lab);
}

interface Taker {
  files: number;
  refused: number;
  take(file: ReadyFile): Promise<void>;
  throwFirst(): void;
}

/** Takes files one by one; one that cannot be taken stays where it is and does not hold up the others. */
function createTaker(workshop: Workshop, inbox: Inbox, { drain, log, pulse }: WorkOptions): Taker {
  const attempts = new Map<string, number>();
  const failures = new Map<string, Error>();
  return {
    files: 0,
    refused: 0,
    async take(file) {
      try {
        const { state, known, left } = await takeFile(workshop, file);
        this.files += 1;
        if (state.status === "refused") this.refused += 1;
        const how = state.status === "refused" ? `refused, ${state.refusal?.text ?? ""}` : "read and judged";
        pulse?.metrics.add("coilbook_files_total", { outcome: known === undefined ? state.status : "known" });
        log(
          `${file.name}: ${how}${known === undefined ? "" : ` (first received as ${known.name} at ${known.receivedAt}; answered again)`}`,
          {
            event: known === undefined ? `file-${state.status}` : "file-known",
            file: file.name,
            receipt: state.receipt,
            sha256: state.sha256,
            items: state.items,
          },
        );
        attempts.delete(file.name);
        failures.delete(file.name);
        if (left) inbox.leave(file, drain ? Number.POSITIVE_INFINITY : HELD_MS, "was answered; another program holds it, so it stays here");
      } catch (error) {
        // Not this file's fault: the loop waits for the service, and the file stays where it is.
        if (isAway(error)) throw error;
        const tried = (attempts.get(file.name) ?? 0) + 1;
        attempts.set(file.name, tried);
        failures.set(file.name, error as Error);
        const pause = Math.min(1000 * 2 ** (tried - 1), HELD_MS);
        const why = `could not be taken: ${(error as Error).message}`;
        if (tried === 1)
          log(`${file.name}: ${why}; it stays in the inbox and is tried again`, {
            event: "file-not-taken",
            level: "error",
            file: file.name,
          });
        inbox.leave(file, drain && tried >= DRAIN_ATTEMPTS ? Number.POSITIVE_INFINITY : pause, why);
      }
    },
    throwFirst() {
      const [first] = failures;
      if (first === undefined) return;
      const [name, error] = first;
      const text = `work: ${name} could not be taken and stays in the inbox: ${error.message}`;
      // The disk or the store has a code of its own; anything else is a fault of the program.
      throw (error as NodeJS.ErrnoException).code === undefined ? new Error(text, { cause: error }) : new ServiceAway(text);
    },
  };
}

/** Says once of each file why it waits: at once in a drain, after a minute otherwise. */
function createTeller({ drain, log }: WorkOptions): { tell(waiting: readonly WaitingFile[]): boolean } {
  const since = new Map<string, number>();
  const told = new Set<string>();
  let before = "";
  return {
    /** @returns true where what waits has changed */
    tell(waiting) {
      const lasting = waiting.filter((file) => !file.settling).map((file) => `${file.name}: ${file.why}`);
      const now = performance.now();
      for (const line of since.keys())
        if (!lasting.includes(line)) {
          since.delete(line);
          told.delete(line);
        }
      for (const line of lasting) {
        since.set(line, since.get(line) ?? now);
        if (told.has(line) || (!drain && now - (since.get(line) ?? now) < SAID_AFTER_MS)) continue;
        told.add(line);
        log(`waits: ${line}`, { event: "file-waits", level: "warn" });
      }
      const text = lasting.join("\n");
      const changed = text !== before;
      before = text;
      return changed;
    },
  };
}

/** Sleeps until the time is up, the signal comes, or the file system says that something happened. */
function createWaker(folder: string, signal: AbortSignal): { sleep(ms: number): Promise<void>; close(): void } {
  let wake: (() => void) | undefined;
  const onEvent = (): void => wake?.();
  let watcher: ReturnType<typeof watch> | undefined;
  try {
    watcher = watch(folder, onEvent);
    watcher.on("error", () => undefined);
  } catch {
    // Not every file system sends events; the poll finds everything without them.
  }
  signal.addEventListener("abort", onEvent);
  return {
    sleep: (ms) =>
      new Promise((resolve) => {
        const timer = setTimeout(done, ms);
        function done(): void {
          clearTimeout(timer);
          wake = undefined;
          resolve();
        }
        wake = done;
        if (signal.aborted) done();
      }),
    close() {
      watcher?.close();
      signal.removeEventListener("abort", onEvent);
    },
  };
}
