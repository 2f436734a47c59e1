/** The ledger as files: a copy of the database where it is SQLite, its tables as JSON Lines where it lies on a server. */
import { closeSync, fsyncSync, mkdirSync, openSync, readFileSync, writeSync } from "node:fs";
import { join } from "node:path";
import Database from "better-sqlite3";
import { type Kysely, sql } from "kysely";
import { InputRefused, ServiceAway } from "../errors.ts";
import type { Tables } from "../ledger/tables.ts";

/** What stands for the whole ledger; states are made again from the facts. */
const KEPT_TABLES = ["fact", "anchor", "outbox", "job", "identity"] as const;
type KeptTable = (typeof KEPT_TABLES)[number];
const ROWS_AT_ONCE = 500;

/** A copy as of one instant, while others go on writing. @throws ServiceAway where the copy is not sound */
export async function copySqlite(file: string, target: string): Promise<void> {
  const source = new Database(file, { readonly: true, timeout: 5000 });
  try {
    await source.backup(target);
  } finally {
    source.close();
  }
  const copy = new Database(target);
  try {
    const said = copy.pragma("integrity_check(1)", { simple: true });
    if (said !== "ok") throw new ServiceAway(`backup of ${file}: the copy is damaged (${String(said)})`);
    // Jobs that a process held when the copy was made are free in it: no process holds them there.
    copy.exec("delete from session; update job set locked_until = 0 where state = 'running'");
    // One file, without a log beside it.
    copy.pragma("journal_mode = DELETE");
  } finally {
    copy.close();
  }
}

const tableFile = (folder: string, table: KeptTable): string => join(folder, `${table}.jsonl`);

/** Every row, one JSON object a line, all as of one instant. */
export async function writeTables(database: Kysely<Tables>, folder: string): Promise<void> {
  mkdirSync(folder, { recursive: true });
  await database.connection().execute(async (db) => {
    await sql`begin isolation level repeatable read read only`.execute(db);
    try {
      for (const table of KEPT_TABLES) {
        const handle = openSync(tableFile(folder, table), "w", 0o600);
        try {
          for await (const rows of pagesOf(db, table)) for (const row of rows) writeSync(handle, `${JSON.stringify(row)}\n`);
          fsyncSync(handle);
        } finally {
          closeSync(handle);
        }
      }
    } finally {
      await sql`rollback`.execute(db);
    }
  });
}

async function* pagesOf(db: Kysely<Tables>, table: KeptTable): AsyncGenerator<readonly object[]> {
  const order = table === "fact" ? "seq" : table === "job" ? "key" : "id";
  for (let at = 0; ; at += ROWS_AT_ONCE) {
    const page = await sql<object>`select * from ${sql.table(table)} order by ${sql.ref(order)} limit ${ROWS_AT_ONCE} offset ${at}`.execute(
      db,
    );
    if (page.rows.length > 0) yield page.rows;
    if (page.rows.length < ROWS_AT_ONCE) return;
  }
}

/** Into a ledger that holds no fact yet; all or nothing. @throws InputRefused where it holds some */
export async function readTables(database: Kysely<Tables>, folder: string): Promise<void> {
  await database.transaction().execute(async (db) => {
    const anchor = await db.selectFrom("anchor").select("facts").executeTakeFirst();
    if ((anchor?.facts ?? 0) > 0)
      throw new InputRefused(`restore: the ledger holds ${anchor?.facts} facts already; accepted is a database without a ledger`);
    for (const table of KEPT_TABLES) {
      if (table === "anchor" || table === "identity") await sql`delete from ${sql.table(table)}`.execute(db);
      const rows = readFileSync(tableFile(folder, table), "utf8")
        .split("\n")
        .filter((line) => line !== "")
        .map((line) => JSON.parse(line) as Record<string, unknown>);
      for (const row of rows) {
        // The database counts this one itself; its order is that of the lines.
        if (table === "outbox") delete row["id"];
        await sql`insert into ${sql.table(table)} (${sql.join(Object.keys(row).map((name) => sql.ref(name)))})
          values (${sql.join(Object.values(row))})`.execute(db);
      }
    }
  });
}
