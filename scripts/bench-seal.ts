// Figures of trust: a laboratory of samples issues its documents; then bits are flipped at random in each, bytes are appended and parts
// exchanged. Prints how many changes were found, how many untouched documents were called as issued, and the time a check takes.
// Usage: node dist/scripts/bench-seal.js [flips a document, default 2000]
import { spawnSync } from "node:child_process";
import { mkdtempSync, readdirSync, readFileSync, rmSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { fileURLToPath } from "node:url";
import { verifyFile } from "../core/seal/index.ts";
import type { Trust } from "../core/seal/trust.ts";
import { trustedKeys } from "../worker/seal/keys.ts";
import { nodeCryptography } from "../worker/seal/node-cryptography.ts";

const flips = Number(process.argv[2] ?? 2000);
const program = fileURLToPath(new URL("../../bin/coilbook.js", import.meta.url));
const folder = mkdtempSync(join(tmpdir(), "coilbook-bench-"));
const lab = join(folder, "lab");
/** A small generator with a fixed start (xorshift), so that a run can be repeated. */
let state = 20260303;
const random = (below: number): number => {
  state ^= state << 13;
  state ^= state >>> 17;
  state ^= state << 5;
  return (state >>> 0) % below;
};

try {
  for (const args of [
    ["init", lab, "--example"],
    ["work", "--drain", "--lab", lab],
  ]) {
    const done = spawnSync(process.execPath, [program, ...args], { stdio: ["ignore", "ignore", "inherit"] });
    if (done.status !== 0) throw new Error(`coilbook ${args[0]} ended with ${done.status}`);
  }
  const trust: Trust = { source: "lab", keys: trustedKeys(join(lab, "data")) };
  const answer = async (bytes: Uint8Array): Promise<string> => (await verifyFile(bytes, trust, nodeCryptography)).status;
  const files = readdirSync(join(lab, "documents"), { recursive: true, withFileTypes: true }).filter((entry) => entry.isFile());
  let missed = 0;
  for (const entry of files) {
    const bytes = new Uint8Array(readFileSync(join(entry.parentPath, entry.name)));
    const times: number[] = [];
    const untouched: string[] = [];
    for (let run = 0; run < 10; run += 1) {
      const start = performance.now();
      untouched.push(await answer(bytes));
      times.push(performance.now() - start);
    }
    let found = 0;
    for (let flip = 0; flip < flips; flip += 1) {
      const bit = random(bytes.length * 8);
      const changed = bytes.slice();
      changed[bit >> 3] = (changed[bit >> 3] as number) ^ (1 << (bit & 7));
      if ((await answer(changed)) === "changed") found += 1;
      else process.stdout.write(`  ${entry.name}: bit ${bit} was not found\n`);
    }
    let appended = 0;
    for (let run = 0; run < 20; run += 1) {
      const more = Uint8Array.from({ length: 1 + random(40) }, () => random(256));
      if ((await answer(Uint8Array.from([...bytes, ...more]))) === "changed") appended += 1;
    }
    const asIssued = untouched.filter((status) => status === "as-issued").length;
    missed += flips - found + (20 - appended) + (10 - asIssued);
    times.sort((a, b) => a - b);
    process.stdout.write(
      `${entry.name}  ${bytes.length} bytes  flips found ${found} of ${flips}  appended found ${appended} of 20  as issued ${asIssued} of 10  median ${(times[5] ?? 0).toFixed(0)} ms, longest ${(times[9] ?? 0).toFixed(0)} ms\n`,
    );
  }
  process.exitCode = missed === 0 ? 0 : 1;
} finally {
  rmSync(folder, { recursive: true, force: true });
}
