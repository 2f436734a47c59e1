/** People, customers and instruments: changed only by commands of a named person with the role. */
import { userInfo } from "node:os";
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

/**
 * @param on the lab's day; absent: the time of the appointment is not looked at
 * @throws RuleRefusal where the person is not registered, lacks the role, or is not appointed on the day
 */
export async function requirePerson(reader: LedgerReader, name: string, roles: readonly Role[], on?: string): Promise<Person> {
  const person = await reader.get<Person>("person", name);
  if (person === undefined) throw new RuleRefusal(`${name} is not registered; "coilbook person add" registers people`);
  if (roles.length > 0 && !person.roles.some((role) => roles.includes(role)))
    throw new RuleRefusal(`${name} has the roles ${person.roles.join(", ")}; this needs ${roles.join(" or ")}`);
  if (on !== undefined && person.from !== undefined && on < person.from)
    throw new RuleRefusal(`${name} is appointed from ${person.from} on; today is ${on}`);
  if (on !== undefined && person.until !== undefined && on > person.until)
    throw new RuleRefusal(`${name} was appointed until ${person.until}; today is ${on}`);
  return person;
}

const APPOINTERS: readonly Role[] = ["admin", "quality"];

/** The account of the operating system that a command runs under: stands where nobody is named. */
const account = (): string => `account ${userInfo().username}`;

/**
 * Who makes a change of a customer or an instrument: the person named, who needs the role; without a name the only person of the role,
 * else the account, so that the ledger always says where a change came from.
 * @throws RuleRefusal where the person is not registered or lacks the role
 */
async function changerOf(reader: LedgerReader, by: string | undefined, roles: readonly Role[]): Promise<string> {
  if (by !== undefined) return (await requirePerson(reader, by, roles)).name;
  const able = await peopleWith(reader, roles);
  return able.length === 1 ? (able[0] as Person).name : account();
}

const peopleWith = async (reader: LedgerReader, roles: readonly Role[]): Promise<readonly Person[]> =>
  (await reader.list<Person>("person")).map((state) => state.value).filter((person) => person.roles.some((role) => roles.includes(role)));

/**
 * Appointed by somebody of the role admin or quality. As long as a lab has nobody of these roles, its first people enter
 * without an appointer, or name themselves; as long as it has one, that one appoints unless another is named.
 * @throws UsageError where several could and nobody is named, RuleRefusal where the one named may not
 */
async function appointerOf(tx: LedgerTransaction, person: string, by: string | undefined): Promise<string | undefined> {
  const able = await peopleWith(tx, APPOINTERS);
  if (able.length === 0 && (by === undefined || by === person)) return by;
  if (by !== undefined) return (await requirePerson(tx, by, APPOINTERS)).name;
  if (able.length === 1) return (able[0] as Person).name;
  throw new UsageError(
    `--by is missing: a person's role is changed by a named person of the role ${APPOINTERS.join(" or ")} (${able.map((p) => p.name).join(", ")})`,
  );
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
  const changer = await changerOf(ledger, by, ["sales", "quality", "admin"]);
  return ledger.transaction(changer, async (tx) => {
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
  const changer = await changerOf(ledger, by, ["quality", "admin"]);
  return ledger.transaction(changer, async (tx) => {
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
