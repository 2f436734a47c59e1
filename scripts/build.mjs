// Compiles the sources into dist/ and copies what the templates read at run time. Does nothing where dist/ is newer.
import { spawnSync } from "node:child_process";
import { copyFileSync, existsSync, mkdirSync, readdirSync, statSync, utimesSync, writeFileSync } from "node:fs";
import { createRequire } from "node:module";
import { dirname, join, relative } from "node:path";
import { fileURLToPath } from "node:url";

const root = fileURLToPath(new URL("..", import.meta.url));
const dist = join(root, "dist");
const stamp = join(dist, ".built");
const copied = /\.(hbs|css|json|ttf|otf|woff2?)$/;
const compiled = /\.ts$/;

/** Every file below a folder; a folder that is not there has none. */
function filesBelow(folder) {
  if (!existsSync(folder)) return [];
  return readdirSync(folder, { withFileTypes: true, recursive: true })
    .filter((entry) => entry.isFile())
    .map((entry) => join(entry.parentPath ?? entry.path, entry.name));
}

const configuration = ["package.json", "tsconfig.json", "tsconfig.build.json"].map((name) => join(root, name));
const sources = ["core", "templates", "worker", "scripts"].flatMap((name) => filesBelow(join(root, name)));
const watched = [...configuration, ...sources.filter((file) => compiled.test(file) || copied.test(file))];
const newest = Math.max(...watched.map((file) => statSync(file).mtimeMs));

if (!existsSync(stamp) || statSync(stamp).mtimeMs < newest) {
  // The stamp carries the time of the reading, so a source saved while the compiler runs counts as newer.
  const started = new Date();
  const compiler = createRequire(join(root, "package.json")).resolve("typescript/bin/tsc");
  const done = spawnSync(process.execPath, [compiler, "-p", join(root, "tsconfig.build.json")], { cwd: root, stdio: "inherit" });
  if (done.status !== 0) process.exit(done.status ?? 70);
  for (const file of sources.filter((name) => copied.test(name))) {
    const target = join(dist, relative(root, file));
    mkdirSync(dirname(target), { recursive: true });
    copyFileSync(file, target);
  }
  writeFileSync(stamp, `${started.toISOString()}\n`);
  utimesSync(stamp, started, started);
}
