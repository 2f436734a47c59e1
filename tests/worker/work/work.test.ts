/** The worker's loop in this process, on real files. Rules: the contract, section 4 (run-time details). */
import { existsSync, mkdirSync, readdirSync, readFileSync, writeFileSync } from "node:fs";
import { join } from "node:path";
import { afterEach, beforeEach, describe, expect, it } from "vitest";
import { sha256, temporaryPath } from "../../../worker/files.ts";
import { auditLab } from "../../../worker/ledger/audit-lab.ts";
import { work } from "../../../worker/work.ts";
import { book, plan, type TestLab, testLab } from "./lab.ts";

let lab: TestLab;
let said: string[];
beforeEach(async () => {
  lab = await testLab();
  said = [];
});
afterEach(() => lab.remove());

const drain = () => work(lab.workshop, { drain: true, signal: new AbortController().signal, log: (line) => said.push(line) });
const listed = (folder: string): readonly string[] =>
  readdirSync(join(lab.folder, folder), { recursive: true, withFileTypes: true })
    .filter((entry) => entry.isFile())
    .map((entry) => join(entry.parentPath, entry.name).slice(join(lab.folder, folder).length + 1))
    .sort();
const workbook = book(plan());

describe("a drain", () => {
  it("takes every workbook, answers it, writes its documents and leaves nothing unfinished", async () => {
    lab.drop("good.xlsx", workbook);
    lab.drop("deep/er/failing.xlsx", book(plan({ order: "T-002", heat: "H2", firstCoil: 91_001 }), { stories: ["diameter-out"] }));
    lab.drop("broken.xlsx", "coil;turns\n");
    expect(await drain()).toMatchObject({ files: 3, refused: 1, dead: 0, serviceAway: false });
    expect(listed("inbox")).toEqual([]);
    expect(listed("returned")).toEqual(["deep/er/failing.xlsx", "good.xlsx"]);
    expect(listed("refused")).toEqual(["broken.xlsx", "broken.xlsx.why.txt", "broken.xlsx.why.xlsx"]);
    expect(listed("documents")).toEqual(["T-001/2026-00002.xlsx", "T-002/2026-00001.xlsx"]);
    expect(listed("data").filter((name) => !name.startsWith("kept/"))).not.toContainEqual(expect.stringMatching(/tmp/));
    expect(await auditLab(lab.workshop)).toEqual([]);
  });

  it("run again, or fed the same file again, changes nothing", async () => {
    lab.drop("good.xlsx", workbook);
    await drain();
    const before = [await lab.factCount(), listed("documents"), listed("returned")];
    lab.drop("good.xlsx", workbook);
    expect(await drain()).toMatchObject({ files: 1, jobs: 0 });
    await drain();
    expect([await lab.factCount(), listed("documents"), listed("returned")]).toEqual(before);
    expect(said.at(-1)).toMatch(/good\.xlsx: read and judged \(first received as good\.xlsx at 2026-03-03T09:00:00.000Z; answered again\)/);
  });

  it("names a half-written file, leaves it, and is not held by it", async () => {
    lab.drop("half.xlsx", workbook.slice(0, workbook.length - 300));
    lab.drop("good.xlsx", workbook);
    lab.drop("~$good.xlsx", "someone");
    expect(await drain()).toMatchObject({ files: 1 });
    expect(said.filter((line) => line.startsWith("waits"))).toEqual([
      "waits: half.xlsx: is not complete yet: the end of the workbook is missing",
    ]);
    expect(listed("inbox")).toEqual(["half.xlsx", "~$good.xlsx"]);
    expect(readFileSync(join(lab.folder, "register", "now.html"), "utf8")).toContain("half.xlsx is not complete yet");
  });

  it("does the rest where one file cannot be taken, keeps that one, and then says so", async () => {
    lab.drop("a.xlsx", workbook);
    lab.drop("b.xlsx", book(plan({ order: "T-002", heat: "H2", firstCoil: 91_001 })));
    // A folder where the original would be written: the disk refuses.
    mkdirSync(temporaryPath(join(lab.folder, "data", "kept", `${sha256(workbook)}.xlsx`)), { recursive: true });
    await expect(drain()).rejects.toThrow(/work: a\.xlsx could not be taken and stays in the inbox: EISDIR/);
    expect(listed("inbox")).toEqual(["a.xlsx"]);
    expect(listed("returned")).toEqual(["b.xlsx"]);
    expect(said.filter((line) => line.includes("could not be taken"))[0]).toMatch(
      /a\.xlsx: could not be taken: EISDIR.*stays in the inbox and is tried again/,
    );
  }, 30_000);

  it("clears what an earlier run left unfinished, and only that", async () => {
    const left = join(lab.folder, "documents", "T-009", ".2026-00009.pdf.999999.tmp");
    const temporary = join(lab.folder, "data", "tmp", "999999", "half");
    for (const path of [left, temporary]) {
      mkdirSync(join(path, ".."), { recursive: true });
      writeFileSync(path, "half");
    }
    const finished = join(lab.folder, "documents", "T-009", "2026-00009.pdf");
    writeFileSync(finished, "whole");
    await drain();
    expect([existsSync(left), existsSync(temporary), existsSync(finished)]).toEqual([false, false, true]);
  });
});

describe("a watching worker", () => {
  // How soon is measured by npm run bench -- worker, never here.
  it("takes a file that is dropped, shows it, and ends at the signal", async () => {
    const stop = new AbortController();
    const working = work(lab.workshop, { drain: false, signal: stop.signal, log: (line) => said.push(line) });
    await new Promise((resolve) => setTimeout(resolve, 300));
    const path = lab.drop("good.xlsx", workbook);
    await expect.poll(() => existsSync(path), { timeout: 30_000, interval: 20 }).toBe(false);
    await expect.poll(() => readFileSync(join(lab.folder, "register", "now.html"), "utf8"), { timeout: 30_000 }).toContain("good.xlsx");
    stop.abort();
    expect(await working).toMatchObject({ files: 1 });
  });
});
