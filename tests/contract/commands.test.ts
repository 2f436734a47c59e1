/** The command line by DESIGN section 5: help, schemas, exit codes, one line an error. */
import { mkdirSync, readdirSync, readFileSync, writeFileSync } from "node:fs";
import { isAbsolute, join } from "node:path";
import { afterAll, beforeAll, describe, expect, it } from "vitest";
import { coilbook, expectRun, temporaryFolder } from "../helpers/cli.ts";
import { samplePath } from "../helpers/sample-lab.ts";

const folder = temporaryFolder();
const lab = join(folder.path, "lab");
const inLab = (...args: string[]): string[] => [...args, "--lab", lab];
beforeAll(() => {
  expectRun([0], ["init", lab, "--example"]);
  expectRun([0], inLab("work", "--drain"));
}, 120_000);
afterAll(() => folder.remove());

const COMMANDS = [
  "init",
  "prepare",
  "check",
  "work",
  "nightly",
  "certificate",
  "sign",
  "print",
  "person",
  "customer",
  "instrument",
  "order",
  "settle",
  "why",
  "rejudge",
  "register",
  "audit",
  "spec",
  "calc",
  "layout",
  "doctor",
  "codes",
];

describe("help", () => {
  it("lists every command", () => {
    const { out } = expectRun([0], ["--help"]);
    for (const command of COMMANDS) expect(out).toMatch(new RegExp(`^  ${command}\\b`, "m"));
  });
  it.each(COMMANDS)("%s --help has an example", (command) => {
    const { out } = expectRun([0], [command, "--help"]);
    expect(out).toMatch(/Example:\n {2}coilbook|Commands:/);
  });
});

describe("init --example, then work --drain", () => {
  it("ends with an issued document, a notice and a refused file", () => {
    expect(
      readdirSync(join(lab, "documents", "EX-001"))
        .map((f) => f.split(".").at(-1))
        .sort(),
    ).toEqual(["pdf", "xlsx"]);
    expect(readdirSync(join(lab, "documents", "EX-002")).length).toBe(2);
    expect(readdirSync(join(lab, "refused")).sort()).toEqual(["broken.xlsx", "broken.xlsx.why.txt", "broken.xlsx.why.xlsx"]);
    expect(readdirSync(join(lab, "returned")).sort()).toEqual(["failing.xlsx", "good.xlsx"]);
    expect(readdirSync(join(lab, "inbox"))).toEqual([]);
    expect(readdirSync(lab)).toContain("START-HERE.xlsx");
    for (const page of ["now.html", "index.html", "register.xlsx"]) expect(readdirSync(join(lab, "register"))).toContain(page);
    expect(readFileSync(join(lab, "register", "now.html"), "utf8")).toMatch(/worker alive \d\d:\d\d/);
  });
  it("a second init of the same folder is refused and changes nothing", () => {
    const before = readFileSync(join(lab, "coilbook.json"), "utf8");
    expect(coilbook(["init", lab]).status).toBe(64);
    expect(readFileSync(join(lab, "coilbook.json"), "utf8")).toBe(before);
  });
});

