/** Which files in the inbox are ready. One poll loop for start-up and running alike; events only wake it. */
import { closeSync, fstatSync, lstatSync, openSync, readdirSync, readSync, type Stats } from "node:fs";
import { join } from "node:path";
import { isCompletePackage } from "../../core/workbook/index.ts";

export interface ReadyFile {
  readonly path: string;
  /** Relative to the inbox, with `/`. */
  readonly name: string;
  readonly bytes: Uint8Array;
}
export interface WaitingFile {
  readonly name: string;
  readonly why: string;
}
export interface Poll {
  readonly ready: readonly ReadyFile[];
  readonly waiting: readonly WaitingFile[];
}

interface Reading {
  readonly identity: string;
  /** Milliseconds of our own monotonic clock. */
  readonly since: number;
}

const PASSED_OVER = /^(\.|~\$)|\.(tmp|part|partial|filepart|crdownload|download)$|^(Thumbs\.db|desktop\.ini)$/i;
/** A stable file that is no package: long enough for a slow copy that writes its first block last. */
const NOT_A_PACKAGE_MS = 30_000;
const EMPTY_MS = 15 * 60_000;

export interface Inbox {
  poll(): Poll;
}

/** @param hurry at the end of `work --drain` two equal readings are enough to refuse what is no package */
export function createInbox(folder: string, quietMs: number, monotonic: () => number, hurry: boolean): Inbox {
  const readings = new Map<string, Reading>();
  const firstSeen = new Map<string, number>();
  return {
    poll() {
      const ready: ReadyFile[] = [];
      const waiting: WaitingFile[] = [];
      const present = new Set<string>();
      for (const { path, name } of candidates(folder)) {
        present.add(path);
        try {
          const outcome = look(path, name, readings, firstSeen, quietMs, monotonic(), hurry);
          if (outcome === undefined) continue;
          if ("bytes" in outcome) ready.push(outcome);
          else waiting.push(outcome);
        } catch (error) {
          const code = (error as NodeJS.ErrnoException).code ?? "";
          // Another program holds it, or it went away in between: tried again for ever.
          if (code !== "ENOENT") waiting.push({ name, why: `cannot be read yet (${code || (error as Error).message})` });
        }
      }
      for (const path of readings.keys()) if (!present.has(path)) readings.delete(path);
      for (const path of firstSeen.keys()) if (!present.has(path)) firstSeen.delete(path);
      return { ready, waiting };
    },
  };
}

function* candidates(folder: string, below = ""): Generator<{ path: string; name: string }> {
  const names = readdirSync(join(folder, below)).sort();
  for (const entry of names) {
    if (PASSED_OVER.test(entry)) continue;
    const name = below === "" ? entry : `${below}/${entry}`;
    const path = join(folder, name);
    let stat: Stats;
    try {
      stat = lstatSync(path);
    } catch {
      continue;
    }
    if (stat.isDirectory()) yield* candidates(folder, name);
    else if (stat.isFile()) yield { path, name };
  }
}

function look(
  path: string,
  name: string,
  readings: Map<string, Reading>,
  firstSeen: Map<string, number>,
  quietMs: number,
  now: number,
  hurry: boolean,
): ReadyFile | WaitingFile | undefined {
  const stat = lstatSync(path);
  const identity = `${stat.dev}:${stat.ino}:${stat.size}:${stat.mtimeMs}`;
  const before = readings.get(path);
  if (before === undefined || before.identity !== identity) {
    readings.set(path, { identity, since: now });
    firstSeen.set(path, firstSeen.get(path) ?? now);
    return { name, why: "is still being written" };
  }
  const quiet = now - before.since;
  if (quiet < quietMs) return { name, why: "is still being written" };
  if (stat.size === 0 && !hurry && quiet < EMPTY_MS) return { name, why: "is empty so far" };
  const bytes = readWhole(path, identity);
  if (bytes === undefined) return { name, why: "changed while it was read" };
  if (bytes[0] === 0x50 && bytes[1] === 0x4b)
    return isCompletePackage(bytes) ? { path, name, bytes } : { name, why: "is not complete yet: the end of the workbook is missing" };
  return hurry || quiet >= NOT_A_PACKAGE_MS || stat.size === 0 ? { path, name, bytes } : { name, why: "is no workbook so far" };
}

/** The bytes, or undefined where the file changed meanwhile. */
function readWhole(path: string, identity: string): Uint8Array | undefined {
  const file = openSync(path, "r");
  try {
    const stat = fstatSync(file);
    const bytes = new Uint8Array(stat.size);
    let at = 0;
    while (at < bytes.length) {
      const read = readSync(file, bytes, at, bytes.length - at, at);
      if (read === 0) return undefined;
      at += read;
    }
    const after = fstatSync(file);
    return `${after.dev}:${after.ino}:${after.size}:${after.mtimeMs}` === identity ? bytes : undefined;
  } finally {
    closeSync(file);
  }
}
