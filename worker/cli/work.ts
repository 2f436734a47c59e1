import type { Command } from "commander";
import { ServiceAway } from "../errors.ts";
import { answer, inWorkshop, type LabFlags, labCommand, withToday } from "./context.ts";

export function workCommand(): Command {
  return withToday(labCommand("work", "the worker on the inbox", "coilbook work --drain"))
    .option("--drain", "end when nothing is left to do")
    .action(async (flags: LabFlags & { drain?: boolean }) => {
      const { work } = await import("../work.ts");
      const stop = new AbortController();
      // The first signal finishes what is begun, the second forces.
      const onSignal = (): void => {
        if (stop.signal.aborted) process.exit(70);
        process.stderr.write("coilbook: stopping after the work in hand; once more forces\n");
        stop.abort();
      };
      process.on("SIGINT", onSignal);
      process.on("SIGTERM", onSignal);
      await inWorkshop(flags, async (workshop) => {
        const summary = await work(workshop, {
          drain: flags.drain === true,
          signal: stop.signal,
          log: (line) => process.stderr.write(`${line}\n`),
        });
        // The first document brings the first key, and with it the page that customers check files with.
        const { writeSealFiles } = await import("../seal/register-files.ts");
        await writeSealFiles(workshop);
        answer(
          flags,
          { schema: "work/1", ...summary },
          () =>
            `${summary.files} files (${summary.refused} refused), ${summary.jobs} jobs done${summary.dead > 0 ? `, ${summary.dead} given up` : ""}`,
        );
        if (summary.serviceAway || summary.dead > 0) throw new ServiceAway(await reasonOf(workshop));
      });
      process.off("SIGINT", onSignal);
      process.off("SIGTERM", onSignal);
    });
}

async function reasonOf({ ledger }: Parameters<Parameters<typeof inWorkshop>[1]>[0]): Promise<string> {
  const job = await ledger.database
    .selectFrom("job")
    .select(["key", "error"])
    .where("state", "!=", "done")
    .where("error", "!=", "")
    .executeTakeFirst();
  return `work: ${job?.key ?? "a job"} could not be done: ${job?.error ?? "no reason known"}`;
}
