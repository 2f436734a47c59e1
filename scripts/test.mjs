// Runs every test and ends with the line `N passed, N failed, N skipped`.
import { spawnSync } from "node:child_process";
import { mkdtempSync, readFileSync, rmSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { fileURLToPath } from "node:url";
import { setUp } from "./setup.mjs";

const root = fileURLToPath(new URL("..", import.meta.url));
setUp();
const folder = mkdtempSync(join(tmpdir(), "coilbook-test-"));
const report = join(folder, "report.json");
const done = spawnSync(
  process.execPath,
  [
    join(root, "node_modules", "vitest", "vitest.mjs"),
    "run",
    "--reporter=default",
    "--reporter=json",
    `--outputFile=${report}`,
    ...process.argv.slice(2),
  ],
  { cwd: root, stdio: "inherit" },
);
let totals;
try {
  totals = JSON.parse(readFileSync(report, "utf8"));
} catch (error) {
  process.stderr.write(`The test run left no report: ${error.message}\n`);
}
rmSync(folder, { recursive: true, force: true });
if (totals === undefined) process.exit(done.status || 1);
const skipped = totals.numPendingTests + totals.numTodoTests;
// A file that cannot be loaded fails without a failing test in it.
const brokenFiles = totals.testResults.filter(
  (file) => file.status === "failed" && file.assertionResults.every((test) => test.status !== "failed"),
).length;
const failed = totals.numFailedTests + brokenFiles;
console.log(`${totals.numPassedTests} passed, ${failed} failed, ${skipped} skipped`);
process.exit(failed > 0 ? 1 : (done.status ?? 1));
