import { Command } from "commander";
import type { InstrumentRange, OrderItem } from "../../core/model.ts";
import { isIsoDay } from "../../core/workbook/dates.ts";
import { UsageError } from "../errors.ts";
import type { StateKind } from "../ports/ledger.ts";
import { addInstrumentRange, addPerson, type Customer, type Person, putCustomer, ROLES, type Role } from "../registers.ts";
import { answer, inWorkshop, type LabFlags, labCommand } from "./context.ts";

const collect = (value: string, before: string[]): string[] => [...before, value];

function listCommand<T>(kind: StateKind, name: string, line: (value: T) => string): Command {
  return labCommand("list", `the ${name}s registered`, `coilbook ${name} list`).action(async (flags: LabFlags) => {
    await inWorkshop(flags, async ({ ledger }) => {
      const all = (await ledger.list<T>(kind)).map((state) => state.value);
      answer(flags, { schema: `${name}-list/1`, [`${name}s`]: all }, () => all.map(line).join("\n"));
    });
  });
}

type PersonFlags = LabFlags & { role: string[]; by?: string; from?: string; until?: string };

function personChange(verb: "add" | "change"): Command {
  return labCommand(
    verb,
    `${verb === "add" ? "registers a person" : "gives a registered person more roles or another time"}`,
    'coilbook person add "Q. Example" --role quality',
  )
    .argument("<name>", "as it is printed on documents")
    .option("--role <role>", ROLES.join(", "), collect, [])
    .option("--from <day>", "first day")
    .option("--until <day>", "last day")
    .option("--by <person>", "who makes this change")
    .action(async (name: string, flags: PersonFlags) => {
      if (verb === "add" && flags.role.length === 0) throw new UsageError(`--role is missing; accepted are ${ROLES.join(", ")}`);
      for (const day of [flags.from, flags.until])
        if (day !== undefined && !isIsoDay(day)) throw new UsageError(`found "${day}", accepted is a day such as 2026-03-02`);
      await inWorkshop(flags, async ({ ledger }) => {
        const person = await addPerson(
          ledger,
          {
            name,
            roles: flags.role as Role[],
            ...(flags.from ? { from: flags.from } : {}),
            ...(flags.until ? { until: flags.until } : {}),
          },
          flags.by,
        );
        answer(flags, { schema: `person-${verb}/1`, ...person }, () => `${person.name}: ${person.roles.join(", ")}`);
      });
    });
}

export function personCommand(): Command {
  const person = new Command("person").description("people and their roles");
  person.addCommand(personChange("add"));
  person.addCommand(personChange("change"));
  person.addCommand(listCommand<Person>("person", "person", (p) => `${p.name.padEnd(28)} ${p.roles.join(", ")}`));
  return person;
}

type CustomerFlags = LabFlags & { email: string[]; address: string[]; by?: string };

function customerChange(verb: "add" | "change"): Command {
  return labCommand(
    verb,
    `${verb === "add" ? "registers a customer" : "changes a customer"}`,
    'coilbook customer add "Example Springs" --email a@example.org --address "1 Example Street"',
  )
    .argument("<name>", "as it is printed on documents")
    .option("--email <address>", "mail address", collect, [])
    .option("--address <line>", "one line of the address", collect, [])
    .option("--by <person>", "who makes this change")
    .action(async (name: string, flags: CustomerFlags) => {
      await inWorkshop(flags, async ({ ledger }) => {
        const before = await ledger.get<Customer>("customer", name);
        if (verb === "change" && before === undefined) throw new UsageError(`customer ${name} is not registered`);
        const customer = await putCustomer(
          ledger,
          {
            name,
            email: flags.email.length > 0 ? flags.email : (before?.email ?? []),
            address: flags.address.length > 0 ? flags.address : (before?.address ?? []),
          },
          flags.by,
        );
        answer(flags, { schema: `customer-${verb}/1`, ...customer }, () =>
          [customer.name, ...customer.address, ...customer.email].join(", "),
        );
      });
    });
}

export function customerCommand(): Command {
  const customer = new Command("customer").description("customers and their addresses");
  customer.addCommand(customerChange("add"));
  customer.addCommand(customerChange("change"));
  customer.addCommand(listCommand<Customer>("customer", "customer", (c) => [c.name, ...c.address, ...c.email].join(", ")));
  return customer;
}

const RANGE_FIELDS = [
  "kind",
  "range-min",
  "range-max",
  "range-unit",
  "class",
  "calibrated-on",
  "due-on",
  "uncertainty",
  "uncertainty-unit",
  "coverage-factor",
] as const;
const camel = (name: string): string => name.replaceAll(/-([a-z])/g, (_, letter: string) => letter.toUpperCase());

function instrumentChange(verb: "add" | "change"): Command {
  const command = labCommand(
    verb,
    "adds a range or calibration of an instrument; earlier ones stay",
    "coilbook instrument add TT-1 --calibrated-on 2026-01-10 --due-on 2027-01-09",
  )
    .argument("<instrument>", "its identifier")
    .option("--by <person>", "who makes this change");
  for (const field of RANGE_FIELDS) command.option(`--${field} <value>`);
  return command.action(async (instrument: string, flags: LabFlags & Record<string, string | undefined>) => {
    for (const day of [flags["calibratedOn"], flags["dueOn"]])
      if (day !== undefined && !isIsoDay(day)) throw new UsageError(`found "${day}", accepted is a day such as 2026-03-02`);
    const range = {
      instrument,
      ...Object.fromEntries(
        RANGE_FIELDS.flatMap((field) => (flags[camel(field)] === undefined ? [] : [[camel(field), flags[camel(field)]]])),
      ),
    } as InstrumentRange;
    await inWorkshop(flags, async ({ ledger }) => {
      const ranges = await addInstrumentRange(ledger, range, flags["by"]);
      answer(
        flags,
        { schema: `instrument-${verb}/1`, instrument, ranges },
        () => `${instrument}: ${ranges.length} ranges and calibrations`,
      );
    });
  });
}

export function instrumentCommand(): Command {
  const instrument = new Command("instrument").description("instruments and their calibrations");
  instrument.addCommand(instrumentChange("add"));
  instrument.addCommand(instrumentChange("change"));
  instrument.addCommand(
    listCommand<{ instrument: string; ranges: readonly InstrumentRange[] }>("instrument", "instrument", (i) =>
      i.ranges.map((r) => `${i.instrument.padEnd(16)} in force from ${r.calibratedOn ?? "?"} to ${r.dueOn ?? "further notice"}`).join("\n"),
    ),
  );
  return instrument;
}

export function orderCommand(): Command {
  const order = new Command("order").description("orders with their fixed edition");
  order.addCommand(
    listCommand<OrderItem>(
      "order",
      "order",
      (o) =>
        `${`${o.order}/${o.item}`.padEnd(18)} ${o.customer.padEnd(28)} ${o.specification}:${o.edition} ${o.grade} ${o.nominalDiameter.text} ${o.nominalDiameter.unit} ${o.documentType}`,
    ),
  );
  return order;
}
