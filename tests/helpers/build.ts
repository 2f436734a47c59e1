/** Compiles the program once before any test runs, so that tests of the command line meet what they were written beside. */
import { spawnSync } from "node:child_process";
import { fileURLToPath } from "node:url";

export default function setup(): void {
  const build = fileURLToPath(new URL("../../scripts/build.mjs", import.meta.url));
  const done = spawnSync(process.execPath, [build], { encoding: "utf8" });
  if (done.status !== 0) throw new Error(`the build failed:\n${done.stdout}${done.stderr}`);
}
