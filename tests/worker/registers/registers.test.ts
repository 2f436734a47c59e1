/** Who may change registers: the contract, section 5 ("changed only by a named person with the role"). Names are invented. */
import { mkdtempSync, rmSync } from "node:fs";
import { tmpdir, userInfo } from "node:os";
import { join } from "node:path";
import { afterEach, beforeEach, describe, expect, it } from "vitest";
import { RuleRefusal, UsageError } from "../../../worker/errors.ts";
import type { OpenLedger } from "../../../worker/ledger/open-ledger.ts";
import { openSqliteLedger } from "../../../worker/ledger/sqlite-ledger.ts";
import { addInstrumentRange, addPerson, putCustomer, type Role } from "../../../worker/registers.ts";
import { testClock } from "../work/lab.ts";

let folder: string;
let ledger: OpenLedger;
beforeEach(async () => {
  folder = mkdtempSync(join(tmpdir(), "coilbook-registers-"));
  ledger = await openSqliteLedger(join(folder, "ledger.db"), testClock());
});
afterEach(async () => {
  await ledger.close();
  rmSync(folder, { recursive: true, force: true });
});

const person = (name: string, roles: readonly Role[], by?: string) => addPerson(ledger, { name, roles }, by);
const facts = async (): Promise<number> => (await ledger.facts()).length;

describe("the first people of a lab", () => {
  it("enter without an appointer until somebody may appoint", async () => {
    await person("Bo Ferrant", ["bench"]);
    await person("Wren Hollis", ["clerk"]);
    expect((await person("Ada Thornquist", ["quality"])).appointedBy).toBeUndefined();
    // One person may appoint: that one is meant. With two, one must be named.
    expect((await person("Ivo Marlstone", ["quality"])).appointedBy).toBe("Ada Thornquist");
    await expect(person("Sal Birch", ["sales"])).rejects.toBeInstanceOf(UsageError);
    expect((await person("Sal Birch", ["sales"], "Ada Thornquist")).appointedBy).toBe("Ada Thornquist");
  });

  it("may name themselves, and nobody else", async () => {
    await expect(person("Ada Thornquist", ["admin"], "Nobody Known")).rejects.toBeInstanceOf(RuleRefusal);
    expect((await person("Ada Thornquist", ["admin"], "Ada Thornquist")).appointedBy).toBe("Ada Thornquist");
  });
});

describe("in a lab with people", () => {
  beforeEach(async () => {
    await person("Ada Thornquist", ["admin"]);
    for (const [name, role] of [
      ["Quin Sorrel", "quality"],
      ["Sal Birch", "sales"],
      ["Bo Ferrant", "bench"],
      ["Wren Hollis", "clerk"],
    ] as const)
      await person(name, [role], "Ada Thornquist");
  });

  const changes = {
    person: (by?: string) => person("New Person", ["admin"], by),
    "own role": (by?: string) => person(by ?? "Bo Ferrant", ["admin"], by),
    customer: (by?: string) => putCustomer(ledger, { name: "Oxlip", email: [], address: [] }, by),
    instrument: (by?: string) => addInstrumentRange(ledger, { instrument: "TT-1", dueOn: "2030-01-01" }, by),
  };
  it.each([
    { what: "person", by: undefined, ends: UsageError },
    { what: "person", by: "Nobody Known", ends: RuleRefusal },
    { what: "person", by: "Bo Ferrant", ends: RuleRefusal },
    { what: "person", by: "Wren Hollis", ends: RuleRefusal },
    { what: "person", by: "Sal Birch", ends: RuleRefusal },
    { what: "person", by: "New Person", ends: RuleRefusal },
    { what: "person", by: "Quin Sorrel", ends: "done" },
    { what: "person", by: "Ada Thornquist", ends: "done" },
    { what: "own role", by: "Bo Ferrant", ends: RuleRefusal },
    { what: "own role", by: undefined, ends: UsageError },
    { what: "customer", by: "Bo Ferrant", ends: RuleRefusal },
    { what: "customer", by: "Wren Hollis", ends: RuleRefusal },
    { what: "customer", by: "Nobody Known", ends: RuleRefusal },
    { what: "customer", by: "Sal Birch", ends: "done" },
    { what: "customer", by: "Quin Sorrel", ends: "done" },
    { what: "customer", by: "Ada Thornquist", ends: "done" },
    { what: "instrument", by: "Bo Ferrant", ends: RuleRefusal },
    { what: "instrument", by: "Sal Birch", ends: RuleRefusal },
    { what: "instrument", by: "Nobody Known", ends: RuleRefusal },
    { what: "instrument", by: "Quin Sorrel", ends: "done" },
    { what: "instrument", by: "Ada Thornquist", ends: "done" },
  ] as const)("$what changed by $by", async ({ what, by, ends }) => {
    const before = await facts();
    const changed = changes[what](by);
    if (ends === "done") {
      await changed;
      expect((await ledger.facts()).at(-1)?.recordedBy).toBe(by);
      expect(await facts()).toBe(before + 1);
    } else {
      await expect(changed).rejects.toBeInstanceOf(ends);
      expect(await facts()).toBe(before);
    }
  });

  it("a change without a name stands under the account, never under somebody's name", async () => {
    await changes.customer();
    expect((await ledger.facts()).at(-1)?.recordedBy).toBe(`account ${userInfo().username}`);
    await changes.instrument();
    expect((await ledger.facts()).at(-1)?.recordedBy).toBe(`account ${userInfo().username}`);
  });

  it("calibrations are added, and the earlier ones stay", async () => {
    await addInstrumentRange(ledger, { instrument: "TT-1", dueOn: "2026-01-01" }, "Quin Sorrel");
    const ranges = await addInstrumentRange(ledger, { instrument: "TT-1", dueOn: "2027-01-01" }, "Quin Sorrel");
    expect(ranges.map((range) => range.dueOn)).toEqual(["2026-01-01", "2027-01-01"]);
  });
});
