/** Decisions about wire: holds, concessions and deliveries, each by a named person, each refused with one plain sentence. */

import type { Coil, InstrumentRange, OrderItem, OrderVerdict } from "../../core/model.ts";
import { COMMAND_RULES } from "../../core/quality/roles.ts";
import { type DocumentState, isEnded, issueContext } from "../documents/life.ts";
import type { NoticeState } from "../documents/notices.ts";
import { RuleRefusal, UsageError } from "../errors.ts";
import { itemKey, judgeItems } from "../judge-lab.ts";
import type { LedgerReader, LedgerTransaction } from "../ports/ledger.ts";
import { keepVerdicts } from "../process-file.ts";
import { requirePerson } from "../registers.ts";
import type { Workshop } from "../workshop.ts";
import { lastCalibration } from "./calibration.ts";
import { type Concession, type Hold, type HoldScope, holdKey, holdText, openProperties, type Shipment, standingOf } from "./standing.ts";

export interface WireTarget {
  readonly scope: HoldScope;
  readonly id: string;
}
export interface Reason {
  readonly why: string;
  readonly by: string;
}

/** @throws UsageError where nothing of that name is known, RuleRefusal where it is held already or the role is another */
export async function hold(workshop: Workshop, target: WireTarget, reason: Reason, extra: Pick<Hold, "since"> = {}): Promise<Hold> {
  return workshop.ledger.transaction(reason.by, async (tx) => {
    const person = await requirePerson(tx, reason.by, COMMAND_RULES.hold.roles, workshop.today());
    await demandKnown(tx, target);
    const before = await tx.get<Hold>("hold", holdKey(target.scope, target.id));
    if (before !== undefined) throw new RuleRefusal(`${target.scope} ${target.id} is ${holdText(before)}`);
    const since = extra.since ?? (target.scope === "instrument" ? await sinceCalibration(tx, target.id, workshop.today()) : undefined);
    const held: Hold = { ...target, why: reason.why, by: person.name, on: workshop.today(), ...(since === undefined ? {} : { since }) };
    await tx.append({ kind: "held", key: holdKey(target.scope, target.id), payload: held });
    return held;
  });
}

async function sinceCalibration(reader: LedgerReader, instrument: string, today: string): Promise<string | undefined> {
  const entry = await reader.get<{ ranges: readonly InstrumentRange[] }>("instrument", instrument);
  return lastCalibration(entry?.ranges ?? [], today);
}

async function demandKnown(reader: LedgerReader, { scope, id }: WireTarget): Promise<void> {
  const known =
    scope === "coil" || scope === "instrument"
      ? (await reader.get(scope, id)) !== undefined
      : scope === "heat"
        ? (await reader.list("coil-of-heat", id)).length > 0
        : (await reader.list<OrderItem>("order")).some(({ value }) => value.order === id);
  if (!known) throw new UsageError(`${scope} ${id}: is not known; "coilbook order list" and "coilbook instrument list" name what is`);
}

/** What conforms and waited for this gets its document in the same transaction. */
export async function release(workshop: Workshop, target: WireTarget, reason: Reason): Promise<{ readonly held: Hold }> {
  return workshop.ledger.transaction(reason.by, async (tx) => {
    const person = await requirePerson(tx, reason.by, COMMAND_RULES.release.roles, workshop.today());
    const held = await tx.get<Hold>("hold", holdKey(target.scope, target.id));
    if (held === undefined) throw new RuleRefusal(`${target.scope} ${target.id} is not held`);
    await refuseUndecided(tx, held);
    await tx.append({
      kind: "released",
      key: holdKey(target.scope, target.id),
      payload: { ...target, why: reason.why, by: person.name, on: workshop.today() },
    });
    await judgeAgain(workshop, tx, await itemsOf(tx, target));
    return { held };
  });
}

/** A containment ends by what is decided of its notice, never beside it. */
async function refuseUndecided(reader: LedgerReader, held: Hold): Promise<void> {
  if (held.notice === undefined) return;
  const notice = await reader.get<NoticeState>("notice", held.notice);
  const decided = notice?.decisions?.findLast((decision) => decision.coils.includes(held.id));
  if (decided === undefined)
    throw new RuleRefusal(
      `coil ${held.id} is contained under notice ${held.notice}, and nothing is decided of it; "coilbook notice decide" does`,
    );
  if (decided.decision === "scrap" || decided.decision === "return")
    throw new RuleRefusal(
      `coil ${held.id} is to go by notice ${held.notice} (${decided.decision}, ${decided.by}, ${decided.on}); it is not released`,
    );
}

async function itemsOf(reader: LedgerReader, { scope, id }: WireTarget): Promise<readonly string[]> {
  if (scope === "order") return (await reader.list<OrderItem>("order")).filter(({ value }) => value.order === id).map(({ key }) => key);
  const names =
    scope === "coil"
      ? [id]
      : (await reader.list<{ coil: string }>(scope === "heat" ? "coil-of-heat" : "tested-with", id)).map(({ value }) => value.coil);
  const coils: (Coil | undefined)[] = [];
  for (const name of names) coils.push(await reader.get<Coil>("coil", name));
  return [...new Set(coils.flatMap((coil) => (coil === undefined ? [] : [itemKey(coil.order, coil.item)])))].sort();
}

