/** Everything a running worker or command holds: the lab, its ledger, its specifications, its time. Made in one place. */
import { existsSync } from "node:fs";
import { join } from "node:path";
import type { HeldLibrary } from "../core/spec/index.ts";
import { type Clock, dayIn } from "./clock.ts";
import type { JudgeLabOptions } from "./judge-lab.ts";
import type { OpenLedger } from "./ledger/open-ledger.ts";
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

/** @throws ServiceAway where the ledger cannot be opened */
export async function openWorkshop(lab: Lab, clock: Clock, options: WorkshopOptions = {}): Promise<Workshop> {
  const ledger = await openLedger(lab, clock, options.readOnly === true);
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

/** Each store brings its driver only where it is asked for. */
async function openLedger(lab: Lab, clock: Clock, readOnly: boolean): Promise<OpenLedger> {
  const { url } = lab.settings.ledger;
  if (url === "") {
    const { openSqliteLedger } = await import("./ledger/sqlite-ledger.ts");
    return openSqliteLedger(ledgerFile(lab), clock, { readOnly });
  }
  const { openPostgresLedger } = await import("./ledger/postgres-ledger.ts");
  return openPostgresLedger(url, clock, { readOnly });
}

/** A ledger on a server is made when it is first asked for, so it is always there. */
export const hasLedger = (lab: Lab): boolean => lab.settings.ledger.url !== "" || existsSync(ledgerFile(lab));
