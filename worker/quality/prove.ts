/** The lab's proof that the program judges as its adopted tables say: a report with versions and hashes, and what differs from an earlier one. */
import { readFileSync } from "node:fs";
import { z } from "zod";
import { type ProvenCase, prove } from "../../core/quality/prove.ts";
import { writeJws } from "../../core/seal/jws.ts";
import { canonicalContent, type HeldSpecification } from "../../core/spec/index.ts";
import { InputRefused, RuleRefusal, UsageError } from "../errors.ts";
import { sha256 } from "../files.ts";
import { demandKey } from "../seal/index.ts";
import { adoptionOf, contentHash } from "../specifications.ts";
import { VERSION } from "../version.ts";
import type { Workshop } from "../workshop.ts";

export interface ProveReport {
  readonly schema: "prove/1";
  readonly program: string;
  readonly runtime: string;
  readonly lab: string;
  readonly on: string;
  /** True where every case was found as expected. */
  readonly ok: boolean;
  readonly specifications: readonly {
    readonly specification: string;
    readonly edition: string;
    /** SHA-256 of the canonical table content. */
    readonly content: string;
    readonly adopted: boolean;
    readonly cases: number;
    readonly differing: readonly ProvenCase[];
    readonly notProved: readonly { readonly property: string; readonly sizes: number }[];
    /** SHA-256 over every case with what was found. */
    readonly result: string;
  }[];
  /** Every case, where asked for: what a later run is held against. */
  readonly cases?: readonly (ProvenCase & { readonly specification: string })[];
  readonly against?: { readonly program: string; readonly on: string; readonly changes: readonly ProofChange[] };
  /** SHA-256 over everything above. */
  readonly hash: string;
}

export interface ProofChange {
  readonly case: string;
  /** Absent: the earlier run had no such case. */
  readonly before?: string;
  /** Absent: this run has no such case. */
  readonly now?: string;
}

export interface ProveOptions {
  /** One specification, adopted or not. */
  readonly specification?: string;
  /** An earlier report with its cases. */
  readonly against?: string;
}

/** @throws RuleRefusal where nothing is adopted, UsageError where the specification named is not held */
export async function proveLab(workshop: Workshop, { specification, against }: ProveOptions): Promise<ProveReport> {
  const { ledger, library, lab } = workshop;
  const isAdopted = await adoptionOf(ledger, library);
  const held = library
    .list()
    .filter((view) => (specification === undefined ? isAdopted(view.id, view.edition) : view.id === specification));
  if (held.length === 0)
    throw specification === undefined
      ? new RuleRefusal('prove: no specification is adopted; "coilbook spec adopt" adopts, --specification proves one that is not')
      : new UsageError(`prove: ${specification} is not held; "coilbook spec list" names what is`);
  const proofs = held.map((view) => ({ view, proof: prove(view, workshop.today()) }));
  const cases = proofs.flatMap(({ view, proof }) => proof.cases.map((one) => ({ specification: `${view.id}:${view.edition}`, ...one })));
  const specifications = proofs.map(({ view, proof }) => ({
    ...{ specification: view.id, edition: view.edition, content: contentHash(view.data), adopted: isAdopted(view.id, view.edition) },
    ...{ cases: proof.cases.length, differing: proof.cases.filter(differs), notProved: proof.notProved },
    result: sha256(canonicalContent(proof.cases)),
  }));
  const report = {
    schema: "prove/1" as const,
    ...{ program: VERSION, runtime: `node ${process.version}`, lab: lab.settings.lab.name, on: workshop.today() },
    ok: specifications.every(({ differing }) => differing.length === 0),
    ...{ specifications, cases },
    ...(against === undefined ? {} : { against: changesSince(against, cases, held) }),
  };
  return { ...report, hash: sha256(canonicalContent(report)) };
}

const differs = ({ expected, found }: ProvenCase): boolean => expected !== found;

