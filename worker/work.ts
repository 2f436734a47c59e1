/** The worker: inbox, jobs, pages, until it is told to stop or nothing is left. */
import { existsSync, mkdirSync, readFileSync, rmSync, watch } from "node:fs";
import { availableParallelism } from "node:os";
import { join } from "node:path";
import type { CertificateRecord } from "../templates/certificate/record.ts";
import type { DocumentState } from "./documents/life.ts";
import { safeName, sha256, writeAtomically } from "./files.ts";
import { createInbox, type WaitingFile } from "./intake/inbox.ts";
import { writePages } from "./pages.ts";
import { type Handlers, PermanentJobError } from "./ports/job-queue.ts";
import { answer, type FileState, takeFile } from "./process-file.ts";
import { createEmbeddedQueue } from "./queue/embedded-queue.ts";
import { createRenderer, type DocumentRenderer } from "./rendering/index.ts";
import type { Workshop } from "./workshop.ts";

/** How often the inbox is looked at: free on a local disk, kind to a share. */
const POLL_MS = 1000;
const POLL_NETWORK_MS = 2000;
/** With `--drain` nobody waits for a person, so the loop turns faster. */
const DRAIN_POLL_MS = 100;
/** A service that is away for so long ends a drain. */
const PATIENCE_MS = 60_000;

export interface WorkOptions {
  readonly drain: boolean;
  readonly signal: AbortSignal;
  readonly log: (line: string) => void;
}

export interface WorkSummary {
  readonly files: number;
  readonly refused: number;
  readonly jobs: number;
  /** Jobs that gave up; their reason stands in the ledger. */
  readonly dead: number;
  /** True where a drain ended because a service was away. */
  readonly serviceAway: boolean;
}

export async function work(workshop: Workshop, options: WorkOptions): Promise<WorkSummary> {
  const { lab, clock } = workshop;
  prepareFolders(workshop);
  const inboxFolder = join(lab.folder, "inbox");
  const inbox = createInbox(
    inboxFolder,
    Math.max(lab.settings.intake.quietMs, lab.settings.intake.network ? 2000 : 0),
    () => performance.now(),
    options.drain,
  );
  const queue = createEmbeddedQueue(workshop.ledger.database, clock);
  const renderer = createRenderer({
    browserPath: lab.settings.browser.path,
    browsers: lab.settings.pdf.browsers === 0 ? availableParallelism() : lab.settings.pdf.browsers,
    paper: lab.settings.paper,
  });
  const handlers = handlersOf(workshop, renderer);
  const waker = createWaker(inboxFolder, options.signal);
  let [files, refused, jobs, idle] = [0, 0, 0, 0];
  let told = "";
  let stuckSince: number | undefined;
  let serviceAway = false;
  try {
    while (!options.signal.aborted) {
      const poll = inbox.poll();
      for (const file of poll.ready) {
        const state = await takeFile(workshop, file);
        files += 1;
        if (state.status === "refused") refused += 1;
        options.log(`${file.name}: ${state.status === "refused" ? `refused, ${state.refusal?.text ?? ""}` : "read and judged"}`);
      }
      const ended = await queue.runDue(handlers, lab.settings.worker.concurrency);
      jobs += ended;
      if (poll.ready.length > 0 || ended > 0) await writePages(workshop, poll.waiting);
      told = tellWaiting(poll.waiting, told, options);
      const left = await queue.waiting();
      const busy =
        poll.ready.length > 0 ||
        ended > 0 ||
        left.due > 0 ||
        left.delayed > 0 ||
        poll.waiting.some((file) => /being written|no workbook so far|empty so far|changed while/.test(file.why));
      idle = busy ? 0 : idle + 1;
      stuckSince = left.delayed > 0 && ended === 0 ? (stuckSince ?? performance.now()) : undefined;
      serviceAway = stuckSince !== undefined && performance.now() - stuckSince > PATIENCE_MS;
      if (options.drain && (idle >= 2 || serviceAway)) break;
      await waker.sleep(options.drain ? DRAIN_POLL_MS : lab.settings.intake.network ? POLL_NETWORK_MS : POLL_MS);
    }
  } finally {
    waker.close();
    await renderer.close();
  }
  await writePages(workshop, inbox.poll().waiting);
  return { files, refused, jobs, dead: (await queue.waiting()).dead, serviceAway };
}

/** Unfinished work of an earlier run is cleared; everything it was for is still in the ledger. */
function prepareFolders({ lab }: Workshop): void {
  for (const name of ["inbox", "returned", "refused", "documents", "mail", "register", "specifications", "maps"])
    mkdirSync(join(lab.folder, name), { recursive: true });
  mkdirSync(join(lab.data, "kept"), { recursive: true });
  rmSync(join(lab.data, "tmp"), { recursive: true, force: true });
}

function tellWaiting(waiting: readonly WaitingFile[], told: string, { drain, log }: WorkOptions): string {
  const lasting = waiting.filter((file) => !file.why.includes("being written"));
  const text = lasting.map((file) => `${file.name}: ${file.why}`).join("\n");
  if (text !== told && text !== "" && drain) for (const line of text.split("\n")) log(`waits: ${line}`);
  return text;
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

function handlersOf(workshop: Workshop, renderer: DocumentRenderer): Handlers {
  const { lab, ledger } = workshop;
  return {
    async "answer-file"({ receipt }) {
      const state = await ledger.get<FileState>("file", receipt);
      if (state === undefined) throw new PermanentJobError(`receipt ${receipt} is not in the ledger`);
      await answer(workshop, state);
    },
    async "render-document"({ document: id, format }) {
      const document = await ledger.get<DocumentState>("document", id);
      if (document?.number === undefined || document.issuedOn === undefined)
        throw new PermanentJobError(`document ${id} has no number yet`);
      const order = (document.record as CertificateRecord).order;
      const relative = join(safeName(order), `${document.number}.${format}`);
      const path = join(lab.folder, "documents", relative);
      const written = document.written?.[format];
      if (written !== undefined && existsSync(path) && sha256(readFileSync(path)) === written.sha256) return;
      const bytes = await renderer.render(
        document.record,
        { number: document.number, issuedOn: document.issuedOn, signedBy: document.signedBy ?? [] },
        format,
      );
      writeAtomically(path, bytes);
      if (written?.sha256 === sha256(bytes)) return;
      await ledger.transaction("worker", async (tx) => {
        await tx.append({ kind: "document-written", key: id, payload: { format, path: relative, sha256: sha256(bytes) } });
      });
    },
  };
}
