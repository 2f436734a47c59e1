import { join, resolve } from "node:path";
import type { Command } from "commander";
import { systemClock } from "../clock.ts";
import { UsageError } from "../errors.ts";
import { labFolder } from "../settings/settings.ts";
import { answer, inWorkshop, type LabFlags, labCommand } from "./context.ts";

const KEPT = "14";

export function backupCommand(): Command {
  return labCommand(
    "backup",
    "copies ledger, originals, keys, documents and settings; may run while the worker works",
    "coilbook backup --out /backup",
  )
    .option("--out <folder>", "where backups are kept, a folder each (else <data>/backup)")
    .option("--keep <count>", "how many stay, the new one included", KEPT)
    .action((flags: LabFlags & { out?: string; keep: string }) =>
      inWorkshop(flags, async (workshop) => {
        if (!/^[1-9]\d{0,3}$/.test(flags.keep)) throw new UsageError(`--keep: found "${flags.keep}", accepted is a count from 1 to 9999`);
        const { backup } = await import("../backup/backup.ts");
        const made = await backup(workshop, resolve(flags.out ?? join(workshop.lab.data, "backup")), Number(flags.keep));
        const { facts, lastHash, files } = made.manifest;
        answer(
          flags,
          { schema: "backup/1", folder: made.folder, facts, lastHash, files: files.length, removed: made.removed },
          () =>
            `${made.folder}: ${facts} facts, ${files.length} files${made.removed.length > 0 ? `; ${made.removed.length} older ones removed` : ""}`,
        );
      }),
    );
}

export function restoreCommand(): Command {
  return labCommand(
    "restore",
    "makes a lab again out of a backup, in folders that hold none",
    "coilbook restore /backup/2026-03-03T09-00-00-000Z --lab lab",
  )
    .argument("<backup>", 'a folder that "coilbook backup" made')
    .action(async (folder: string, flags: LabFlags) => {
      const { restore } = await import("../backup/restore.ts");
      const target = labFolder(flags, process.env);
      const data = resolve(flags.data || process.env["COILBOOK_DATA"] || join(target, "data"));
      const { manifest } = await restore(resolve(folder), target, data, process.env, systemClock);
      answer(
        flags,
        { schema: "restore/1", lab: target, data, facts: manifest.facts, lastHash: manifest.lastHash, madeAt: manifest.madeAt },
        () =>
          `${target} is as it was at ${manifest.madeAt}: ${manifest.facts} facts, audited. Workbooks dropped since then are to be dropped again; "coilbook work --drain" writes what is missing.`,
      );
    });
}
