import type { Command } from "commander";
import { blockersOf, type DocumentState, draftCertificate, issueContext, signDocument, undocumentedCoils } from "../documents/life.ts";
import { RuleRefusal } from "../errors.ts";
import { itemKey } from "../judge-lab.ts";
import { standingOf } from "../quality/standing.ts";
import { requirePerson } from "../registers.ts";
import { answer, inWorkshop, type LabFlags, labCommand, withToday } from "./context.ts";
import { judgedItem } from "./judged-item.ts";
import { listed } from "./wire.ts";

type CertificateFlags = LabFlags & { item?: string; coils?: string[]; delivery?: string; dryRun?: boolean };

export function certificateCommand(): Command {
  return withToday(
    labCommand(
      "certificate",
      "a draft for chosen coils; with --dry-run, what stands against it",
      "coilbook certificate O-1001 --coils C-1 C-2 --dry-run",
    ),
  )
    .argument("<order>", "order number")
    .option("--item <item>", "item, where the order has several")
    .option("--coils <coil...>", "coils; without, every coil that has no document yet")
    .option("--delivery <note>", "delivery note")
    .option("--dry-run", "write nothing, list every blocker and who can clear it")
    .action(async (name: string, flags: CertificateFlags) => {
      await inWorkshop(flags, async (workshop) => {
        const { order, verdict } = await judgedItem(workshop.ledger, name, flags.item);
        const key = itemKey(order.order, order.item);
        const wanted = listed(flags.coils);
        const coils =
          wanted ??
          (await undocumentedCoils(
            workshop.ledger,
            key,
            verdict.coils.map((coil) => coil.coil),
          ));
        const existing =
          wanted === undefined && coils.length === 0
            ? (await workshop.ledger.list<DocumentState>("document", key)).map((s) => s.value).filter((d) => d.kind === "certificate")
            : [];
        if (existing.length > 0) {
          answer(
            flags,
            { schema: "certificate/1", order: order.order, item: order.item, drafts: existing.map(shortDocument), blockers: [] },
            () => existing.map((d) => `${d.id}: ${d.number ?? "draft"}, ${d.coils.length} coils`).join("\n"),
          );
          return;
        }
        const blockers = blockersOf(order, verdict, coils, await standingOf(workshop.ledger, key, verdict, workshop.today()));
        if (flags.dryRun || blockers.length > 0) {
          answer(
            flags,
            { schema: "certificate/1", order: order.order, item: order.item, coils, dryRun: flags.dryRun === true, blockers },
            () =>
              blockers.length === 0
                ? `Nothing stands against a document for ${coils.length} coils.`
                : blockers.map((b) => `${b.who.padEnd(8)} ${b.text}`).join("\n"),
          );
          if (blockers.length > 0) {
            process.exitCode = flags.dryRun ? 1 : 3;
            if (!flags.dryRun)
              throw new RuleRefusal(`certificate ${order.order}: ${blockers.length} things stand against it; --dry-run lists them`);
          }
          return;
        }
        const draft = await workshop.ledger.transaction("command line", (tx) =>
          draftCertificate(tx, order, verdict, coils, issueContext(workshop), flags.delivery),
        );
        answer(
          flags,
          { schema: "certificate/1", order: order.order, item: order.item, coils, blockers: [], ...shortDocument(draft) },
          () => `${draft.id}: draft for ${draft.coils.length} coils; "coilbook sign ${draft.id} --by PERSON" gives it its number`,
        );
      });
    });
}

const shortDocument = (d: DocumentState): object => ({
  draft: d.id,
  status: d.status,
  coils: d.coils,
  ...(d.number === undefined ? {} : { number: d.number }),
});

export function signCommand(): Command {
  return withToday(labCommand("sign", "signs drafts; the number is given here", 'coilbook sign O-1001_1.0a1b2c3d4e5f --by "Q. Example"'))
    .argument("<draft...>", 'drafts, as "coilbook certificate" names them')
    .requiredOption("--by <person>", "who signs")
    .action(async (drafts: string[], flags: LabFlags & { by: string }) => {
      await inWorkshop(flags, async (workshop) => {
        const signed: DocumentState[] = [];
        for (const draft of drafts) {
          const person = await requirePerson(workshop.ledger, flags.by, [], workshop.today());
          signed.push(await workshop.ledger.transaction(person.name, (tx) => signDocument(tx, draft, person, issueContext(workshop))));
        }
        answer(flags, { schema: "sign/1", documents: signed.map(shortDocument) }, () =>
          signed
            .map((d) =>
              d.number === undefined
                ? `${d.id}: signed by ${flags.by}; the second party is missing`
                : `${d.id}: ${d.number}; "coilbook work --drain" writes the files`,
            )
            .join("\n"),
        );
      });
    });
}
