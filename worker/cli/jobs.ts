import { Command } from "commander";
import { UsageError } from "../errors.ts";
import { dropJobs, type ListedJob, openJobs, retryJobs } from "../queue/job-records.ts";
import { answer, inWorkshop, type LabFlags, labCommand } from "./context.ts";

export function jobsCommand(): Command {
  return new Command("jobs")
    .description("work that is waiting or was given up; the same for both queues, since the ledger knows every job")
    .addCommand(listCommand())
    .addCommand(retryCommand())
    .addCommand(dropCommand());
}

const line = (job: ListedJob): string =>
  `${job.state.padEnd(8)} ${job.key}  ${job.attempts} attempts${job.error === "" ? "" : `  ${job.error.replaceAll("\n", " ")}`}`;

function listCommand(): Command {
  return labCommand("list", "every job that is not done, those that were given up first", "coilbook jobs list").action((flags: LabFlags) =>
    inWorkshop(
      flags,
      async ({ ledger }) => {
        const jobs = await openJobs(ledger.database);
        answer(flags, { schema: "jobs/1", jobs }, () => (jobs.length === 0 ? "nothing waits" : jobs.map(line).join("\n")));
        if (jobs.some((job) => job.state === "dead")) process.exitCode = 1;
      },
      { readOnly: true },
    ),
  );
}

interface ChosenFlags extends LabFlags {
  readonly all?: boolean;
}

/** @throws UsageError where neither jobs nor --all are given, or both */
function checkChoice(keys: readonly string[], all: boolean | undefined): void {
  if (keys.length === 0 && !all)
    throw new UsageError('jobs: none is named; accepted are keys as "coilbook jobs list" prints them, or --all');
  if (keys.length > 0 && all) throw new UsageError("jobs: found keys and --all, accepted is one of them");
}

/** @throws UsageError where one that was named is not among the jobs that were given up */
function checkFound(keys: readonly string[], found: readonly string[]): void {
  const missing = keys.filter((key) => !found.includes(key));
  if (missing.length > 0)
    throw new UsageError(
      `jobs: ${missing.join(", ")} was not given up; "coilbook jobs list" prints those that were${found.length > 0 ? `; done for ${found.join(", ")}` : ""}`,
    );
}

function retryCommand(): Command {
  return labCommand("retry", "new attempts for jobs that were given up", "coilbook jobs retry --all")
    .argument("[key...]", 'keys as "coilbook jobs list" prints them')
    .option("--all", "every job that was given up")
    .action((keys: string[], flags: ChosenFlags) =>
      inWorkshop(flags, async ({ ledger }) => {
        checkChoice(keys, flags.all);
        const found = await retryJobs(ledger.database, keys);
        checkFound(keys, found);
        answer(flags, { schema: "jobs/1", retried: found }, () => `${found.length} jobs get new attempts at the worker's next turn`);
      }),
    );
}

function dropCommand(): Command {
  return labCommand(
    "drop",
    "takes jobs that were given up off the list, for good",
    'coilbook jobs drop "render|…|pdf" --why "printed by hand"',
  )
    .argument("[key...]", 'keys as "coilbook jobs list" prints them')
    .option("--all", "every job that was given up")
    .requiredOption("--why <text>", "kept with the job")
    .action((keys: string[], flags: ChosenFlags & { why: string }) =>
      inWorkshop(flags, async ({ ledger }) => {
        checkChoice(keys, flags.all);
        const found = await dropJobs(ledger.database, keys, flags.why);
        checkFound(keys, found);
        answer(flags, { schema: "jobs/1", dropped: found }, () => `${found.length} jobs are off the list`);
      }),
    );
}
