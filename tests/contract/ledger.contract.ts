/** What every store of the ledger does. Rules: the project's contract, sections 4 and 8; the tampering is invented. */
import fc from "fast-check";
import { sql } from "kysely";
import { afterEach, beforeEach, describe, expect, it } from "vitest";
import { factHash } from "../../worker/ledger/facts.ts";
import type { OpenLedger } from "../../worker/ledger/open-ledger.ts";
import type { NewFact } from "../../worker/ports/ledger.ts";

export interface LedgerHome {
  open(): Promise<OpenLedger>;
  remove(): Promise<void>;
}

const coil = (name: string): NewFact => ({ kind: "coil-registered", key: name, payload: { coil: name, order: "O-1", item: "10" } });
const write = (ledger: OpenLedger, ...facts: readonly NewFact[]): Promise<void> =>
  ledger.transaction("worker", async (tx) => {
    for (const fact of facts) await tx.append(fact);
  });
const everything = async ({ database }: OpenLedger) => ({
  facts: await database.selectFrom("fact").selectAll().orderBy("seq").execute(),
  anchor: await database.selectFrom("anchor").selectAll().execute(),
  states: await database.selectFrom("state").selectAll().orderBy("kind").orderBy("key").execute(),
  outbox: await database.selectFrom("outbox").selectAll().orderBy("id").execute(),
});

