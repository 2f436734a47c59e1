/** What each job does, and what is written down where one is given up. */
import { randomUUID } from "node:crypto";
import { existsSync, mkdirSync, readdirSync, readFileSync, renameSync, rmSync, statSync } from "node:fs";
import { dirname, join } from "node:path";
import { type DocumentState, failDocument } from "../documents/life.ts";
import { flushFolder, mayBeRunning, processTag, safeName, sha256, writeAtomically, writerOf } from "../files.ts";
import { type Log, silent } from "../log.ts";
import { type GaveUp, type Handlers, PermanentJobError } from "../ports/job-queue.ts";
import { answer, type FileState } from "../process-file.ts";
import type { DocumentRenderer } from "../rendering/index.ts";
import type { Lab } from "../settings/settings.ts";
import type { Workshop } from "../workshop.ts";

export function handlersOf(workshop: Workshop, renderer: DocumentRenderer, log: Log = silent): Handlers {
  const { lab, ledger } = workshop;
  return {
    async "answer-file"({ receipt }) {
      const state = await ledger.get<FileState>("file", receipt);
      if (state === undefined) throw new PermanentJobError(`receipt ${receipt} is not in the ledger`);
      await answer(workshop, state);
    },
    async "render-document"({ document: id, format }) {
      const document = await ledger.get<DocumentState>("document", id);
      if (document?.number === undefined || document.issuedOn === undefined)
        throw new PermanentJobError(`document ${id} has no number yet`);
      const relative = join(safeName(document.record.order), `${document.number}.${format}`);
      const path = join(lab.folder, "documents", relative);
      const written = document.written?.[format];
      if (written !== undefined && existsSync(path) && sha256(readFileSync(path)) === written.sha256) return;
      const { number, issuedOn, signedBy = [], replaces } = document;
      const issue = {
        ...{ number, issuedOn, signedBy },
        ...(replaces === undefined ? {} : { replaces: { number: replaces.number, why: replaces.why } }),
      };
      const printed = await renderer.render(document.record, issue, format);
      const issuedAt = document.issuedAt ?? `${document.issuedOn}T00:00:00.000Z`;
      const laboratory = document.record.lab.name;
      const { demandKey, sealFile } = await import("../seal/index.ts");
      const bytes = await sealFile(
        printed,
        format,
        { record: { ...document.record, issue }, number: issue.number, issuedOn: issue.issuedOn, issuedAt, lab: laboratory },
        await demandKey(lab.data, laboratory, issuedAt, workshop.clock.now()),
      );
      deliver(lab, path, bytes);
      const about = { document: id, number: document.number, item: document.owner, format, sha256: sha256(bytes) };
      log(`${relative}: written`, { event: "document-written", ...about });
      if (written?.sha256 === sha256(bytes)) return;
      await ledger.transaction("worker", async (tx) => {
        await tx.append({ kind: "document-written", key: id, payload: { format, path: relative, sha256: sha256(bytes) } });
      });
    },
  };
}

export const gaveUpOf = ({ ledger }: Workshop): GaveUp => ({
  "render-document": ({ document, format }, reason) => failDocument(ledger, document, format, reason),
});

const temporaryFolder = (lab: Lab): string => join(lab.data, "tmp", processTag());

/** Finished in data/tmp/ and then moved in, so that documents/ never holds anything else; beside its place where that is another disk. */
function deliver(lab: Lab, path: string, bytes: Uint8Array): void {
  const temporary = join(temporaryFolder(lab), randomUUID());
  writeAtomically(temporary, bytes);
  mkdirSync(dirname(path), { recursive: true });
  try {
    renameSync(temporary, path);
    flushFolder(dirname(path));
  } catch (error) {
    rmSync(temporary, { force: true });
    if ((error as NodeJS.ErrnoException).code !== "EXDEV") throw error;
    writeAtomically(path, bytes);
  }
}

/** Unfinished files of earlier runs are cleared; everything they were for is still in the ledger. */
export function clearUnfinished(lab: Lab): void {
  const temporary = join(lab.data, "tmp");
  if (existsSync(temporary))
    for (const name of readdirSync(temporary))
      if (isLeft(join(temporary, name), name)) rmSync(join(temporary, name), { recursive: true, force: true });
  const folders = ["returned", "refused", "documents", "register", "mail"].map((name) => join(lab.folder, name));
  for (const folder of [join(lab.data, "kept"), ...folders])
    for (const entry of readdirSync(folder, { recursive: true, withFileTypes: true })) {
      const writer = writerOf(entry.name);
      const path = join(entry.parentPath, entry.name);
      if (entry.isFile() && writer !== undefined && isLeft(path, writer)) rmSync(path, { force: true });
    }
}

/** Nobody is at work on it any more. */
function isLeft(path: string, writer: string): boolean {
  const since = statSync(path, { throwIfNoEntry: false })?.mtimeMs;
  return since !== undefined && !mayBeRunning(writer, since);
}
