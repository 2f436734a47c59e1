/** What stands on the wire of one order item: holds, concessions, deliveries, and documents in question. */
import type { Coil, OrderVerdict } from "../../core/model.ts";
import type { KeptRow } from "../judge-lab.ts";
import type { LedgerReader } from "../ports/ledger.ts";

export const HOLD_SCOPES = ["coil", "order", "heat", "instrument"] as const;
export type HoldScope = (typeof HOLD_SCOPES)[number];

export interface Hold {
  readonly scope: HoldScope;
  readonly id: string;
  readonly why: string;
  readonly by: string;
  /** `YYYY-MM-DD` */
  readonly on: string;
  /** Of an instrument: readings from this day on are not trusted. */
  readonly since?: string;
  /** The notice whose containment it is. */
  readonly notice?: string;
}

export interface Concession {
  readonly coil: string;
  readonly property: string;
  /** The customer's own. */
  readonly reference: string;
  /** Last day, `YYYY-MM-DD`. */
  readonly until?: string;
  readonly why: string;
  readonly by: string;
  readonly on: string;
}

export interface Shipment {
  readonly coil: string;
  /** Order item. */
  readonly item: string;
  readonly note: string;
  readonly by: string;
  readonly on: string;
}

export interface WireStanding {
  /** By coil. */
  readonly holds: ReadonlyMap<string, readonly Hold[]>;
  /** In force today, by coil. */
  readonly concessions: ReadonlyMap<string, readonly Concession[]>;
  readonly shipped: ReadonlyMap<string, Shipment>;
  /** The number of the document in question, by coil. */
  readonly questioned: ReadonlyMap<string, string>;
}

export const holdKey = (scope: HoldScope, id: string): string => `${scope}|${id}`;
export const holdText = ({ scope, id, why, by, on }: Hold): string =>
  `held since ${on} by ${by}${scope === "coil" ? "" : ` (${scope} ${id})`}: ${why}`;

/** @param key order item @param today the lab's day: concessions end */
export async function standingOf(reader: LedgerReader, key: string, verdict: OrderVerdict, today: string): Promise<WireStanding> {
  const holds = new Map<string, Hold[]>();
  const all = (await reader.list<Hold>("hold")).map((state) => state.value);
  const concessions = new Map<string, readonly Concession[]>();
  for (const coil of verdict.coils) {
    // What conforms leans on no concession, and is most of the wire.
    if (coil.verdict !== "conforms") {
      const given = (await reader.list<Concession>("concession", coil.coil)).map((state) => state.value);
      const inForce = given.filter((concession) => concession.until === undefined || today <= concession.until);
      if (inForce.length > 0) concessions.set(coil.coil, inForce);
    }
    for (const hold of all)
      if (await holdsCoil(reader, hold, coil, verdict.order)) holds.set(coil.coil, [...(holds.get(coil.coil) ?? []), hold]);
  }
  const shipped = new Map((await reader.list<Shipment>("shipment", key)).map(({ value }) => [value.coil, value]));
  const questioned = new Map<string, string>();
  for (const { value } of await reader.list<{ status: string; number?: string; coils: readonly string[] }>("document", key))
    if (value.status === "in-question") for (const coil of value.coils) questioned.set(coil, value.number ?? "");
  return { holds, concessions, shipped, questioned };
}

async function holdsCoil(reader: LedgerReader, hold: Hold, coil: Pick<Coil, "coil" | "heat">, order: string): Promise<boolean> {
  switch (hold.scope) {
    case "coil":
      return hold.id === coil.coil;
    case "order":
      return hold.id === order;
    case "heat":
      return hold.id === coil.heat;
    case "instrument":
      return (await reader.list<KeptRow>("row", coil.coil)).some(
        ({ value }) => usesInstrument(value, hold.id) && (value.row.fields["date"]?.text ?? hold.since ?? "") >= (hold.since ?? ""),
      );
  }
}

/** True for the tester or machine of the row and for the micrometer behind it. */
export const usesInstrument = ({ row }: Pick<KeptRow, "row">, instrument: string): boolean =>
  row.fields["instrument"]?.text === instrument || row.fields["diameterInstrument"]?.text === instrument;

/** Properties of the coil that do not conform and that no concession covers. */
export function openProperties(verdict: OrderVerdict, coil: string, standing: Pick<WireStanding, "concessions">): readonly string[] {
  const covered = new Set(standing.concessions.get(coil)?.map((concession) => concession.property));
  const own = verdict.coils.find((c) => c.coil === coil);
  if (own === undefined || own.verdict === "conforms") return [];
  const open = own.requirements.filter((r) => r.verdict !== "conforms" && !(r.verdict === "does-not-conform" && covered.has(r.property)));
  // A coil of a failing test unit has no failing requirement of its own.
  const owned = own.requirements.some((r) => r.verdict !== "conforms");
  return owned ? open.map((r) => r.property) : ["test unit"];
}
