/** What has to be set for one requirement, as the plan, the cards and the cut list take it. */
import type { ConductRules, Measure, NextStep, OrderVerdict, Requirement, TestSheet } from "../model.ts";
import type { SetUpProblem, Tester } from "./equipment.ts";
import type { Programme } from "./programme.ts";

export interface Piece {
  readonly coil: string;
  readonly testPiece: string;
  readonly end?: NextStep["end"];
}

export interface SetUp extends Settings {
  readonly order: string;
  readonly item: string;
  readonly specification: string;
  readonly grade: string;
  readonly property: string;
  readonly sheet: TestSheet;
  readonly nominal: Measure;
  readonly requirement: Requirement;
  /** Further properties read from the same rows: out of round beside the diameter, elongation beside the strength. */
  readonly also: readonly Requirement[];
  readonly pieces: readonly Piece[];
  /** Pieces that the retest rule asks for after a valid failure; 0 where there is no retest. */
  readonly retestPieces: number;
}

/** What one machine is set to for a requirement. */
export interface Settings {
  readonly tester?: string;
  /** Why the test cannot be done as required; empty where it can, or where the machine's figures are not known. */
  readonly problems: readonly SetUpProblem[];
  /** Length of one piece to cut, rounded up to a whole millimetre or tenth of an inch. */
  readonly cutLength?: Measure;
  /** The length to set between the jaws. */
  readonly freeLength?: Measure;
  /** Where the standard scales: the rule's own length, and the requirement in proportion, unrounded and as whole turns. */
  readonly scaled?: { readonly from: Measure; readonly turns: string; readonly wholeTurns: string };
  /** Highest tension (force) and the mass that makes it, and half of that mass. */
  readonly tension?: { readonly most: Measure; readonly mostMass: Measure; readonly leastMass: Measure };
  /** The weights that hit the band; `light` where the shelf reaches less than half of the most only. */
  readonly weights?: { readonly names: readonly string[]; readonly total: Measure; readonly light: boolean };
  /** Highest speed, r/min; `least` where the machine turns no slower. */
  readonly speed?: { readonly most: string; readonly advised: boolean; readonly machineMost?: string };
  /** A break nearer than this to a jaw is at the grip. */
  readonly gripDistance?: Measure;
  readonly programme?: Programme;
  /** What the requirement asks for. */
  readonly mandrel?: Measure;
  readonly mandrelMax?: Measure;
  /** The mandrel of the shelf to take. */
  readonly shelfMandrel?: Measure;
  readonly wraps?: string;
  readonly rate?: string;
  readonly radius?: Measure;
  readonly shelfRadius?: Measure;
  /** From the cylinders' top to the guide. */
  readonly guideDistance?: Measure;
  /** Forces at the ends of the limits, on the nominal diameter. */
  readonly forceAtMin?: Measure;
  readonly forceAtMax?: Measure;
}

/** What the settings of a requirement stand on. */
export interface SetUpQuestion {
  readonly requirement: Requirement;
  readonly also: readonly Requirement[];
  readonly verdict: OrderVerdict;
  readonly conduct: ConductRules;
  /** Share of the required free length that counts as required, where the standard names none. */
  readonly freeLengthTolerance: string;
}

/** The settings on one machine; undefined is a bench whose machines are not listed. */
export type SettingsOn = (question: SetUpQuestion, tester: Tester | undefined) => Settings;
