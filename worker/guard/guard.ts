/**
 * Reading an upload where it can do no harm: in a process of its own, watched from here. The limits of the language's engine do not
 * count buffers, so the watch looks at the memory of the process as a whole. A bad file ends that process, never the worker.
 */
import { spawn } from "node:child_process";
import { fileURLToPath } from "node:url";
import type { Refusal } from "../../core/model.ts";
import { type FileReading, type ReadFileOptions, readFile } from "../read-file.ts";
import { type GuardLimits, limitsFor } from "./limits.ts";
import { residentMemory } from "./resident-memory.ts";

/** What the reading process says; nothing where it did not come to an end. */
export type ChildAnswer = { readonly ok: true } | { readonly ok: false; readonly refusal: Refusal };

export interface GuardOptions {
  /** In place of those for the size of the file. */
  readonly limits?: GuardLimits;
  /** The compiled program of the reading process. */
  readonly program?: string;
}

const PROGRAM = fileURLToPath(new URL("./child.js", import.meta.url));
const WATCH_MS = 25;
const MEBIBYTE = 1024 * 1024;

/**
 * As `readFile`, after a process of its own has shown that the file can be read within the limits. Reading is the same every time, so
 * what held there holds here.
 */
export async function readFileGuarded(bytes: Uint8Array, options: ReadFileOptions, guard: GuardOptions = {}): Promise<FileReading> {
  const base = options.name.split(/[/\\]/).at(-1) ?? options.name;
  // A lock file is refused by its name; nothing in it is looked at.
  const isLock = base.startsWith("~$") || base.startsWith(".");
  const refusal = isLock ? undefined : await tryReading(bytes, guard);
  return refusal === undefined ? readFile(bytes, options) : { ok: false, refusal, findings: [] };
}

/** Why the file cannot be read, or nothing. Never rejects for what is in the file. Codes beside those of reading: too-large, gave-up. */
export async function tryReading(bytes: Uint8Array, guard: GuardOptions = {}): Promise<Refusal | undefined> {
  const limits = guard.limits ?? limitsFor(bytes.length);
  const heapMebibytes = Math.max(64, Math.ceil(limits.memoryBytes / MEBIBYTE));
  const child = spawn(process.execPath, [`--max-old-space-size=${heapMebibytes}`, guard.program ?? PROGRAM], {
    stdio: ["pipe", "pipe", "ignore"],
    env: {},
  });
  let stopped: Refusal | undefined;
  const stop = (refusal: Refusal): void => {
    stopped ??= refusal;
    child.kill("SIGKILL");
  };
  const deadline = setTimeout(() => stop(tookTooLong(limits)), limits.timeMs);
  const watch = setInterval(async () => {
    const used = child.pid === undefined ? undefined : await residentMemory(child.pid);
    if (used !== undefined && used > limits.memoryBytes) stop(tookTooMuch(limits));
  }, WATCH_MS);
  try {
    const { out, ending } = await new Promise<{ out: string; ending: string }>((resolve, reject) => {
      let out = "";
      child.stdout.setEncoding("utf8").on("data", (piece: string) => {
        out += piece;
      });
      child.on("error", reject);
      child.on("close", (code, signal) => resolve({ out, ending: code === 0 ? "" : (signal ?? `exit code ${code}`) }));
      // It may be stopped before it has taken everything.
      child.stdin.on("error", () => undefined);
      child.stdin.end(bytes);
    });
    if (stopped !== undefined) return stopped;
    // Running out of heap is told by a signal or a code of its own, depending on the machine.
    if (ending !== "") return gaveUp(`The process that read the workbook ended with ${ending}`);
    const answer = JSON.parse(out) as ChildAnswer;
    return answer.ok ? undefined : answer.refusal;
  } finally {
    clearTimeout(deadline);
    clearInterval(watch);
  }
}

const gaveUp = (what: string): Refusal => ({
  code: "gave-up",
  text: `${what}; reading was given up. Save the workbook again in the spreadsheet program, or split it in two.`,
});

const tookTooLong = ({ timeMs }: GuardLimits): Refusal =>
  gaveUp(`The workbook took more than ${(timeMs / 1000).toFixed(1)} seconds to read, the most that a file of its size may take`);

const tookTooMuch = ({ memoryBytes }: GuardLimits): Refusal => ({
  code: "too-large",
  text: `The workbook needs more than ${Math.floor(memoryBytes / MEBIBYTE)} MiB of memory to read, the most that a file of its size may take. Split it in two.`,
});
