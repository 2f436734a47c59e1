// Measures reading, judging and annotating beside exceljs in one run: every case in a process of its own, the cases taking turns.
// node scripts/bench-workbook.mjs [--rounds 3] [--rows 100000] [--built FOLDER]   (FOLDER: compiled sources, else dist/, built first)
import { spawnSync } from "node:child_process";
import { mkdtempSync, readFileSync, rmSync, writeFileSync } from "node:fs";
import { createRequire } from "node:module";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { fileURLToPath, pathToFileURL } from "node:url";
import { parseArgs } from "node:util";
import { inflateRawSync } from "node:zlib";
import { dayBook, zip } from "./bench/day-book.mjs";

const root = fileURLToPath(new URL("..", import.meta.url));
const { values: flags } = parseArgs({
  options: {
    rounds: { type: "string", default: "3" },
    rows: { type: "string", default: "100000" },
    built: { type: "string", default: join(root, "dist") },
    case: { type: "string" },
    file: { type: "string" },
  },
});
const ours = (path) => import(pathToFileURL(join(flags.built, path)).href);
const TODAY = "2026-06-30";

/** What the child processes do. Each gets the bytes and gives back a figure that shows that the work was done. */
const CASES = {
  /** Only unpacks: the floor under everything that reads. */
  inflate: (bytes) => {
    let total = 0;
    for (const { start, size } of entriesOf(bytes)) total += inflateRawSync(bytes.subarray(start, start + size)).length;
    return total;
  },
  /** Every cell of every row, as a program that does something with it meets it. */
  read: async (bytes) => {
    const { readWorkbook } = await ours("core/workbook/index.js");
    const { ZLIB } = await ours("worker/zlib-codec.js");
    const result = readWorkbook(new Uint8Array(bytes), ZLIB);
    let cells = 0;
    for (const sheet of result.workbook.sheets) for (const row of sheet.rows.values()) cells += row.length;
    return cells;
  },
  "read-and-judge": async (bytes) => {
    const { judgement } = await readAndJudge(bytes);
    return judgement.orders.reduce((sum, order) => sum + order.coils.length, 0);
  },
  /** The marks are given; reading and judging are measured elsewhere. */
  annotate: async (bytes) => {
    const { annotateWorkbook } = await ours("core/workbook/index.js");
    const { ZLIB } = await ours("worker/zlib-codec.js");
    return annotateWorkbook(new Uint8Array(bytes), marksFor(Number(flags.rows)), ZLIB).length;
  },
  "read-judge-annotate": async (bytes) => {
    const { annotateWorkbook } = await ours("core/workbook/index.js");
    const { toAnnotation } = await ours("templates/annotation.js");
    const { words } = await ours("templates/wording.js");
    const { ZLIB } = await ours("worker/zlib-codec.js");
    const { read, judgement } = await readAndJudge(bytes);
    const annotation = toAnnotation(read.entry, judgement, [...read.findings, ...judgement.findings], words("en"));
    return annotateWorkbook(new Uint8Array(bytes), annotation, ZLIB).length;
  },
  "exceljs-load": async (bytes) => {
    const book = await loaded(bytes);
    return book.worksheets.reduce((sum, sheet) => sum + sheet.rowCount, 0);
  },
  "exceljs-load-mark-save": async (bytes) => {
    const book = await loaded(bytes);
    const fill = { type: "pattern", pattern: "solid", fgColor: { argb: "FFF3D6D3" } };
    for (const sheet of book.worksheets) {
      if (!TEST_SHEETS.includes(sheet.name)) continue;
      sheet.eachRow((row, number) => {
        if (number === 1) return;
        const cell = row.getCell(16);
        cell.value = "conforms";
        cell.fill = fill;
        row.getCell(17).value = WHY;
        row.getCell(18).value = "";
      });
    }
    return (await book.xlsx.writeBuffer()).byteLength;
  },
  "refuse-bomb": async (bytes) => {
    const { readWorkbook } = await ours("core/workbook/index.js");
    const { ZLIB } = await ours("worker/zlib-codec.js");
    const result = readWorkbook(new Uint8Array(bytes), ZLIB);
    return result.ok ? 0 : result.refusal.code;
  },
};

const TEST_SHEETS = ["Torsion", "Tensile", "Wrap", "Diameter"];
const WHY = "24.0 as measured, 24 compared, at least 22 asked";

