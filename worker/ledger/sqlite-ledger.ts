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
import { openStore } from "./connection.ts";
import { ledgerOver, type OpenLedger } from "./open-ledger.ts";
import type { Tables } from "./tables.ts";

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
  const close = async (): Promise<void> => {
    store.close();
    await database.destroy();
  };
  const ledger = ledgerOver({ database, session: store.session, snapshot: "begin", close }, clock);
  if (store.migrated) await ledger.rebuild();
  return ledger;
}
