/** How a fact is sealed and stored. */
import { createHash } from "node:crypto";
import { canonicalContent } from "../../core/spec/index.ts";
import type { Fact, FactKind, NewFact } from "../ports/ledger.ts";
import { applyFact, storedStates } from "./states.ts";
import type { Db, Tables } from "./tables.ts";

export type Origin = Pick<Fact, "recordedAt" | "recordedBy" | "account" | "program">;
type Row = Tables["fact"];

export const toFact = (row: Row): Fact => ({
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

/** SHA-256 over everything the fact says and the hash of the one before. */
export const factHash = (row: Omit<Row, "hash">): string =>
  createHash("sha256")
    .update(
      canonicalContent({
        seq: row.seq,
        kind: row.kind,
        key: row.key,
        payload: row.payload,
        recordedAt: row.recorded_at,
        recordedBy: row.recorded_by,
        account: row.account,
        program: row.program,
        supersedes: row.supersedes,
        previousHash: row.previous_hash,
      }),
    )
    .digest("hex");

/**
 * The fact, the anchor and the states it leads to, inside the caller's transaction.
 * It follows the anchor, not the last row: where rows are missing at the end, the gap stays to be seen.
 */
export async function appendFact(db: Db, fact: NewFact, origin: Origin): Promise<Fact> {
  const anchor = await db.selectFrom("anchor").selectAll().where("id", "=", 1).executeTakeFirstOrThrow();
  const before = await db
    .selectFrom("fact")
    .select("seq")
    .where("kind", "=", fact.kind)
    .where("key", "=", fact.key)
    .orderBy("seq", "desc")
    .limit(1)
    .executeTakeFirst();
  const unsealed: Omit<Row, "hash"> = {
    seq: anchor.facts + 1,
    kind: fact.kind,
    key: fact.key,
    payload: canonicalContent(fact.payload),
    recorded_at: origin.recordedAt,
    recorded_by: origin.recordedBy,
    account: origin.account,
    program: origin.program,
    supersedes: before?.seq ?? null,
    previous_hash: anchor.last_hash,
  };
  const row: Row = { ...unsealed, hash: factHash(unsealed) };
  await db.insertInto("fact").values(row).execute();
  await db.updateTable("anchor").set({ facts: row.seq, last_hash: row.hash }).where("id", "=", 1).execute();
  const made = toFact(row);
  await applyFact(storedStates(db), made);
  return made;
}