function marksFor(rows) {
  const each = Math.ceil(rows / TEST_SHEETS.length);
  const cells = (text, style) => new Map(Array.from({ length: each }, (_, n) => [n + 2, { text, style }]));
  return {
    sheets: TEST_SHEETS.map((name) => ({
      name,
      headerRow: 1,
      columns: [
        { header: "Verdict", width: 22, cells: cells("■ conforms", "conforms") },
        { header: "Why", width: 90, cells: cells(WHY, "plain") },
        { header: "Next", width: 70, cells: cells("", "plain") },
      ],
    })),
    findings: { name: "Findings", rows: [["Severity"], ["none"]], widths: [10] },
  };
}

async function readAndJudge(bytes) {
  const { readFile } = await ours("worker/read-file.js");
  const { judge } = await ours("core/judge/index.js");
  const { EMPTY_REGISTERS } = await ours("core/entry/index.js");
  const { builtInLibrary } = await ours("core/spec/index.js");
  const library = builtInLibrary();
  const reading = readFile(new Uint8Array(bytes), {
    name: "day-book.xlsx",
    sha256: "",
    today: TODAY,
    decimalMark: ".",
    registers: EMPTY_REGISTERS,
    library,
  });
  if (!reading.ok) throw new Error(`refused: ${reading.refusal.text}`);
  const { entry, merged } = reading.read;
  const judgement = judge({
    ...merged.all,
    tests: entry.tests,
    unread: [],
    settlements: [],
    specifications: library,
    isAdopted: () => false,
    today: TODAY,
    freeLengthTolerance: "0.01",
  });
  return { read: reading.read, judgement };
}

async function loaded(bytes) {
  const Excel = createRequire(join(root, "package.json"))("exceljs");
  const book = new Excel.Workbook();
  await book.xlsx.load(bytes);
  return book;
}

/** Packed parts, by a plain walk over the central directory. */
function entriesOf(bytes) {
  const end = bytes.lastIndexOf(Buffer.from("PK\u0005\u0006"));
  const found = [];
  let at = bytes.readUInt32LE(end + 16);
  for (let i = 0; i < bytes.readUInt16LE(end + 10); i += 1) {
    const local = bytes.readUInt32LE(at + 42);
    const start = local + 30 + bytes.readUInt16LE(local + 26) + bytes.readUInt16LE(local + 28);
    found.push({ start, size: bytes.readUInt32LE(at + 20) });
    at += 46 + bytes.readUInt16LE(at + 28) + bytes.readUInt16LE(at + 30) + bytes.readUInt16LE(at + 32);
  }
  return found;
}

/** Starting up and loading the file are left out of time and CPU, but not out of memory. */
async function child() {
  if (flags.case.startsWith("make-")) {
    writeFileSync(flags.file, flags.case === "make-bomb" ? bomb() : dayBook(Number(flags.rows)));
    process.stdout.write("{}");
    return;
  }
  const bytes = readFileSync(flags.file);
  if (flags.case.startsWith("exceljs")) createRequire(join(root, "package.json"))("exceljs");
  else if (flags.case !== "inflate") for (const path of ["worker/read-file.js", "core/judge/index.js"]) await ours(path);
  const [began, cpu] = [performance.now(), process.cpuUsage()];
  const figure = await CASES[flags.case](bytes);
  const used = process.cpuUsage(cpu);
  const megabytes = process.resourceUsage().maxRSS / 1024;
  process.stdout.write(JSON.stringify({ figure, ms: performance.now() - began, cpuMs: (used.user + used.system) / 1000, megabytes }));
}

function parent() {
  if (flags.built === join(root, "dist")) {
    const built = spawnSync(process.execPath, [join(root, "scripts/build.mjs")], { stdio: "inherit" });
    if (built.status !== 0) process.exit(70);
  }
  const folder = mkdtempSync(join(tmpdir(), "coilbook-bench-"));
  try {
    const rows = Number(flags.rows);
    const files = { large: join(folder, "large.xlsx"), small: join(folder, "small.xlsx"), bomb: join(folder, "bomb.xlsx") };
    // In processes of their own as well: a child begins with the peak of the process it comes from.
    for (const [kind, file] of Object.entries(files)) measure(`make-${kind}`, file, kind === "large" ? rows : 5000);
    const runs = [
      ["inflate", "large", rows],
      ["read", "large", rows],
      ["read-and-judge", "large", rows],
      ["exceljs-load", "large", rows],
      ["annotate", "large", rows],
      ["read-judge-annotate", "large", rows],
      ["exceljs-load-mark-save", "large", rows],
      ["annotate", "small", 5000],
      ["exceljs-load-mark-save", "small", 5000],
      ["refuse-bomb", "bomb", 0],
    ];
    const measured = new Map(runs.map(([name, file]) => [`${name} ${file}`, []]));
    for (let round = 0; round < Number(flags.rounds); round += 1)
      for (const [name, file, count] of runs) measured.get(`${name} ${file}`).push(measure(name, files[file], count));
    process.exitCode = report(measured, rows) ? 0 : 1;
  } finally {
    rmSync(folder, { recursive: true, force: true });
  }
}

