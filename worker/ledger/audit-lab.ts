/** The ledger's own audit, and then the files it stands for: the originals kept and the documents issued. */
import { readFileSync } from "node:fs";
import { join } from "node:path";
import { sha256 } from "../files.ts";
import type { AuditFinding, Fact } from "../ports/ledger.ts";
import { type FileState, keptPath } from "../process-file.ts";
import type { Workshop } from "../workshop.ts";

/** @returns nothing where all is sound; else what is wrong with the chain or the states, or the first file altered or missing */
export async function auditLab(workshop: Workshop): Promise<readonly AuditFinding[]> {
  const findings = await workshop.ledger.audit();
  if (findings.length > 0) return findings;
  for (const { seq, path, expected, name } of hashedFiles(
    workshop,
    await workshop.ledger.facts({ kinds: ["file-received", "file-refused", "document-written"] }),
  )) {
    const found = contentHashOf(path);
    if (found === expected) continue;
    return [{ seq, text: `${name} ${found === undefined ? "is missing" : "was altered"}: ${path} (fact ${seq})` }];
  }
  return [];
}

interface HashedFile {
  readonly seq: number;
  readonly path: string;
  readonly expected: string;
  readonly name: string;
}

/** In the order of the facts; of a document written twice the last counts. */
function hashedFiles(workshop: Workshop, facts: readonly Fact[]): readonly HashedFile[] {
  const files = new Map<string, HashedFile>();
  for (const { kind, key, seq, payload } of facts)
    if (kind === "document-written") {
      const { format, path, sha256: expected } = payload as { format: string; path: string; sha256: string };
      files.set(`${key}|${format}`, { seq, path: join(workshop.lab.folder, "documents", path), expected, name: "the issued file" });
    } else {
      const { sha256: expected, name } = payload as FileState;
      files.set(`kept|${expected}`, { seq, path: keptPath(workshop, expected), expected, name: `the kept original of ${name}` });
    }
  return [...files.values()];
}

function contentHashOf(path: string): string | undefined {
  try {
    return sha256(readFileSync(path));
  } catch (error) {
    if ((error as NodeJS.ErrnoException).code === "ENOENT") return undefined;
    throw error;
  }
}
