/** Where the states derived from facts are put: in the store, or in memory to be compared with it. */
import { canonicalContent } from "../../core/spec/index.ts";
import type { Fact, StateKind } from "../ports/ledger.ts";
import { REDUCERS } from "./reducers.ts";
import type { Db } from "./tables.ts";

export interface KeptState {
  readonly owner: string;
  /** Canonical JSON. */
  readonly value: string;
}

export interface StateStore {
  get(kind: StateKind, key: string): Promise<KeptState | undefined>;
  put(kind: StateKind, key: string, state: KeptState): Promise<void>;
  /** @throws Error where the key is taken */
  putOnce(kind: StateKind, key: string, state: KeptState): Promise<void>;
  remove(kind: StateKind, key: string): Promise<void>;
}

/** Does to the states what a fact says. */
export async function applyFact(states: StateStore, fact: Fact): Promise<void> {
  const current = async (kind: StateKind, key: string): Promise<Record<string, unknown> | undefined> => {
    const found = await states.get(kind, key);
    return found === undefined ? undefined : (JSON.parse(found.value) as Record<string, unknown>);
  };
  for (const change of await REDUCERS[fact.kind]({ ...fact, payload: fact.payload as Record<string, unknown> }, current)) {
    if (change.value === undefined) await states.remove(change.kind, change.key);
    else {
      const state = { owner: change.owner, value: canonicalContent(change.value) };
      await (change.once === true ? states.putOnce(change.kind, change.key, state) : states.put(change.kind, change.key, state));
    }
  }
}

export function storedStates(db: Db): StateStore {
  return {
    get: (kind, key) =>
      db.selectFrom("state").select(["owner", "value"]).where("kind", "=", kind).where("key", "=", key).executeTakeFirst(),
    async put(kind, key, state) {
      await db
        .insertInto("state")
        .values({ kind, key, ...state })
        .onConflict((conflict) => conflict.columns(["kind", "key"]).doUpdateSet(state))
        .execute();
    },
    async putOnce(kind, key, state) {
      // The primary key refuses the second one, whichever process writes it.
      await db
        .insertInto("state")
        .values({ kind, key, ...state })
        .execute();
    },
    async remove(kind, key) {
      await db.deleteFrom("state").where("kind", "=", kind).where("key", "=", key).execute();
    },
  };
}

/** @returns the store and its rows by `kind key` */
export function statesInMemory(): { readonly states: StateStore; readonly rows: ReadonlyMap<string, KeptState> } {
  const rows = new Map<string, KeptState>();
  const put = async (kind: StateKind, key: string, state: KeptState): Promise<void> => {
    rows.set(`${kind} ${key}`, state);
  };
  return {
    rows,
    states: {
      get: async (kind, key) => rows.get(`${kind} ${key}`),
      put,
      putOnce: put,
      async remove(kind, key) {
        rows.delete(`${kind} ${key}`);
      },
    },
  };
}
