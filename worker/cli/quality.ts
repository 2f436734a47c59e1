import type { Command } from "commander";
import { judge } from "../../core/judge/index.ts";
import type { OrderItem, OrderVerdict } from "../../core/model.ts";
import { VERDICTS } from "../../core/model.ts";
import { COMMAND_RULES } from "../../core/quality/roles.ts";
import { canonicalContent } from "../../core/spec/index.ts";
import { isIsoDay } from "../../core/workbook/dates.ts";
import { issueContext } from "../documents/life.ts";
import { RuleRefusal, ServiceAway, UsageError } from "../errors.ts";
import { itemKey, judgeItems, loadJudgementInput } from "../judge-lab.ts";
import { requirePerson } from "../registers.ts";
import { answer, inWorkshop, type LabFlags, labCommand, withToday } from "./context.ts";

export function nightlyCommand(): Command {
  return labCommand("nightly", "notices that are missing, and the digest", "coilbook nightly --date 2026-03-02")
    .option("--date <day>", "the lab day it is run for")
    .action(async (flags: LabFlags & { date?: string }) => {
      if (flags.date !== undefined && !isIsoDay(flags.date))
        throw new UsageError(`--date: found "${flags.date}", accepted is a day such as 2026-03-02`);
      const { nightly } = await import("../nightly.ts");
      const { writePages } = await import("../pages.ts");
      await inWorkshop(flags, async (workshop) => {
        const summary = await nightly(workshop, flags.date ?? workshop.today());
        await writePages(workshop, []);
        answer(
          flags,
          { schema: "nightly/1", ...summary },
          () => `${summary.date}: ${summary.notices.length} notices raised, ${summary.digests.length} digests written`,
        );
        if (summary.failures !== undefined)
          throw new ServiceAway(`nightly: the digest was not taken; ${summary.failures.join("; ")}; the next run of that day tries again`);
      });
    });
}

export function auditCommand(): Command {
  return labCommand(
    "audit",
    "recomputes the chain of facts, every state and the hash of every file kept or issued; names the first that is altered",
    "coilbook audit",
  ).action(async (flags: LabFlags) => {
    const { auditLab } = await import("../ledger/audit-lab.ts");
    await inWorkshop(flags, async (workshop) => {
      const findings = await auditLab(workshop);
      answer(flags, { schema: "audit/1", ok: findings.length === 0, findings }, () =>
        findings.length === 0
          ? "Every fact follows the one before it, every state is what its facts give, and every file kept or issued is as it was."
          : findings.map((f) => f.text).join("\n"),
      );
      if (findings.length > 0) process.exitCode = 1;
    });
  });
}

export function rebuildCommand(): Command {
  return labCommand("rebuild", "makes every state of the ledger again from its facts", "coilbook rebuild").action(
    async (flags: LabFlags) => {
      await inWorkshop(flags, async ({ ledger }) => {
        await ledger.rebuild();
        answer(flags, { schema: "rebuild/1", ok: true }, () => "Every state was made again from the facts.");
      });
    },
  );
}

export function rejudgeCommand(): Command {
  return withToday(labCommand("rejudge", "judges the ledger again, changes nothing, prints what would differ", "coilbook rejudge"))
    .option("--specification <id>", "one specification only")
    .option("--edition <edition>", "one edition only")
    .action(async (flags: LabFlags & { specification?: string; edition?: string }) => {
      await inWorkshop(flags, async (workshop) => {
        const differing: object[] = [];
        for (const { key, value } of await workshop.ledger.list<{ verdict: OrderVerdict }>("verdict")) {
          const kept = value.verdict;
          if (
            (flags.specification !== undefined && kept.specification !== flags.specification) ||
            (flags.edition !== undefined && kept.edition !== flags.edition)
          )
            continue;
          const [now] = judge(await loadJudgementInput(workshop.ledger, [key], workshop.judgeOptions())).orders;
          if (now === undefined || canonicalContent(now) === canonicalContent(kept)) continue;
          const coils = now.coils
            .filter((coil) => canonicalContent(coil) !== canonicalContent(kept.coils.find((c) => c.coil === coil.coil) ?? {}))
            .map((coil) => ({ coil: coil.coil, before: kept.coils.find((c) => c.coil === coil.coil)?.verdict, now: coil.verdict }));
          differing.push({ order: kept.order, item: kept.item, before: kept.verdict, now: now.verdict, coils });
        }
        answer(flags, { schema: "rejudge/1", differing }, () =>
          differing.length === 0 ? "Every verdict is as it was." : differing.map((d) => JSON.stringify(d)).join("\n"),
        );
        if (differing.length > 0) process.exitCode = 1;
      });
    });
}

