/** Several processes on one ledger, as two workers and a command are. */
import { spawn } from "node:child_process";
import { join } from "node:path";
import { pathToFileURL } from "node:url";
import { afterAll, describe, expect, it } from "vitest";
import { systemClock } from "../../../worker/clock.ts";
import { openSqliteLedger } from "../../../worker/ledger/sqlite-ledger.ts";
import { projectPath, temporaryFolder } from "../../helpers/cli.ts";

const folder = temporaryFolder();
afterAll(folder.remove);
const compiled = (path: string): string => pathToFileURL(projectPath("dist", "worker", path)).href;

/** Opens the ledger in a process of its own and writes facts one by one, each with a number from one counter. */
const writer = (file: string, name: string, count: number): Promise<number | null> => {
  const program = `
    import { openSqliteLedger } from ${JSON.stringify(compiled("ledger/sqlite-ledger.js"))};
    import { systemClock } from ${JSON.stringify(compiled("clock.js"))};
    const ledger = await openSqliteLedger(${JSON.stringify(file)}, systemClock);
    for (let i = 0; i < ${count}; i += 1)
      await ledger.transaction(${JSON.stringify(name)}, async (tx) => {
        const counter = ((await tx.get("series", "s"))?.last ?? 0) + 1;
        await tx.append({ kind: "document-signed", key: ${JSON.stringify(name)} + i, payload: { series: "s", counter, number: "N" + counter } });
      });
    await ledger.close();`;
  const child = spawn(process.execPath, ["--input-type=module", "-e", program], { stdio: ["ignore", "ignore", "inherit"] });
  return new Promise((resolve) => child.on("exit", resolve));
};

describe("three processes", () => {
  it("open a new ledger at the same time, write without losing or doubling a number, and are audited meanwhile", async () => {
    const file = join(folder.path, "ledger.db");
    const writing = Promise.all(["a", "b", "c"].map((name) => writer(file, name, 60)));
    let ended = false;
    writing.finally(() => {
      ended = true;
    });
    const audits: unknown[] = [];
    const ledger = await openSqliteLedger(file, systemClock);
    while (!ended) {
      audits.push(...(await ledger.audit()));
      await new Promise((resolve) => setTimeout(resolve, 5));
    }
    expect(await writing).toEqual([0, 0, 0]);
    expect(audits).toEqual([]);
    const facts = await ledger.facts();
    expect(facts.map((fact) => fact.seq)).toEqual(Array.from({ length: 180 }, (_, i) => i + 1));
    expect(facts.map((fact) => (fact.payload as { number: string }).number)).toEqual(Array.from({ length: 180 }, (_, i) => `N${i + 1}`));
    expect(await ledger.audit()).toEqual([]);
    await ledger.close();
  });
});
