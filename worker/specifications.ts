import { createHash } from "node:crypto";
import { existsSync, readdirSync, readFileSync } from "node:fs";
import { basename, join, resolve } from "node:path";
import {
  BUILT_IN,
  canonicalContent,
  createSpecificationLibrary,
  type HeldLibrary,
  type HeldSpecification,
  parseSpecification,
  problemText,
  type SpecificationData,
  type SpecificationProblem,
} from "../core/spec/index.ts";
import { readSpecificationForm } from "../templates/specification/index.ts";
import type { LedgerReader } from "./ports/ledger.ts";

/** Who compared a specification with the licensed text. */
export interface Adoption {
  readonly specification: string;
  readonly edition: string;
  /** The edition of the text that was in the person's hands, where it is named otherwise than the held one. */
  readonly compared?: string;
  /** SHA-256 of the canonical content: a changed table is not adopted any more. */
  readonly content: string;
  readonly by: string;
  readonly on: string;
}

/** An adoption with the content it was given for, as the ledger keeps it. */
export interface KeptAdoption extends Adoption {
  /** Canonical JSON. */
  readonly tables?: string;
}

/** Whether a person stands for the content held now; `changed`: somebody did for an earlier one, and must look again. */
export type AdoptionState =
  | { readonly state: "adopted" | "changed"; readonly by: string; readonly on: string; readonly compared: string; readonly content: string }
  | { readonly state: "not-adopted" };

/** SHA-256 (hex) of the canonical content: equal content, equal hash, whatever file it came from. */
export const contentHash = (specification: SpecificationData): string =>
  createHash("sha256").update(canonicalContent(specification)).digest("hex");

type FindBase = (id: string, edition?: string) => SpecificationData | undefined;
type Problems = readonly SpecificationProblem[];

/** A specification file as the laboratory wrote it: JSON or a filled form. */
interface SourceFile {
  readonly file: string;
  /** Not yet checked; undefined where the file could not be read at all. */
  readonly json: unknown;
  readonly problems: Problems;
  locate(problem: SpecificationProblem): SpecificationProblem;
}

/** @param json the specification as written, before what it takes from its base */
export type CheckedSpecification =
  | { readonly ok: true; readonly specification: SpecificationData; readonly json: unknown }
  | { readonly ok: false; readonly problems: Problems };

const ZIP_SIGNATURE = "PK";

function readSource(file: string): SourceFile {
  const asIs = (problem: SpecificationProblem): SpecificationProblem => problem;
  const unread = (text: string): SourceFile => ({ file, json: undefined, problems: [{ path: "$", text }], locate: asIs });
  let bytes: Buffer;
  try {
    bytes = readFileSync(file);
  } catch (error) {
    return unread(`cannot be read (${(error as Error).message})`);
  }
  if (bytes.subarray(0, 2).toString("latin1") === ZIP_SIGNATURE) return { file, ...formOf(new Uint8Array(bytes)) };
  if (file.toLowerCase().endsWith(".xlsx")) return { file, ...formOf(new Uint8Array(bytes)) };
  try {
    return { file, json: JSON.parse(bytes.toString("utf8")), problems: [], locate: asIs };
  } catch (error) {
    return unread(`no valid JSON (${(error as Error).message})`);
  }
}

function formOf(bytes: Uint8Array): Omit<SourceFile, "file"> {
  const form = readSpecificationForm(bytes);
  return { json: form.json, problems: form.problems, locate: (problem) => form.locate(problem) };
}

function parseSource({ json, problems, locate }: SourceFile, findBase: FindBase): CheckedSpecification {
  if (json === undefined) return { ok: false, problems };
  const parsed = parseSpecification(json, findBase);
  if (parsed.ok && problems.length === 0) return { ...parsed, json };
  // What a cell could not give is named once, not again as a key that is missing.
  const cells = new Set(problems.map((problem) => `${problem.sheet}!${problem.cell}`));
  const located = parsed.ok ? [] : parsed.problems.map(locate).filter((p) => p.cell === undefined || !cells.has(`${p.sheet}!${p.cell}`));
  return { ok: false, problems: [...problems, ...located] };
}

