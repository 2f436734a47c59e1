/** Opens the store with the settings that survive a power cut, brings its schema up, and notices an unclean stop. */
import { randomUUID } from "node:crypto";
import { mkdirSync, statfsSync } from "node:fs";
import { hostname } from "node:os";
import { dirname } from "node:path";
import Database from "better-sqlite3";
import { isDisk, ServiceAway } from "../errors.ts";
import { MIGRATIONS } from "./migrations.ts";
import type { Tables } from "./tables.ts";

const BUSY_MS = 5000;
/** The start of a process is known to the second only. */
const START_TOLERANCE_MS = 2000;

export interface OpenStore {
  readonly connection: Database.Database;
  /** Unique to this opening; jobs are held under it. Empty where the store was opened for reading. */
  readonly session: string;
  /** True where the schema was brought up from an earlier one, so that the states must be made again. */
  readonly migrated: boolean;
  close(): void;
}

/** @throws ServiceAway where the file cannot be opened, is damaged, or is newer than the program */
export function openStore(file: string, readOnly: boolean): OpenStore {
  if (readOnly) {
    const connection = connect(file, true);
    return { connection, session: "", migrated: false, close: () => undefined };
  }
  mkdirSync(dirname(file), { recursive: true });
  refuseShare(dirname(file), file);
  const connection = connect(file, false);
  try {
    const migrated = migrate(connection, file);
    const session = enterSession(connection, file);
    return {
      connection,
      session,
      migrated,
      close() {
        connection.transaction(() => leaveSession(connection, session)).immediate();
        try {
          connection.pragma("wal_checkpoint(TRUNCATE)");
        } catch {
          // Only tidiness is lost: what is in the log is read from there at the next opening.
        }
      },
    };
  } catch (error) {
    connection.close();
    if ((error as { code?: string }).code === "SQLITE_BUSY")
      throw new ServiceAway(`ledger ${file}: another process is writing to it; try again when that has ended`);
    if (isDisk(error))
      throw new ServiceAway(
        `ledger ${file}: cannot be written (${(error as Error).message}); accepted is a disk with room that may be written to`,
      );
    throw error;
  }
}

/** File systems of other machines, by the number that statfs gives. @source linux/magic.h */
const SHARES = new Map([
  [0x6969, "nfs"],
  [0xff534d42, "cifs"],
  [0xfe534d42, "smb2"],
  [0x517b, "smb"],
]);

/** The log of SQLite needs memory that all its processes share, which no share gives. */
function refuseShare(folder: string, file: string): void {
  const kind = SHARES.get(statfsSync(folder).type);
  if (kind !== undefined)
    throw new ServiceAway(
      `ledger ${file}: lies on a network share (${kind}); accepted is a file on a local disk (--data), or PostgreSQL (setting ledger.url)`,
    );
}

function connect(file: string, readOnly: boolean): Database.Database {
  try {
    const connection = new Database(file, { readonly: readOnly, timeout: BUSY_MS });
    if (!readOnly) connection.pragma("journal_mode = WAL");
    // WAL reopens with NORMAL, which may lose the last commits in a power cut; set and read back on every connection.
    connection.pragma("synchronous = FULL");
    connection.pragma("foreign_keys = ON");
    connection.pragma(`busy_timeout = ${BUSY_MS}`);
    if (connection.pragma("synchronous", { simple: true }) !== 2) throw new Error("synchronous=FULL was not taken");
    return connection;
  } catch (error) {
    throw new ServiceAway(
      `ledger ${file}: cannot be opened (${(error as Error).message}${fullness(file)}); accepted is a file on a local disk`,
    );
  }
}

const ROOM_BYTES = 1024 * 1024;

/** What the store itself does not say where the disk has no room for its log: that it is full. */
function fullness(file: string): string {
  try {
    const { bavail, bsize } = statfsSync(dirname(file));
    return bavail * bsize < ROOM_BYTES ? `; the disk is full, ${bavail * bsize} bytes are free` : "";
  } catch {
    // There is no such folder, and the store has said so.
    return "";
  }
}

/** All steps or none. @returns true where an earlier schema was brought up */
function migrate(connection: Database.Database, file: string): boolean {
  const found = (): number | undefined =>
    connection.prepare("select 1 from sqlite_master where name = 'schema_version'").get() === undefined
      ? undefined
      : ((connection.prepare("select version from schema_version").get() as { version: number } | undefined)?.version ?? 0);
  if (found() === MIGRATIONS.length) return false;
  connection.exec("begin immediate");
  try {
    // Read again under the lock: another process may have been quicker.
    const version = found() ?? 0;
    if (version > MIGRATIONS.length)
      throw new ServiceAway(
        `ledger ${file}: schema ${version} is newer than this program knows (${MIGRATIONS.length}); update the program`,
      );
    connection.exec("create table if not exists schema_version (version integer not null)");
    for (const statements of MIGRATIONS.slice(version)) for (const statement of statements) connection.exec(statement);
    connection.exec("delete from schema_version");
    connection.prepare("insert into schema_version (version) values (?)").run(MIGRATIONS.length);
    connection.exec("commit");
    return version > 0 && version < MIGRATIONS.length;
  } catch (error) {
    connection.exec("rollback");
    throw error;
  }
}

type Session = Tables["session"];

/** Checks the file where an earlier process left without closing, frees the jobs it held, and enters this one. */
function enterSession(connection: Database.Database, file: string): string {
  if (deadSessions(connection).length > 0) {
    const said = connection.pragma("quick_check(1)", { simple: true });
    if (said !== "ok")
      throw new ServiceAway(
        `ledger ${file}: is damaged after an unclean stop (${String(said).replaceAll(/\s+/g, " ")}); accepted is a sound file, restore a backup`,
      );
  }
  const own: Session = { id: randomUUID(), host: hostname(), pid: process.pid, process_started: processStarted() };
  connection
    .transaction(() => {
      buryDeadSessions(connection);
      connection.prepare("insert into session (id, host, pid, process_started) values (@id, @host, @pid, @process_started)").run(own);
    })
    .immediate();
  return own.id;
}

function buryDeadSessions(connection: Database.Database): void {
  for (const { id } of deadSessions(connection)) leaveSession(connection, id);
}

/** What a session still held may be taken by another at once. */
function leaveSession(connection: Database.Database, id: string): void {
  connection.prepare("update job set locked_until = 0 where state = 'running' and locked_by = ?").run(id);
  connection.prepare("delete from session where id = ?").run(id);
}

const deadSessions = (connection: Database.Database): readonly Session[] =>
  (connection.prepare("select * from session").all() as Session[]).filter(isDead);

const processStarted = (): number => Math.round(Date.now() - process.uptime() * 1000);

/** Only a process of this machine can be asked; one of another container is left to the end of its lease. */
function isDead(session: Session): boolean {
  if (session.host !== hostname()) return false;
  // In a container every worker has the same process number; its start tells the earlier one apart.
  if (session.pid === process.pid) return Math.abs(session.process_started - processStarted()) > START_TOLERANCE_MS;
  try {
    process.kill(session.pid, 0);
    return false;
  } catch (error) {
    return (error as NodeJS.ErrnoException).code === "ESRCH";
  }
}
