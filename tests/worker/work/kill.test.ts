/**
 * The real worker, killed without warning in the middle of a drain over the samples and started again. What must hold: the contract's
 * "restarts after a power cut, sends nothing twice"; the moments are random, with a seed.
 */
import { type ChildProcess, spawn } from "node:child_process";
import { cpSync, existsSync, readdirSync, readFileSync } from "node:fs";
import { join } from "node:path";
import { afterAll, beforeAll, describe, expect, it } from "vitest";
import { canonicalContent } from "../../../core/spec/index.ts";
import { seeded } from "../../../templates/example/scenario.ts";
import { systemClock } from "../../../worker/clock.ts";
import type { DocumentState } from "../../../worker/documents/life.ts";
import { findLab } from "../../../worker/settings/settings.ts";
import { openWorkshop } from "../../../worker/workshop.ts";
import { expectRun, projectPath, temporaryFolder } from "../../helpers/cli.ts";
import { dropSamples, makeSampleLab, manifest } from "../../helpers/sample-lab.ts";

const folder = temporaryFolder();
const untouched = join(folder.path, "untouched");
const { today } = manifest();

interface Ended {
  readonly code: number | null;
  readonly signal: string | null;
  readonly ms: number;
  readonly said: string;
}

/** When the worker is killed: after a time, or so long after it said so many lines, whichever comes first. */
interface Moment {
  readonly ms?: number;
  readonly lines?: number;
  readonly pause?: number;
}

/** The worker as a process of its own. @param moment without, it is let be */
function drain(lab: string, formats: string, moment: Moment = {}): Promise<Ended> {
  const started = performance.now();
  const child: ChildProcess = spawn(
    process.execPath,
    [projectPath("bin", "coilbook.js"), "work", "--drain", "--lab", lab, "--today", today],
    {
      stdio: ["ignore", "pipe", "pipe"],
      env: { ...process.env, COILBOOK_LAB: "", COILBOOK_DATA: "", COILBOOK_DOCUMENTS_FORMATS: formats, TMPDIR: folder.path },
    },
  );
  let said = "";
  child.stdout?.on("data", (text) => {
    said += text;
  });
  const timers: NodeJS.Timeout[] = [];
  const killIn = (ms: number): void => {
    timers.push(setTimeout(() => child.kill("SIGKILL"), ms));
  };
  if (moment.ms !== undefined) killIn(moment.ms);
  child.stderr?.on("data", (text) => {
    said += text;
    if (moment.lines !== undefined && said.split("\n").length > moment.lines && timers.length < 2) killIn(moment.pause ?? 0);
  });
  return new Promise((resolve) =>
    child.on("exit", (code, signal) => {
      for (const timer of timers) clearTimeout(timer);
      resolve({ code, signal, ms: performance.now() - started, said });
    }),
  );
}

const filesBelow = (path: string): readonly string[] =>
  existsSync(path)
    ? readdirSync(path, { recursive: true, withFileTypes: true })
        .filter((entry) => entry.isFile())
        .map((entry) => join(entry.parentPath, entry.name).slice(path.length + 1))
        .sort()
    : [];

/** Everything that must not depend on how often the power went. */
async function outcome(lab: string) {
  const found = findLab({ lab }, {});
  if (found === undefined) throw new Error("no lab");
  const { ledger } = await openWorkshop(found, systemClock, { readOnly: true });
  try {
    const documents = (await ledger.list<DocumentState>("document")).map((state) => state.value);
    const facts = await ledger.facts();
    return {
      documents: documents
        .map((d) => ({
          kind: d.kind,
          coils: d.coils,
          record: canonicalContent(d.record),
          numbered: d.number !== undefined,
          status: d.status,
        }))
        .sort((a, b) => (a.record < b.record ? -1 : 1)),
      numbers: documents.flatMap((d) => d.number ?? []).sort(),
      verdicts: (await ledger.list<{ verdict: object }>("verdict")).map((s) => [s.key, canonicalContent(s.value.verdict)]),
      rows: (await ledger.list("row")).map((state) => state.key),
      // How often each thing was written down: once, whatever happened.
      facts: facts.map((fact) => `${fact.kind} ${fact.key}`).sort(),
      inbox: filesBelow(join(lab, "inbox")),
      kept: filesBelow(join(found.data, "kept")),
      returned: filesBelow(join(lab, "returned")),
      refused: filesBelow(join(lab, "refused")),
      files: filesBelow(join(lab, "documents")),
    };
  } finally {
    await ledger.close();
  }
}

