import type { Command } from "commander";
import { parseInstrumentError } from "../../core/quality/instrument-error.ts";
import { UsageError } from "../errors.ts";
import type { TouchedCoil } from "../quality/extent.ts";
import { answer, inWorkshop, type LabFlags, labCommand, withToday } from "./context.ts";
import { checkedDay } from "./wire.ts";

type ExtentFlags = LabFlags & { coil?: string; heat?: string; instrument?: string; from?: string; to?: string; error?: string };

export function extentCommand(): Command {
  return withToday(
    labCommand(
      "extent",
      "every coil, verdict, document and delivery that a fault touches; changes nothing",
      'coilbook extent --instrument TM-1 --error "+0.8 %"',
    ),
  )
    .option("--coil <coil>", "a coil, with its mother and daughter coils")
    .option("--heat <heat>", "a heat")
    .option("--instrument <name>", "a tester or the micrometer behind a result; by itself since its last good calibration")
    .option("--from <day>", "tested on this day or later")
    .option("--to <day>", "tested on this day or earlier")
    .option("--error <amount>", 'what the instrument reads too high ("+0.8 %", "-2 N"); only the verdicts that turn')
    .action(async (flags: ExtentFlags) => {
      const question = questionOf(flags);
      const { extentOf } = await import("../quality/extent.ts");
      await inWorkshop(flags, async (workshop) => {
        const found = await extentOf(workshop, question);
        const of = { [question.scope]: question.id, ...(flags.error === undefined ? {} : { error: flags.error }) };
        answer(flags, { schema: "extent/1", of, ...found }, () =>
          [
            `${found.coils.length} coils${found.from === undefined ? "" : `, tested since ${found.from}`}: ${found.here.length} here, ${found.shipped.length} shipped; of ${found.documentSent.length} a document was sent`,
            ...found.coils.map(coilLine),
          ].join("\n"),
        );
      });
    });
}

function questionOf(flags: ExtentFlags) {
  const given = (["coil", "heat", "instrument"] as const).filter((scope) => flags[scope] !== undefined);
  const [scope] = given;
  if (scope === undefined || given.length > 1)
    throw new UsageError(
      `extent: found ${given.length === 0 ? "nothing to ask about" : given.map((name) => `--${name}`).join(" and ")}; accepted is one of --coil, --heat, --instrument`,
    );
  if (flags.error !== undefined && scope !== "instrument")
    throw new UsageError("extent: --error is of an instrument; name it with --instrument");
  const error = flags.error === undefined ? undefined : parseInstrumentError(flags.error);
  if (flags.error !== undefined && error === undefined)
    throw new UsageError(`--error: found "${flags.error}", accepted is a size with its unit, such as "+0.8 %", "-2 N" or "0.004 mm"`);
  const [from, to] = [checkedDay("--from", flags.from), checkedDay("--to", flags.to)];
  return {
    ...{ scope, id: flags[scope] as string },
    ...(from === undefined ? {} : { from }),
    ...(to === undefined ? {} : { to }),
    ...(error === undefined ? {} : { error }),
  };
}

function coilLine({ coil, order, item, verdict, shipped, documents, turns }: TouchedCoil): string {
  const left = shipped === undefined ? "here" : `left on ${shipped.note} (${shipped.on})`;
  const papers = documents.map((d) => `${d.number} ${d.status}${d.sentTo.length === 0 ? "" : ` sent to ${d.sentTo.join(", ")}`}`);
  const turned = (turns ?? []).map(
    (turn) =>
      `${turn.property || "verdict"}: ${turn.before} → ${turn.now}${turn.results.map((r) => ` (${r.testPiece} ${r.before} → ${r.now})`).join("")}`,
  );
  return [`${coil}  ${order}/${item}  ${verdict}  ${left}`, ...papers, ...turned].join("; ");
}
