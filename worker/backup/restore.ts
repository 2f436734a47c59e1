/** A lab out of a backup, into folders that hold none. */
import { chmodSync, existsSync, mkdirSync, readdirSync } from "node:fs";
import { join } from "node:path";
import type { Clock } from "../clock.ts";
import { InputRefused, UsageError } from "../errors.ts";
import { auditLab } from "../ledger/audit-lab.ts";
import { findLab, type Lab } from "../settings/settings.ts";
import { ledgerFile, openWorkshop } from "../workshop.ts";
import {
  type BackupManifest,
  checkedManifest,
  copyFlushed,
  copyFolder,
  filesBelow,
  LAB_FILES,
  LEDGER_COPY,
  PARTS,
  partFolder,
  TABLES,
} from "./backup.ts";
import { readTables } from "./ledger-copy.ts";

const FOLDERS = ["inbox", "returned", "refused", "documents", "mail", "register", "specifications", "maps"];

export interface Restored {
  readonly lab: Lab;
  readonly manifest: BackupManifest;
}

/**
 * Everything in the backup is checked before anything is written; the ledger is audited at the end.
 * @param folder the exchange folder to make @param data the data folder to make
 * @throws UsageError where a lab stands there, InputRefused where the backup is not sound or does not fit the ledger of the settings
 */
export async function restore(
  backup: string,
  folder: string,
  data: string,
  environment: Readonly<Record<string, string | undefined>>,
  clock: Clock,
): Promise<Restored> {
  if (existsSync(join(folder, "coilbook.json")))
    throw new UsageError(`${folder}: holds a lab already; accepted is a folder without coilbook.json`);
  if (existsSync(data) && readdirSync(data).length > 0) throw new UsageError(`${data}: is not empty; accepted is an empty data folder`);
  const manifest = checkedManifest(backup);
  // The settings come last: until then there is no lab, and the same command can be given again.
  const settings = findLab({ lab: backup, data }, environment)?.settings;
  if (settings === undefined) throw new InputRefused(`restore: ${backup} holds no coilbook.json`);
  const lab: Lab = { folder, data, settings };
  const kind = settings.ledger.url === "" ? "sqlite" : "postgres";
  if (kind !== manifest.ledger)
    throw new InputRefused(
      `restore: the backup is of a ledger in ${manifest.ledger}, the settings name one in ${kind}; accepted is the same kind (setting ledger.url, or COILBOOK_LEDGER_URL)`,
    );
  for (const name of FOLDERS) mkdirSync(join(folder, name), { recursive: true });
  for (const [part, where, below] of PARTS) copyFolder(join(backup, part), partFolder(lab, where, below));
  closeKeys(join(data, "keys"));
  if (kind === "sqlite") copyFlushed(join(backup, LEDGER_COPY), ledgerFile(lab));
  const workshop = await openWorkshop(lab, clock);
  try {
    if (kind === "postgres") await readTables(workshop.ledger.database, join(backup, TABLES));
    await workshop.ledger.rebuild();
    const [first] = await auditLab(workshop);
    if (first !== undefined) throw new InputRefused(`restore: the restored ledger does not pass its audit: ${first.text}`);
  } finally {
    await workshop.ledger.close();
  }
  for (const file of LAB_FILES) copyFlushed(join(backup, file), join(folder, file));
  return { lab, manifest };
}

/** Readable by their owner only, whatever the copy was. */
function closeKeys(folder: string): void {
  if (!existsSync(folder)) return;
  for (const path of filesBelow(folder)) chmodSync(join(folder, path), 0o600);
}
