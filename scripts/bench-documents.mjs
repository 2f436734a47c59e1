// Certificates a second: this renderer with two browsers against one browser that opens a new page for each document, in one run.
// node scripts/bench-documents.mjs [--documents N] [--rounds R] [--dist FOLDER] [--long N]   (after npm run build)
import { execFileSync } from "node:child_process";
import { existsSync, readdirSync, readFileSync } from "node:fs";
import { availableParallelism, loadavg } from "node:os";
import { resolve } from "node:path";
import { pathToFileURL } from "node:url";
import { parseArgs } from "node:util";
import puppeteer from "puppeteer-core";

const { values: flags } = parseArgs({
  options: {
    documents: { type: "string", default: "40" },
    rounds: { type: "string", default: "3" },
    dist: { type: "string", default: "dist" },
    long: { type: "string", default: "0" },
  },
});
const [documents, rounds, long] = [Number(flags.documents), Number(flags.rounds), Number(flags.long)];
const load = (path) => import(pathToFileURL(resolve(flags.dist, path)).href);
const { createRenderer } = await load("worker/rendering/index.js");
const { findBrowserPath } = await load("worker/rendering/browser.js");
const { pageOf } = await load("worker/rendering/pages.js");
const { recordFile } = await load("worker/rendering/record-file.js");

/** An invented certificate of two pages whose every figure depends on its number. */
function certificate(number) {
  const rule = { specification: "QW 100", edition: "2026", clause: "4.1", provenance: "own", adopted: true };
  const common = { conditions: {}, rule, row: "2.00 mm", rowRule: "as tabled" };
  const cell = (value, compared, margin) => ({ value, compared, word: false, censored: false, outcome: "conforms", pieces: 1, margin });
  const rows = Array.from({ length: 22 }, (_, index) => {
    const at = (number * 31 + index * 17) % 200;
    return {
      coil: `${10_000 + number * 100 + index}`,
      heat: "H7720",
      testUnit: "U-1",
      basis: "own-results",
      verdict: "conforms",
      mass: { text: String(240 + (at % 9)), unit: "kg" },
      cells: [
        cell(`${1810 + at}.25`, String(1810 + at), "0.2"),
        cell(`${22 + (at % 12)}.5`, String(22 + (at % 12)), "0.3"),
        cell("2.0035", "2.004", "0.4"),
      ],
    };
  });
  return {
    schema: "certificate-record/1",
    template: "certificate/1",
    type: "3.1",
    language: "en",
    lab: { name: "Quillmark Wire (an invented mill)", address: ["Mill Lane 1", "Exampleton"] },
    customer: { name: "Brindlefoot Springs", address: ["3 Invented Row"], order: `BF ${number}` },
    order: "QM-2601",
    item: "10",
    product: "Spring wire, bright",
    specification: "QW 100",
    edition: "2026",
    grade: "Q2",
    nominalDiameter: { text: "2.00", unit: "mm" },
    decisionRule: "simple",
    requirements: [
      { property: "tensile-strength", min: "1800", max: "2050", unit: "MPa", ...common },
      { property: "torsion", min: "22", unit: "turns", ...common },
      { property: "diameter", min: "1.980", max: "2.020", unit: "mm", ...common },
    ],
    rows,
    heats: [{ heat: "H7720", analysis: "heat", source: "supplier", elements: { C: "0.82", Mn: "0.61" } }],
    notes: [],
    testedOn: ["2026-03-02"],
    instruments: ["MIC-1", "TM-1"],
  };
}
const issueOf = (number) => ({ number: `2026-${String(number).padStart(5, "0")}`, issuedOn: "2026-03-03", signedBy: ["Ada Thornquist"] });

/** Processor time of this process and everything below it, in ms; Linux only. */
function cpuMs() {
  if (!existsSync("/proc/self/stat")) return Number.NaN;
  const ticks = Number(execFileSync("getconf", ["CLK_TCK"], { encoding: "utf8" }));
  const stats = new Map();
  for (const name of readdirSync("/proc"))
    if (/^\d+$/.test(name))
      try {
        const fields = readFileSync(`/proc/${name}/stat`, "utf8").split(") ")[1]?.split(" ") ?? [];
        stats.set(Number(name), { parent: Number(fields[1]), ticks: [11, 12, 13, 14].reduce((sum, at) => sum + Number(fields[at]), 0) });
      } catch {
        // It ended while we looked.
      }
  const family = new Set([process.pid]);
  for (let grew = true; grew; ) {
    grew = false;
    for (const [pid, { parent }] of stats)
      if (family.has(parent) && !family.has(pid)) {
        family.add(pid);
        grew = true;
      }
  }
  return [...family].reduce((sum, pid) => sum + (stats.get(pid)?.ticks ?? 0), 0) * (1000 / ticks);
}

