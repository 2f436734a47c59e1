import { createHash } from "node:crypto";
import { existsSync, mkdirSync } from "node:fs";
import { userInfo } from "node:os";
import { dirname } from "node:path";
import Database from "better-sqlite3";
import {
  CompiledQuery,
  type DatabaseConnection,
  Kysely,
  SqliteAdapter,
  type SqliteDialectConfig,
  SqliteDriver,
  SqliteIntrospector,
  SqliteQueryCompiler,
  type Transaction,
} from "kysely";
import { canonicalContent } from "../../core/spec/index.ts";
import type { Clock } from "../clock.ts";
import { ServiceAway } from "../errors.ts";
import type { AuditFinding, Fact, FactKind, Ledger, LedgerReader, LedgerTransaction, NewFact, State, StateKind } from "../ports/ledger.ts";
import { VERSION } from "../version.ts";
import { MIGRATIONS } from "./migrations.ts";
import { REDUCERS } from "./reducers.ts";

export interface Tables {
  fact: {
    seq: number;
    kind: string;
    key: string;
    payload: string;
    recorded_at: string;
    recorded_by: string;
    account: string;
    program: string;
    supersedes: number | null;
    previous_hash: string;
    hash: string;
  };
  state: { kind: string; key: string; owner: string; value: string };
  outbox: { id?: number; job: string; key: string; payload: string; relayed: number };
  job: {
    key: string;
    name: string;
    payload: string;
    state: string;
    attempts: number;
    run_after: number;
    locked_until: number;
    locked_by: string;
    error: string;
  };
}

type Db = Kysely<Tables> | Transaction<Tables>;

/** Writers take the lock at once: a deferred one that later needs to write can fail although nothing is wrong. */
class ImmediateDriver extends SqliteDriver {
  override async beginTransaction(connection: DatabaseConnection): Promise<void> {
    await connection.executeQuery(CompiledQuery.raw("begin immediate"));
  }
}

export interface OpenLedger extends Ledger {
  /** For the embedded queue, which lives in the same store. */
  readonly database: Kysely<Tables>;
}

/**
 * The ledger of one machine.
 * @param file on a local disk; made where it is missing
 * @throws ServiceAway where the file cannot be opened or is newer than the program
 */
export async function openSqliteLedger(file: string, clock: Clock, options: { readonly readOnly?: boolean } = {}): Promise<OpenLedger> {
  if (!options.readOnly) mkdirSync(dirname(file), { recursive: true });
  const connection = connect(file, options.readOnly === true);
  if (!options.readOnly) migrate(connection, file);
  const config: SqliteDialectConfig = { database: connection };
  const database = new Kysely<Tables>({
    dialect: {
      createAdapter: () => new SqliteAdapter(),
      createDriver: () => new ImmediateDriver(config),
      createIntrospector: (db) => new SqliteIntrospector(db),
      createQueryCompiler: () => new SqliteQueryCompiler(),
    },
  });
  return createLedger(database, clock, async () => {
    if (!options.readOnly) connection.pragma("wal_checkpoint(TRUNCATE)");
    await database.destroy();
  });
}

export const ledgerExists = (file: string): boolean => existsSync(file);

function connect(file: string, readOnly: boolean): Database.Database {
  try {
    const connection = new Database(file, { readonly: readOnly, timeout: 5000 });
    if (!readOnly) connection.pragma("journal_mode = WAL");
    // WAL reopens with NORMAL, which may lose the last commits in a power cut; set and read back on every connection.
    connection.pragma("synchronous = FULL");
    connection.pragma("foreign_keys = ON");
    connection.pragma("busy_timeout = 5000");
    if (connection.pragma("synchronous", { simple: true }) !== 2) throw new Error("synchronous=FULL was not taken");
    return connection;
  } catch (error) {
    throw new ServiceAway(`ledger ${file}: cannot be opened (${(error as Error).message}); accepted is a file on a local disk`);
  }
}

function migrate(connection: Database.Database, file: string): void {
  connection.exec("begin immediate");
  try {
    connection.exec("create table if not exists schema_version (version integer not null)");
    const found = connection.prepare("select version from schema_version").get() as { version: number } | undefined;
    const version = found?.version ?? 0;
    if (version > MIGRATIONS.length)
      throw new ServiceAway(
        `ledger ${file}: schema ${version} is newer than this program knows (${MIGRATIONS.length}); update the program`,
      );
    for (const statements of MIGRATIONS.slice(version)) for (const statement of statements) connection.exec(statement);
    connection.exec("delete from schema_version");
    connection.prepare("insert into schema_version (version) values (?)").run(MIGRATIONS.length);
    connection.exec("commit");
  } catch (error) {
    connection.exec("rollback");
    throw error;
  }
}