function measure(name, file, rows) {
  const args = [fileURLToPath(import.meta.url), "--case", name, "--file", file, "--rows", String(rows), "--built", flags.built];
  const done = spawnSync(process.execPath, args, { encoding: "utf8", timeout: 600_000 });
  if (done.status !== 0) throw new Error(`${name} ended with ${done.status}: ${done.stderr}`);
  return JSON.parse(done.stdout);
}

const median = (numbers) => [...numbers].sort((a, b) => a - b)[Math.floor(numbers.length / 2)];

/** @returns true where every goal is held */
function report(measured, rows) {
  const of = (key, field) => median(measured.get(key).map((one) => one[field]));
  const worst = (key, field) => Math.max(...measured.get(key).map((one) => one[field]));
  process.stdout.write(
    `\n${rows} rows x 15 columns; medians of ${flags.rounds} rounds, cases taking turns; memory is the highest peak\n\n`,
  );
  process.stdout.write("| case | file | ms | CPU ms | peak MB |\n| --- | --- | ---: | ---: | ---: |\n");
  for (const key of measured.keys()) {
    const [name, file] = key.split(" ");
    process.stdout.write(
      `| ${name} | ${file} | ${of(key, "ms").toFixed(0)} | ${of(key, "cpuMs").toFixed(0)} | ${worst(key, "megabytes").toFixed(0)} |\n`,
    );
  }
  const ratio = (a, b, field) => of(a, field) / of(b, field);
  const goals = [
    ["read: share of exceljs load, CPU", ratio("read large", "exceljs-load large", "cpuMs"), 1 / 6],
    ["read: times inflating, CPU", ratio("read large", "inflate large", "cpuMs"), 4],
    ["read: peak MB", worst("read large", "megabytes"), 250],
    ["read and judge: share of exceljs load, CPU", ratio("read-and-judge large", "exceljs-load large", "cpuMs"), 1 / 6],
    ["read and judge: times inflating, CPU", ratio("read-and-judge large", "inflate large", "cpuMs"), 4],
    ["read and judge: peak MB", worst("read-and-judge large", "megabytes"), 250],
    ["annotate: share of exceljs load and save, CPU", ratio("annotate large", "exceljs-load-mark-save large", "cpuMs"), 1 / 6],
    ["annotate: peak MB", worst("annotate large", "megabytes"), 350],
    [
      "read, judge, annotate: share of exceljs load and save, CPU",
      ratio("read-judge-annotate large", "exceljs-load-mark-save large", "cpuMs"),
      1 / 6,
    ],
    ["read, judge, annotate: peak MB", worst("read-judge-annotate large", "megabytes"), 350],
    ["annotate 5,000 rows: share of exceljs load and save, CPU", ratio("annotate small", "exceljs-load-mark-save small", "cpuMs"), 1 / 5],
    ["bomb refused: ms", worst("refuse-bomb bomb", "ms"), 5000],
    ["bomb refused: peak MB", worst("refuse-bomb bomb", "megabytes"), 400],
  ];
  process.stdout.write("\n| goal | measured | at most | held |\n| --- | ---: | ---: | --- |\n");
  for (const [text, value, limit] of goals)
    process.stdout.write(`| ${text} | ${value.toFixed(3)} | ${limit.toFixed(3)} | ${value <= limit ? "yes" : "NO"} |\n`);
  return goals.every(([, value, limit]) => value <= limit);
}

/** A gigabyte of blanks in the sheet, told small in the directory by nobody: the reader has to count for itself. */
function bomb() {
  const blanks = Buffer.alloc(200 * 1024 * 1024, 32);
  return zip([
    ["[Content_Types].xml", '<Types xmlns="http://schemas.openxmlformats.org/package/2006/content-types"/>'],
    ["_rels/.rels", blanks],
  ]);
}

if (flags.case !== undefined) await child();
else parent();
