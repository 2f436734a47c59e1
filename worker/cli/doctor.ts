import { existsSync, lstatSync, readdirSync } from "node:fs";
import { join } from "node:path";
import type { Command } from "commander";
import { withoutPassword } from "../errors.ts";
import type { Lab } from "../settings/settings.ts";
import { findLab } from "../settings/settings.ts";
import { VERSION } from "../version.ts";
import type { Workshop } from "../workshop.ts";
import { answer, type LabFlags, labCommand } from "./context.ts";

interface Problem {
  readonly code: string;
  readonly text: string;
  readonly mend: string;
}

export function doctorCommand(): Command {
  return labCommand("doctor", "what is wrong with this installation, and how to mend it", "coilbook doctor")
    .option("--brief", "without starting anything")
    .action(async (flags: LabFlags & { brief?: boolean }) => {
      const problems: Problem[] = [];
      let lab: Lab | undefined;
      try {
        lab = findLab(flags, process.env);
      } catch (error) {
        problems.push({
          code: "settings",
          text: (error as Error).message,
          mend: "correct coilbook.json or the environment variable named",
        });
      }
      const { loadSpecifications } = await import("../specifications.ts");
      for (const { file, problems: found } of loadSpecifications(lab?.folder).refused)
        problems.push({
          code: "specification-refused",
          text: `${file}: ${found[0]?.text ?? "is not accepted"}`,
          mend: `run "coilbook spec check ${file}" and correct what it names`,
        });
      const { findBrowser } = await import("../rendering/index.ts");
      const browser = await findBrowser(lab?.settings.browser.path ?? "", process.env);
      if (browser === undefined)
        problems.push({
          code: "no-browser",
          text: "no browser was found to print documents with",
          mend: "install chromium-headless-shell, or set PDF_CHROMIUM_PATH to the binary itself",
        });
      const ledger = await ledgerState(lab, problems);
      const report = {
        schema: "doctor/1",
        ok: problems.length === 0,
        runtime: { coilbook: VERSION, node: process.versions.node, platform: `${process.platform} ${process.arch}` },
        browser: browser ?? { path: null, version: null },
        queue: { kind: (lab?.settings.queue.redisUrl ?? "") === "" ? "ledger" : "redis", ...(ledger?.jobs ?? {}) },
        ledger: ledger === undefined ? { kind: "none" } : { kind: ledger.kind, file: ledger.file, facts: ledger.facts },
        mail: { kind: (lab?.settings.mail.smtpUrl ?? "") === "" ? "drafts" : "smtp" },
        fonts: { embedded: ["Noto Sans"] },
        oldestWaitingFile: lab === undefined ? null : oldestWaiting(join(lab.folder, "inbox")),
        lastNightly: ledger?.lastNightly ?? null,
        problems,
      };
      answer(flags, report, () =>
        [
          `coilbook ${VERSION} on Node ${process.versions.node}: ${report.ok ? "nothing is wrong" : `${problems.length} problems`}`,
          `browser: ${browser === undefined ? "none" : `${browser.path} (${browser.version})`}`,
          `ledger: ${ledger === undefined ? "no lab here" : `${ledger.file}, ${ledger.facts} facts`}`,
          ...problems.map((p) => `${p.code}: ${p.text}\n  ${p.mend}`),
        ].join("\n"),
      );
      if (!report.ok) process.exitCode = 1;
    });
}

interface LedgerState {
  readonly kind: "sqlite" | "postgres";
  /** A path, or an address without its password. */
  readonly file: string;
  readonly facts: number;
  readonly jobs: object;
  readonly lastNightly: string | null;
}

async function ledgerState(lab: Lab | undefined, problems: Problem[]): Promise<LedgerState | undefined> {
  try {
    const { openWorkshop, hasLedger, ledgerFile } = await import("../workshop.ts");
    if (lab === undefined || !hasLedger(lab)) return undefined;
    const { systemClock } = await import("../clock.ts");
    const workshop = await openWorkshop(lab, systemClock, { readOnly: true });
    try {
      const { database } = workshop.ledger;
      const anchor = await database.selectFrom("anchor").select("facts").executeTakeFirst();
      const last = (await workshop.ledger.facts({ kinds: ["digest-written"] })).at(-1);
      const { url } = lab.settings.ledger;
      return {
        ...(url === "" ? { kind: "sqlite", file: ledgerFile(lab) } : { kind: "postgres", file: withoutPassword(url) }),
        facts: anchor?.facts ?? 0,
        jobs: await queueState(workshop, problems),
        lastNightly: (last?.payload as { date?: string } | undefined)?.date ?? null,
      };
    } finally {
      await workshop.ledger.close();
    }
  } catch (error) {
    const text = (error as Error).message;
    const driver = /better_sqlite3|bindings/.test(text);
    problems.push({
      code: driver ? "database-driver" : "ledger",
      text: text.split("\n")[0] ?? "",
      mend: driver
        ? 'the database driver was installed without its binary: run "npm rebuild better-sqlite3" (npm 12: allow its install script first)'
        : "see the message",
    });
    return undefined;
  }
}

async function queueState(workshop: Workshop, problems: Problem[]): Promise<object> {
  const { queueOf } = await import("../queue/queue-of.ts");
  const queue = await queueOf(workshop);
  try {
    const jobs = await queue.waiting();
    if (jobs.dead > 0)
      problems.push({
        code: "jobs-given-up",
        text: `${jobs.dead} jobs were given up`,
        mend: 'look at "coilbook jobs list", mend the cause it names and run "coilbook jobs retry --all", or drop them',
      });
    return jobs;
  } catch (error) {
    problems.push({
      code: "queue",
      text: (error as Error).message,
      mend: "start that server, or correct the setting queue.redisUrl; nothing is lost: the ledger holds every open job",
    });
    return {};
  } finally {
    await queue.close();
  }
}

function oldestWaiting(inbox: string): string | null {
  if (!existsSync(inbox)) return null;
  const times = readdirSync(inbox)
    .filter((name) => !name.startsWith(".") && !name.startsWith("~$"))
    .map((name) => lstatSync(join(inbox, name)))
    .filter((stat) => stat.isFile())
    .map((stat) => stat.mtime.toISOString())
    .sort();
  return times[0] ?? null;
}
