import type { SealFinding } from "./compare.ts";
import type { KeyAnswer, WithdrawnDocument } from "./trust.ts";

/** What a file is. */
export type SealStatus = "as-issued" | "re-saved" | "changed" | "not-ours";

export interface Verification {
  readonly status: SealStatus;
  readonly format?: "pdf" | "xlsx";
  readonly number?: string;
  readonly issuedOn?: string;
  readonly lab?: string;
  readonly key?: KeyAnswer;
  readonly withdrawn?: WithdrawnDocument;
  /** The three steps, in their order; a step that could not be taken is absent. */
  readonly bytes?: "as-issued" | "differ";
  readonly record?: "as-issued" | "differs" | "missing";
  readonly content?: "as-issued" | "differs";
  readonly findings: readonly SealFinding[];
}

export const NOT_OURS: Verification = { status: "not-ours", findings: [{ code: "no-seal", severity: "error" }] };
