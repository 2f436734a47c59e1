/** One workbook from the inbox into the ledger, and its answer back to the clerk. Everything bears being done twice. */
import { existsSync, readFileSync, rmSync } from "node:fs";
import { join } from "node:path";
import type { Finding, Judgement, OrderItem, OrderVerdict, Refusal } from "../core/model.ts";
import { canonicalContent } from "../core/spec/index.ts";
import { annotateWorkbook } from "../core/workbook/index.ts";
import { toAnnotation } from "../templates/annotation.ts";
import { refusalWorkbook } from "../templates/refusal.ts";
import { words } from "../templates/wording.ts";
import { type IssueContext, issueAutomatically, issueContext } from "./documents/life.ts";
import { raiseNotice } from "./documents/notices.ts";
import { flushFolder, putAside, sha256, writeAtomically } from "./files.ts";
import { tryReading } from "./guard/index.ts";
import { identityOf, type ReadyFile } from "./intake/inbox.ts";
import { earlierRows, itemKey, judgeItems, readRegisters } from "./judge-lab.ts";
import { loadMaps } from "./maps.ts";
import type { LedgerReader, LedgerTransaction } from "./ports/ledger.ts";
import { questionDocuments } from "./quality/question.ts";
import { checkWireWarnings, type FileReading, findingsOfRows, liveFindings, readFile } from "./read-file.ts";
import { recordRows, registerAdded } from "./record-entry.ts";
import { contentHash } from "./specifications.ts";
import type { Workshop } from "./workshop.ts";
import { ZLIB } from "./zlib-codec.ts";

export interface FileState {
  readonly receipt: string;
  readonly sha256: string;
  /** Relative to the inbox. */
  readonly name: string;
  readonly receivedAt: string;
  readonly status: "judged" | "refused";
  readonly refusal?: Refusal;
  /** What the judgement and the ledger found when it was entered. */
  readonly findings: readonly Finding[];
  /** Order items it touched. */
  readonly items: readonly string[];
  /** The day it was judged on. */
  readonly judgedOn: string;
}

export const keptPath = (workshop: Workshop, hash: string): string => join(workshop.lab.data, "kept", `${hash}.xlsx`);

export interface TakenFile {
  readonly state: FileState;
  /** The receipt of the same content that came before, under this or another name. */
  readonly known?: FileState;
  /** True where it could not be removed from the inbox, since another program holds it. */
  readonly left: boolean;
}

/** Keeps, enters, answers and removes one file. A crash anywhere leaves it in the inbox or in the ledger, never in neither. */
export async function takeFile(workshop: Workshop, file: ReadyFile): Promise<TakenFile> {
  const hash = sha256(file.bytes);
  const kept = keptPath(workshop, hash);
  if (!existsSync(kept)) writeAtomically(kept, file.bytes, 0o444);
  const receipt = sha256(`${hash}\u0000${file.name}`).slice(0, 32);
  const known = await receiptOf(workshop.ledger, hash);
  const stopped = known === undefined ? await guarded(file) : undefined;
  const state = known === undefined ? await enter(workshop, file, hash, receipt, stopped) : { ...known, name: file.name, receipt };
  // The same content again, under this or another name: the same answer, no second judgement.
  if (known !== undefined) await answer(workshop, state);
  const left = !removeFromInbox(file);
  return { state, ...(known === undefined ? {} : { known }), left };
}

/** The receipt of a content. One whose reading was given up is none: a quieter machine may read it. */
const receiptOf = async (reader: LedgerReader, hash: string): Promise<FileState | undefined> =>
  (await reader.list<FileState>("file", hash)).map((state) => state.value).find((state) => state.refusal?.code !== "gave-up");

/** What a small file can do is bounded by the package's own limits, and a process of its own would take longer than reading it. */
const GUARDED_FROM = 1024 * 1024;

/** Why a large file cannot be read, tried where it can do no harm to this process. */
const guarded = (file: ReadyFile): Promise<Refusal | undefined> =>
  file.bytes.length < GUARDED_FROM ? Promise.resolve(undefined) : tryReading(file.bytes);

