/**
 * A disk that is full, a folder that may not be written to, a ledger that another process holds: what the user reads, and that nothing is
 * lost. Real file systems of the test's own (tmpfs), without a hook in the program; where none may be mounted the tests are skipped, counted.
 */
import { type ChildProcess, spawn, spawnSync } from "node:child_process";
import { existsSync, mkdirSync, readdirSync, readFileSync, rmSync, writeFileSync } from "node:fs";
import { join } from "node:path";
import Database from "better-sqlite3";
import { afterAll, afterEach, beforeEach, describe, expect, it } from "vitest";
import { coilbook, expectRun, projectPath, temporaryFolder } from "../helpers/cli.ts";
import { makeSampleLab, samplePath } from "../helpers/sample-lab.ts";

const folder = temporaryFolder();
const mounted: string[] = [];
const mount = (...args: readonly string[]): boolean => spawnSync("mount", [...args], { stdio: "ignore" }).status === 0;
const mountSmall = (path: string, megabytes: number): boolean => {
  mkdirSync(path, { recursive: true });
  const done = mount("-t", "tmpfs", "-o", `size=${megabytes}m`, "tmpfs", path);
  if (done) mounted.push(path);
  return done;
};
const unmount = (): void => {
  for (const path of mounted.splice(0)) spawnSync("umount", [path], { stdio: "ignore" });
};
const canMount = mountSmall(join(folder.path, "probe"), 1);
unmount();
afterAll(() => folder.remove());

const NAME = "04-federdraht.xlsx";
const env = { COILBOOK_DOCUMENTS_FORMATS: "xlsx" };
let lab: string;
let count = 0;
beforeEach(() => {
  count += 1;
  lab = join(folder.path, `lab-${count}`);
});
afterEach(unmount);

const drop = (): void => writeFileSync(join(lab, "inbox", NAME), readFileSync(samplePath("inbox", NAME)));
const drain = () => coilbook(["work", "--drain", "--lab", lab], { env });
const inbox = (): readonly string[] => readdirSync(join(lab, "inbox"));
const issued = (): readonly string[] =>
  existsSync(join(lab, "documents"))
    ? readdirSync(join(lab, "documents"), { recursive: true, encoding: "utf8" }).filter((name) => name.endsWith(".xlsx"))
    : [];
/** Takes the last byte of the file system. */
const fill = (where: string): string => {
  const filler = join(where, "filler");
  for (let size = 1024 * 1024; size >= 1; size = Math.floor(size / 2))
    for (;;)
      try {
        writeFileSync(filler, Buffer.alloc(size), { flag: "a" });
      } catch {
        break;
      }
  return filler;
};
const wentThrough = (): void => {
  const done = drain();
  expect(done.status, done.err).toBe(0);
  expect(inbox()).toEqual([]);
  expect(readdirSync(join(lab, "returned"))).toContain(NAME);
  expect(issued().length).toBe(1);
  expectRun([0], ["audit", "--lab", lab]);
};

describe.skipIf(!canMount)("a disk", () => {
  it("of the data folder that is full: the file stays in the inbox, one line says why, and it goes through when there is room", () => {
    expect(mountSmall(join(lab, "data"), 8)).toBe(true);
    makeSampleLab(lab);
    drop();
    const filler = fill(join(lab, "data"));
    const done = drain();
    expect(done.status, done.err).toBe(69);
    expect(done.err).toMatch(/disk is full|ENOSPC/);
    expect(done.err).not.toMatch(/^\s+at /m);
    expect(inbox()).toEqual([NAME]);
    expect(issued()).toEqual([]);
    rmSync(filler);
    wentThrough();
  }, 120_000);

  it("of the returned workbooks that may not be written to: the workbook is entered, the answer follows when it may be", () => {
    makeSampleLab(lab);
    const returned = join(lab, "returned");
    expect(mountSmall(returned, 4)).toBe(true);
    expect(mount("-o", "remount,ro", returned)).toBe(true);
    drop();
    const done = drain();
    expect(done.status, done.err).toBe(69);
    expect(done.err).toMatch(/coilbook: work: answer\|\w+ could not be done: EROFS: read-only file system/);
    expect(inbox()).toEqual([]);
    expect(issued().length).toBe(1);
    expect(mount("-o", "remount,rw", returned)).toBe(true);
    wentThrough();
  }, 120_000);

  it("of the data folder that may not be written to is named at once, and nothing leaves the inbox", () => {
    expect(mountSmall(join(lab, "data"), 8)).toBe(true);
    makeSampleLab(lab);
    drop();
    expect(mount("-o", "remount,ro", join(lab, "data"))).toBe(true);
    const done = drain();
    expect(done.status, done.err).toBe(69);
    expect(done.err).toMatch(/^coilbook: ledger .*ledger\.db: cannot be (opened|written) \(.*(readonly|read-only|unable to open).*\)/m);
    expect(inbox()).toEqual([NAME]);
    expect(mount("-o", "remount,rw", join(lab, "data"))).toBe(true);
    wentThrough();
  }, 120_000);

  it("that fills up under a watching worker does not end it: it says so once and goes on when there is room", async () => {
    expect(mountSmall(join(lab, "data"), 8)).toBe(true);
    makeSampleLab(lab);
    const child: ChildProcess = spawn(process.execPath, [projectPath("bin", "coilbook.js"), "work", "--lab", lab], {
      stdio: ["ignore", "ignore", "pipe"],
      env: { ...process.env, COILBOOK_LAB: "", COILBOOK_DATA: "", ...env },
    });
    let said = "";
    child.stderr?.on("data", (text) => {
      said += text;
    });
    try {
      await expect.poll(() => existsSync(join(lab, "register", "now.html")), { timeout: 30_000 }).toBe(true);
      const filler = fill(join(lab, "data"));
      drop();
      await expect.poll(() => said, { timeout: 30_000 }).toMatch(/disk is full|ENOSPC/);
      expect(inbox()).toEqual([NAME]);
      rmSync(filler);
      await expect.poll(() => existsSync(join(lab, "returned", NAME)) && issued().length === 1, { timeout: 60_000 }).toBe(true);
      expect(child.exitCode).toBeNull();
    } finally {
      child.kill("SIGTERM");
      await new Promise((resolve) => child.once("exit", resolve));
    }
    expect(child.exitCode).toBe(0);
    expectRun([0], ["audit", "--lab", lab]);
  }, 150_000);
});

describe("a ledger", () => {
  it("that another process holds is named, the file stays, and it goes through when it is free", () => {
    makeSampleLab(lab);
    drop();
    const other = new Database(join(lab, "data", "ledger.db"));
    other.exec("begin immediate");
    const done = drain();
    expect([done.status, done.err]).toEqual([
      69,
      `coilbook: ledger ${join(lab, "data", "ledger.db")}: another process is writing to it; try again when that has ended\n`,
    ]);
    expect(inbox()).toEqual([NAME]);
    other.exec("rollback");
    other.close();
    wentThrough();
  }, 120_000);
});
