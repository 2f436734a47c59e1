/** Everything a lab needs to stand up again, in one folder with a list of what is in it. */
import {
  closeSync,
  copyFileSync,
  existsSync,
  fsyncSync,
  mkdirSync,
  openSync,
  readdirSync,
  readFileSync,
  renameSync,
  rmSync,
  statSync,
} from "node:fs";
import { dirname, join } from "node:path";
import { InputRefused, UsageError } from "../errors.ts";
import { flushFolder, sha256, writeAtomically } from "../files.ts";
import type { Lab } from "../settings/settings.ts";
import { VERSION } from "../version.ts";
import { ledgerFile, type Workshop } from "../workshop.ts";
import { copySqlite, writeTables } from "./ledger-copy.ts";

export interface BackupManifest {
  readonly schema: "backup/1";
  readonly madeAt: string;
  readonly program: string;
  readonly ledger: "sqlite" | "postgres";
  readonly facts: number;
  readonly lastHash: string;
  readonly files: readonly { readonly path: string; readonly size: number; readonly sha256: string }[];
}

export const MANIFEST = "manifest.json";
export const LEDGER_COPY = "ledger.db";
export const TABLES = "tables";

/** Parts of the two folders, by their name in the backup. Drafts of mail and what is returned are made again, or were sent. */
export const PARTS = [
  ["kept", "data", "kept"],
  ["keys", "data", "keys"],
  ["documents", "lab", "documents"],
  ["specifications", "lab", "specifications"],
  ["maps", "lab", "maps"],
] as const;
export const LAB_FILES = ["coilbook.json"] as const;

export const partFolder = (lab: Lab, where: "data" | "lab", name: string): string => join(where === "data" ? lab.data : lab.folder, name);

export interface Backup {
  readonly folder: string;
  readonly manifest: BackupManifest;
  /** Older ones that were removed. */
  readonly removed: readonly string[];
}

/**
 * May run while workers write. The ledger is copied first: what it speaks of was in its place before.
 * @param target the folder that holds the backups @param keep how many of them stay, the new one included
 */
export async function backup(workshop: Workshop, target: string, keep: number): Promise<Backup> {
  const { lab, ledger, clock } = workshop;
  const madeAt = clock.now().toISOString();
  const name = madeAt.replaceAll(/[:.]/g, "-");
  const folder = join(target, name);
  if (existsSync(folder)) throw new UsageError(`${folder}: is there already; accepted is a folder without a backup of that time`);
  const temporary = join(target, `.${name}.tmp`);
  rmSync(temporary, { recursive: true, force: true });
  mkdirSync(temporary, { recursive: true, mode: 0o700 });
  try {
    const server = lab.settings.ledger.url !== "";
    if (server) await writeTables(ledger.database, join(temporary, TABLES));
    else await copySqlite(ledgerFile(lab), join(temporary, LEDGER_COPY));
    for (const file of LAB_FILES) copyFlushed(join(lab.folder, file), join(temporary, file));
    for (const [part, where, below] of PARTS) copyFolder(partFolder(lab, where, below), join(temporary, part));
    const { facts, lastHash } = await anchorOf(temporary, server);
    const manifest: BackupManifest = {
      ...{ schema: "backup/1", madeAt, program: VERSION, ledger: server ? "postgres" : "sqlite", facts, lastHash },
      files: filesBelow(temporary).map((path) => {
        const bytes = readFileSync(join(temporary, path));
        return { path, size: bytes.length, sha256: sha256(bytes) };
      }),
    };
    writeAtomically(join(temporary, MANIFEST), `${JSON.stringify(manifest, null, 1)}\n`, 0o600);
    renameSync(temporary, folder);
    flushFolder(target);
    return { folder, manifest, removed: removeOld(target, keep) };
  } catch (error) {
    rmSync(temporary, { recursive: true, force: true });
    throw error;
  }
}

/** What the copy itself says, not what the ledger has become meanwhile. */
async function anchorOf(folder: string, server: boolean): Promise<{ facts: number; lastHash: string }> {
  if (server) {
    const row = JSON.parse(readFileSync(join(folder, TABLES, "anchor.jsonl"), "utf8")) as { facts: number; last_hash: string };
    return { facts: row.facts, lastHash: row.last_hash };
  }
  const { default: Database } = await import("better-sqlite3");
  const copy = new Database(join(folder, LEDGER_COPY), { readonly: true });
  try {
    const row = copy.prepare("select facts, last_hash from anchor").get() as { facts: number; last_hash: string };
    return { facts: row.facts, lastHash: row.last_hash };
  } finally {
    copy.close();
  }
}

export function copyFlushed(from: string, to: string): void {
  mkdirSync(dirname(to), { recursive: true, mode: 0o700 });
  copyFileSync(from, to);
  const handle = openSync(to, "r");
  try {
    fsyncSync(handle);
  } finally {
    closeSync(handle);
  }
}

/** Finished files only: what is being written has another name until it is whole. */
export function copyFolder(from: string, to: string): void {
  if (!existsSync(from)) return;
  for (const path of filesBelow(from)) if (!/(^|\/)\.[^/]*$/.test(path)) copyFlushed(join(from, path), join(to, path));
}

/** Relative paths, in order. */
export const filesBelow = (folder: string): readonly string[] =>
  readdirSync(folder, { recursive: true, withFileTypes: true })
    .filter((entry) => entry.isFile())
    .map((entry) => join(entry.parentPath, entry.name).slice(folder.length + 1))
    .sort();

function removeOld(target: string, keep: number): readonly string[] {
  const names = readdirSync(target)
    .filter((name) => /^\d{4}-\d\d-\d\dT/.test(name) && existsSync(join(target, name, MANIFEST)))
    .sort();
  const old = names.slice(0, Math.max(0, names.length - keep));
  for (const name of old) rmSync(join(target, name), { recursive: true, force: true });
  return old;
}

/** @throws InputRefused on the first file that is missing, altered or was added */
export function checkedManifest(folder: string): BackupManifest {
  const file = join(folder, MANIFEST);
  let manifest: BackupManifest;
  try {
    manifest = JSON.parse(readFileSync(file, "utf8")) as BackupManifest;
  } catch (error) {
    throw new InputRefused(
      `restore: ${file} cannot be read (${(error as Error).message}); accepted is a folder that "coilbook backup" made`,
    );
  }
  if (manifest.schema !== "backup/1")
    throw new InputRefused(`restore: ${file} has the schema ${JSON.stringify(manifest.schema)}; accepted is "backup/1"`);
  const listed = new Map(manifest.files.map((entry) => [entry.path, entry]));
  for (const path of filesBelow(folder))
    if (path !== MANIFEST && !listed.has(path)) throw new InputRefused(`restore: ${path} is not in the backup's list`);
  for (const { path, size, sha256: expected } of listed.values()) {
    const full = join(folder, path);
    if (!existsSync(full)) throw new InputRefused(`restore: ${path} is missing in the backup`);
    if (statSync(full).size !== size || sha256(readFileSync(full)) !== expected)
      throw new InputRefused(`restore: ${path} was altered since the backup was made`);
  }
  return manifest;
}
