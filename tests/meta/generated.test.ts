/** What a script made is what the script makes now. */
import { spawnSync } from "node:child_process";
import { readdirSync, readFileSync, statSync } from "node:fs";
import { join } from "node:path";
import { afterAll, expect, it } from "vitest";
import { projectPath, temporaryFolder } from "../helpers/cli.ts";

const folder = temporaryFolder();
afterAll(() => folder.remove());

const filesOf = (root: string): string[] =>
  (readdirSync(root, { recursive: true }) as string[]).filter((name) => statSync(join(root, name)).isFile()).sort();

it("samples/ is what its script writes, byte for byte", () => {
  const out = join(folder.path, "samples");
  const done = spawnSync(process.execPath, [projectPath("dist", "scripts", "samples.js"), out], { encoding: "utf8" });
  expect(done.stderr).toBe("");
  expect(filesOf(out)).toEqual(filesOf(projectPath("samples")));
  const changed = filesOf(out).filter((name) => !readFileSync(join(out, name)).equals(readFileSync(projectPath("samples", name))));
  expect(changed).toEqual([]);
});
