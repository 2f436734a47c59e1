/** A ledger that was exported and taken into an empty one gives the same states; one that was touched on the way is refused. */
import { mkdtempSync, readFileSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { afterEach, expect, it } from "vitest";
import { z } from "zod";
import { QUALITY } from "../../../templates/example/scenario.ts";
import type { OpenLedger } from "../../../worker/ledger/open-ledger.ts";
import { openSqliteLedger } from "../../../worker/ledger/sqlite-ledger.ts";
import { exportLines, exportSchema, importLines } from "../../../worker/ledger/transfer.ts";
import { hold } from "../../../worker/quality/wire.ts";
import { book, plan, type TestLab, testClock, testLab } from "../work/lab.ts";

let lab: TestLab;
let other: OpenLedger | undefined;
const folder = mkdtempSync(join(tmpdir(), "coilbook-export-"));
afterEach(async () => {
  await lab.remove();
  await other?.close();
  other = undefined;
  rmSync(folder, { recursive: true, force: true });
});

async function exported(): Promise<readonly string[]> {
  lab = await testLab();
  await lab.take("a.xlsx", book(plan(), { stories: ["strength-below"] }));
  await hold(lab.workshop, { scope: "coil", id: "90002" }, { why: "rust", by: QUALITY });
  const lines: string[] = [];
  for await (const line of exportLines(lab.workshop.ledger)) lines.push(line);
  return lines;
}
const into = async (lines: readonly string[]): Promise<{ facts: number }> => {
  const empty = mkdtempSync(join(tmpdir(), "coilbook-import-"));
  const file = join(empty, "ledger.jsonl");
  writeFileSync(file, `${lines.join("\n")}\n`);
  other = await openSqliteLedger(join(empty, "ledger.db"), testClock());
  return importLines(other, file);
};
const statesOf = (ledger: OpenLedger): Promise<readonly object[]> =>
  ledger.database.selectFrom("state").selectAll().orderBy("kind").orderBy("key").execute();

it("gives the same facts and states, and the audit agrees", async () => {
  const lines = await exported();
  const { facts } = await into(lines);
  expect(facts).toBe(lines.length - 1);
  expect(await statesOf(other as OpenLedger)).toEqual(await statesOf(lab.workshop.ledger));
  expect(await other?.facts()).toEqual(await lab.workshop.ledger.facts());
  expect(await other?.audit()).toEqual([]);
  // The chain goes on from where it was.
  await other?.transaction("worker", (tx) => tx.append({ kind: "customer-changed", key: "K", payload: { name: "K" } }));
  expect(await other?.audit()).toEqual([]);
});

it("every line is of the published schema", async () => {
  const schema = z.fromJSONSchema(exportSchema() as Parameters<typeof z.fromJSONSchema>[0]);
  for (const line of await exported()) expect(schema.safeParse(JSON.parse(line)).success).toBe(true);
});

it.each([
  { name: "a changed reading", edit: (l: string[]) => l.map((line) => line.replace('"text":"200"', '"text":"201"')), text: /was altered/ },
  { name: "a line that is missing", edit: (l: string[]) => l.filter((_, i) => i !== 5), text: /line 6: found fact 6, accepted is fact 5/ },
  {
    name: "two lines in another order",
    edit: ([a, b, c, ...l]: string[]) => [a, c, b, ...l] as string[],
    text: /found fact 2, accepted is fact 1/,
  },
  { name: "an end that is missing", edit: (l: string[]) => l.slice(0, -1), text: /the end is missing/ },
  { name: "another file", edit: () => ['{"a":1}'], text: /line 1: schema/ },
  { name: "no JSON", edit: (l: string[]) => [...l, "x"], text: /no valid JSON/ },
])("refuses $name and keeps nothing", async ({ edit, text }) => {
  const lines = await exported();
  const edited = edit([...lines]);
  expect(edited).not.toEqual(lines);
  await expect(into(edited)).rejects.toThrow(text);
  expect(await other?.facts()).toEqual([]);
});

it("refuses a ledger that holds facts", async () => {
  const lines = await exported();
  const file = join(lab.folder, "x.jsonl");
  writeFileSync(file, lines.join("\n"));
  await expect(importLines(lab.workshop.ledger, file)).rejects.toThrow(/this ledger holds \d+ facts; accepted is an empty one/);
  expect(readFileSync(file, "utf8").split("\n").length).toBe(lines.length);
});
