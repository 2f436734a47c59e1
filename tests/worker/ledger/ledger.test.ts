/** The store of one machine. Settings: SQLite's own documentation of WAL and synchronous; the rest is the project's contract, section 8. */
import { spawnSync } from "node:child_process";
import { closeSync, mkdirSync, mkdtempSync, openSync, rmSync, statSync, writeSync } from "node:fs";
import { hostname, tmpdir } from "node:os";
import { join } from "node:path";
import Database from "better-sqlite3";
import fc from "fast-check";
import { sql } from "kysely";
import { afterEach, beforeEach, describe, expect, it } from "vitest";
import { ServiceAway } from "../../../worker/errors.ts";
import { factHash } from "../../../worker/ledger/facts.ts";
import { MIGRATIONS } from "../../../worker/ledger/migrations.ts";
import type { OpenLedger } from "../../../worker/ledger/open-ledger.ts";
import { openSqliteLedger } from "../../../worker/ledger/sqlite-ledger.ts";
import type { NewFact } from "../../../worker/ports/ledger.ts";
import { testClock } from "../work/lab.ts";

let folder: string;
let file: string;
const clock = testClock();
const opened: OpenLedger[] = [];
const open = async (readOnly = false): Promise<OpenLedger> => {
  const ledger = await openSqliteLedger(file, clock, { readOnly });
  opened.push(ledger);
  return ledger;
};
const closeAll = async (): Promise<void> => {
  for (const ledger of opened.splice(0)) await ledger.close();
};
/** Changes the store behind the program's back. */
const tamper = (statement: string): void => {
  const raw = new Database(file);
  raw.exec(statement);
  raw.close();
};

beforeEach(() => {
  folder = mkdtempSync(join(tmpdir(), "coilbook-ledger-"));
  file = join(folder, "data", "ledger.db");
});
afterEach(async () => {
  await closeAll();
  rmSync(folder, { recursive: true, force: true });
});

const coil = (name: string): NewFact => ({ kind: "coil-registered", key: name, payload: { coil: name, order: "O-1", item: "10" } });
const write = (ledger: OpenLedger, ...facts: readonly NewFact[]): Promise<void> =>
  ledger.transaction("worker", async (tx) => {
    for (const fact of facts) await tx.append(fact);
  });
const pragma = async (ledger: OpenLedger, name: string): Promise<unknown> =>
  Object.values((await sql.raw(`pragma ${name}`).execute(ledger.database)).rows[0] as object)[0];

describe("settings that survive a power cut", () => {
  it("are in force on every connection, the second and the reading one too", async () => {
    const [first, second] = [await open(), await open()];
    const reading = await open(true);
    for (const ledger of [first, second, reading]) {
      expect(await pragma(ledger, "journal_mode")).toBe("wal");
      // 2 is FULL: the log is flushed at every commit.
      expect(await pragma(ledger, "synchronous")).toBe(2);
      expect(await pragma(ledger, "foreign_keys")).toBe(1);
      expect(await pragma(ledger, "busy_timeout")).toBe(5000);
    }
  });

  it("are not what the driver gives by itself, so that they must be set", async () => {
    await open();
    await closeAll();
    const raw = new Database(file);
    expect(raw.pragma("synchronous", { simple: true })).toBe(1);
    raw.close();
  });
});

