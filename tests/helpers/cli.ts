/** Runs the program as its users do. */
import { spawnSync } from "node:child_process";
import { mkdtempSync, rmSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { fileURLToPath } from "node:url";

export const projectPath = (...path: string[]): string => join(fileURLToPath(new URL("../..", import.meta.url)), ...path);

export interface Run {
  readonly status: number;
  readonly out: string;
  readonly err: string;
}

export function coilbook(args: readonly string[], options: { cwd?: string; input?: string; env?: Record<string, string> } = {}): Run {
  const done = spawnSync(process.execPath, [projectPath("bin", "coilbook.js"), ...args], {
    cwd: options.cwd ?? tmpdir(),
    encoding: "utf8",
    maxBuffer: 256 * 1024 * 1024,
    env: { ...process.env, COILBOOK_LAB: "", COILBOOK_DATA: "", ...options.env } as NodeJS.ProcessEnv,
    ...(options.input === undefined ? {} : { input: options.input }),
  });
  return { status: done.status ?? 70, out: done.stdout, err: done.stderr };
}

/** @throws Error with what the program said, where it ended otherwise */
export function expectRun(accepted: readonly number[], args: readonly string[], options: Parameters<typeof coilbook>[1] = {}): Run {
  const done = coilbook(args, options);
  if (!accepted.includes(done.status)) throw new Error(`coilbook ${args.join(" ")}: ended with ${done.status}\n${done.err}${done.out}`);
  return done;
}

export const jsonLines = (text: string): readonly Record<string, unknown>[] =>
  text
    .trim()
    .split("\n")
    .map((line) => JSON.parse(line) as Record<string, unknown>);

/** A folder of its own, removed afterwards by the function given back. */
export function temporaryFolder(): { path: string; remove: () => void } {
  const path = mkdtempSync(join(tmpdir(), "coilbook-"));
  return { path, remove: () => rmSync(path, { recursive: true, force: true }) };
}