export function settleCommand(): Command {
  return withToday(
    labCommand(
      "settle",
      "a named person decides what is undecided on one property of one coil",
      'coilbook settle C-1042 --property adherence --as conforms --why "dust only" --by "Q. Example"',
    ),
  )
    .argument("<coil>", "coil")
    .requiredOption("--property <name>", "property")
    .requiredOption("--as <verdict>", "conforms, does-not-conform or not-tested")
    .requiredOption("--why <text>", "the reason, printed")
    .requiredOption("--by <person>", "a person of the role quality")
    .action(async (coil: string, flags: LabFlags & { property: string; as: string; why: string; by: string }) => {
      if (!["conforms", "does-not-conform", "not-tested"].includes(flags.as) || !VERDICTS.some((v) => v === flags.as))
        throw new UsageError(`--as: found "${flags.as}", accepted are conforms, does-not-conform, not-tested`);
      const { keepVerdicts } = await import("../process-file.ts");
      await inWorkshop(flags, async (workshop) => {
        const verdict = await workshop.ledger.transaction(flags.by, async (tx) => {
          const person = await requirePerson(tx, flags.by, COMMAND_RULES.settle.roles, workshop.today());
          const registered = await tx.get<{ order: string; item: string }>("coil", coil);
          if (registered === undefined) throw new UsageError(`settle: coil ${coil} is not known`);
          const key = itemKey(registered.order, registered.item);
          const kept = (await tx.get<{ verdict: OrderVerdict }>("verdict", key))?.verdict.coils
            .find((c) => c.coil === coil)
            ?.requirements.find((r) => r.property === flags.property);
          if (kept === undefined) throw new UsageError(`settle: coil ${coil} has no requirement ${flags.property}`);
          if (kept.verdict !== "undecided")
            throw new RuleRefusal(`${flags.property} of coil ${coil} is ${kept.verdict}; only what is undecided can be settled`);
          await tx.append({
            kind: "settled",
            key: `${coil}|${flags.property}`,
            payload: { coil, property: flags.property, as: flags.as, why: flags.why, by: person.name, on: workshop.today() },
          });
          const judgement = await judgeItems(tx, [key], workshop.judgeOptions());
          await keepVerdicts(workshop, tx, judgement, issueContext(workshop));
          return judgement.orders[0]?.coils.find((c) => c.coil === coil)?.verdict;
        });
        answer(
          flags,
          { schema: "settle/1", coil, property: flags.property, as: flags.as, by: flags.by, verdict },
          () => `${coil}: ${flags.property} settled as ${flags.as} by ${flags.by}; the coil is ${verdict}`,
        );
      });
    });
}

export function registerCommand(): Command {
  return labCommand("register", "writes register/", "coilbook register").action(async (flags: LabFlags) => {
    const { writePages } = await import("../pages.ts");
    const { writeSealFiles } = await import("../seal/register-files.ts");
    await inWorkshop(flags, async (workshop) => {
      await writePages(workshop, []);
      await writeSealFiles(workshop);
      const orders = (await workshop.ledger.list<OrderItem>("order")).length;
      answer(
        flags,
        { schema: "register/1", orders, folder: `${workshop.lab.folder}/register` },
        () => `register/ written: ${orders} order items`,
      );
    });
  });
}