describe("facts", () => {
  it("follow each other by hash, with what each supersedes", async () => {
    const ledger = await open();
    await write(ledger, coil("1"), coil("2"), coil("1"));
    const facts = await ledger.facts();
    expect(facts.map((fact) => [fact.seq, fact.supersedes])).toEqual([
      [1, null],
      [2, null],
      [3, 1],
    ]);
    expect(facts.map((fact) => fact.previousHash)).toEqual(["", facts[0]?.hash, facts[1]?.hash]);
    const rows = await ledger.database.selectFrom("fact").selectAll().orderBy("seq").execute();
    expect(rows.map((row) => factHash(row))).toEqual(facts.map((fact) => fact.hash));
    expect(await ledger.audit()).toEqual([]);
  });

  it.each([
    {
      what: "a payload",
      does: "update fact set payload = replace(payload, 'O-1', 'O-9') where seq = 3",
      text: "fact 3 (coil-registered c3) was altered",
    },
    {
      what: "who recorded it",
      does: "update fact set recorded_by = 'somebody' where seq = 2",
      text: "fact 2 (coil-registered c2) was altered",
    },
    { what: "a fact in the middle", does: "delete from fact where seq = 3", text: "fact 3 is missing" },
    { what: "the first fact", does: "delete from fact where seq = 1", text: "fact 1 is missing" },
    {
      what: "the last fact with its state",
      does: "delete from fact where seq = 5; delete from state where key = 'c5'",
      text: "fact 5 is missing at the end",
    },
    {
      what: "the last two facts with their states",
      does: "delete from fact where seq >= 4; delete from state where key in ('c4', 'c5')",
      text: "facts 4 to 5 are missing at the end",
    },
    { what: "everything", does: "delete from fact; delete from state", text: "facts 1 to 5 are missing at the end" },
    {
      what: "the anchor",
      does: "delete from anchor",
      text: "the anchor, which holds the count and the last hash of the facts, is missing",
    },
    { what: "the count", does: "update anchor set facts = 4", text: "fact 5 was added beside the program" },
    { what: "the last hash", does: "update anchor set last_hash = 'f'", text: "fact 5 is not the one the anchor holds" },
    { what: "a state", does: "update state set value = '{}' where key = 'c2'", text: "state coil c2 is not what its facts give" },
    { what: "a missing state", does: "delete from state where key = 'c2'", text: "state coil c2 is not what its facts give" },
    { what: "an added state", does: "insert into state values ('coil', 'c9', '', '{}')", text: "state coil c9 is not what its facts give" },
    { what: "an owner", does: "update state set owner = 'x' where key = 'c2'", text: "state coil c2 is not what its facts give" },
  ])("audit names $what that was changed", async ({ does, text }) => {
    const ledger = await open();
    await write(ledger, ...["c1", "c2", "c3", "c4", "c5"].map(coil));
    expect(await ledger.audit()).toEqual([]);
    tamper(does);
    expect((await ledger.audit()).map((finding) => finding.text)).toEqual([text]);
  });

  it("that were cut off at the end stay seen although more are written", async () => {
    const ledger = await open();
    await write(ledger, coil("c1"), coil("c2"));
    tamper("delete from fact where seq = 2; delete from state where key = 'c2'");
    await write(ledger, coil("c3"));
    expect((await ledger.audit()).map((finding) => finding.text)).toEqual(["fact 2 is missing"]);
  });
});

describe("a transaction", () => {
  it("writes fact, anchor, state and outbox row, or none of them", async () => {
    const ledger = await open();
    await write(ledger, coil("c1"));
    const everything = async () => ({
      facts: await ledger.database.selectFrom("fact").selectAll().execute(),
      anchor: await ledger.database.selectFrom("anchor").selectAll().execute(),
      states: await ledger.database.selectFrom("state").selectAll().execute(),
      outbox: await ledger.database.selectFrom("outbox").selectAll().execute(),
    });
    const before = await everything();
    const work = (fail: boolean) =>
      ledger.transaction("worker", async (tx) => {
        await tx.append(coil("c2"));
        await tx.enqueue({ job: "answer-file", key: "answer|1", payload: { receipt: "1" } });
        if (fail) throw new Error("the power goes");
      });
    await expect(work(true)).rejects.toThrow("the power goes");
    expect(await everything()).toEqual(before);
    await work(false);
    const after = await everything();
    expect([after.facts.length, after.states.length, after.outbox.length]).toEqual([2, 2, 1]);
  });
});