function createLedger(database: Kysely<Tables>, clock: Clock, close: () => Promise<void>): OpenLedger {
  const account = accountName();
  return {
    database,
    ...readerOf(database),
    transaction: (by, work) =>
      database.transaction().execute(async (db) => {
        const tx: LedgerTransaction = {
          ...readerOf(db),
          append: (fact) => append(db, fact, { recordedAt: clock.now().toISOString(), recordedBy: by, account, program: VERSION }),
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
    audit: () => audit(database),
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

const toFact = (row: Tables["fact"]): Fact => ({
  seq: row.seq,
  kind: row.kind as FactKind,
  key: row.key,
  payload: JSON.parse(row.payload) as object,
  recordedAt: row.recorded_at,
  recordedBy: row.recorded_by,
  account: row.account,
  program: row.program,
  supersedes: row.supersedes,
  previousHash: row.previous_hash,
  hash: row.hash,
});

type Origin = Pick<Fact, "recordedAt" | "recordedBy" | "account" | "program">;

async function append(db: Db, fact: NewFact, origin: Origin): Promise<Fact> {
  const last = await db.selectFrom("fact").select(["seq", "hash"]).orderBy("seq", "desc").limit(1).executeTakeFirst();
  const before = await db
    .selectFrom("fact")
    .select("seq")
    .where("kind", "=", fact.kind)
    .where("key", "=", fact.key)
    .orderBy("seq", "desc")
    .limit(1)
    .executeTakeFirst();
  const payload = canonicalContent(fact.payload);
  const unsealed = {
    seq: (last?.seq ?? 0) + 1,
    kind: fact.kind,
    key: fact.key,
    payload,
    ...origin,
    supersedes: before?.seq ?? null,
    previousHash: last?.hash ?? "",
  };
  const hash = hashOf(unsealed);
  await db
    .insertInto("fact")
    .values({
      seq: unsealed.seq,
      kind: fact.kind,
      key: fact.key,
      payload,
      recorded_at: origin.recordedAt,
      recorded_by: origin.recordedBy,
      account: origin.account,
      program: origin.program,
      supersedes: unsealed.supersedes,
      previous_hash: unsealed.previousHash,
      hash,
    })
    .execute();
  const made: Fact = { ...unsealed, payload: JSON.parse(payload) as object, hash };
  await apply(db, made);
  return made;
}

/** SHA-256 over everything the fact says and the hash of the one before. */
const hashOf = (fact: Omit<Fact, "hash" | "payload"> & { payload: string }): string =>
  createHash("sha256").update(canonicalContent(fact)).digest("hex");

async function apply(db: Db, fact: Fact): Promise<void> {
  const current = async (kind: StateKind, key: string): Promise<Record<string, unknown> | undefined> => readerOf(db).get(kind, key);
  const changes = await REDUCERS[fact.kind]({ ...fact, payload: fact.payload as Record<string, unknown> }, current);
  for (const change of changes) {
    if (change.value === undefined) {
      await db.deleteFrom("state").where("kind", "=", change.kind).where("key", "=", change.key).execute();
      continue;
    }
    const value = canonicalContent(change.value);
    await db
      .insertInto("state")
      .values({ kind: change.kind, key: change.key, owner: change.owner, value })
      .onConflict((conflict) => conflict.columns(["kind", "key"]).doUpdateSet({ owner: change.owner, value }))
      .execute();
  }
}

async function rebuild(db: Db): Promise<void> {
  await db.deleteFrom("state").execute();
  for (const fact of await readerOf(db).facts()) await apply(db, fact);
}

class RolledBack extends Error {}

async function audit(database: Kysely<Tables>): Promise<readonly AuditFinding[]> {
  const findings: AuditFinding[] = [];
  let previous = "";
  let expected = 1;
  for (const row of await database.selectFrom("fact").selectAll().orderBy("seq").execute()) {
    if (row.seq !== expected) findings.push({ seq: expected, text: `fact ${expected} is missing` });
    const fact = {
      seq: row.seq,
      kind: row.kind as FactKind,
      key: row.key,
      payload: row.payload,
      recordedAt: row.recorded_at,
      recordedBy: row.recorded_by,
      account: row.account,
      program: row.program,
      supersedes: row.supersedes,
      previousHash: row.previous_hash,
    };
    if (hashOf(fact) !== row.hash) findings.push({ seq: row.seq, text: `fact ${row.seq} (${row.kind} ${row.key}) was altered` });
    else if (row.previous_hash !== previous)
      findings.push({ seq: row.seq, text: `fact ${row.seq} (${row.kind} ${row.key}) does not follow the one before it` });
    if (findings.length > 0) return findings;
    previous = row.hash;
    expected = row.seq + 1;
  }
  return [...findings, ...(await compareStates(database))];
}

/** Rebuilds inside a transaction that is then rolled back, and compares. */
async function compareStates(database: Kysely<Tables>): Promise<readonly AuditFinding[]> {
  const states = (db: Db) => db.selectFrom("state").selectAll().orderBy("kind").orderBy("key").execute();
  const kept = await states(database);
  let rebuilt: typeof kept = [];
  try {
    await database.transaction().execute(async (db) => {
      await rebuild(db);
      rebuilt = await states(db);
      throw new RolledBack();
    });
  } catch (error) {
    if (!(error instanceof RolledBack)) throw error;
  }
  const text = (row: (typeof kept)[number] | undefined): string => (row === undefined ? "" : `${row.owner}\u0000${row.value}`);
  const byKey = (rows: typeof kept): Map<string, (typeof kept)[number]> => new Map(rows.map((row) => [`${row.kind} ${row.key}`, row]));
  const [a, b] = [byKey(kept), byKey(rebuilt)];
  return [...new Set([...a.keys(), ...b.keys()])]
    .filter((key) => text(a.get(key)) !== text(b.get(key)))
    .map((key) => ({ text: `state ${key} is not what its facts give` }));
}
