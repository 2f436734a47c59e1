// The whole job on the samples: bench workbook out, filled workbooks in, every cell judged, the same workbooks back, documents written.
// Can be run again: the folder it made before is moved aside.
import { spawnSync } from "node:child_process";
import { cpSync, existsSync, mkdirSync, readdirSync, readFileSync, renameSync, rmSync, writeFileSync } from "node:fs";
import { join, relative } from "node:path";
import { fileURLToPath } from "node:url";
import { setUp } from "./setup.mjs";

const root = fileURLToPath(new URL("..", import.meta.url));
const started = performance.now();
setUp();
const ready = performance.now();

const lab = join(root, "demo");
const samples = join(root, "samples");
if (existsSync(lab)) {
  rmSync(`${lab}-before`, { recursive: true, force: true });
  renameSync(lab, `${lab}-before`);
}

const coilbook = (...args) => {
  const where = args[0] === "init" ? [] : ["--lab", lab];
  const done = spawnSync(process.execPath, [join(root, "bin", "coilbook.js"), ...args, ...where], { cwd: root, encoding: "utf8" });
  return { status: done.status ?? 70, out: done.stdout ?? "", err: done.stderr ?? "" };
};
const must = (accepted, ...args) => {
  const done = coilbook(...args);
  if (!accepted.includes(done.status)) {
    process.stderr.write(`coilbook ${args.join(" ")}: ended with ${done.status}\n${done.err}${done.out}`);
    process.exit(70);
  }
  return done;
};
let count = 0;
const step = (text) => {
  count += 1;
  process.stdout.write(`${String(count).padStart(2)}  ${text}\n`);
};

process.stdout.write("\nCoilbook demo: an invented mill. No name, order or reading in it is real.\n\n");

step("make the lab, register people and customers, adopt the customer's specification");
mkdirSync(lab, { recursive: true });
must([0], "init", lab);
const settingsFile = join(lab, "coilbook.json");
const settings = { ...JSON.parse(readFileSync(settingsFile, "utf8")) };
const own = JSON.parse(readFileSync(join(samples, "settings.json"), "utf8"));
for (const [key, value] of Object.entries(own)) settings[key] = Array.isArray(value) ? value : { ...settings[key], ...value };
writeFileSync(settingsFile, `${JSON.stringify(settings, null, 2)}\n`);
cpSync(join(samples, "specifications"), join(lab, "specifications"), { recursive: true });
const { people, customers } = JSON.parse(readFileSync(join(samples, "people.json"), "utf8"));
const admin = people[0].name;
for (const person of people) must([0], "person", "add", person.name, ...person.roles.flatMap((role) => ["--role", role]), "--by", admin);
for (const customer of customers)
  must(
    [0],
    "customer",
    "add",
    customer.name,
    ...customer.email.flatMap((e) => ["--email", e]),
    ...customer.address.flatMap((a) => ["--address", a]),
    "--by",
    admin,
  );
must([0], "spec", "adopt", "QW 100", "--by", admin);

step("prepare the bench workbook of the next order: set-up cards, cut list, live limits");
must([0], "prepare", join(samples, "nine-coils.json"), "--out", join(lab, "bench-QM-2606.xlsx"));

const jobStarted = performance.now();
step("drop the first day's workbooks and three broken files into inbox/, and work");
const drop = (folder, names = readdirSync(join(samples, folder))) => {
  for (const name of names) cpSync(join(samples, folder, name), join(lab, "inbox", name));
};
drop("inbox");
drop("broken", ["renamed-text.xlsx", "password.xlsx", "damaged.xlsx"]);
must([0], "work", "--drain");

const check = readdirSync(join(samples, "inbox")).map((name) => join(samples, "inbox", name));
const answers = must([0, 1, 2], "check", ...check, "--json")
  .out.trim()
  .split("\n")
  .map((line) => JSON.parse(line));

step("drop the next day's: a retest and a corrected reading");
drop("second-day");
must([0], "work", "--drain");

step(`sign the 3.1 certificate that waits, as ${admin}`);
const drafts = JSON.parse(must([0, 1], "certificate", "QM-2601", "--json").out);
for (const { draft } of drafts.drafts) must([0], "sign", draft, "--by", admin);
must([0], "work", "--drain");
step("the night run: notices that are missing, and the digest");
must([0], "nightly");
const jobEnded = performance.now();

step("recompute the hash chain and every state of the ledger");
must([0], "audit");

// ---- what it made
const files = (folder, ending) =>
  existsSync(join(lab, folder)) ? readdirSync(join(lab, folder), { recursive: true }).filter((name) => String(name).endsWith(ending)) : [];
const rows = answers.map((answer) => {
  const coils = answer.orders.flatMap((order) => order.coils);
  const verdicts = (name) => coils.filter((coil) => coil.verdict === name).length;
  return [
    answer.file.split(/[\\/]/).at(-1),
    coils.length,
    verdicts("conforms"),
    verdicts("does-not-conform"),
    verdicts("retest-due"),
    verdicts("undecided"),
    verdicts("not-tested"),
    answer.findings.filter((f) => f.severity === "error").length,
    answer.findings.filter((f) => f.severity === "warning").length,
  ];
});
const head = ["workbook", "coils", "conform", "fail", "retest", "undecided", "not tested", "errors", "warnings"];
const total = ["", ...head.slice(1).map((_, i) => rows.reduce((sum, row) => sum + row[i + 1], 0))];
const table = [head, ...rows, total].map((row) => row.map(String));
const widths = head.map((_, i) => Math.max(...table.map((row) => row[i].length)));
process.stdout.write("\nThe first day:\n\n");
table.forEach((row, r) => {
  if (r === 1 || r === table.length - 1) process.stdout.write(`${widths.map((w) => "-".repeat(w)).join("  ")}\n`);
  process.stdout.write(`${row.map((cell, i) => (i === 0 ? cell.padEnd(widths[i]) : cell.padStart(widths[i]))).join("  ")}\n`);
});

const documents = files("documents", ".pdf");
const seconds = (from, to) => `${((to - from) / 1000).toFixed(1)} s`;
process.stdout.write(`
returned   ${files("returned", ".xlsx").length} workbooks, annotated
refused    ${files("refused", ".why.txt").length} files, each with the reason beside it
documents  ${documents.length} PDF and ${files("documents", ".xlsx").length} XLSX: ${documents
  .map((name) => String(name))
  .sort()
  .join(", ")}
time       set-up ${seconds(started, ready)}, the job ${seconds(jobStarted, jobEnded)}, all ${seconds(started, performance.now())}

Look into   ${relative(process.cwd(), lab) || lab}/
  bench-QM-2606.xlsx     what the bench gets: set-up plan, cards, cut list, live limits
  returned/              the clerk's workbooks with verdict, reason and next step beside every row
  documents/             certificates and notices
  register/index.html    which coils may go, and what the others still need
Ask         npx coilbook why 72005 --lab ${relative(process.cwd(), lab) || lab}
`);
