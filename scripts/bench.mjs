// npm run bench [-- workbook | documents | judge | seal | worker]: every figure beside its baseline in the same run. Ends with 1 where one is missed.
import { spawnSync } from "node:child_process";
import { cpus, loadavg, totalmem } from "node:os";
import { join } from "node:path";
import { fileURLToPath } from "node:url";

const root = fileURLToPath(new URL("..", import.meta.url));
const BENCHES = {
  judge: ["dist/scripts/bench-judge.js"],
  workbook: ["scripts/bench-workbook.mjs"],
  documents: ["scripts/bench-documents.mjs"],
  seal: ["dist/scripts/bench-seal.js"],
  worker: ["dist/scripts/bench-worker.js"],
};

const [wanted, ...rest] = process.argv.slice(2);
if (wanted !== undefined && !(wanted in BENCHES)) {
  process.stderr.write(`bench: found "${wanted}", accepted are ${Object.keys(BENCHES).join(", ")}\n`);
  process.exit(64);
}
const built = spawnSync(process.execPath, [join(root, "scripts", "build.mjs")], { stdio: "inherit" });
if (built.status !== 0) process.exit(70);
process.stdout.write(
  `${cpus().length} × ${cpus()[0]?.model ?? "unknown"}, ${(totalmem() / 2 ** 30).toFixed(0)} GiB, Node ${process.versions.node}, load ${loadavg()[0].toFixed(1)}\n`,
);
let missed = 0;
for (const [name, script] of Object.entries(BENCHES)) {
  if (wanted !== undefined && wanted !== name) continue;
  process.stdout.write(`\n== ${name}\n`);
  const done = spawnSync(process.execPath, [...script.map((file) => join(root, file)), ...rest], { cwd: root, stdio: "inherit" });
  if (done.status !== 0) missed += 1;
}
process.exit(missed === 0 ? 0 : 1);
