import { existsSync, mkdirSync, writeFileSync } from "node:fs";
import { join, resolve } from "node:path";
import { Command } from "commander";
import { dayIn, systemClock } from "../clock.ts";
import { UsageError } from "../errors.ts";
import { addPerson, putCustomer, type Role } from "../registers.ts";
import { defaultSettings, findLab, settingsSchema } from "../settings/settings.ts";
import { contentHash } from "../specifications.ts";
import { openWorkshop } from "../workshop.ts";
import { answer } from "./context.ts";

const FOLDERS = ["inbox", "returned", "refused", "documents", "mail", "register", "specifications", "maps"];

export function initCommand(): Command {
  return new Command("init")
    .description("makes a lab; with --example, an invented one that can be tried at once")
    .argument("[dir]", "the exchange folder", process.env["COILBOOK_LAB"] || "lab")
    .option("--example", "people, equipment, an invented specification and workbooks in the inbox")
    .option("--data <folder>", "the data folder (else COILBOOK_DATA, else <dir>/data)")
    .option("--json", "answer as JSON")
    .addHelpText("after", "\nExample:\n  coilbook init lab --example")
    .action(async (dir: string, flags: { example?: boolean; data?: string; json?: boolean }) => {
      const folder = resolve(dir);
      if (existsSync(join(folder, "coilbook.json")))
        throw new UsageError(`${folder}: holds a lab already; accepted is a folder without coilbook.json`);
      const today = dayIn("UTC", systemClock.now());
      const example = flags.example ? (await import("../../templates/example/index.ts")).exampleLab(today) : undefined;
      for (const name of FOLDERS) mkdirSync(join(folder, name), { recursive: true });
      const settings = example === undefined ? defaultSettings() : settingsSchema.parse(merged(defaultSettings(), example.settings));
      writeFileSync(join(folder, "coilbook.json"), `${JSON.stringify(settings, null, 2)}\n`);
      for (const specification of example?.specifications ?? [])
        writeFileSync(join(folder, "specifications", specification.name), `${JSON.stringify(specification.json, null, 2)}\n`);
      const lab = findLab({ lab: folder, ...(flags.data === undefined ? {} : { data: flags.data }) }, process.env);
      if (lab === undefined) throw new UsageError(`${folder}: could not be made`);
      const workshop = await openWorkshop(lab, systemClock);
      try {
        if (example !== undefined) {
          for (const person of example.people)
            await addPerson(workshop.ledger, { name: person.name, roles: person.roles as Role[] }, example.people[0]?.name);
          for (const customer of example.customers) await putCustomer(workshop.ledger, customer, example.people[0]?.name);
          for (const { id, by } of example.adopt) {
            const found = workshop.library.find(id);
            if (found === undefined) continue;
            const payload = { specification: found.id, edition: found.edition, content: contentHash(found.data), by, on: workshop.today() };
            await workshop.ledger.transaction(by, async (tx) => {
              await tx.append({ kind: "specification-adopted", key: `${found.id}|${found.edition}`, payload });
            });
          }
          // The workbooks come last, so that a worker that is already watching finds people and limits.
          for (const file of example.extra) writeFileSync(join(folder, file.name), file.bytes);
          for (const file of example.inbox) writeFileSync(join(folder, "inbox", file.name), file.bytes);
        }
      } finally {
        await workshop.ledger.close();
      }
      answer(
        flags,
        { schema: "init/1", lab: folder, data: lab.data, example: example !== undefined },
        () =>
          `${folder} is a lab${example === undefined ? "" : " with invented people, orders and workbooks"}. Next: coilbook work --drain --lab ${dir}`,
      );
    });
}

function merged(base: object, over: object): object {
  const out: Record<string, unknown> = { ...base };
  for (const [key, value] of Object.entries(over)) {
    const before = out[key];
    out[key] =
      typeof value === "object" && value !== null && !Array.isArray(value) && typeof before === "object" && before !== null
        ? merged(before, value)
        : value;
  }
  return out;
}