/** Memory of every process below this one, in MB. */
function browsersMb() {
  const lines = execFileSync("ps", ["-eo", "pid=,ppid=,rss="], { encoding: "utf8" })
    .trim()
    .split("\n")
    .map((line) => line.trim().split(/\s+/).map(Number));
  const family = new Set([process.pid]);
  for (let grew = true; grew; ) {
    grew = false;
    for (const [pid, parent] of lines)
      if (family.has(parent) && !family.has(pid)) {
        family.add(pid);
        grew = true;
      }
  }
  return Math.round(lines.filter(([pid]) => family.has(pid) && pid !== process.pid).reduce((sum, [, , rss]) => sum + rss, 0) / 1024);
}

const paper = { paper: "A4", look: {}, codeAddress: "" };
let next = 1;
async function naive(browser, count) {
  for (let i = 0; i < count; i += 1) {
    const [record, issue] = [certificate(next), issueOf(next)];
    next += 1;
    const page = pageOf(record, issue, recordFile(record, issue), paper);
    const tab = await browser.newPage();
    await tab.setContent(
      `<!doctype html><html lang="en"><head><meta charset="utf-8"><title>${page.title}</title><style>${page.style.replace("body { display: none; }", "")}</style></head><body>${page.body}</body></html>`,
      { waitUntil: "load" },
    );
    await tab.pdf({
      preferCSSPageSize: true,
      printBackground: true,
      tagged: true,
      displayHeaderFooter: true,
      headerTemplate: "<span></span>",
      footerTemplate: `<div style="font-size:7px;width:100%;text-align:right">Page <span class="pageNumber"></span> of <span class="totalPages"></span></div>`,
    });
    await tab.close();
  }
}
async function ours(renderer, count) {
  await Promise.all(
    Array.from({ length: count }, () => {
      const number = next;
      next += 1;
      return renderer.render(certificate(number), issueOf(number), "pdf");
    }),
  );
}
async function timed(count, run) {
  const [cpu, at] = [cpuMs(), performance.now()];
  await run(count);
  return { ms: (performance.now() - at) / count, cpu: (cpuMs() - cpu) / count };
}
const median = (values) => [...values].sort((a, b) => a - b)[Math.floor(values.length / 2)] ?? Number.NaN;

const path = await findBrowserPath("", process.env);
if (path === undefined) throw new Error("no browser was found");
const full = ["/usr/lib/chromium/chromium", "/usr/lib/chromium-browser/chromium-browser"].find((candidate) => existsSync(candidate));
const root = process.getuid?.() === 0 ? ["--no-sandbox"] : [];
const launch = (executablePath, headless) =>
  puppeteer.launch({ executablePath, headless, args: ["--disable-gpu", "--no-first-run", ...root] });
const baselines = [
  ["the very binary used", await launch(path, path.includes("headless-shell") || path.startsWith("/tmp") ? "shell" : true)],
];
if (full !== undefined) baselines.unshift(["full Chromium", await launch(full, true)]);
const renderer = createRenderer({ browserPath: path, browsers: 2, paper: "A4" });
const times = new Map([["ours", []], ...baselines.map(([name]) => [name, []])]);
await ours(renderer, 4);
for (const [, browser] of baselines) await naive(browser, 1);
for (let round = 0; round < rounds; round += 1) {
  times.get("ours").push(await timed(documents, (count) => ours(renderer, count)));
  for (const [name, browser] of baselines)
    times.get(name).push(await timed(Math.max(4, Math.round(documents / 5)), (count) => naive(browser, count)));
}
const line = (name) => {
  const [ms, cpu] = [median(times.get(name).map((t) => t.ms)), median(times.get(name).map((t) => t.cpu))];
  return { ms, cpu };
};
const own = line("ours");
console.log(`${availableParallelism()} cores, load ${loadavg()[0].toFixed(1)}, ${path}`);
console.log(`finished certificates (PDF/A, record inside), two browsers: ${own.ms.toFixed(0)} ms, CPU ${own.cpu.toFixed(0)} ms a document`);
for (const [name] of baselines) {
  const base = line(name);
  console.log(`a new page a document, ${name}: ${base.ms.toFixed(0)} ms, CPU ${base.cpu.toFixed(0)} ms a document`);
  console.log(`ratio to ${name}: ${(base.ms / own.ms).toFixed(1)} x wall, ${(base.cpu / own.cpu).toFixed(1)} x CPU`);
}
if (full === undefined) console.log("full Chromium is not installed here, so the first ratio of the goal cannot be shown on this machine");
const sheets = await timed(documents, async (count) => {
  for (let i = 0; i < count; i += 1) {
    await renderer.render(certificate(next), issueOf(next), "xlsx");
    next += 1;
  }
});
console.log(`XLSX: ${(1000 / sheets.ms).toFixed(1)} documents a second`);
for (const [, browser] of baselines) await browser.close();
for (let done = 0; done < long; done += 200) {
  await ours(renderer, 200);
  console.log(`after ${done + 200} documents: browsers ${browsersMb()} MB, this process ${Math.round(process.memoryUsage().rss / 1e6)} MB`);
}
await renderer.close();
