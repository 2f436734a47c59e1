import { spawnSync } from "node:child_process";
import { fileURLToPath } from "node:url";
import { beforeAll, describe, expect, it } from "vitest";

const at = (path: string): string => fileURLToPath(new URL(`../../../${path}`, import.meta.url));
const run = (file: string, args: readonly string[]) => spawnSync(process.execPath, [at(file), ...args], { encoding: "utf8" });

describe("command line", () => {
  beforeAll(() => {
    expect(run("scripts/build.mjs", []).status).toBe(0);
  }, 60_000);

  // Source of every exit code: the contract's section on the command line (0 done, 64 wrong use).
  it.each([
    { args: ["--version"], code: 0, errors: /^$/ },
    { args: ["layout", "--help"], code: 0, errors: /^$/ },
    { args: ["layout", "--json"], code: 0, errors: /^$/ },
    { args: ["layout", "--units", "furlong"], code: 64, errors: /^coilbook: .*'furlong'.*SI, inch-pound\.\n$/ },
    { args: ["layout", "--nonsense"], code: 64, errors: /^coilbook: unknown option '--nonsense'\n$/ },
    { args: ["nonsense"], code: 64, errors: /^coilbook: unknown command 'nonsense'\n$/ },
  ])("$args ends with $code", ({ args, code, errors }) => {
    const done = run("bin/coilbook.js", args);
    expect(done.status).toBe(code);
    expect(done.stderr).toMatch(errors);
  });

  it.each(["SI", "inch-pound"])("layout answers in %s with its schema", (units) => {
    const answer = JSON.parse(run("bin/coilbook.js", ["layout", "--units", units, "--json"]).stdout);
    expect(answer).toMatchObject({ schema: "layout/1", units });
    expect(answer.sheets.length).toBeGreaterThan(0);
  });
});
