/** The ledger of many machines. */
import { randomUUID } from "node:crypto";
import {
  CompiledQuery,
  type DatabaseConnection,
  Kysely,
  PostgresAdapter,
  PostgresDriver,
  PostgresIntrospector,
  PostgresQueryCompiler,
} from "kysely";
import pg from "pg";
import type { Clock } from "../clock.ts";
import { isAway, ServiceAway, ServiceUnreachable, withoutPassword } from "../errors.ts";
import { ledgerOver, type OpenLedger } from "./open-ledger.ts";
import { POSTGRES_MIGRATIONS } from "./postgres-migrations.ts";
import type { Tables } from "./tables.ts";

/** How long a writer waits for another one that enters a large workbook. */
const PATIENCE_MS = 60_000;
const CONNECT_MS = 5000;
/** Names the one writer of a ledger among the advisory locks of its database. Read by nobody; it only must not change. */
const WRITER_LOCK = 7_266_421;
const INT8 = 20;

/**
 * Set on every connection: a commit is flushed before it is answered, and a writer whose machine is gone frees its lock within a minute.
 */
const SETTINGS = [
  "set synchronous_commit = on",
  "set tcp_keepalives_idle = 15",
  "set tcp_keepalives_interval = 5",
  "set tcp_keepalives_count = 4",
  "set idle_in_transaction_session_timeout = '10min'",
];

/** Writers follow each other from the first statement on, so that every one of them reads what the one before has written. */
class OneWriterDriver extends PostgresDriver {
  override async beginTransaction(connection: DatabaseConnection): Promise<void> {
    await connection.executeQuery(CompiledQuery.raw("begin"));
    try {
      await connection.executeQuery(CompiledQuery.raw(`set local lock_timeout = ${PATIENCE_MS}`));
      await connection.executeQuery(CompiledQuery.raw(`select pg_advisory_xact_lock(${WRITER_LOCK})`));
    } catch (error) {
      await connection.executeQuery(CompiledQuery.raw("rollback")).catch(() => undefined);
      if ((error as { code?: string }).code !== "55P03") throw error;
      throw new ServiceAway(`ledger: another worker has held it for ${PATIENCE_MS / 1000} s; end that worker, or try again`);
    }
  }
}

/**
 * @param url `postgres://user@host/database`; one ledger a database. The tables are made where they are missing
 * @throws ServiceAway where the server cannot be reached, loses commits in a power cut, or holds a newer schema
 */
export async function openPostgresLedger(url: string, clock: Clock, options: { readonly readOnly?: boolean } = {}): Promise<OpenLedger> {
  const pool = new pg.Pool({
    connectionString: url,
    max: 8,
    connectionTimeoutMillis: CONNECT_MS,
    keepAlive: true,
    application_name: "coilbook",
    // Counts and times fit a number; the driver would hand them over as text.
    types: {
      getTypeParser: (oid: number, format?: "text" | "binary") => (oid === INT8 ? Number : pg.types.getTypeParser(oid, format as "text")),
    } as pg.CustomTypesConfig,
  });
  // A connection that breaks while nobody uses it is simply replaced by the next one.
  pool.on("error", () => undefined);
  const database = new Kysely<Tables>({
    dialect: {
      createAdapter: () => new PostgresAdapter(),
      createDriver: () =>
        new OneWriterDriver({
          pool,
          async onCreateConnection(connection) {
            for (const setting of SETTINGS) await connection.executeQuery(CompiledQuery.raw(setting));
            if (options.readOnly) await connection.executeQuery(CompiledQuery.raw("set default_transaction_read_only = on"));
          },
        }),
      createIntrospector: (db) => new PostgresIntrospector(db),
      createQueryCompiler: () => new PostgresQueryCompiler(),
    },
  });
  const session = options.readOnly ? "" : randomUUID();
  const close = async (): Promise<void> => {
    // What this opening still held may be taken by another at once.
    if (session !== "")
      await database
        .updateTable("job")
        .set({ locked_until: 0 })
        .where("state", "=", "running")
        .where("locked_by", "=", session)
        .execute()
        .catch(() => undefined);
    await database.destroy();
  };
  const ledger = ledgerOver({ database, session, snapshot: "begin isolation level repeatable read read only", close }, clock);
  try {
    if (await prepare(pool, url)) await ledger.rebuild();
  } catch (error) {
    await database.destroy();
    if (error instanceof ServiceAway) throw error;
    const said = (error as Error).message || String((error as { code?: string }).code);
    if (isAway(error)) throw new ServiceUnreachable(`ledger ${withoutPassword(url)}: cannot be reached (${said})`);
    throw new ServiceAway(`ledger ${withoutPassword(url)}: cannot be opened (${said})`);
  }
  return ledger;
}

/** Checks the server and brings the schema up: all steps or none, one process at a time. @returns true where an earlier schema was brought up */
async function prepare(pool: pg.Pool, url: string): Promise<boolean> {
  const client = await pool.connect();
  try {
    const fsync = (await client.query<{ fsync: string }>("show fsync")).rows[0]?.fsync;
    if (fsync !== "on")
      throw new ServiceAway(
        `ledger ${withoutPassword(url)}: the server runs with fsync=${fsync} and would lose entries in a power cut; accepted is on`,
      );
    const found = async (): Promise<number | undefined> => {
      const table = await client.query("select 1 from pg_tables where schemaname = current_schema() and tablename = 'schema_version'");
      if (table.rowCount === 0) return undefined;
      return (await client.query<{ version: number }>("select version from schema_version")).rows[0]?.version ?? 0;
    };
    if ((await found()) === POSTGRES_MIGRATIONS.length) return false;
    await client.query("begin");
    try {
      await client.query(`select pg_advisory_xact_lock(${WRITER_LOCK})`);
      // Read again under the lock: another process may have been quicker.
      const version = (await found()) ?? 0;
      if (version > POSTGRES_MIGRATIONS.length)
        throw new ServiceAway(
          `ledger ${withoutPassword(url)}: schema ${version} is newer than this program knows (${POSTGRES_MIGRATIONS.length}); update the program`,
        );
      await client.query("create table if not exists schema_version (version integer not null)");
      for (const statements of POSTGRES_MIGRATIONS.slice(version)) for (const statement of statements) await client.query(statement);
      await client.query("delete from schema_version");
      await client.query("insert into schema_version (version) values ($1)", [POSTGRES_MIGRATIONS.length]);
      await client.query("commit");
      return version > 0 && version < POSTGRES_MIGRATIONS.length;
    } catch (error) {
      await client.query("rollback");
      throw error;
    }
  } finally {
    client.release();
  }
}
