// Sets up what is missing on a machine that has only Node: packages, the compiled database driver, the build.
// Safe to call every time: it does nothing where nothing is missing.
import { spawnSync } from "node:child_process";
import { existsSync, statSync } from "node:fs";
import { createRequire } from "node:module";
import { join } from "node:path";
import { fileURLToPath } from "node:url";

const root = fileURLToPath(new URL("..", import.meta.url));
const npm = process.platform === "win32" ? "npm.cmd" : "npm";

/** Runs a command in the project folder; its output is shown only when it fails. */
function run(command, args, what) {
  const started = Date.now();
  process.stderr.write(`${what} … `);
  const done = spawnSync(command, args, {
    cwd: root,
    encoding: "utf8",
    env: { ...process.env, PUPPETEER_SKIP_DOWNLOAD: "1" },
    shell: process.platform === "win32",
  });
  if (done.status === 0) {
    process.stderr.write(`${((Date.now() - started) / 1000).toFixed(1)} s\n`);
    return true;
  }
  process.stderr.write(`failed\n${done.stdout ?? ""}${done.stderr ?? ""}${done.error ?? ""}\n`);
  return false;
}

function packagesAreCurrent() {
  const installed = join(root, "node_modules", ".package-lock.json");
  return existsSync(installed) && statSync(installed).mtimeMs >= statSync(join(root, "package-lock.json")).mtimeMs;
}

function databaseDriverLoads() {
  try {
    const Database = createRequire(join(root, "package.json"))("better-sqlite3");
    new Database(":memory:").close();
    return true;
  } catch {
    return false;
  }
}

export function setUp() {
  const [major = 0, minor = 0] = process.versions.node.split(".").map(Number);
  if (major < 20 || (major === 20 && minor < 20)) {
    process.stderr.write(`Coilbook needs Node 20.20 or newer; this is ${process.versions.node}.\n`);
    process.exit(69);
  }
  const ready =
    (packagesAreCurrent() || run(npm, ["ci", "--no-audit", "--no-fund"], "Installing packages")) &&
    (databaseDriverLoads() || run(npm, ["rebuild", "better-sqlite3"], "Compiling the database driver")) &&
    run(process.execPath, [join(root, "scripts", "build.mjs")], "Building");
  if (!ready) {
    process.stderr.write("Set-up did not finish. The lines above say what failed; nothing else was changed.\n");
    process.exit(69);
  }
}

if (process.argv[1] === fileURLToPath(import.meta.url)) setUp();
