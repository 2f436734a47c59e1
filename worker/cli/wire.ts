/** Commands of persons who decide about wire. */
import type { Command } from "commander";
import { isIsoDay } from "../../core/workbook/dates.ts";
import { UsageError } from "../errors.ts";
import { HOLD_SCOPES, type HoldScope } from "../quality/standing.ts";
import { answer, inWorkshop, type LabFlags, labCommand, withToday } from "./context.ts";

type TargetFlags = LabFlags & Partial<Record<HoldScope, string>> & { why: string; by: string };

/** @throws UsageError on a day that is none */
export function checkedDay(option: string, day: string | undefined): string | undefined {
  if (day !== undefined && !isIsoDay(day)) throw new UsageError(`${option}: found "${day}", accepted is a day such as 2026-03-02`);
  return day;
}

/** `--coils A B` and `--coils A,B` alike. */
export const listed = (values: readonly string[] | undefined): readonly string[] | undefined =>
  values?.flatMap((text) => text.split(",")).filter((text) => text !== "");

function withTarget(command: Command): Command {
  return command
    .option("--coil <coil>", "one coil")
    .option("--order <order>", "every coil of an order")
    .option("--heat <heat>", "every coil of a heat")
    .option("--instrument <name>", "every coil tested with it since its last good calibration");
}
const withReason = (command: Command): Command =>
  command.requiredOption("--why <text>", "the reason, kept with the decision").requiredOption("--by <person>", "who decides");

function targetOf(flags: TargetFlags, command: string): { readonly scope: HoldScope; readonly id: string } {
  const given = HOLD_SCOPES.filter((scope) => flags[scope] !== undefined);
  const [scope] = given;
  if (scope === undefined || given.length > 1)
    throw new UsageError(
      `${command}: found ${given.length === 0 ? "nothing to stop" : given.map((name) => `--${name}`).join(" and ")}; accepted is one of --coil, --order, --heat, --instrument`,
    );
  return { scope, id: flags[scope] as string };
}

export function holdCommand(): Command {
  return withReason(
    withTarget(withToday(labCommand("hold", "stops wire", 'coilbook hold --coil C-1042 --why "rust on the rim" --by "B. Example"'))),
  )
    .option("--since <day>", "of an instrument: readings from this day on")
    .action(async (flags: TargetFlags & { since?: string }) => {
      const since = checkedDay("--since", flags.since);
      const target = targetOf(flags, "hold");
      const { hold } = await import("../quality/wire.ts");
      await inWorkshop(flags, async (workshop) => {
        const held = await hold(workshop, target, flags, since === undefined ? {} : { since });
        answer(flags, { schema: "hold/1", ...held }, () => `${held.scope} ${held.id} is held: ${held.why}`);
      });
    });
}

export function releaseCommand(): Command {
  return withReason(
    withTarget(withToday(labCommand("release", "ends a hold", 'coilbook release --coil C-1042 --why "wiped, sound" --by "Q. Example"'))),
  ).action(async (flags: TargetFlags) => {
    const target = targetOf(flags, "release");
    const { release } = await import("../quality/wire.ts");
    await inWorkshop(flags, async (workshop) => {
      const { held } = await release(workshop, target, flags);
      answer(
        flags,
        { schema: "release/1", ...target, why: flags.why, by: flags.by, heldSince: held.on },
        () => `${target.scope} ${target.id} is free; it was held since ${held.on}`,
      );
    });
  });
}

type ConcessionFlags = LabFlags & { coils: string[]; property?: string; reference: string; until?: string; why: string; by: string };

export function concessionCommand(): Command {
  return withReason(
    withToday(
      labCommand(
        "concession",
        "the customer takes coils as they are; printed on their document",
        'coilbook concession --coils C-1042 --reference "BF 77, mail of 3 March" --why "for samples" --by "Q. Example"',
      ),
    ),
  )
    .requiredOption("--coils <coil...>", "coils it is given for")
    .requiredOption("--reference <text>", "the customer's own reference")
    .option("--property <name>", "one property; without, every one that does not conform")
    .option("--until <day>", "its last day")
    .action(async (flags: ConcessionFlags) => {
      const until = checkedDay("--until", flags.until);
      const { concede } = await import("../quality/wire.ts");
      const { reference, why, by, property } = flags;
      await inWorkshop(flags, async (workshop) => {
        const concessions = await concede(workshop, {
          ...{ coils: listed(flags.coils) ?? [], reference, why, by },
          ...(until === undefined ? {} : { until }),
          ...(property === undefined ? {} : { property }),
        });
        answer(flags, { schema: "concession/1", concessions }, () =>
          concessions.map((c) => `coil ${c.coil}: ${c.property} accepted (${c.reference})`).join("\n"),
        );
      });
    });
}

export function shipCommand(): Command {
  return withToday(labCommand("ship", "what has left the yard, and on which note", "coilbook ship O-1001 --coils C-1 C-2 --note L-77"))
    .argument("<order>", "order number")
    .requiredOption("--coils <coil...>", "coils that left")
    .requiredOption("--note <note>", "delivery note")
    .option("--by <person>", "who says so; without, the account of the command line stands for it")
    .action(async (order: string, flags: LabFlags & { coils: string[]; note: string; by?: string }) => {
      const { ship } = await import("../quality/wire.ts");
      await inWorkshop(flags, async (workshop) => {
        const coils = listed(flags.coils) ?? [];
        const shipped = await ship(workshop, { order, coils, note: flags.note, ...(flags.by === undefined ? {} : { by: flags.by }) });
        answer(
          flags,
          { schema: "ship/1", order, note: flags.note, shipped },
          () => `${shipped.length} coils of ${order} left on ${flags.note}`,
        );
      });
    });
}