const earlierReport = z.object({
  schema: z.literal("prove/1"),
  program: z.string(),
  on: z.string(),
  cases: z.array(
    z.object({
      ...{ specification: z.string(), grade: z.string(), nominal: z.string(), property: z.string(), name: z.string() },
      ...{ limit: z.string(), expected: z.string(), found: z.string(), compared: z.string() },
    }),
  ),
});

/** What an update changed, case by case: limits, what was compared, what was found. */
function changesSince(
  file: string,
  cases: NonNullable<ProveReport["cases"]>,
  held: readonly HeldSpecification[],
): NonNullable<ProveReport["against"]> {
  let text: string;
  try {
    text = readFileSync(file, "utf8");
  } catch (error) {
    throw new InputRefused(`--against ${file}: cannot be read (${(error as Error).message})`);
  }
  let json: unknown;
  try {
    json = JSON.parse(text);
  } catch {
    json = undefined;
  }
  const parsed = earlierReport.safeParse(json);
  if (!parsed.success) throw new InputRefused(`--against ${file}: accepted is a report that "coilbook prove --out" wrote`);
  type Comparable = z.output<typeof earlierReport>["cases"][number];
  const nameOf = (one: Comparable): string => [one.specification, one.grade, one.nominal, one.property, one.name].join(" | ");
  const says = (one: Comparable): string => `limit ${one.limit}, compared ${one.compared}: ${one.found}`;
  const asked = new Set(held.map((view) => `${view.id}:${view.edition}`));
  const before = new Map(parsed.data.cases.filter((one) => asked.has(one.specification)).map((one) => [nameOf(one), says(one)]));
  const now = new Map(cases.map((one) => [nameOf(one), says(one)]));
  const changes = [...new Set([...before.keys(), ...now.keys()])].flatMap((name): readonly ProofChange[] => {
    const [was, is] = [before.get(name), now.get(name)];
    if (was === is) return [];
    return [{ case: name, ...(was === undefined ? {} : { before: was }), ...(is === undefined ? {} : { now: is }) }];
  });
  return { program: parsed.data.program, on: parsed.data.on, changes };
}

const PROOF_TYPE = "coilbook-proof";

/** The report without its cases, which its hash holds, as one line signed with the key that seals documents. */
export async function signedProof({ lab, clock }: Workshop, { cases: _, ...report }: ProveReport): Promise<string> {
  const now = clock.now();
  const key = await demandKey(lab.data, lab.settings.lab.name, now.toISOString(), now);
  return writeJws(PROOF_TYPE, key.state.kid, report, key.signRecord);
}

/** The report for a person: a line a specification, then every case that differs. */
export function proofText({ program, runtime, lab, on, specifications, against, hash }: ProveReport): string {
  return [
    `Proof of fitness: coilbook ${program} on ${runtime}, ${lab}, ${on}`,
    ...specifications.flatMap((s) => [
      "",
      `${s.specification} ${s.edition}${s.adopted ? "" : " (not adopted)"}, content ${s.content}`,
      `  ${s.cases} cases at, just inside and just outside the limits: ${s.differing.length === 0 ? "all as expected" : `${s.differing.length} differ`}; result ${s.result}`,
      ...s.notProved.map(({ property, sizes }) => `  no case for ${property} (${sizes} sizes): a programme, a weighing or a word`),
      ...s.differing.map(
        (c) => `  ${c.grade} ${c.nominal} ${c.property}, ${c.limit}, ${c.name}: expected ${c.expected}, found ${c.found} (${c.compared})`,
      ),
    ]),
    ...(against === undefined
      ? []
      : [
          "",
          `Against coilbook ${against.program} of ${against.on}: ${against.changes.length === 0 ? "nothing differs" : `${against.changes.length} cases differ`}`,
          ...against.changes.map((change) => `  ${change.case}: ${change.before ?? "no such case"} → ${change.now ?? "no such case"}`),
        ]),
    "",
    `SHA-256 of this report: ${hash}`,
  ].join("\n");
}
