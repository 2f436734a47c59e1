/** LibreOffice as a second opinion: opens, calculates and saves again. One process for all files, since its start is slow. */
import { spawnSync } from "node:child_process";
import { mkdtempSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";

export function officeConvert(files: readonly string[], kind: "xlsx" | "pdf", outFolder: string): void {
  const profile = mkdtempSync(join(tmpdir(), "coilbook-office-"));
  const done = spawnSync(
    "soffice",
    ["--headless", `-env:UserInstallation=file://${profile}`, "--convert-to", kind, "--outdir", outFolder, ...files],
    { encoding: "utf8", timeout: 110_000 },
  );
  if (done.status !== 0) throw new Error(`soffice ended with ${done.status}: ${done.stderr}${done.stdout}`);
}