/** The laboratory's own specifications and what is wrong with their files. */
interface OwnSpecifications {
  readonly accepted: readonly { readonly file: string; readonly specification: SpecificationData }[];
  readonly refused: readonly { readonly file: string; readonly named: Named; readonly problems: Problems }[];
}

/** Identity as far as a refused file tells it. */
interface Named {
  readonly id?: string;
  readonly edition?: string;
}

function namedIn(json: unknown): Named {
  const { id, edition } = (typeof json === "object" && json !== null ? json : {}) as Record<string, unknown>;
  return { ...(typeof id === "string" ? { id } : {}), ...(typeof edition === "string" ? { edition } : {}) };
}

const baseIn = (json: unknown): unknown => (json as { extends?: { specification?: unknown } } | null | undefined)?.extends?.specification;

function readOwn(files: readonly string[]): OwnSpecifications {
  const accepted: { file: string; specification: SpecificationData }[] = [];
  const refused: { file: string; named: Named; problems: Problems }[] = [];
  let waiting = files.map(readSource);
  const findBase: FindBase = (id, edition) =>
    createSpecificationLibrary([...accepted.map((own) => own.specification), ...BUILT_IN]).find(id, edition)?.data;
  while (waiting.length > 0) {
    // A specification is read after the one it stands on; where each waits for another, they stand on each other.
    const waits = (source: SourceFile): boolean =>
      waiting.some((other) => other !== source && namedIn(other.json).id !== undefined && namedIn(other.json).id === baseIn(source.json));
    const ready = waiting.filter((source) => !waits(source));
    const circle = ready.length === 0;
    for (const source of circle ? waiting : ready) {
      const named = namedIn(source.json);
      const found: CheckedSpecification = circle ? { ok: false, problems: [circleProblem(source)] } : parseSource(source, findBase);
      if (found.ok) accepted.push({ file: source.file, specification: found.specification });
      else refused.push({ file: source.file, named, problems: found.problems });
    }
    waiting = waiting.filter((source) => !circle && !ready.includes(source));
  }
  return withoutTwins({ accepted, refused });
}

const circleProblem = (source: SourceFile): SpecificationProblem =>
  source.locate({
    path: "extends.specification",
    found: String(baseIn(source.json)),
    accepted: "a specification that does not stand on this one",
    text: "the specifications extend each other",
  });

/** Two files of one designation and edition: neither is taken, since nobody can say which one an order means. */
function withoutTwins({ accepted, refused }: OwnSpecifications): OwnSpecifications {
  const twinOf = (own: OwnSpecifications["accepted"][number]): string | undefined =>
    accepted.find(
      (other) =>
        other !== own && other.specification.id === own.specification.id && other.specification.edition === own.specification.edition,
    )?.file;
  return {
    accepted: accepted.filter((own) => twinOf(own) === undefined),
    refused: [
      ...refused,
      ...accepted.flatMap((own) => {
        const twin = twinOf(own);
        const { id, edition } = own.specification;
        return twin === undefined ? [] : [{ file: own.file, named: { id, edition }, problems: [twinProblem(own.specification, twin)] }];
      }),
    ],
  };
}

const twinProblem = ({ id, edition }: SpecificationData, twin: string): SpecificationProblem => ({
  path: "id",
  found: `${id} ${edition}`,
  accepted: "a designation and edition of its own",
  text: `${basename(twin)} holds this specification as well`,
});

const sameEdition = (a: Named, b: Named): boolean => a.id === b.id && (a.edition === undefined || a.edition === b.edition);

