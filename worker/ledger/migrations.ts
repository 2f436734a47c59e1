/** Numbered, never edited once released; those of SQLite. Text for times and JSON. States are made again after a step. */
export const MIGRATIONS: readonly string[][] = [
  [
    `create table fact (
       seq integer primary key, kind text not null, key text not null, payload text not null, recorded_at text not null, recorded_by text not null,
       account text not null, program text not null, supersedes integer, previous_hash text not null, hash text not null unique)`,
    "create index fact_by_key on fact (kind, key, seq)",
    "create table state (kind text not null, key text not null, owner text not null, value text not null, primary key (kind, key))",
    "create index state_by_owner on state (kind, owner, key)",
    "create table outbox (id integer primary key, job text not null, key text not null unique, payload text not null, relayed integer not null default 0)",
    "create index outbox_waiting on outbox (relayed, id)",
    `create table job (
       key text primary key, name text not null, payload text not null, state text not null, attempts integer not null default 0,
       run_after integer not null default 0, locked_until integer not null default 0, locked_by text not null default '', error text not null default '')`,
    "create index job_due on job (state, run_after)",
  ],
  [
    "create table anchor (id integer primary key check (id = 1), facts integer not null, last_hash text not null)",
    `insert into anchor (id, facts, last_hash)
       select 1, count(*), coalesce((select hash from fact order by seq desc limit 1), '') from fact`,
    "create table session (id text primary key, host text not null, pid integer not null, process_started integer not null)",
  ],
  [
    // Work that somebody waits for goes before the batch of the night; the lower goes first.
    "alter table outbox add column priority integer not null default 0",
    "alter table job add column priority integer not null default 0",
    "drop index job_due",
    "create index job_due on job (state, priority, run_after)",
    // Tells the jobs of this ledger from those of another on the same Redis.
    "create table identity (id integer primary key check (id = 1), value text not null)",
    "insert into identity (id, value) values (1, lower(hex(randomblob(8))))",
  ],
  // No table changes: coils are found by heat, mother coil and instrument through states that the facts give.
  [],
];
