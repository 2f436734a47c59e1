import { closeSync, existsSync, openSync, writeSync } from "node:fs";
import type { Command } from "commander";
import { InputRefused, UsageError } from "../errors.ts";
import { answer, inWorkshop, type LabFlags, labCommand, say } from "./context.ts";

export function exportCommand(): Command {
  return labCommand("export", "every fact of the ledger as JSON Lines", "coilbook export --out ledger.jsonl")
    .option("--out <file>", "a new file; without, standard output")
    .option("--schema", "the JSON Schema of a line, instead")
    .action(async (flags: LabFlags & { out?: string; schema?: boolean }) => {
      const { exportLines, exportSchema } = await import("../ledger/transfer.ts");
      if (flags.schema) {
        say(JSON.stringify(exportSchema(), undefined, 2));
        return;
      }
      const { out } = flags;
      if (out !== undefined && existsSync(out)) throw new UsageError(`--out: ${out} is there already; accepted is a new name`);
      await inWorkshop(flags, async ({ ledger }) => {
        if (out === undefined) {
          for await (const line of exportLines(ledger)) say(line);
          return;
        }
        const file = openSync(out, "wx");
        let lines = 0;
        try {
          for await (const line of exportLines(ledger)) {
            writeSync(file, `${line}\n`);
            lines += 1;
          }
        } finally {
          closeSync(file);
        }
        answer(flags, { schema: "export/1", file: out, facts: lines - 1 }, () => `${out}: ${lines - 1} facts`);
      });
    });
}

export function importCommand(): Command {
  return labCommand("import", "an exported ledger into an empty one", "coilbook import ledger.jsonl --lab new-lab")
    .argument("<file>", 'as "coilbook export" wrote it')
    .action(async (file: string, flags: LabFlags) => {
      if (!existsSync(file)) throw new InputRefused(`import: ${file} is not there`);
      const { importLines } = await import("../ledger/transfer.ts");
      await inWorkshop(flags, async ({ ledger }) => {
        const done = await importLines(ledger, file);
        answer(flags, { schema: "import/1", ...done }, () => `${done.facts} facts; the last is ${done.lastHash}`);
      });
    });
}
