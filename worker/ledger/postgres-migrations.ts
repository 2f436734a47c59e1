/**
 * Numbered, never edited once released; those of PostgreSQL. The same tables as in SQLite. Keys sort by their bytes as they do there,
 * whatever the language of the server, so that both stores give everything in the same order. A step of SQLite that only has the states
 * made again is an (empty) step here too, once a ledger of the step before has been released.
 */
const KEY = 'text collate "C" not null';

export const POSTGRES_MIGRATIONS: readonly string[][] = [
  [
    `create table fact (
       seq bigint primary key, kind ${KEY}, key ${KEY}, payload text not null, recorded_at ${KEY}, recorded_by text not null,
       account text not null, program text not null, supersedes bigint, previous_hash text not null, hash text not null unique)`,
    "create index fact_by_key on fact (kind, key, seq)",
    `create table state (kind ${KEY}, key ${KEY}, owner ${KEY}, value text not null, primary key (kind, key))`,
    "create index state_by_owner on state (kind, owner, key)",
    `create table outbox (
       id bigint generated always as identity primary key, job text not null, key ${KEY} unique, payload text not null,
       relayed integer not null default 0, priority integer not null default 0)`,
    "create index outbox_waiting on outbox (relayed, id)",
    `create table job (
       key ${KEY} primary key, name text not null, payload text not null, state text not null, attempts integer not null default 0,
       run_after bigint not null default 0, locked_until bigint not null default 0, locked_by text not null default '',
       error text not null default '', priority integer not null default 0)`,
    "create index job_due on job (state, priority, run_after)",
    "create table anchor (id integer primary key check (id = 1), facts bigint not null, last_hash text not null)",
    "insert into anchor (id, facts, last_hash) values (1, 0, '')",
    "create table session (id text primary key, host text not null, pid integer not null, process_started bigint not null)",
    // Tells the jobs of this ledger from those of another on the same Redis.
    "create table identity (id integer primary key check (id = 1), value text not null)",
    "insert into identity (id, value) values (1, replace(gen_random_uuid()::text, '-', ''))",
  ],
];
