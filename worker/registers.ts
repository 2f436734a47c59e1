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

const APPOINTERS: readonly Role[] = ["admin", "quality"];

/** @throws UsageError where nobody is named, RuleRefusal where the person is not registered or lacks the role */
async function requireNamed(reader: LedgerReader, by: string | undefined, roles: readonly Role[], what: string): Promise<Person> {
  if (by === undefined) throw new UsageError(`--by is missing: ${what} is changed by a named person of the role ${roles.join(" or ")}`);
  return requirePerson(reader, by, roles);
}

/**
 * Appointed by somebody of the role admin or quality. As long as a lab has nobody of these roles, its first people enter
 * without an appointer, or name themselves.
 */
async function appointerOf(tx: LedgerTransaction, person: string, by: string | undefined): Promise<string | undefined> {
  const people = await tx.list<Person>("person");
  const beginning = !people.some(({ value }) => value.roles.some((role) => APPOINTERS.includes(role)));
  if (beginning && (by === undefined || by === person)) return by;
  return (await requireNamed(tx, by, APPOINTERS, "a person's role")).name;
}

export async function addPerson(ledger: Ledger, person: Person, by: string | undefined): Promise<Person> {
  for (const role of person.roles)
    if (!ROLES.includes(role)) throw new UsageError(`role "${role}" is not known; accepted are ${ROLES.join(", ")}`);
  return ledger.transaction(by ?? person.name, async (tx) => {
    const before = await tx.get<Person>("person", person.name);
    const appointer = await appointerOf(tx, person.name, by);
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
  return ledger.transaction(by ?? "", async (tx) => {
    await requireNamed(tx, by, ["sales", "quality", "admin"], `customer ${customer.name}`);
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
  return ledger.transaction(by ?? "", async (tx) => {
    await requireNamed(tx, by, ["quality", "admin"], `instrument ${range.instrument}`);
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
