/** Recomputes the chain of facts and every state, at one instant and without holding up a writer. */
import { type Kysely, sql } from "kysely";
import type { AuditFinding, Fact } from "../ports/ledger.ts";
import { factHash, toFact } from "./facts.ts";
import { applyFact, statesInMemory } from "./states.ts";
import type { Tables } from "./tables.ts";

type Row = Tables["fact"];

/** What each store says to see everything as of one instant; each is one statement. */
export type SnapshotStatement = "begin" | "begin isolation level repeatable read read only";

/** @returns the first thing wrong with the chain, or every state that the facts do not give */
export async function auditLedger(database: Kysely<Tables>, snapshot: SnapshotStatement): Promise<readonly AuditFinding[]> {
  return database.connection().execute(async (db) => {
    // One snapshot for facts, anchor and states: what a writer commits meanwhile is not seen half.
    await sql.raw(snapshot).execute(db);
    try {
      const rows = await db.selectFrom("fact").selectAll().orderBy("seq").execute();
      const anchor = await db.selectFrom("anchor").selectAll().where("id", "=", 1).executeTakeFirst();
      const broken = brokenChain(rows) ?? brokenAnchor(rows.at(-1), anchor);
      return broken === undefined ? await differingStates(db, rows.map(toFact)) : [broken];
    } finally {
      await sql`rollback`.execute(db);
    }
  });
}

function brokenChain(rows: readonly Row[]): AuditFinding | undefined {
  let previous = "";
  let expected = 1;
  for (const row of rows) {
    const name = `fact ${row.seq} (${row.kind} ${row.key})`;
    if (row.seq !== expected) return { seq: expected, text: `fact ${expected} is missing` };
    if (factHash(row) !== row.hash) return { seq: row.seq, text: `${name} was altered` };
    if (row.previous_hash !== previous) return { seq: row.seq, text: `${name} does not follow the one before it` };
    previous = row.hash;
    expected += 1;
  }
  return undefined;
}

/** The chain alone cannot show that its end is missing. */
function brokenAnchor(last: Row | undefined, anchor: Tables["anchor"] | undefined): AuditFinding | undefined {
  if (anchor === undefined) return { text: "the anchor, which holds the count and the last hash of the facts, is missing" };
  const count = last?.seq ?? 0;
  if (count < anchor.facts) {
    const which = count + 1 === anchor.facts ? `fact ${anchor.facts} is` : `facts ${count + 1} to ${anchor.facts} are`;
    return { seq: count + 1, text: `${which} missing at the end` };
  }
  if (count > anchor.facts) return { seq: anchor.facts + 1, text: `fact ${anchor.facts + 1} was added beside the program` };
  return (last?.hash ?? "") === anchor.last_hash ? undefined : { seq: count, text: `fact ${count} is not the one the anchor holds` };
}

async function differingStates(db: Kysely<Tables>, facts: readonly Fact[]): Promise<readonly AuditFinding[]> {
  const kept = new Map(
    (await db.selectFrom("state").selectAll().orderBy("kind").orderBy("key").execute()).map((row) => [`${row.kind} ${row.key}`, row]),
  );
  const { states, rows: rebuilt } = statesInMemory();
  for (const fact of facts) await applyFact(states, fact);
  return [...new Set([...kept.keys(), ...rebuilt.keys()])]
    .filter((key) => {
      const [a, b] = [kept.get(key), rebuilt.get(key)];
      return a?.owner !== b?.owner || a?.value !== b?.value;
    })
    .map((key) => ({ text: `state ${key} is not what its facts give` }));
}
