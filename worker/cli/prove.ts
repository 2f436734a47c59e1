import type { Command } from "commander";
import { writeAtomically } from "../files.ts";
import { answer, inWorkshop, type LabFlags, labCommand, withToday } from "./context.ts";

type ProveFlags = LabFlags & { specification?: string; against?: string; out?: string };

export function proveCommand(): Command {
  return withToday(
    labCommand("prove", "judges cases at, just inside and just outside every adopted limit", "coilbook prove --out proof-2026-03"),
  )
    .option("--specification <id>", "one specification, adopted or not")
    .option("--against <report.json>", "an earlier report: lists exactly what differs")
    .option("--out <name>", "writes <name>.json with every case, <name>.txt to read, and <name>.jws, signed")
    .action(async (flags: ProveFlags) => {
      const { proofText, proveLab, signedProof } = await import("../quality/prove.ts");
      await inWorkshop(flags, async (workshop) => {
        const { specification, against, out } = flags;
        const report = await proveLab(workshop, {
          ...(specification === undefined ? {} : { specification }),
          ...(against === undefined ? {} : { against }),
        });
        if (out !== undefined) {
          writeAtomically(`${out}.json`, `${JSON.stringify(report, undefined, 1)}\n`);
          writeAtomically(`${out}.jws`, `${await signedProof(workshop, report)}\n`);
          writeAtomically(`${out}.txt`, `${proofText(report)}\n`);
        }
        // Every case is thousands of lines: they go to the file.
        const { cases: _, ...short } = report;
        answer(flags, short, () => proofText(report));
        if (!report.ok || (report.against?.changes.length ?? 0) > 0) process.exitCode = 1;
      });
    });
}