describe("a store that another process writes to", () => {
  it("is waited for, longer than the driver itself would", async () => {
    const ledger = await open();
    const other = new Database(file);
    other.exec("begin immediate");
    // The driver waits its five seconds without letting this timer run.
    setTimeout(() => other.exec("commit"), 10);
    await write(ledger, coil("c1"));
    other.close();
    expect((await ledger.facts()).length).toBe(1);
  });

  it("is named as away where it cannot be opened", async () => {
    await open();
    const other = new Database(file);
    other.exec("begin immediate");
    await expect(openSqliteLedger(file, clock)).rejects.toThrow(/another process is writing to it/);
    other.exec("commit");
    other.close();
  });
});

describe("numbers", () => {
  const signed = (key: string, number: string): NewFact => ({ kind: "document-signed", key, payload: { number, series: "s", counter: 1 } });

  it("cannot be entered twice, whatever the document", async () => {
    const ledger = await open();
    await write(ledger, signed("certificate-1", "2026-00001"));
    await expect(write(ledger, signed("notice-1", "2026-00001"))).rejects.toThrow(/UNIQUE/);
    expect((await ledger.facts()).length).toBe(1);
    await write(ledger, signed("notice-1", "2026-00002"));
  });
});

describe("states", () => {
  const key = fc.constantFrom("a", "b", "c");
  const fact = fc.oneof(
    fc.record({ kind: fc.constant("coil-registered" as const), key, payload: fc.record({ order: key, item: key, mass: fc.nat() }) }),
    fc.record({ kind: fc.constant("row-read" as const), key, payload: fc.record({ coil: key, row: fc.record({ text: fc.string() }) }) }),
    fc.record({ kind: fc.constant("row-unread" as const), key, payload: fc.record({ coil: key, fileName: fc.string() }) }),
    fc.record({ kind: fc.constant("row-mended" as const), key, payload: fc.record({ by: fc.string() }) }),
    fc.record({ kind: fc.constant("judged" as const), key, payload: fc.record({ verdict: fc.string(), content: fc.string() }) }),
    fc.record({ kind: fc.constant("document-drafted" as const), key, payload: fc.record({ owner: key, status: fc.constant("draft") }) }),
    fc.record({ kind: fc.constant("document-superseded" as const), key, payload: fc.record({ reason: fc.string() }) }),
    fc.record({
      kind: fc.constant("document-signed" as const),
      key,
      payload: fc.record({ series: key, counter: fc.nat(), status: fc.constant("signed") }),
    }),
    fc.record({
      kind: fc.constantFrom("document-written" as const, "document-failed" as const),
      key,
      payload: fc.record({ format: fc.constantFrom("pdf", "xlsx"), path: fc.string(), sha256: fc.string(), reason: fc.string() }),
    }),
    fc.record({ kind: fc.constant("file-received" as const), key, payload: fc.record({ sha256: fc.string(), name: fc.string() }) }),
  );

  it("made again from the facts equal those kept, and audit agrees", async () => {
    await fc.assert(
      fc.asyncProperty(fc.array(fact, { maxLength: 40 }), async (facts) => {
        rmSync(join(folder, "data"), { recursive: true, force: true });
        const ledger = await openSqliteLedger(file, clock);
        try {
          for (const [i, one] of facts.entries())
            await write(ledger, one.kind === "document-signed" ? { ...one, payload: { ...one.payload, number: `N-${i}` } } : one);
          const states = () => ledger.database.selectFrom("state").selectAll().orderBy("kind").orderBy("key").execute();
          const kept = await states();
          expect(await ledger.audit()).toEqual([]);
          await ledger.rebuild();
          expect(await states()).toEqual(kept);
        } finally {
          await ledger.close();
        }
      }),
      { numRuns: 40, seed: 20_260_303 },
    );
  });
});