describe("exit codes and schemas", () => {
  const wrong = join(folder.path, "wrong");
  beforeAll(() => {
    mkdirSync(wrong);
    writeFileSync(join(wrong, "~$day.xlsx"), "lock");
  });
  it.each([
    { args: ["check", samplePath("inbox", "04-federdraht.xlsx"), "--alone", "--json"], code: 0, schema: "check/1" },
    { args: ["check", samplePath("inbox", "02-day-book.xlsx"), "--alone", "--json"], code: 1, schema: "check/1" },
    { args: ["check", samplePath("broken", "password.xlsx"), "--alone", "--json"], code: 2, schema: "check/1" },
    { args: ["doctor", "--json"], code: 0, schema: "doctor/1" },
    { args: ["codes", "--json"], code: 0, schema: "codes/1" },
    { args: ["layout", "--json"], code: 0, schema: "layout/1" },
    { args: ["spec", "list", "--json"], code: 0, schema: "spec-list/1" },
    { args: ["spec", "show", "EN 10270-1", "--json"], code: 0, schema: "spec-show/1" },
    { args: ["calc", "round", '{"value":"1.865","step":"0.01","ties":"even"}'], code: 0, schema: "calc/1" },
    { args: ["calc", "round", "{}"], code: 1, schema: "calc/1" },
  ])("$args.0 $args.1 ends with $code and says $schema", ({ args, code, schema }) => {
    const done = coilbook(args);
    expect(done.status).toBe(code);
    expect((JSON.parse(done.out) as { schema: string }).schema).toBe(schema);
  });

  it.each([
    { args: ["check", "/nowhere/day.xlsx"], code: 64, says: /does not exist/ },
    { args: ["check", folder.path], code: 64, says: /is a folder/ },
    { args: ["calc", "no-such-thing", "{}"], code: 64, says: /no-such-thing/ },
    { args: ["certificate", "NO-SUCH", "--lab", lab], code: 64, says: /NO-SUCH/ },
    { args: ["why", "NO-SUCH", "--lab", lab], code: 64, says: /NO-SUCH/ },
    {
      args: ["check", samplePath("inbox", "01-return-springs.xlsx"), "--today", "yesterday"],
      code: 64,
      says: /--today.*yesterday.*2026-03-02/,
    },
    { args: ["sign", "EX-001_10.000000000000", "--by", "Bo Ferrant", "--lab", lab], code: 3, says: /EX-001_10/ },
    { args: ["spec", "adopt", "EN 10270-1", "--by", "Nobody Known", "--lab", lab], code: 3, says: /Nobody Known/ },
  ])("$args.0 $args.1 ends with $code in one line that says what is accepted", ({ args, code, says }) => {
    const done = coilbook(args);
    expect(done.status).toBe(code);
    expect(done.err.trim().split("\n").length).toBe(1);
    expect(done.err).toMatch(says);
    expect(done.err).not.toMatch(/^\s+at /m);
  });

  it("a lock file named to check is refused as one", () => {
    const done = coilbook(["check", join(wrong, "~$day.xlsx"), "--alone", "--json"]);
    expect(done.status).toBe(2);
    expect(JSON.parse(done.out)).toMatchObject({ status: "refused", reason: { code: "lock-file" } });
  });

  it("of several files the highest exit code counts, and each has its line", () => {
    const done = coilbook(["check", samplePath("inbox", "04-federdraht.xlsx"), samplePath("broken", "empty.xlsx"), "--alone", "--json"]);
    expect(done.status).toBe(2);
    expect(done.out.trim().split("\n").length).toBe(2);
  });

  it("a setting that is not accepted is named with what was found", () => {
    const done = coilbook(inLab("doctor", "--json"), { env: { COILBOOK_INTAKE_QUIET_MS: "soon" } });
    expect(done.out + done.err).toMatch(/intake\.quietMs/);
    expect(done.out + done.err).toMatch(/soon/);
  });

  it("doctor names the browser's own binary by an absolute path", () => {
    const { browser } = JSON.parse(expectRun([0], ["doctor", "--json"]).out) as { browser: { path: string } };
    expect(isAbsolute(browser.path)).toBe(true);
    expect(browser.path).not.toBe("/usr/bin/chromium");
  });
});

describe("print", () => {
  it.each([
    ["retest-order", "EX-002"],
    ["labels", "EX-001"],
  ])("%s of %s is a PDF", (kind, order) => {
    const out = join(folder.path, `${kind}.pdf`);
    expectRun([0], inLab("print", kind, order, "--out", out));
    expect(readFileSync(out).subarray(0, 5).toString()).toBe("%PDF-");
  });
  it("names the kinds it knows", () => {
    const done = coilbook(inLab("print", "poster", "EX-001"));
    expect([done.status, done.err]).toEqual([64, expect.stringMatching(/"poster".*retest-order, labels/)]);
  });
});

describe("nightly", () => {
  it("writes one digest a receiver and day, and raises nothing twice", () => {
    expectRun([0], inLab("nightly"));
    const first = readdirSync(join(lab, "mail"));
    expect(first.length).toBe(1);
    const mail = readFileSync(join(lab, "mail", first[0] ?? ""), "utf8");
    expect(mail).toMatch(/^To: quality@quillmark\.example/m);
    expect(mail).toMatch(/^Message-ID: <[^>]+>/m);
    const documents = readdirSync(join(lab, "documents"), { recursive: true }).sort();
    expectRun([0], inLab("nightly"));
    expect(readdirSync(join(lab, "mail"))).toEqual(first);
    expect(readdirSync(join(lab, "documents"), { recursive: true }).sort()).toEqual(documents);
  });
});
