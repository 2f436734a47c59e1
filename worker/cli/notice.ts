/** `notice`: list, show, contain, decide, close. */
import { Command } from "commander";
import type { RegradeCandidate } from "../../core/regrade/index.ts";
import type { NoticeState } from "../documents/notices.ts";
import { UsageError } from "../errors.ts";
import { answer, inWorkshop, type LabFlags, labCommand, withToday } from "./context.ts";
import { checkedDay, listed } from "./wire.ts";

type StepFlags = LabFlags & { coils?: string[]; why: string; by: string };

const step = (name: string, description: string, example: string): Command =>
  withToday(labCommand(name, description, example))
    .argument("<number>", "number of the notice")
    .requiredOption("--why <text>", "the reason, kept with the decision")
    .requiredOption("--by <person>", "who decides");

function listCommand(): Command {
  return withToday(labCommand("list", "the notices that are open", "coilbook notice list"))
    .option("--all", "closed ones too")
    .action(async (flags: LabFlags & { all?: boolean }) => {
      const { noticeLines } = await import("../quality/notice-life.ts");
      await inWorkshop(flags, async (workshop) => {
        const all = await noticeLines(workshop.ledger, workshop.today());
        const notices = all.filter((line) => flags.all === true || line.status !== "closed");
        answer(flags, { schema: "notice-list/1", notices }, () =>
          notices.length === 0
            ? "No notice is open."
            : notices
                .map((n) =>
                  `${n.number}  ${n.order}  coils ${n.coils.join(", ")}  ${n.status}${n.answerBy === undefined ? "" : `, answer by ${n.answerBy}${n.overdue ? " (overdue)" : ""}`}  ${n.next}`.trim(),
                )
                .join("\n"),
        );
      });
    });
}

function showCommand(): Command {
  return withToday(labCommand("show", "one notice, and what each coil may become", "coilbook notice show 2026-00003"))
    .argument("<number>", "number of the notice")
    .action(async (number: string, flags: LabFlags) => {
      const { noticeLine, noticeOf, regradesOf } = await import("../quality/notice-life.ts");
      await inWorkshop(flags, async (workshop) => {
        const notice = await noticeOf(workshop.ledger, number);
        const regrades: { coil: string; candidates: readonly RegradeCandidate[] }[] = [];
        for (const coil of notice.coils)
          regrades.push({ coil, candidates: await regradesOf(workshop, workshop.ledger, notice.owner, coil) });
        const { facts, contained, decisions = [], closed } = notice;
        const line = noticeLine(notice, workshop.today());
        const json = { schema: "notice-show/1", ...line, facts, contained, decisions, closed, regrades };
        answer(flags, json, () =>
          [
            `${number}: ${line.order}, coils ${line.coils.join(", ")}, ${line.status}. ${line.next}`.trim(),
            ...(contained === undefined ? [] : [`contained ${contained.on} by ${contained.by}: ${contained.why}`]),
            ...decisions.map((d) => `${d.decision} ${d.coils.join(", ")}: ${d.why} (${d.by}, ${d.on})`),
            ...regrades.flatMap(({ coil, candidates }) => candidates.map((candidate) => regradeLine(coil, candidate))),
          ].join("\n"),
        );
      });
    });
}

function regradeLine(coil: string, { specification, grade, margins, notJudgeable }: RegradeCandidate): string {
  const by = margins.map(({ property, margin, unit }) => (margin === undefined ? property : `${property} by ${margin} ${unit}`)).join(", ");
  const open = notJudgeable.length === 0 ? "" : `; open: ${notJudgeable.map(({ property }) => property).join(", ")}`;
  return `coil ${coil} meets ${`${specification} ${grade}`.trim()}: ${by}${open}`;
}

const told = (flags: LabFlags, name: string, notice: NoticeState): void =>
  answer(
    flags,
    { schema: `notice-${name}/1`, ...notice, status: notice.status ?? "raised" },
    () => `notice ${notice.number}: ${notice.status ?? "raised"}`,
  );

function containCommand(): Command {
  return step("contain", "stops the coils of a notice", 'coilbook notice contain 2026-00003 --why "set aside" --by "B. Example"')
    .option("--coils <coil...>", "some of its coils only")
    .action(async (number: string, flags: StepFlags) => {
      const { containNotice } = await import("../quality/notice-life.ts");
      await inWorkshop(flags, async (workshop) => {
        told(flags, "contain", await containNotice(workshop, number, flags, listed(flags.coils)));
      });
    });
}

type DecideFlags = StepFlags & { as: string; reference?: string; until?: string; to?: string; answerBy?: string };

function decideCommand(): Command {
  return step(
    "decide",
    "what becomes of coils of a notice",
    'coilbook notice decide 2026-00003 --as regrade --to "QW 100 Q1" --why "meets it" --by "Q. Example"',
  )
    .requiredOption("--as <decision>", "scrap, concession, regrade, retest, return or release")
    .option("--coils <coil...>", "some of its coils only")
    .option("--reference <text>", "of a concession: the customer's own reference")
    .option("--until <day>", "of a concession: its last day")
    .option("--to <grade>", 'of a regrade: specification and grade, as "notice show" lists them')
    .option("--answer-by <day>", "the day the customer is to answer by")
    .action(async (number: string, flags: DecideFlags) => {
      const { DECISIONS, decideNotice } = await import("../quality/notice-life.ts");
      const decision = DECISIONS.find((name) => name === flags.as);
      if (decision === undefined) throw new UsageError(`--as: found "${flags.as}", accepted are ${DECISIONS.join(", ")}`);
      const { why, by, reference, to } = flags;
      const [until, answerBy, coils] = [checkedDay("--until", flags.until), checkedDay("--answer-by", flags.answerBy), listed(flags.coils)];
      await inWorkshop(flags, async (workshop) => {
        const notice = await decideNotice(workshop, number, {
          ...{ decision, why, by },
          ...(coils === undefined ? {} : { coils }),
          ...(reference === undefined ? {} : { reference }),
          ...(to === undefined ? {} : { to }),
          ...(until === undefined ? {} : { until }),
          ...(answerBy === undefined ? {} : { answerBy }),
        });
        told(flags, "decide", notice);
      });
    });
}

function closeCommand(): Command {
  return step(
    "close",
    "ends a notice whose coils are all decided",
    'coilbook notice close 2026-00003 --why "scrapped" --by "Q. Example"',
  ).action(async (number: string, flags: StepFlags) => {
    const { closeNotice } = await import("../quality/notice-life.ts");
    await inWorkshop(flags, async (workshop) => {
      told(flags, "close", await closeNotice(workshop, number, flags));
    });
  });
}

export function noticeCommand(): Command {
  const notice = new Command("notice").description("life of a notice: contained, decided, closed");
  for (const make of [listCommand, showCommand, containCommand, decideCommand, closeCommand]) notice.addCommand(make());
  return notice;
}
