/** The ledger over either store: facts, anchor, states and outbox rows in one transaction that only one writer holds at a time. */
import { userInfo } from "node:os";
import type { Kysely } from "kysely";
import type { Clock } from "../clock.ts";
import type { Ledger, LedgerReader, LedgerTransaction, State, StateKind } from "../ports/ledger.ts";
import { VERSION } from "../version.ts";
import { auditLedger, type SnapshotStatement } from "./audit.ts";
import { appendFact, toFact } from "./facts.ts";
import { applyFact, storedStates } from "./states.ts";
import type { Db, Tables } from "./tables.ts";

export interface OpenLedger extends Ledger {
  /** For the queue, whose jobs live in the same store. Its transactions are those of a single writer. */
  readonly database: Kysely<Tables>;
  /** Names this opening; jobs it holds are freed when its process is found dead. */
  readonly session: string;
}

export interface LedgerStore {
  readonly database: Kysely<Tables>;
  readonly session: string;
  /** Begins a transaction that reads everything as of one instant. */
  readonly snapshot: SnapshotStatement;
  close(): Promise<void>;
}

export function ledgerOver({ database, session, snapshot, close }: LedgerStore, clock: Clock): OpenLedger {
  const account = accountName();
  return {
    database,
    session,
    ...readerOf(database),
    transaction: (by, work) =>
      database.transaction().execute(async (db) => {
        const tx: LedgerTransaction = {
          ...readerOf(db),
          append: (fact) => appendFact(db, fact, { recordedAt: clock.now().toISOString(), recordedBy: by, account, program: VERSION }),
          async enqueue({ job, key, payload, priority = 0 }) {
            await db
              .insertInto("outbox")
              .values({ job, key, payload: JSON.stringify(payload), relayed: 0, priority })
              .onConflict((conflict) => conflict.column("key").doNothing())
              .execute();
          },
        };
        return work(tx);
      }),
    rebuild: () => database.transaction().execute((db) => rebuild(db)),
    audit: () => auditLedger(database, snapshot),
    close,
  };
}

function accountName(): string {
  try {
    return userInfo().username;
  } catch {
    return "unknown";
  }
}

function readerOf(db: Db): LedgerReader {
  return {
    async get<T>(kind: StateKind, key: string) {
      const found = await db.selectFrom("state").select("value").where("kind", "=", kind).where("key", "=", key).executeTakeFirst();
      return found === undefined ? undefined : (JSON.parse(found.value) as T);
    },
    async list<T>(kind: StateKind, owner?: string) {
      let query = db.selectFrom("state").selectAll().where("kind", "=", kind);
      if (owner !== undefined) query = query.where("owner", "=", owner);
      const rows = await query.orderBy("key").execute();
      return rows.map((row): State<T> => ({ kind, key: row.key, owner: row.owner, value: JSON.parse(row.value) as T }));
    },
    async facts(filter = {}) {
      let query = db.selectFrom("fact").selectAll();
      if (filter.kinds) query = query.where("kind", "in", [...filter.kinds]);
      if (filter.key !== undefined) query = query.where("key", "=", filter.key);
      if (filter.until !== undefined) query = query.where("recorded_at", "<=", filter.until);
      return (await query.orderBy("seq").execute()).map(toFact);
    },
  };
}

async function rebuild(db: Db): Promise<void> {
  await db.deleteFrom("state").execute();
  // What was accepted once is not refused now: the facts stand.
  const states = { ...storedStates(db), putOnce: storedStates(db).put };
  for (const fact of await readerOf(db).facts()) await applyFact(states, fact);
}