const copyOf = (name: string): string => {
  const lab = join(folder.path, name);
  cpSync(untouched, lab, { recursive: true });
  return lab;
};

beforeAll(() => {
  makeSampleLab(untouched);
  dropSamples(untouched, "inbox");
  dropSamples(untouched, "broken", ["renamed-text.xlsx", "password.xlsx", "damaged.xlsx"]);
}, 180_000);
afterAll(() => {
  endOrphans();
  folder.remove();
});

/** A browser may outlive the worker that was killed; what this test started is known by its temporary folder. */
function endOrphans(): void {
  if (!existsSync("/proc/self/environ")) return;
  for (const pid of readdirSync("/proc").filter((name) => /^\d+$/.test(name)))
    try {
      if (readFileSync(join("/proc", pid, "environ"), "utf8").includes(`TMPDIR=${folder.path}\0`)) process.kill(Number(pid), "SIGKILL");
    } catch {
      // Gone meanwhile, or somebody else's.
    }
}

describe.each([
  { formats: "xlsx", seeds: [1, 2, 3, 4], kills: 4 },
  { formats: "pdf,xlsx", seeds: [5], kills: 3 },
])("a drain that writes $formats", ({ formats, seeds, kills }) => {
  let undisturbed: Awaited<ReturnType<typeof outcome>>;
  let wholeMs = 0;
  let startMs = 0;

  beforeAll(async () => {
    const lab = copyOf(`undisturbed-${formats}`);
    const done = await drain(lab, formats);
    expect(done.code, done.said).toBe(0);
    wholeMs = done.ms;
    undisturbed = await outcome(lab);
    // The same command with nothing left to do: what lies below this is the start of the program.
    startMs = (await drain(lab, formats)).ms;
    expect(await outcome(lab)).toEqual(undisturbed);
  }, 180_000);

  it("issues something worth disturbing", () => {
    expect(undisturbed.numbers.length).toBeGreaterThan(2);
    expect(new Set(undisturbed.numbers).size).toBe(undisturbed.numbers.length);
    expect(undisturbed.files.length).toBe(undisturbed.numbers.length * formats.split(",").length);
    expect(undisturbed.inbox).toEqual([]);
  });

  it.each(seeds)(
    "and is killed at random moments (seed %i) ends as an undisturbed one",
    async (seed) => {
      const random = seeded(seed);
      const lab = copyOf(`killed-${seed}`);
      let killed = 0;
      for (let i = 0; i < kills; i += 1) {
        // The first while files still come in, for certain; the others anywhere between the start and the end.
        const moment =
          i === 0
            ? { lines: 1 + Math.floor(random() * 4), pause: random() * 40 }
            : { ms: startMs / 3 + random() * (wholeMs - startMs / 3) * 0.8 };
        const done = await drain(lab, formats, moment);
        if (done.signal === "SIGKILL") killed += 1;
        else expect(done.code, done.said).toBe(0);
      }
      expect(killed).toBeGreaterThan(0);
      const last = await drain(lab, formats);
      expect(last.code, last.said).toBe(0);
      expect(await outcome(lab)).toEqual(undisturbed);
      expectRun([0], ["audit", "--lab", lab]);
    },
    180_000,
  );
});

describe("two workers on one inbox", () => {
  it("end as one does, also where one of them is killed", async () => {
    const alone = copyOf("one-worker");
    expect((await drain(alone, "xlsx")).code).toBe(0);
    const lab = copyOf("two-workers");
    const [first, second] = await Promise.all([drain(lab, "xlsx"), drain(lab, "xlsx", { lines: 1, pause: 100 })]);
    expect(first.code, first.said).toBe(0);
    expect([0, null], second.said).toContain(second.code);
    expect((await drain(lab, "xlsx")).code).toBe(0);
    // Which of the two entered a file first is open, and with it the order of the facts and numbers.
    expect(await outcome(lab)).toEqual(await outcome(alone));
    expectRun([0], ["audit", "--lab", lab]);
  }, 180_000);
});
