/** The list of codes is complete and has no double: whatever the sources may say stands in it. Source: DESIGN section 5, `codes` ("codes are only ever added"). */
import { readdirSync, readFileSync } from "node:fs";
import { join } from "node:path";
import { expect, it } from "vitest";
import { CODES } from "../../core/codes.ts";
import { projectPath } from "../helpers/cli.ts";

const held = new Set(CODES.map((c) => c.code));

function sources(folder: string): string[] {
  return readdirSync(projectPath(folder), { recursive: true, withFileTypes: true })
    .filter((entry) => entry.isFile() && entry.name.endsWith(".ts"))
    .map((entry) => readFileSync(join(entry.parentPath, entry.name), "utf8"));
}

it("no code is listed for two kinds with two texts, except where a kind of its own needs it", () => {
  const doubled = CODES.map((c) => `${c.kind} ${c.code}`).filter((key, i, all) => all.indexOf(key) !== i);
  expect(doubled).toEqual([]);
  for (const code of CODES) expect(code.text).toMatch(/^[A-Z>].*\.$/);
});

it("every code written in the sources is listed", () => {
  const patterns = [
    /\bcode: "([a-z]+(?:-[a-z]+)*)"/g,
    /\breason: "([a-z]+(?:-[a-z]+)*)"/g,
    /\brefuse\(\s*"([a-z-]+)"/g,
    /new CalcError\(\s*"([a-z-]+)"/g,
    /new RefusedWorkbook\(\s*"([a-z-]+)"/g,
  ];
  const used = new Set<string>();
  for (const source of ["core", "worker"].flatMap(sources))
    for (const pattern of patterns) for (const match of source.matchAll(pattern)) used.add(match[1] ?? "");
  // zod's own word for a check of ours.
  used.delete("custom");
  expect(used.size).toBeGreaterThan(60);
  expect([...used].filter((code) => !held.has(code)).sort()).toEqual([]);
});
