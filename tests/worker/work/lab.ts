/** A lab of the invented mill in a folder of its own, opened in this process, with a clock that only the test moves. */
import { mkdirSync, mkdtempSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { dirname, join } from "node:path";
import { type EntryContent, type EntryRecord, entryWorkbook } from "../../../templates/example/entry-workbook.ts";
import {
  addStory,
  coilsOf,
  noRows,
  type OrderPlan,
  OWN_SPECIFICATION,
  PEOPLE,
  QUALITY,
  type Rows,
  registerRows,
  SETTINGS,
  type Story,
  seeded,
} from "../../../templates/example/scenario.ts";
import type { DocumentState } from "../../../worker/documents/life.ts";
import { identityOf } from "../../../worker/intake/inbox.ts";
import { type TakenFile, takeFile } from "../../../worker/process-file.ts";
import { addPerson, type Role } from "../../../worker/registers.ts";
import { defaultSettings, type Settings, settingsSchema } from "../../../worker/settings/settings.ts";
import { contentHash, loadLibrary } from "../../../worker/specifications.ts";
import { openWorkshop, type Workshop } from "../../../worker/workshop.ts";

export const DAY = "2026-03-03";

export interface TestClock {
  now(): Date;
  at: number;
}
export const testClock = (text = `${DAY}T09:00:00Z`): TestClock => ({
  at: Date.parse(text),
  now() {
    return new Date(this.at);
  },
});

export interface TestLab {
  readonly folder: string;
  readonly clock: TestClock;
  workshop: Workshop;
  /** Puts a file into the inbox. @returns its path */
  drop(name: string, bytes: Uint8Array | string): string;
  /** Drops and takes it, as the worker does when it is quiet. */
  take(name: string, bytes: Uint8Array): Promise<TakenFile>;
  documents(kind?: DocumentState["kind"]): Promise<readonly DocumentState[]>;
  factCount(): Promise<number>;
  /** Closes and opens again, with other settings or another specification where given. */
  reopen(change?: Partial<Settings>, specification?: object): Promise<void>;
  remove(): Promise<void>;
}

export async function testLab(change: Partial<Settings> = {}, adopted = true): Promise<TestLab> {
  const folder = mkdtempSync(join(tmpdir(), "coilbook-lab-"));
  const clock = testClock();
  const open = (settings: Settings): Promise<Workshop> => openWorkshop({ folder, data: join(folder, "data"), settings }, clock);
  for (const name of ["inbox", "specifications", "documents"]) mkdirSync(join(folder, name), { recursive: true });
  const write = (specification: object): void =>
    writeFileSync(join(folder, "specifications", "QW-100.json"), JSON.stringify(specification));
  write(OWN_SPECIFICATION);
  const base = settingsSchema.parse({
    ...defaultSettings(),
    lab: SETTINGS.lab,
    documents: { ...SETTINGS.documents, formats: ["xlsx"] },
    intake: { quietMs: 50 },
    worker: { concurrency: 1 },
  });
  let settings = { ...base, ...change };
  const lab: TestLab = {
    folder,
    clock,
    workshop: await open(settings),
    drop(name, bytes) {
      const path = join(folder, "inbox", name);
      mkdirSync(dirname(path), { recursive: true });
      writeFileSync(path, bytes);
      return path;
    },
    take(name, bytes) {
      const path = this.drop(name, bytes);
      return takeFile(this.workshop, { path, name, bytes, identity: identityOf(path) });
    },
    async documents(kind) {
      const all = (await this.workshop.ledger.list<DocumentState>("document")).map((state) => state.value);
      return all.filter((document) => kind === undefined || document.kind === kind);
    },
    factCount: async () => (await lab.workshop.ledger.facts()).length,
    async reopen(next = {}, specification) {
      await this.workshop.ledger.close();
      if (specification !== undefined) write(specification);
      settings = { ...settings, ...next };
      this.workshop = await open(settings);
    },
    async remove() {
      await this.workshop.ledger.close();
      rmSync(folder, { recursive: true, force: true });
    },
  };
  for (const person of PEOPLE) await addPerson(lab.workshop.ledger, { name: person.name, roles: person.roles as readonly Role[] }, QUALITY);
  if (adopted) await adopt(lab.workshop);
  return lab;
}

export async function adopt({ ledger, lab, library }: Workshop): Promise<void> {
  const found = (library ?? loadLibrary(lab.folder)).find("QW 100");
  if (found === undefined) throw new Error("QW 100 is not held");
  await ledger.transaction(QUALITY, async (tx) => {
    await tx.append({
      kind: "specification-adopted",
      key: `${found.id}|${found.edition}`,
      payload: { specification: found.id, edition: found.edition, content: contentHash(found.data), by: QUALITY, on: DAY },
    });
  });
}

/** An order of the invented specification; limits as in its table for grade Q2 at 2.00 mm. */
export const plan = (change: Partial<OrderPlan> = {}): OrderPlan => ({
  order: "T-001",
  item: "10",
  customer: "Brindlefoot Springs",
  customerOrder: "BF 1",
  product: "Spring wire, bright",
  specification: "QW 100",
  grade: "Q2",
  nominal: "2.00",
  documentType: "2.2",
  language: "en",
  heat: "H1",
  firstCoil: 90_001,
  coils: 3,
  coilMass: 240,
  limits: { strength: [1800, 2050], diameter: [1.98, 2.02], outOfRound: 0.02, turns: 22, freeLength: 200, mandrel: 2 },
  ...change,
});

export const coilNames = (order: OrderPlan): readonly string[] => coilsOf(order);

const CALIBRATION = { inch: false, calibratedOn: "2025-11-02", dueOn: "2026-11-02", lapsedOn: "2025-01-15" };

export interface BookOptions {
  /** What happens to each coil, in order; the others conform. */
  readonly stories?: readonly Story[];
  /** Coils of the register; the tests are of `coils` of the plan. */
  readonly registered?: OrderPlan;
  /** Without Orders, Coils, Heats and Instruments. */
  readonly testsOnly?: boolean;
  readonly edit?: (rows: Rows) => void;
}

/** The filled workbook of one order. Readings depend on the coil alone, so that a longer book begins like a shorter one. */
export function book(order: OrderPlan, { stories = [], registered = order, testsOnly = false, edit }: BookOptions = {}): Uint8Array {
  const rows = noRows();
  coilsOf(order).forEach((coil, i) => {
    addStory(rows, coil, order, stories[i] ?? "conforming", { inch: false, day: DAY, random: seeded(Number(coil)) });
  });
  edit?.(rows);
  const { coiling: _, ...tests } = rows;
  const registers = testsOnly ? {} : registerRows([registered], CALIBRATION);
  return entryWorkbook({ units: "SI", sheets: { ...registers, ...tests } } as EntryContent);
}

/** Replaces fields of the rows of one test piece. */
export function change(rows: readonly EntryRecord[], testPiece: string, fields: EntryRecord): void {
  const list = rows as EntryRecord[];
  const at = list.findIndex((row) => row["testPiece"] === testPiece);
  if (at < 0) throw new Error(`no test piece ${testPiece}`);
  list[at] = { ...list[at], ...fields };
}
