import { createHash } from "node:crypto";
import { closeSync, existsSync, fsyncSync, mkdirSync, openSync, renameSync, writeSync } from "node:fs";
import { hostname } from "node:os";
import { basename, dirname, join } from "node:path";

export const sha256 = (bytes: Uint8Array | string): string => createHash("sha256").update(bytes).digest("hex");

/** Letters, digits, `-`, `_` and `.` stay; anything else becomes `_`, and a short hash tells mapped names apart. */
export function safeName(name: string): string {
  const mapped = name
    .normalize("NFC")
    .replaceAll(/[^A-Za-z0-9._-]/g, "_")
    .replace(/^\.+/, "_");
  return mapped === name && mapped !== "" ? mapped : `${mapped.slice(0, 80)}-${sha256(name).slice(0, 8)}`;
}

/** Tells machines and containers that write into one folder apart: in containers every worker has the same process number. */
const HOST = `h${sha256(hostname()).slice(0, 8)}`;

/** Names this process among all that share a folder. */
export const processTag = (): string => `${HOST}.${process.pid}`;

/** A process of another machine cannot be asked; what it left unfinished for so long nobody will finish. */
const FOREIGN_MS = 24 * 3_600_000;

/** The process of such a tag may still be at work. @param since when it last wrote, in milliseconds */
export function mayBeRunning(tag: string, since: number): boolean {
  const found = /^(?:(h[0-9a-f]{8})\.)?(\d+)$/.exec(tag);
  if (found === null) return false;
  if (found[1] !== undefined && found[1] !== HOST) return Date.now() - since < FOREIGN_MS;
  const pid = Number(found[2]);
  if (pid === process.pid) return false;
  try {
    process.kill(pid, 0);
    return true;
  } catch (error) {
    return (error as NodeJS.ErrnoException).code !== "ESRCH";
  }
}

/** Where a file is written before it takes its name. */
export const temporaryPath = (path: string): string => join(dirname(path), `.${basename(path)}.${processTag()}.tmp`);

/** The tag of the process that writes a file of such a name. */
export const writerOf = (name: string): string | undefined => /^\..+?\.((?:h[0-9a-f]{8}\.)?\d+)\.tmp$/.exec(name)?.[1];

/** Writes beside, flushes, renames, flushes the folder: a reader sees the old file or the whole new one, also after a power cut. */
export function writeAtomically(path: string, bytes: Uint8Array | string, mode = 0o644): void {
  mkdirSync(dirname(path), { recursive: true });
  const temporary = temporaryPath(path);
  const file = openSync(temporary, "w", mode);
  try {
    const content = typeof bytes === "string" ? Buffer.from(bytes) : bytes;
    for (let at = 0; at < content.length; ) at += writeSync(file, content, at);
    fsyncSync(file);
  } finally {
    closeSync(file);
  }
  renameSync(temporary, path);
  flushFolder(dirname(path));
}

export function flushFolder(folder: string): void {
  const handle = openSync(folder, "r");
  try {
    fsyncSync(handle);
  } finally {
    closeSync(handle);
  }
}

/** An earlier file of the same name moves to `earlier/<time>/` before the new one comes. */
export function putAside(path: string, at: Date): void {
  if (!existsSync(path)) return;
  const folder = join(dirname(path), "earlier", at.toISOString().replaceAll(/[:.]/g, "-"));
  mkdirSync(folder, { recursive: true });
  renameSync(path, join(folder, basename(path)));
}
