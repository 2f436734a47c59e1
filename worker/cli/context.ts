/** What every command that touches a lab shares: where it is, which day it is, how answers are written. */
import { Command } from "commander";
import { isIsoDay } from "../../core/workbook/dates.ts";
import { systemClock } from "../clock.ts";
import { UsageError } from "../errors.ts";
import { findLab, type Lab, labFolder } from "../settings/settings.ts";
import { openWorkshop, type Workshop, type WorkshopOptions } from "../workshop.ts";

export interface LabFlags {
  readonly lab?: string;
  readonly data?: string;
  readonly today?: string;
  readonly json?: boolean;
}

/** A command with the options that find a lab. */
export const labCommand = (name: string, description: string, example: string): Command =>
  new Command(name)
    .description(description)
    .option("--lab <folder>", "the exchange folder (else COILBOOK_LAB, else ./lab)")
    .option("--data <folder>", "the data folder (else COILBOOK_DATA, else <lab>/data)")
    .option("--json", "answer as JSON")
    .addHelpText("after", `\nExample:\n  ${example}`);

export const withToday = (command: Command): Command => command.option("--today <day>", "judge as on this day, YYYY-MM-DD");

export function checkedToday(today: string | undefined): string | undefined {
  if (today !== undefined && !isIsoDay(today)) throw new UsageError(`--today: found "${today}", accepted is a day such as 2026-03-02`);
  return today;
}

/** @throws UsageError where the folder holds no lab */
export function demandLab(flags: LabFlags): Lab {
  const lab = findLab(flags, process.env);
  if (lab === undefined)
    throw new UsageError(`${labFolder(flags, process.env)}: holds no lab (no coilbook.json); "coilbook init" makes one`);
  return lab;
}

/** Opens the lab, runs, and closes the ledger cleanly whatever happens. */
export async function inWorkshop<T>(flags: LabFlags, run: (workshop: Workshop) => Promise<T>, options: WorkshopOptions = {}): Promise<T> {
  const today = checkedToday(flags.today);
  const workshop = await openWorkshop(demandLab(flags), systemClock, { ...options, ...(today === undefined ? {} : { today }) });
  try {
    return await run(workshop);
  } finally {
    await workshop.ledger.close();
  }
}

export const say = (text: string): void => {
  process.stdout.write(`${text}\n`);
};

/** One JSON object on one line, or the text. */
export function answer(flags: { readonly json?: boolean }, json: object, text: () => string): void {
  say(flags.json ? JSON.stringify(json) : text());
}