describe("opening", () => {
  it.each(MIGRATIONS.slice(0, -1).map((_, i) => i + 1))("brings up schema %i and makes its states again", async (version) => {
    const ledger = await open();
    await write(ledger, coil("c1"), coil("c2"));
    const facts = await ledger.database.selectFrom("fact").selectAll().execute();
    await closeAll();
    rmSync(join(folder, "data"), { recursive: true });
    mkdirSync(join(folder, "data"));
    const raw = new Database(file);
    for (const statement of MIGRATIONS.slice(0, version).flat()) raw.exec(statement);
    const names = Object.keys(facts[0] ?? {});
    const insert = raw.prepare(`insert into fact (${names.join(", ")}) values (${names.map((name) => `@${name}`).join(", ")})`);
    for (const fact of facts) insert.run(fact);
    if (version >= 2) raw.prepare("update anchor set facts = 2, last_hash = ?").run(facts[1]?.hash);
    raw.exec(`insert into job (key, name, payload, state) values ('j', 'answer-file', '{}', 'waiting');
      create table schema_version (version integer not null); insert into schema_version values (${version})`);
    raw.close();
    const later = await open();
    expect(await later.audit()).toEqual([]);
    expect((await later.list("coil")).map((state) => state.key)).toEqual(["c1", "c2"]);
    expect(await later.database.selectFrom("job").select(["key", "priority"]).execute()).toEqual([{ key: "j", priority: 0 }]);
    await write(later, coil("c3"));
    expect(await later.audit()).toEqual([]);
  });

  it("refuses a schema it does not know and leaves it alone", async () => {
    await open();
    await closeAll();
    tamper(`update schema_version set version = ${MIGRATIONS.length + 1}`);
    await expect(open()).rejects.toThrow(
      `schema ${MIGRATIONS.length + 1} is newer than this program knows (${MIGRATIONS.length}); update the program`,
    );
    await expect(open()).rejects.toBeInstanceOf(ServiceAway);
  });

  /** The number of a process that is no more. */
  const deadProcess = (): number => spawnSync(process.execPath, ["-e", ""]).pid;
  const leaveUnclean = (): void =>
    tamper(`insert into session (id, host, pid, process_started) values ('gone', '${hostname()}', ${deadProcess()}, 0);
      insert into job (key, name, payload, state, attempts, locked_until, locked_by) values ('j', 'answer-file', '{}', 'running', 1, 9e15, 'gone')`);

  it("after an unclean stop frees the jobs of the dead process at once", async () => {
    await open();
    await closeAll();
    leaveUnclean();
    const ledger = await open();
    const jobs = await ledger.database.selectFrom("job").select(["key", "locked_until"]).execute();
    expect(jobs).toEqual([{ key: "j", locked_until: 0 }]);
    expect((await ledger.database.selectFrom("session").select("id").execute()).map((s) => s.id)).toEqual([ledger.session]);
  });

  it("after an unclean stop refuses a damaged file, and only looks then", async () => {
    const ledger = await open();
    await write(ledger, ...Array.from({ length: 200 }, (_, i) => coil(`c${i}`)));
    await closeAll();
    leaveUnclean();
    // A page in the middle that is no page.
    const handle = openSync(file, "r+");
    writeSync(handle, new Uint8Array(4096).fill(0xa5), 0, 4096, Math.floor(statSync(file).size / 4096 / 2) * 4096);
    closeSync(handle);
    await expect(open()).rejects.toThrow(/is damaged after an unclean stop .*restore a backup/);
  });

  it("leaves the jobs of a process that lives", async () => {
    const [one] = [await open()];
    await one.database
      .insertInto("job")
      .values({
        key: "j",
        name: "answer-file",
        payload: "{}",
        state: "running",
        attempts: 1,
        run_after: 0,
        locked_until: 9e15,
        locked_by: one.session,
        error: "",
        priority: 0,
      })
      .execute();
    const two = await open();
    expect((await two.database.selectFrom("job").select("locked_until").executeTakeFirst())?.locked_until).toBe(9e15);
    await two.close();
    opened.splice(opened.indexOf(two), 1);
    expect((await one.database.selectFrom("session").select("id").execute()).length).toBe(1);
  });
});
