#!/usr/bin/env node
// Starts the compiled program; in a fresh checkout it compiles once first.
import { spawnSync } from "node:child_process";
import { existsSync } from "node:fs";
import { fileURLToPath } from "node:url";

const main = new URL("../dist/worker/main.js", import.meta.url);
const build = fileURLToPath(new URL("../scripts/build.mjs", import.meta.url));

if (!existsSync(main) && existsSync(build)) {
  // The compiler's words go to standard error: standard output belongs to the answer.
  spawnSync(process.execPath, [build], { stdio: ["ignore", 2, 2] });
}
if (existsSync(main)) {
  await import(main.href);
} else {
  process.stderr.write("coilbook: dist/worker/main.js, found nothing: run `npm run build` in the project folder\n");
  process.exitCode = 70;
}