/** Judges the items and does everything that follows from it: questions, notices, drafts. */
export async function judgeAgain(workshop: Workshop, tx: LedgerTransaction, items: readonly string[]): Promise<void> {
  if (items.length > 0) await keepVerdicts(workshop, tx, await judgeItems(tx, items, workshop.judgeOptions()), issueContext(workshop));
}

export interface ConcessionWish extends Reason {
  readonly coils: readonly string[];
  readonly reference: string;
  /** Absent: every property that does not conform. */
  readonly property?: string;
  readonly until?: string;
}

/** The customer takes what does not conform; printed on its document with the customer's own reference. */
export async function concede(workshop: Workshop, wish: ConcessionWish): Promise<readonly Concession[]> {
  return workshop.ledger.transaction(wish.by, (tx) => concedeWithin(workshop, tx, wish));
}

export async function concedeWithin(workshop: Workshop, tx: LedgerTransaction, wish: ConcessionWish): Promise<readonly Concession[]> {
  const { coils, reference, property, until, why } = wish;
  const person = await requirePerson(tx, wish.by, COMMAND_RULES.concession.roles, workshop.today());
  const today = workshop.today();
  if (until !== undefined && until < today) throw new RuleRefusal(`a concession until ${until} is over already: today is ${today}`);
  const given: Concession[] = [];
  for (const coil of coils) {
    const { verdict } = await verdictOn(tx, coil);
    const failing = (verdict.coils.find((c) => c.coil === coil)?.requirements ?? [])
      .filter((r) => r.verdict === "does-not-conform" && (property === undefined || r.property === property))
      .map((r) => r.property);
    if (failing.length === 0)
      throw new RuleRefusal(
        `coil ${coil}: ${property ?? "no property"} ${property === undefined ? "fails" : "does not fail"}; a concession accepts only what does not conform`,
      );
    for (const name of new Set(failing)) {
      const concession = { coil, property: name, reference, why, by: person.name, on: today, ...(until === undefined ? {} : { until }) };
      await tx.append({ kind: "conceded", key: `${coil}|${name}|${reference}`, payload: concession });
      given.push(concession);
    }
  }
  return given;
}

/** @throws UsageError where the coil is not known or was never judged */
export async function verdictOn(reader: LedgerReader, coil: string): Promise<{ readonly key: string; readonly verdict: OrderVerdict }> {
  const registered = await reader.get<Coil>("coil", coil);
  if (registered === undefined) throw new UsageError(`coil ${coil}: is not known`);
  const key = itemKey(registered.order, registered.item);
  const kept = await reader.get<{ verdict: OrderVerdict }>("verdict", key);
  if (kept === undefined) throw new UsageError(`coil ${coil}: order ${key} was never judged`);
  return { key, verdict: kept.verdict };
}

export interface ShipWish {
  readonly order: string;
  readonly coils: readonly string[];
  readonly note: string;
  /** Absent: nobody is named, and the account of the command line stands for it. */
  readonly by?: string;
}

/** What has left the yard, and on which note. Only what may go: everything that stands against it is told at once. */
export async function ship(workshop: Workshop, { order, coils, note, by }: ShipWish): Promise<readonly Shipment[]> {
  return workshop.ledger.transaction(by ?? "command line", async (tx) => {
    if (by !== undefined) await requirePerson(tx, by, COMMAND_RULES.ship.roles, workshop.today());
    const reasons: string[] = [];
    const shipments: Shipment[] = [];
    for (const coil of new Set(coils)) {
      const { key, verdict } = await verdictOn(tx, coil);
      if (verdict.order !== order) throw new UsageError(`coil ${coil}: belongs to order ${verdict.order}, not to ${order}`);
      const against = await againstShipping(tx, key, verdict, coil, workshop.today());
      if (against !== undefined) reasons.push(`coil ${coil} ${against}`);
      shipments.push({ coil, item: key, note, by: by ?? "command line", on: workshop.today() });
    }
    if (reasons.length > 0) throw new RuleRefusal(`${reasons.join("; ")}`);
    for (const shipment of shipments) await tx.append({ kind: "shipped", key: shipment.coil, payload: shipment });
    return shipments;
  });
}

async function againstShipping(
  reader: LedgerReader,
  key: string,
  verdict: OrderVerdict,
  coil: string,
  today: string,
): Promise<string | undefined> {
  const standing = await standingOf(reader, key, verdict, today);
  const shipped = standing.shipped.get(coil);
  if (shipped !== undefined) return `has left already on note ${shipped.note} (${shipped.on})`;
  const [held] = standing.holds.get(coil) ?? [];
  if (held !== undefined) return `is ${holdText(held)}`;
  const questioned = standing.questioned.get(coil);
  if (questioned !== undefined) return `stands on document ${questioned}, which is in question`;
  const open = openProperties(verdict, coil, standing);
  if (open.length > 0) return `does not conform or is open: ${open.join(", ")}`;
  const documented = (await reader.list<DocumentState>("document", key)).some(
    ({ value }) => value.kind === "certificate" && value.number !== undefined && !isEnded(value) && value.coils.includes(coil),
  );
  return documented ? undefined : "has no signed document yet";
}
