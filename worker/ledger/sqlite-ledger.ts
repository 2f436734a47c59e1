import { existsSync } from "node:fs";
import { userInfo } from "node:os";
import {
  CompiledQuery,
  type DatabaseConnection,
  Kysely,
  SqliteAdapter,
  type SqliteDialectConfig,
  SqliteDriver,
  SqliteIntrospector,
  SqliteQueryCompiler,
} from "kysely";
import type { Clock } from "../clock.ts";
import { ServiceAway } from "../errors.ts";
import type { Ledger, LedgerReader, LedgerTransaction, State, StateKind } from "../ports/ledger.ts";
import { VERSION } from "../version.ts";
import { auditLedger } from "./audit.ts";
import { openStore } from "./connection.ts";
import { appendFact, toFact } from "./facts.ts";
import { applyFact, storedStates } from "./states.ts";
import type { Db, Tables } from "./tables.ts";

/** How long a writer waits for another process that enters a large workbook. */
const PATIENCE_MS = 60_000;
const PAUSE_MS = 50;

/** Writers take the lock at once: a deferred one that later needs to write can fail although nothing is wrong. */
class ImmediateDriver extends SqliteDriver {
  override async beginTransaction(connection: DatabaseConnection): Promise<void> {
    const started = performance.now();
    for (;;)
      try {
        await connection.executeQuery(CompiledQuery.raw("begin immediate"));
        return;
      } catch (error) {
        if ((error as { code?: string }).code !== "SQLITE_BUSY") throw error;
        if (performance.now() - started > PATIENCE_MS)
          throw new ServiceAway(`ledger: another process has held it for ${PATIENCE_MS / 1000} s; end that process, or try again`);
        await new Promise((resolve) => setTimeout(resolve, PAUSE_MS));
      }
  }
}

export interface OpenLedger extends Ledger {
  /** For the embedded queue, which lives in the same store. */
  readonly database: Kysely<Tables>;
  /** Names this opening; jobs it holds are freed when its process is found dead. */
  readonly session: string;
}

/**
 * The ledger of one machine.
 * @param file on a local disk; made where it is missing
 * @throws ServiceAway where the file cannot be opened, is damaged after an unclean stop, or is newer than the program
 */
export async function openSqliteLedger(file: string, clock: Clock, options: { readonly readOnly?: boolean } = {}): Promise<OpenLedger> {
  const store = openStore(file, options.readOnly === true);
  const config: SqliteDialectConfig = { database: store.connection };
  const database = new Kysely<Tables>({
    dialect: {
      createAdapter: () => new SqliteAdapter(),
      createDriver: () => new ImmediateDriver(config),
      createIntrospector: (db) => new SqliteIntrospector(db),
      createQueryCompiler: () => new SqliteQueryCompiler(),
    },
  });
  const ledger = createLedger(database, clock, store.session, async () => {
    store.close();
    await database.destroy();
  });
  if (store.migrated) await ledger.rebuild();
  return ledger;
}

export const ledgerExists = (file: string): boolean => existsSync(file);

function createLedger(database: Kysely<Tables>, clock: Clock, session: string, close: () => Promise<void>): OpenLedger {
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
          async enqueue(entry) {
            await db
              .insertInto("outbox")
              .values({ job: entry.job, key: entry.key, payload: JSON.stringify(entry.payload), relayed: 0 })
              .onConflict((conflict) => conflict.column("key").doNothing())
              .execute();
          },
        };
        return work(tx);
      }),
    rebuild: () => database.transaction().execute((db) => rebuild(db)),
    audit: () => auditLedger(database),
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
