/** What happens to a document after it was issued: confirmed, amended, withdrawn, sent. */
import type { Command } from "commander";
import type { DocumentState } from "../documents/life.ts";
import type { Workshop } from "../workshop.ts";
import { answer, inWorkshop, type LabFlags, labCommand, withToday } from "./context.ts";
import { listed } from "./wire.ts";

type ReasonFlags = LabFlags & { why: string; by: string };

const change = (name: string, description: string, example: string): Command =>
  withToday(labCommand(name, description, example))
    .argument("<number>", "number of the document")
    .requiredOption("--why <text>", "the reason, kept and printed")
    .requiredOption("--by <person>", "a person of the role quality");

const short = ({ number, status, coils }: DocumentState): object => ({ number, status, coils });

export function confirmCommand(): Command {
  return change(
    "confirm",
    "a document in question stands as it is",
    'coilbook confirm 2026-00001 --why "typing only" --by "Q. Example"',
  ).action(async (number: string, flags: ReasonFlags) => {
    const { confirmDocument } = await import("../documents/changes.ts");
    await inWorkshop(flags, async (workshop) => {
      const document = await confirmDocument(workshop, number, flags);
      answer(flags, { schema: "confirm/1", ...short(document) }, () => `document ${number} stands: ${flags.why}`);
    });
  });
}

/** The signed list of what was called back stands in the register at once: a customer may look any minute. */
async function tellCalledBack(workshop: Workshop): Promise<void> {
  const { writeSealFiles } = await import("../seal/register-files.ts");
  await writeSealFiles(workshop);
}

export function withdrawCommand(): Command {
  return change("withdraw", "calls a document back", 'coilbook withdraw 2026-00001 --why "coil 2 fails" --by "Q. Example"').action(
    async (number: string, flags: ReasonFlags) => {
      const { withdrawDocument } = await import("../documents/changes.ts");
      await inWorkshop(flags, async (workshop) => {
        const document = await withdrawDocument(workshop, number, flags);
        await tellCalledBack(workshop);
        answer(flags, { schema: "withdraw/1", ...short(document) }, () => `document ${number} is withdrawn: ${flags.why}`);
      });
    },
  );
}

export function amendCommand(): Command {
  return change(
    "amend",
    "a new document with a number of its own that names the old one and the change",
    'coilbook amend 2026-00001 --why "reading corrected" --by "Q. Example"',
  )
    .option("--coils <coil...>", "some of its coils; without, every one that has nothing against it")
    .action(async (number: string, flags: ReasonFlags & { coils?: string[] }) => {
      const { amendDocument } = await import("../documents/changes.ts");
      await inWorkshop(flags, async (workshop) => {
        const { document, leftOut } = await amendDocument(workshop, number, flags, listed(flags.coils));
        await tellCalledBack(workshop);
        const replaces = { replaces: number, change: document.replaces?.why };
        answer(flags, { schema: "amend/1", draft: document.id, ...short(document), ...replaces, leftOut }, () =>
          [
            document.number === undefined
              ? `${document.id}: signed by ${flags.by}; the second party is missing, and ${number} stands until then`
              : `${document.number} replaces ${number}: ${document.replaces?.why}; "coilbook work --drain" writes the files`,
            ...(leftOut.length === 0 ? [] : [`left out: ${leftOut.join(", ")}`]),
          ].join("\n"),
        );
      });
    });
}

type SendFlags = LabFlags & { to?: string[]; again?: boolean; done?: boolean };

export function sendCommand(): Command {
  return labCommand("send", "mails documents, or writes drafts in mail/ where no server is set", "coilbook send 2026-00001")
    .argument("<number...>", "numbers of documents")
    .option("--to <address...>", "mail addresses; without, those of the customer")
    .option("--again", "although it was sent to this address, or may have been")
    .option("--done", "a mail that may have arrived did arrive")
    .action(async (numbers: string[], flags: SendFlags) => {
      const { sendDocuments } = await import("../documents/send.ts");
      await inWorkshop(flags, async (workshop) => {
        const to = listed(flags.to);
        const sent = await sendDocuments(workshop, numbers, {
          ...{ again: flags.again === true, done: flags.done === true },
          ...(to === undefined ? {} : { to }),
        });
        answer(flags, { schema: "send/1", mails: sent.mails }, () =>
          sent.mails
            .map((m) => `${m.number} to ${m.to}: ${m.status}${m.fresh ? "" : ", nothing was sent now"}${m.file ? ` (${m.file})` : ""}`)
            .join("\n"),
        );
        if (sent.failure !== undefined) throw sent.failure;
        if (sent.mails.some((mail) => mail.status === "unsure")) process.exitCode = 1;
      });
    });
}
