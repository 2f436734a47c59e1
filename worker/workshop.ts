/** Everything a running worker or command holds: the lab, its ledger, its specifications, its time. Made in one place. */
import { join } from "node:path";
import type { HeldLibrary } from "../core/spec/index.ts";
import { type Clock, dayIn } from "./clock.ts";
import { ServiceAway } from "./errors.ts";
import type { JudgeLabOptions } from "./judge-lab.ts";
import { ledgerExists, type OpenLedger, openSqliteLedger } from "./ledger/sqlite-ledger.ts";
import type { Lab } from "./settings/settings.ts";
import { loadLibrary } from "./specifications.ts";

export interface Workshop {
  readonly lab: Lab;
  readonly ledger: OpenLedger;
  readonly library: HeldLibrary;
  readonly clock: Clock;
  /** The lab's day, or the one given by `--today`. */
  today(): string;
  judgeOptions(): JudgeLabOptions;
}

export const ledgerFile = (lab: Lab): string => join(lab.data, "ledger.db");

export interface WorkshopOptions {
  readonly today?: string;
  readonly readOnly?: boolean;
}

/** @throws ServiceAway where the lab asks for a store this program does not bring */
export async function openWorkshop(lab: Lab, clock: Clock, options: WorkshopOptions = {}): Promise<Workshop> {
  if (lab.settings.ledger.url !== "")
    throw new ServiceAway(
      `setting ledger.url, found "${lab.settings.ledger.url}": this program keeps its ledger in SQLite; accepted is an empty text`,
    );
  if (lab.settings.queue.redisUrl !== "")
    throw new ServiceAway(`setting queue.redisUrl, found a value: this program keeps its jobs in the ledger; accepted is an empty text`);
  const ledger = await openSqliteLedger(ledgerFile(lab), clock, { readOnly: options.readOnly === true });
  const library = loadLibrary(lab.folder);
  const today = (): string => options.today ?? dayIn(lab.settings.timeZone, clock.now());
  return {
    lab,
    ledger,
    library,
    clock,
    today,
    judgeOptions: () => ({ library, today: today(), freeLengthTolerance: lab.settings.judgement.freeLengthTolerance }),
  };
}

export const hasLedger = (lab: Lab): boolean => ledgerExists(ledgerFile(lab));
