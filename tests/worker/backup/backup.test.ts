/** The restore drill: a lab is worked, backed up, lost, and stands again. Rule: nothing differs, by audit, rejudgement and bytes. */
import { appendFileSync, existsSync, readdirSync, readFileSync, rmSync, statSync, writeFileSync } from "node:fs";
import { join } from "node:path";
import { afterAll, beforeAll, describe, expect, it } from "vitest";
import { coilbook, expectRun, temporaryFolder } from "../../helpers/cli.ts";
import { dropSamples, makeSampleLab, manifest } from "../../helpers/sample-lab.ts";
import { startPostgres, type TestPostgres } from "../../helpers/services.ts";
import { describeWith } from "../../helpers/tools.ts";

const { today, coils } = manifest();

function drill(name: string, prepare: () => Promise<{ env: Record<string, string>; empty: () => Promise<Record<string, string>> }>): void {
  describe(`${name}: a backup`, () => {
    const folder = temporaryFolder();
    const lab = join(folder.path, "lab");
    const store = join(folder.path, "store");
    let env: Record<string, string>;
    let emptyEnv: () => Promise<Record<string, string>>;
    let made: { folder: string; facts: number; files: number };
    const issued = (where: string): readonly (readonly [string, string])[] =>
      readdirSync(join(where, "documents"), { recursive: true, withFileTypes: true })
        .filter((entry) => entry.isFile())
        .map((entry) => join(entry.parentPath, entry.name))
        .sort()
        .map((path) => [path.slice(where.length), readFileSync(path).toString("base64")] as const);

    beforeAll(async () => {
      const prepared = await prepare();
      env = { ...prepared.env, COILBOOK_DOCUMENTS_FORMATS: "xlsx" };
      emptyEnv = async () => ({ ...(await prepared.empty()), COILBOOK_DOCUMENTS_FORMATS: "xlsx" });
      makeSampleLab(lab, env);
      dropSamples(lab, "inbox");
      expectRun([0], ["work", "--drain", "--lab", lab, "--today", today], { env });
      made = JSON.parse(expectRun([0], ["backup", "--json", "--out", store, "--lab", lab], { env }).out) as typeof made;
    }, 240_000);
    afterAll(() => folder.remove());

    it("gives the same lab again after everything is lost", async () => {
      const before = issued(lab);
      expect(before.length).toBeGreaterThan(2);
      const asked = ["why", coils[0]?.coil ?? "", "--json", "--lab"];
      const why = expectRun([0], [...asked, lab], { env }).out;
      const again = join(folder.path, "again");
      const fresh = await emptyEnv();
      expectRun([0], ["restore", made.folder, "--lab", again], { env: fresh });
      expect(issued(again)).toEqual(before);
      expectRun([0], ["audit", "--lab", again], { env: fresh });
      expectRun([0], ["rejudge", "--lab", again, "--today", today], { env: fresh });
      expect(expectRun([0], [...asked, again], { env: fresh }).out).toBe(why);
      // Nothing is left to do, nothing is issued twice.
      expect(expectRun([0], ["work", "--drain", "--lab", again, "--today", today], { env: fresh }).out).toContain(
        "0 files (0 refused), 0 jobs done",
      );
      dropSamples(again, "inbox");
      expectRun([0], ["work", "--drain", "--lab", again, "--today", today], { env: fresh });
      expect(issued(again)).toEqual(before);
      for (const path of readdirSync(join(again, "data", "keys"), { recursive: true, withFileTypes: true }).filter((entry) =>
        entry.isFile(),
      ))
        expect(statSync(join(path.parentPath, path.name)).mode & 0o077).toBe(0);
      expect(statSync(made.folder).mode & 0o077).toBe(0);
    }, 120_000);

    it("goes into no folder that holds a lab", async () => {
      const done = coilbook(["restore", made.folder, "--lab", lab], { env: await emptyEnv() });
      expect([done.status, done.err]).toEqual([64, `coilbook: ${lab}: holds a lab already; accepted is a folder without coilbook.json\n`]);
    });

    it("that was altered is refused, names the file, and writes nothing", async () => {
      const other = JSON.parse(
        expectRun([0], ["backup", "--json", "--out", join(folder.path, "other"), "--lab", lab], { env }).out,
      ) as typeof made;
      const target = join(folder.path, "none");
      const kept = join(other.folder, "kept", readdirSync(join(other.folder, "kept"))[0] ?? "");
      rmSync(kept);
      const missing = coilbook(["restore", other.folder, "--lab", target], { env: await emptyEnv() });
      expect([missing.status, missing.err]).toEqual([
        2,
        expect.stringMatching(/^coilbook: restore: kept\/\w+\.xlsx is missing in the backup\n$/),
      ]);
      writeFileSync(kept, "another");
      expect(coilbook(["restore", other.folder, "--lab", target], { env: await emptyEnv() }).err).toMatch(/kept\/\w+\.xlsx was altered/);
      appendFileSync(join(other.folder, "stray"), "x");
      expect(coilbook(["restore", other.folder, "--lab", target], { env: await emptyEnv() }).err).toMatch(
        /stray is not in the backup's list/,
      );
      expect(existsSync(target)).toBe(false);
    });
  });
}

drill("SQLite", async () => ({ env: {}, empty: async () => ({}) }));

describeWith(["postgres"], "with PostgreSQL", () => {
  let postgres: TestPostgres;
  beforeAll(async () => {
    postgres = await startPostgres();
  });
  afterAll(() => postgres.remove());
  const empty = async (): Promise<Record<string, string>> => ({ COILBOOK_LEDGER_URL: await postgres.database() });
  drill("PostgreSQL", async () => ({ env: await empty(), empty }));
});

describe("backups", () => {
  it("are kept as many as asked for", () => {
    const folder = temporaryFolder();
    const lab = join(folder.path, "lab");
    const store = join(folder.path, "store");
    expectRun([0], ["init", lab]);
    for (let i = 0; i < 3; i += 1) expectRun([0], ["backup", "--out", store, "--keep", "2", "--lab", lab]);
    expect(readdirSync(store).length).toBe(2);
    const wrong = coilbook(["backup", "--out", store, "--keep", "none", "--lab", lab]);
    expect([wrong.status, wrong.err]).toEqual([64, 'coilbook: --keep: found "none", accepted is a count from 1 to 9999\n']);
    folder.remove();
  });
});