/** Removes exactly what was read: a file saved over it meanwhile is another one. @returns false where another program holds it */
function removeFromInbox(file: ReadyFile): boolean {
  try {
    if (identityOf(file.path) !== file.identity) return true;
    rmSync(file.path);
    flushFolder(join(file.path, ".."));
    return true;
  } catch (error) {
    const { code = "" } = error as NodeJS.ErrnoException;
    if (code === "ENOENT") return true;
    if (["EBUSY", "EPERM", "EACCES", "EROFS"].includes(code)) return false;
    throw error;
  }
}

async function enter(workshop: Workshop, file: ReadyFile, hash: string, receipt: string, stopped: Refusal | undefined): Promise<FileState> {
  const context = issueContext(workshop);
  return workshop.ledger.transaction("worker", async (tx) => {
    // Another worker on the same inbox may have been quicker.
    const quicker = await receiptOf(tx, hash);
    if (quicker !== undefined) return quicker;
    const reading: FileReading =
      stopped === undefined ? await read(workshop, tx, file.bytes, file.name, hash) : { ok: false, refusal: stopped, findings: [] };
    const before = await tx.get<FileState>("file", receipt);
    const base = { receipt, sha256: hash, name: file.name, receivedAt: context.now.toISOString(), judgedOn: workshop.today() };
    let state: FileState;
    if (!reading.ok) {
      state = { ...base, status: "refused", refusal: reading.refusal, findings: reading.findings, items: [] };
      await tx.append({ kind: "file-refused", key: receipt, payload: state });
    } else {
      const { entry, merged, coils } = reading.read;
      await registerAdded(tx, merged.added);
      const recorded = await recordRows(tx, entry, file.name, coils);
      const items = await touchedItems(tx, coils, merged.added.orders);
      const judgement = await judgeItems(tx, items, workshop.judgeOptions());
      await keepVerdicts(workshop, tx, judgement, context);
      const findings = [
        ...reading.read.findings,
        ...recorded,
        ...looseCoils(
          reading,
          merged.all.coils.map((c) => c.coil),
        ),
        ...findingsOfRows(judgement.findings, entry.tests),
        ...checkWireWarnings(entry.tests, (await earlierRows(tx, coils)).tests),
        ...liveFindings(entry, judgement),
      ];
      state = { ...base, status: "judged", findings, items };
      await tx.append({ kind: "file-received", key: receipt, payload: state });
    }
    // A content that was given up before is answered anew.
    const again = before === undefined ? "" : `|${context.now.toISOString()}`;
    await tx.enqueue({ job: "answer-file", key: `answer|${receipt}${again}`, payload: { receipt } });
    return state;
  });
}

async function read(
  workshop: Workshop,
  reader: LedgerTransaction | Workshop["ledger"],
  bytes: Uint8Array,
  name: string,
  hash: string,
  today = workshop.today(),
): Promise<FileReading> {
  return readFile(bytes, {
    name,
    sha256: hash,
    today,
    decimalMark: workshop.lab.settings.entry.decimalMark,
    registers: await readRegisters(reader),
    library: workshop.library,
    maps: loadMaps(workshop.lab.folder),
  });
}

async function touchedItems(tx: LedgerTransaction, coils: readonly string[], added: readonly OrderItem[]): Promise<readonly string[]> {
  const items = new Set(added.map((order) => itemKey(order.order, order.item)));
  for (const name of coils) {
    const coil = await tx.get<{ order: string; item: string }>("coil", name);
    if (coil !== undefined) items.add(itemKey(coil.order, coil.item));
  }
  return [...items].sort();
}

/** Rows of coils that nobody registered judge nothing, and that is said. */
function looseCoils(reading: FileReading & { ok: true }, known: readonly string[]): readonly Finding[] {
  const names = new Set(known);
  return reading.read.entry.tests.flatMap((row) => {
    const coil = row.fields["coil"];
    if (coil === undefined || names.has(coil.text)) return [];
    return [
      {
        code: "unknown-coil",
        severity: "error" as const,
        sheet: row.sheetName,
        cell: coil.cell,
        actual: coil.raw,
        expected: "a coil of the sheet Coils or of the register",
        text: `Coil ${coil.text} is not known; the row judges nothing until the coil is entered.`,
      },
    ];
  });
}

