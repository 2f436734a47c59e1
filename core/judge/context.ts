import type { Conditions, ConductRules, EntryRow, Finding, InstrumentRange, Measure, OrderItem, Requirement } from "../model.ts";
import type { Deviation } from "./deviation.ts";

/** What a check may know beside its row. */
export interface CheckContext {
  readonly order: OrderItem;
  readonly requirement: Requirement;
  readonly conduct: ConductRules;
  /** Share of the required free length that counts as required: the standard's own, else the lab's setting. */
  readonly freeLengthTolerance: string;
  /** Largest tension of a torsion test, N, where it is a share of the nominal strength. */
  readonly mostTension?: number;
  readonly instruments: ReadonlyMap<string, readonly InstrumentRange[]>;
  /** The day a coil was drawn, where it is known. */
  readonly drawnOn: (coil: string) => string | undefined;
  readonly report: (finding: Finding) => void;
}

/** A figure that a decision rule with uncertainty may use. */
export interface UncertaintyPart {
  readonly instrument: string;
  /** The figure read on that instrument. */
  readonly figure: Measure;
  /** How often its relative uncertainty enters (2 for a diameter in a strength). */
  readonly weight: number;
}

export interface Contradiction {
  readonly code: "contradicting-entry" | "missing-value";
  readonly field: string;
  readonly text: string;
  readonly expected: string;
}

/** A row held against one requirement, before its deviations decide whether it counts. */
export interface CheckedRow {
  /** In the requirement's unit, or a word. */
  readonly value: number | string;
  readonly unit: string;
  /** Decimal text as held against the limit, or the word. */
  readonly compared: string;
  /** Unrounded decimal text; undefined for a word. */
  readonly unrounded?: string;
  readonly outcome: "conforms" | "does-not-conform" | "undecided";
  readonly reason?: string;
  /** The deciding figure's field. */
  readonly field: string;
  readonly conditions: Conditions;
  readonly deviations: readonly Deviation[];
  readonly censored?: boolean;
  /** Where a measured quantity was judged: what its uncertainty stands on. */
  readonly uncertaintyParts?: readonly UncertaintyPart[];
  readonly steps: readonly string[];
  /** The minimum scaled to the free length used. */
  readonly scaledMin?: string;
  /** Class of the torsion fracture, as entered. */
  readonly fractureType?: string;
  /** How the piece was straightened, as entered. */
  readonly straightened?: string;
  /** The row contradicts itself or lacks a figure: it gives no result and holds the requirement back. */
  readonly contradiction?: Contradiction;
}

/**
 * One way of holding a row against a requirement; undefined where the row does not concern the property
 * (a tensile row without elongation says nothing of elongation).
 */
export type Check = (row: EntryRow, context: CheckContext) => CheckedRow | undefined;
