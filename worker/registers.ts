/** People, customers and instruments: changed only by commands of a named person with the role. */
import type { InstrumentRange } from "../core/model.ts";
import { RuleRefusal, UsageError } from "./errors.ts";
import type { Ledger, LedgerReader, LedgerTransaction } from "./ports/ledger.ts";

export const ROLES = ["bench", "clerk", "sales", "quality", "admin"] as const;
export type Role = (typeof ROLES)[number];

export interface Person {
  readonly name: string;
  readonly roles: readonly Role[];
  readonly from?: string;
  readonly until?: string;
  readonly appointedBy?: string;
}

export interface Customer {
  readonly name: string;
  readonly email: readonly string[];
  readonly address: readonly string[];
}

/** @throws RuleRefusal where the person is not registered or lacks the role */
export async function requirePerson(reader: LedgerReader, name: string, roles: readonly Role[]): Promise<Person> {
  const person = await reader.get<Person>("person", name);
  if (person === undefined) throw new RuleRefusal(`${name} is not registered; "coilbook person add" registers people`);
  if (roles.length > 0 && !person.roles.some((role) => roles.includes(role)))
    throw new RuleRefusal(`${name} has the roles ${person.roles.join(", ")}; this needs ${roles.join(" or ")}`);
  return person;
}

/** The first person of a lab appoints himself; everyone after is appointed by somebody of the role admin or quality. */
async function requireAppointer(tx: LedgerTransaction, by: string | undefined): Promise<string | undefined> {
  const people = await tx.list<Person>("person");
  if (people.length === 0) return by;
  if (by === undefined) {
    // One lab, one keyboard: without --by the change stands under the account, as long as no admin is registered.
    if (people.some((p) => p.value.roles.includes("admin")))
      throw new UsageError("--by is missing: name the person of the role admin who makes this change");
    return undefined;
  }
  return (await requirePerson(tx, by, ["admin", "quality"])).name;
}

export async function addPerson(ledger: Ledger, person: Person, by: string | undefined): Promise<Person> {
  for (const role of person.roles)
    if (!ROLES.includes(role)) throw new UsageError(`role "${role}" is not known; accepted are ${ROLES.join(", ")}`);
  return ledger.transaction(by ?? person.name, async (tx) => {
    const before = await tx.get<Person>("person", person.name);
    const appointer = await requireAppointer(tx, by);
    const changed: Person = {
      ...before,
      ...person,
      roles: [...new Set([...(before?.roles ?? []), ...person.roles])],
      ...(appointer === undefined ? {} : { appointedBy: appointer }),
    };
    await tx.append({ kind: "person-changed", key: person.name, payload: changed });
    return changed;
  });
}

export async function putCustomer(ledger: Ledger, customer: Customer, by: string | undefined): Promise<Customer> {
  return ledger.transaction(by ?? "command line", async (tx) => {
    if (by !== undefined) await requirePerson(tx, by, ["sales", "quality", "admin"]);
    await tx.append({ kind: "customer-changed", key: customer.name, payload: customer });
    return customer;
  });
}

/** Adds a calibration or range; earlier ones stay, since they tell what was in force then. */
export async function addInstrumentRange(
  ledger: Ledger,
  range: InstrumentRange,
  by: string | undefined,
): Promise<readonly InstrumentRange[]> {
  return ledger.transaction(by ?? "command line", async (tx) => {
    if (by !== undefined) await requirePerson(tx, by, ["quality", "admin"]);
    const before = await tx.get<{ ranges: readonly InstrumentRange[] }>("instrument", range.instrument);
    const ranges = [...(before?.ranges ?? []), range];
    await tx.append({
      kind: before === undefined ? "instrument-registered" : "instrument-changed",
      key: range.instrument,
      payload: { instrument: range.instrument, ranges },
    });
    return ranges;
  });
}