/** JSON files and forms of a lab's folder `specifications`; lock files and dot files are passed over. */
function ownFiles(labFolder: string | undefined): readonly string[] {
  const folder = labFolder === undefined ? undefined : join(labFolder, "specifications");
  if (folder === undefined || !existsSync(folder)) return [];
  return readdirSync(folder)
    .filter((name) => /\.(json|xlsx)$/i.test(name) && !name.startsWith(".") && !name.startsWith("~$"))
    .sort()
    .map((name) => join(folder, name));
}

/**
 * One file against all that is held.
 * @param labFolder the lab whose other files it may extend and must not repeat
 */
export function checkSpecificationFile(file: string, labFolder?: string): CheckedSpecification {
  const own = readOwn(ownFiles(labFolder).filter((other) => resolve(other) !== resolve(file)));
  const library = createSpecificationLibrary([...own.accepted.map((other) => other.specification), ...BUILT_IN]);
  const source = readSource(file);
  const found = parseSource(source, (id, edition) => library.find(id, edition)?.data);
  const twin = found.ok ? own.accepted.find((other) => sameEdition(found.specification, other.specification)) : undefined;
  return found.ok && twin !== undefined ? { ok: false, problems: [source.locate(twinProblem(found.specification, twin.file))] } : found;
}

/** The specifications of a lab, and every file of its own that could not be taken. */
export function loadSpecifications(labFolder: string | undefined): {
  readonly library: HeldLibrary;
  readonly refused: readonly { readonly file: string; readonly problems: Problems }[];
} {
  const { accepted, refused } = readOwn(ownFiles(labFolder));
  const own = accepted.map((entry) => entry.specification);
  // The lab's own replaces a built-in one of the same name; a refused file must not let the built-in one slip in for it.
  const builtIn = BUILT_IN.filter(
    (held) =>
      !own.some((other) => sameEdition(other, held)) && !refused.some(({ named }) => named.id !== undefined && sameEdition(named, held)),
  );
  return { library: createSpecificationLibrary([...own, ...builtIn]), refused };
}

/** A command that looks twice says it once. */
const said = new Set<string>();

/**
 * The built-in specifications and the lab's own, of `specifications/*.json` and `*.xlsx`. A file that cannot be taken is named on
 * standard error and left out; the rest is held.
 */
export function loadLibrary(labFolder: string | undefined): HeldLibrary {
  const { library, refused } = loadSpecifications(labFolder);
  for (const { file, problems } of refused)
    for (const problem of problems) {
      const line = `coilbook: left out: ${problemText(file, problem).replaceAll("\n", " ")}\n`;
      if (!said.has(line)) process.stderr.write(line);
      said.add(line);
    }
  return library;
}

/** The last adoption of every specification and edition. */
export async function keptAdoptions(reader: LedgerReader): Promise<readonly KeptAdoption[]> {
  return (await reader.list<KeptAdoption>("adoption")).map((state) => state.value);
}

/** Where a specification stands, from the adoptions of a lab; without any, nothing is adopted. */
export function adoptionStateOf(held: HeldSpecification, adoptions: readonly KeptAdoption[]): AdoptionState {
  const last = adoptions.findLast((a) => a.specification === held.id && a.edition === held.edition);
  if (last === undefined) return { state: "not-adopted" };
  const { by, on, content } = last;
  const state = content === contentHash(held.data) ? "adopted" : "changed";
  return { state, by, on, compared: last.compared ?? last.edition, content };
}

/** Tells whether the content now held is what a person adopted. */
export async function adoptionOf(reader: LedgerReader, library: HeldLibrary): Promise<(specification: string, edition: string) => boolean> {
  const adoptions = await keptAdoptions(reader);
  const known = new Map<string, boolean>();
  return (id, edition) => {
    const key = `${id}\u0000${edition}`;
    const cached = known.get(key);
    if (cached !== undefined) return cached;
    const held = library.find(id, edition);
    const answer = held !== undefined && adoptionStateOf(held, adoptions).state === "adopted";
    known.set(key, answer);
    return answer;
  };
}
