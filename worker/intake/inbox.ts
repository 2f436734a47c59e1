/** Which files in the inbox are ready. One poll loop for start-up and running alike; events only wake it. */
import { closeSync, fstatSync, lstatSync, openSync, readdirSync, readSync, type Stats } from "node:fs";
import { join } from "node:path";
import { isCompletePackage } from "../../core/workbook/index.ts";

export interface ReadyFile {
  readonly path: string;
  /** Relative to the inbox, with `/`. */
  readonly name: string;
  readonly bytes: Uint8Array;
  /** Tells the file that was read from one that takes its place. */
  readonly identity: string;
}
export interface WaitingFile {
  readonly name: string;
  readonly why: string;
  /** True where the next polls will tell more without anybody's doing: it only has to prove that it is quiet. */
  readonly settling: boolean;
}
export interface Poll {
  readonly ready: readonly ReadyFile[];
  readonly waiting: readonly WaitingFile[];
}

interface Reading {
  readonly identity: string;
  /** Milliseconds of our own monotonic clock. */
  readonly since: number;
  /** Known to lack its end; not read again until it changes. */
  incomplete?: boolean;
  /** Not looked at before then, or until it changes. */
  leaveUntil?: number;
  leaveWhy?: string;
}

const PASSED_OVER = /^(\.|~\$)|\.(tmp|part|partial|filepart|crdownload|download)$|^(Thumbs\.db|desktop\.ini)$/i;
/** A stable file that is no package: long enough for a slow copy that writes its first block last. */
const NOT_A_PACKAGE_MS = 30_000;
const EMPTY_MS = 15 * 60_000;
/** A file that keeps changing for so long no longer holds up a drain. */
const GROWING_MS = 10_000;

export interface Inbox {
  poll(): Poll;
  /** Leaves a file alone for a time or until it changes. @param why said of it meanwhile */
  leave(file: ReadyFile, ms: number, why: string): void;
}

const identityFrom = (stat: Stats): string => `${stat.dev}:${stat.ino}:${stat.size}:${stat.mtimeMs}`;

/** @throws the file system's own error where there is no such file */
export const identityOf = (path: string): string => identityFrom(lstatSync(path));

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
          if (code !== "ENOENT") waiting.push({ name, why: `cannot be read yet (${code || (error as Error).message})`, settling: false });
        }
      }
      for (const path of readings.keys()) if (!present.has(path)) readings.delete(path);
      for (const path of firstSeen.keys()) if (!present.has(path)) firstSeen.delete(path);
      return { ready, waiting };
    },
    leave(file, ms, why) {
      const reading = readings.get(file.path);
      if (reading?.identity !== file.identity) return;
      reading.leaveUntil = monotonic() + ms;
      reading.leaveWhy = why;
    },
  };
}

function* candidates(folder: string, below = ""): Generator<{ path: string; name: string }> {
  let names: string[];
  try {
    names = readdirSync(join(folder, below)).sort();
  } catch (error) {
    // A subfolder may go, or be closed to us, while we look; the inbox itself must be there.
    if (below === "") throw error;
    return;
  }
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
  const identity = identityFrom(stat);
  const reading = readings.get(path);
  const waits = (why: string, settling = false): WaitingFile => ({ name, why, settling });
  if (reading === undefined || reading.identity !== identity) {
    readings.set(path, { identity, since: now });
    const first = firstSeen.get(path) ?? now;
    firstSeen.set(path, first);
    return waits("is still being written", now - first < GROWING_MS);
  }
  if (reading.leaveUntil !== undefined && now < reading.leaveUntil)
    return waits(reading.leaveWhy ?? "", hurry && Number.isFinite(reading.leaveUntil));
  const quiet = now - reading.since;
  if (quiet < quietMs) return waits("is still being written", now - (firstSeen.get(path) ?? now) < GROWING_MS + quietMs);
  if (reading.incomplete) return waits(INCOMPLETE);
  if (stat.size === 0 && !hurry && quiet < EMPTY_MS) return waits("is empty so far");
  const bytes = readWhole(path, identity);
  if (bytes === undefined) return waits("changed while it was read", true);
  if (bytes[0] === 0x50 && bytes[1] === 0x4b) {
    if (isCompletePackage(bytes)) return { path, name, bytes, identity };
    reading.incomplete = true;
    return waits(INCOMPLETE);
  }
  return hurry || quiet >= NOT_A_PACKAGE_MS || stat.size === 0 ? { path, name, bytes, identity } : waits("is no workbook so far");
}

const INCOMPLETE = "is not complete yet: the end of the workbook is missing";

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
    return identityFrom(fstatSync(file)) === identity ? bytes : undefined;
  } finally {
    closeSync(file);
  }
}
