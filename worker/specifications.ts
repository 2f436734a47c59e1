import { createHash } from "node:crypto";
import { existsSync, readdirSync, readFileSync } from "node:fs";
import { join } from "node:path";
import {
  BUILT_IN,
  canonicalContent,
  createSpecificationLibrary,
  type HeldLibrary,
  type HeldSpecification,
  parseSpecification,
  type SpecificationData,
  type SpecificationProblem,
} from "../core/spec/index.ts";
import { InputRefused } from "./errors.ts";
import type { LedgerReader } from "./ports/ledger.ts";

export interface Adoption {
  readonly specification: string;
  readonly edition: string;
  /** SHA-256 of the canonical content: a changed table is not adopted any more. */
  readonly content: string;
  readonly by: string;
  readonly on: string;
}

export const contentHash = (specification: SpecificationData): string =>
  createHash("sha256").update(canonicalContent(specification)).digest("hex");

/** @throws InputRefused naming file and first problem */
export function readSpecificationFile(file: string): SpecificationData {
  const found = checkSpecificationFile(file);
  if (found.ok) return found.specification;
  const [first] = found.problems;
  throw new InputRefused(
    `${file}: ${first?.path ?? ""}: ${first?.text ?? "not accepted"}${first?.found === undefined ? "" : `, found ${first.found}`}${first?.accepted === undefined ? "" : `, accepted ${first.accepted}`}`,
  );
}

export function checkSpecificationFile(file: string): ReturnType<typeof parseSpecification> {
  let json: unknown;
  try {
    json = JSON.parse(readFileSync(file, "utf8"));
  } catch (error) {
    const problem: SpecificationProblem = { path: "", text: `no valid JSON (${(error as Error).message})` };
    return { ok: false, problems: [problem] };
  }
  return parseSpecification(json, (id, edition) => BUILT_IN.find((s) => s.id === id && (edition === undefined || s.edition === edition)));
}

/** The built-in specifications and the lab's own, of `specifications/*.json`. */
export function loadLibrary(labFolder: string | undefined): HeldLibrary {
  const folder = labFolder === undefined ? undefined : join(labFolder, "specifications");
  const own =
    folder !== undefined && existsSync(folder)
      ? readdirSync(folder)
          .filter((name) => name.endsWith(".json"))
          .sort()
          .map((name) => readSpecificationFile(join(folder, name)))
      : [];
  return createSpecificationLibrary([...own, ...BUILT_IN]);
}

/** Tells whether the content now held is what a person adopted. */
export async function adoptionOf(reader: LedgerReader, library: HeldLibrary): Promise<(specification: string, edition: string) => boolean> {
  const adoptions = (await reader.list<Adoption>("adoption")).map((state) => state.value);
  const hashes = new Map<HeldSpecification, string>();
  const known = new Map<string, boolean>();
  return (id, edition) => {
    const key = `${id}\u0000${edition}`;
    const cached = known.get(key);
    if (cached !== undefined) return cached;
    const held = library.find(id, edition);
    if (held !== undefined && !hashes.has(held)) hashes.set(held, contentHash(held.data));
    const answer =
      held !== undefined && adoptions.some((a) => a.specification === id && a.edition === edition && a.content === hashes.get(held));
    known.set(key, answer);
    return answer;
  };
}
