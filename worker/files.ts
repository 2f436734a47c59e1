import { createHash } from "node:crypto";
import { closeSync, existsSync, fsyncSync, mkdirSync, openSync, renameSync, writeSync } from "node:fs";
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

/** Writes beside, flushes, renames, flushes the folder: a reader sees the old file or the whole new one, also after a power cut. */
export function writeAtomically(path: string, bytes: Uint8Array | string, mode = 0o644): void {
  mkdirSync(dirname(path), { recursive: true });
  const temporary = join(dirname(path), `.${basename(path)}.${process.pid}.tmp`);
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
