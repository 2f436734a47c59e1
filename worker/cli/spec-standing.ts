/** What every answer about a specification says: how far its figures can be trusted and who stands for them. */
import { describeLibrary, type HeldLibrary, type HeldSpecification, type SpecificationSummary } from "../../core/spec/index.ts";
import { findLab } from "../settings/settings.ts";
import { type AdoptionState, adoptionStateOf, contentHash, type KeptAdoption, keptAdoptions, loadLibrary } from "../specifications.ts";
import { hasLedger, type Workshop } from "../workshop.ts";
import { inWorkshop, type LabFlags } from "./context.ts";

/** The specifications held, and what a lab's ledger knows of them. */
export interface Shelf {
  readonly library: HeldLibrary;
  /** None without a lab. */
  readonly adoptions: readonly KeptAdoption[];
  /** Absent without a lab that has a ledger. */
  readonly workshop?: Workshop;
}

/** Opens the lab where there is one, for reading only. */
export async function withShelf<T>(flags: LabFlags, run: (shelf: Shelf) => Promise<T> | T): Promise<T> {
  const lab = findLab(flags, process.env);
  if (lab === undefined || !hasLedger(lab)) return run({ library: loadLibrary(lab?.folder), adoptions: [] });
  return inWorkshop(
    flags,
    async (workshop) => run({ library: workshop.library, adoptions: await keptAdoptions(workshop.ledger), workshop }),
    { readOnly: true },
  );
}

/** For a person: whether somebody stands for the figures. */
export function adoptionText(adoption: AdoptionState): string {
  switch (adoption.state) {
    case "adopted":
      return `adopted by ${adoption.by} on ${adoption.on}, compared with edition ${adoption.compared}`;
    case "changed":
      return `not adopted: changed since ${adoption.by} adopted it on ${adoption.on}; compare it again`;
    default:
      return "not adopted";
  }
}

/** How far the figures of a specification and the rules beside them can be trusted, in words. */
export function provenanceWords({ rows, rules }: SpecificationSummary): string {
  if (rows.read === 0 && rows.memory === 0) return "own";
  const counts = [
    `${rows.read} rows read`,
    ...(rows.own === 0 ? [] : [`${rows.own} own`]),
    ...(rows.memory === 0 ? [] : [`${rows.memory} from memory`]),
  ];
  const figures = rows.own === 0 && rows.memory === 0 ? "read" : counts.join(", ");
  return rules.memory === 0 ? figures : `${figures}, a rule beside the table from memory`;
}

/** Adoption and provenance, in every answer about a specification. */
export function standing(held: HeldSpecification, adoptions: readonly KeptAdoption[]): object {
  const adoption = adoptionStateOf(held, adoptions);
  const [summary] = describeLibrary({ list: () => [held], find: () => held });
  return {
    content: contentHash(held.data),
    adopted: adoption.state === "adopted",
    adoption,
    ...(summary === undefined ? {} : { provenance: provenanceWords(summary) }),
  };
}