/** @param makeHome a new, empty place for one ledger */
export function ledgerContract(name: string, makeHome: () => Promise<LedgerHome>): void {
  describe(`${name}: a ledger`, () => {
    let home: LedgerHome;
    const opened: OpenLedger[] = [];
    const open = async (): Promise<OpenLedger> => {
      const ledger = await home.open();
      opened.push(ledger);
      return ledger;
    };
    beforeEach(async () => {
      home = await makeHome();
    });
    afterEach(async () => {
      for (const ledger of opened.splice(0)) await ledger.close();
      await home.remove();
    });

    it("chains its facts by hash, with what each supersedes", async () => {
      const ledger = await open();
      await write(ledger, coil("1"), coil("2"), coil("1"));
      const facts = await ledger.facts();
      expect(facts.map((fact) => [fact.seq, fact.supersedes])).toEqual([
        [1, null],
        [2, null],
        [3, 1],
      ]);
      expect(facts.map((fact) => fact.previousHash)).toEqual(["", facts[0]?.hash, facts[1]?.hash]);
      expect((await everything(ledger)).facts.map(factHash)).toEqual(facts.map((fact) => fact.hash));
      expect(await ledger.audit()).toEqual([]);
    });

    it("gives keys in the order of their bytes, whatever the language of the server", async () => {
      const ledger = await open();
      const names = ["b", "A", "a", "B", "ä", "Z", "10", "9", "_", "-", "a b", "ab", "µ"];
      await write(ledger, ...names.map(coil));
      const byBytes = [...names].sort((a, b) => Buffer.compare(Buffer.from(a), Buffer.from(b)));
      expect((await ledger.list("coil")).map((state) => state.key)).toEqual(byBytes);
      expect((await ledger.list("coil", "O-1/10")).map((state) => state.key)).toEqual(byBytes);
    });

    it("finds facts by kind, key and time", async () => {
      const ledger = await open();
      await write(ledger, coil("1"), { kind: "row-read", key: "r", payload: { coil: "1", row: {} } });
      expect((await ledger.facts({ kinds: ["row-read"] })).map((fact) => fact.seq)).toEqual([2]);
      expect((await ledger.facts({ key: "1" })).map((fact) => fact.seq)).toEqual([1]);
      expect(await ledger.facts({ until: "2000-01-01T00:00:00.000Z" })).toEqual([]);
    });

    it("writes fact, anchor, state and outbox row, or none of them", async () => {
      const ledger = await open();
      await write(ledger, coil("c1"));
      const before = await everything(ledger);
      const work = (fail: boolean) =>
        ledger.transaction("worker", async (tx) => {
          await tx.append(coil("c2"));
          await tx.enqueue({ job: "answer-file", key: "answer|1", payload: { receipt: "1" } });
          if (fail) throw new Error("the power goes");
        });
      await expect(work(true)).rejects.toThrow("the power goes");
      expect(await everything(ledger)).toEqual(before);
      await work(false);
      const after = await everything(ledger);
      expect([after.facts.length, after.states.length, after.outbox.length]).toEqual([2, 2, 1]);
    });

    it.each([
      ["a payload", "update fact set payload = replace(payload, 'O-1', 'O-9') where seq = 3", "fact 3 (coil-registered c3) was altered"],
      ["who recorded it", "update fact set recorded_by = 'somebody' where seq = 2", "fact 2 (coil-registered c2) was altered"],
      ["a fact in the middle", "delete from fact where seq = 3", "fact 3 is missing"],
      ["the last facts", "delete from fact where seq >= 4", "facts 4 to 5 are missing at the end"],
      ["the anchor", "delete from anchor", "the anchor, which holds the count and the last hash of the facts, is missing"],
      ["the count", "update anchor set facts = 4", "fact 5 was added beside the program"],
      ["a state", "update state set value = '{}' where key = 'c2'", "state coil c2 is not what its facts give"],
      ["an added state", "insert into state values ('coil', 'c9', '', '{}')", "state coil c9 is not what its facts give"],
      ["an owner", "update state set owner = 'x' where key = 'c2'", "state coil c2 is not what its facts give"],
    ])("names in its audit %s that was changed", async (_what, does, text) => {
      const ledger = await open();
      await write(ledger, ...["c1", "c2", "c3", "c4", "c5"].map(coil));
      expect(await ledger.audit()).toEqual([]);
      await sql.raw(does).execute(ledger.database);
      expect((await ledger.audit()).map((finding) => finding.text)).toEqual([text]);
    });

    it("takes a number once, whatever the document", async () => {
      const ledger = await open();
      const signed = (key: string, number: string): NewFact => ({
        kind: "document-signed",
        key,
        payload: { number, series: "s", counter: 1 },
      });
      await write(ledger, signed("certificate-1", "2026-00001"));
      await expect(write(ledger, signed("notice-1", "2026-00001"))).rejects.toThrow(/unique/i);
      expect((await ledger.facts()).length).toBe(1);
      await write(ledger, signed("notice-1", "2026-00002"));
    });

    it("opened three times at once, new, is made once; writers follow each other without gap or double", async () => {
      const ledgers = await Promise.all([open(), open(), open()]);
      const count = async (ledger: OpenLedger, writer: string): Promise<void> => {
        for (let i = 0; i < 6; i += 1)
          await ledger.transaction(writer, async (tx) => {
            const counter = ((await tx.get<{ last: number }>("series", "s"))?.last ?? 0) + 1;
            await tx.append({ kind: "document-signed", key: `${writer}${i}`, payload: { series: "s", counter, number: `N${counter}` } });
          });
      };
      await Promise.all(ledgers.map((ledger, i) => count(ledger, `w${i}`)));
      const facts = (await ledgers[0]?.facts()) ?? [];
      expect(facts.map((fact) => (fact.payload as { number: string }).number)).toEqual(Array.from({ length: 18 }, (_, i) => `N${i + 1}`));
      expect(await ledgers[1]?.audit()).toEqual([]);
    });

    it("made again from its facts equals what was kept", async () => {
      const key = fc.constantFrom("a", "b", "c");
      const fact = fc.oneof(
        fc.record({ kind: fc.constant("coil-registered" as const), key, payload: fc.record({ order: key, item: key, mass: fc.nat() }) }),
        fc.record({ kind: fc.constant("row-unread" as const), key, payload: fc.record({ coil: key, fileName: fc.string() }) }),
        fc.record({ kind: fc.constant("row-mended" as const), key, payload: fc.record({ by: fc.string() }) }),
        fc.record({
          kind: fc.constant("document-drafted" as const),
          key,
          payload: fc.record({ owner: key, status: fc.constant("draft") }),
        }),
        fc.record({
          kind: fc.constantFrom("document-written" as const, "document-failed" as const),
          key,
          payload: fc.record({ format: fc.constantFrom("pdf", "xlsx"), path: fc.string(), sha256: fc.string(), reason: fc.string() }),
        }),
      );
      const ledger = await open();
      await fc.assert(
        fc.asyncProperty(fc.array(fact, { maxLength: 30 }), async (facts) => {
          await write(ledger, ...facts);
          const kept = (await everything(ledger)).states;
          expect(await ledger.audit()).toEqual([]);
          await ledger.rebuild();
          expect((await everything(ledger)).states).toEqual(kept);
        }),
        { numRuns: 8, seed: 20_260_303 },
      );
    });
  });
}
