import type { Finding, NextStep, OrderItem, Requirement, Result, RetestRule, Settlement, UnreadRow, Verdict } from "../model.ts";

/** What the verdict of one requirement of one coil stands on. */
export interface RequirementInput {
  readonly coil: string;
  readonly requirement: Requirement;
  readonly decisionRule: OrderItem["decisionRule"];
  readonly results: readonly Result[];
  readonly unread: readonly UnreadRow[];
  /** Pieces asked of this coil; 0 where the test unit answers for it. */
  readonly pieces: number;
  readonly bothEnds: boolean;
  readonly retest: RetestRule | undefined;
  /** Test pieces of the other coils of the unit, by which a retest piece may be cut elsewhere; empty where coils stand alone. */
  readonly elsewhere: ReadonlySet<string>;
  /** Retest pieces for this coil's failures that were cut from other coils of the unit. */
  readonly fromElsewhere: readonly Result[];
  readonly settlement: Settlement | undefined;
  readonly report: (finding: Finding) => void;
}

/** One thing that is said of a requirement; the worst of all parts is its verdict. */
export interface Part {
  readonly verdict: Verdict;
  readonly reason?: string;
  readonly next: readonly NextStep[];
}
