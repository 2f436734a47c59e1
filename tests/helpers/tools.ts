/** Tools that only the system can give. Absent in CI they fail a test, elsewhere they skip it, counted. */
import { spawnSync } from "node:child_process";
import { existsSync, readdirSync } from "node:fs";
import { join } from "node:path";
import { describe, it } from "vitest";

const POSTGRES_FOLDER = "/usr/lib/postgresql";

/** Debian keeps the programs of PostgreSQL outside the path, a folder a version: there the newest; every other tool goes by its name. */
export function toolPath(name: string): string {
  const versions = existsSync(POSTGRES_FOLDER) ? readdirSync(POSTGRES_FOLDER).sort((a, b) => Number(b) - Number(a)) : [];
  return versions.map((version) => join(POSTGRES_FOLDER, version, "bin", name)).find((path) => existsSync(path)) ?? name;
}

const found = new Map<string, boolean>();

export function hasTool(name: string): boolean {
  const known = found.get(name);
  if (known !== undefined) return known;
  const has = spawnSync(toolPath(name), ["--version"], { stdio: "ignore", timeout: 60_000 }).error === undefined;
  found.set(name, has);
  return has;
}

/** `describe`, where every tool named is there. */
export function describeWith(tools: readonly string[], name: string, body: () => void): void {
  const missing = tools.filter((tool) => !hasTool(tool));
  if (missing.length === 0) describe(name, body);
  else if (process.env["CI"])
    describe(name, () => {
      it(`finds ${missing.join(", ")}`, () => {
        throw new Error(`${missing.join(", ")}: not installed on this machine`);
      });
    });
  else describe.skip(`${name} (needs ${missing.join(", ")})`, body);
}