interface KeptVerdict {
  readonly verdict: OrderVerdict;
  readonly content: string;
}

/** A new verdict is a fact only where it differs from the last; documents and notices follow in the same transaction. */
export async function keepVerdicts(workshop: Workshop, tx: LedgerTransaction, judgement: Judgement, context: IssueContext): Promise<void> {
  for (const verdict of judgement.orders) {
    const key = itemKey(verdict.order, verdict.item);
    const held = workshop.library.find(verdict.specification, verdict.edition);
    const content = held === undefined ? "" : contentHash(held.data);
    const before = await tx.get<KeptVerdict>("verdict", key);
    const changed = before === undefined || canonicalContent(before.verdict) !== canonicalContent(verdict) || before.content !== content;
    if (changed) await tx.append({ kind: "judged", key, payload: { verdict, content } satisfies KeptVerdict });
    const order = await tx.get<OrderItem>("order", key);
    if (order === undefined) continue;
    const questioned = changed ? await questionDocuments(tx, order, verdict, context) : [];
    await raiseNotice(tx, order, verdict, context, questioned);
    await issueAutomatically(tx, order, verdict, context);
  }
}

/** Judges again every order item under a specification, where something that is known of it changed. */
export async function judgeUnder(workshop: Workshop, tx: LedgerTransaction, specification: string, edition: string): Promise<void> {
  const items = (await tx.list<KeptVerdict>("verdict"))
    .filter(({ value }) => value.verdict.specification === specification && value.verdict.edition === edition)
    .map(({ key }) => key);
  if (items.length > 0) await keepVerdicts(workshop, tx, await judgeItems(tx, items, workshop.judgeOptions()), issueContext(workshop));
}

/** Writes the returned copy or the refusal. Reads everything again, so that it can be repeated at any time. */
export async function answer(workshop: Workshop, state: FileState): Promise<void> {
  const { lab, clock } = workshop;
  const bytes = new Uint8Array(readFileSync(keptPath(workshop, state.sha256)));
  const name = state.name
    .split("/")
    .map((part) => part.replaceAll(/[\u0000-\u001f\\]/g, "_"))
    .join("/");
  if (state.status === "refused" && state.refusal !== undefined) {
    const path = join(lab.folder, "refused", name);
    for (const [target, content] of [
      [path, bytes],
      [
        `${path}.why.txt`,
        `${name}: ${state.refusal.code}\n${state.refusal.text}\n${state.findings.map((f) => `${f.sheet}!${f.cell}: ${f.text}\n`).join("")}`,
      ],
      [`${path}.why.xlsx`, refusalWorkbook(name, state.refusal, state.findings, words("en"))],
    ] as const) {
      if (!sameContent(target, content)) {
        putAside(target, clock.now());
        writeAtomically(target, content);
      }
    }
    return;
  }
  const reading = await read(workshop, workshop.ledger, bytes, state.name, state.sha256, state.judgedOn);
  if (!reading.ok) throw new Error(`${state.name} was read before and is refused now: ${reading.refusal.text}`);
  const judgement = await judgeItems(workshop.ledger, state.items, { ...workshop.judgeOptions(), today: state.judgedOn });
  const language =
    judgement.orders[0] === undefined
      ? "en"
      : ((await workshop.ledger.get<OrderItem>("order", itemKey(judgement.orders[0].order, judgement.orders[0].item)))?.language ?? "en");
  const copy = annotateWorkbook(bytes, toAnnotation(reading.read.entry, judgement, state.findings, words(language)), ZLIB);
  const target = join(lab.folder, "returned", name);
  if (sameContent(target, copy)) return;
  putAside(target, clock.now());
  writeAtomically(target, copy);
}

function sameContent(path: string, content: Uint8Array | string): boolean {
  return existsSync(path) && sha256(readFileSync(path)) === sha256(content);
}
