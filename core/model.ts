/**
 * The words every part shares: cells as read, entries as understood, requirements as selected, verdicts as made.
 * Life of a reading: CellRecord -> EntryRow (with findings) -> Result -> RequirementVerdict -> coil -> order item.
 * Nothing here computes.
 */
import type { AnyUnit, Measure } from "./quantity.ts";
import type { Rounding } from "./rounding.ts";

// ---- cells as read -------------------------------------------------------------------------------------------

/** One filled cell of a workbook, whatever reader made it. Dates stay serial numbers until a column asks for a date. */
export interface CellRecord {
  /** Column letters and row number, as the clerk sees it: `F12`. */
  readonly cell: string;
  /** From 1. */
  readonly row: number;
  /** From 1. */
  readonly column: number;
  readonly type: "number" | "text" | "boolean" | "error" | "date-text" | "empty";
  /** The stored text: of `<v>` for a number, the joined runs for a text, unchanged. */
  readonly raw: string;
  /** The formula as stored, where the cell has one (shared and array formulas included). */
  readonly formula?: string;
  /** True for a formula that has no stored value. */
  readonly unevaluated?: boolean;
  /** The number format code; absent is General. */
  readonly format?: string;
}

export interface SheetRecord {
  readonly name: string;
  readonly hidden: boolean;
  readonly hiddenRows: ReadonlySet<number>;
  readonly hiddenColumns: ReadonlySet<number>;
  readonly filtered: boolean;
  /** By row, ascending; the cells of a row ascending by column; empty styled cells are left out. */
  readonly rows: ReadonlyMap<number, readonly CellRecord[]>;
  /** The lower and right cells of merged ranges count as empty; ranges as `A1:C2`. */
  readonly merged: readonly string[];
}

export interface WorkbookRecord {
  readonly sheets: readonly SheetRecord[];
  readonly date1904: boolean;
  /** Warnings the package itself gives rise to: external links, a signature, a style out of range. */
  readonly findings: readonly Finding[];
}

// ---- findings ------------------------------------------------------------------------------------------------

export interface Finding {
  readonly code: string;
  readonly severity: "error" | "warning";
  /** Empty for a finding on the whole file. */
  readonly sheet: string;
  readonly cell: string;
  readonly actual?: string;
  readonly expected?: string;
  /** One plain sentence for a clerk. */
  readonly text: string;
}

/** Why a file was not read at all. */
export interface Refusal {
  readonly code: string;
  readonly text: string;
}

// ---- entries as understood -----------------------------------------------------------------------------------

export type UnitSystem = "SI" | "inch-pound";
export type TestSheet = "diameter" | "tensile" | "torsion" | "wrap" | "coiling" | "reverse-bend" | "coating-mass" | "other";
export type RegisterSheet = "orders" | "agreed" | "coils" | "heats" | "instruments";

/** One understood cell of an entry row. */
export interface FieldValue {
  /**
   * Numbers: plain decimal text of at most 15 significant digits, in `unit`. Dates: `YYYY-MM-DD`. Words: the code of the
   * allowed list. Identifiers and texts: trimmed, NFC.
   */
  readonly text: string;
  readonly unit?: AnyUnit;
  readonly cell: string;
  /** As typed. */
  readonly raw: string;
  readonly formula?: string;
  /** True for `>N`: stopped unbroken at N. */
  readonly atLeast?: boolean;
}

/** One readable row. Field names are those of the contract (`layout --json`): `testPiece`, `coil`, `largest` … */
export interface EntryRow {
  readonly sheet: TestSheet | RegisterSheet;
  /** The sheet's name in the workbook. */
  readonly sheetName: string;
  readonly row: number;
  /** SHA-256 of the kept file, or "" before it is kept. */
  readonly file: string;
  readonly fields: Readonly<Record<string, FieldValue | undefined>>;
}

/** A row with content that gave no result: it holds its requirement back. */
export interface UnreadRow {
  /** A register sheet where a requirement or an analysis could not be read. */
  readonly sheet: TestSheet | RegisterSheet;
  readonly sheetName: string;
  /** 0 for a whole sheet. */
  readonly row: number;
  readonly file: string;
  /** Undefined: the coil could not be read, so every coil of the workbook is held for these properties. */
  readonly coil?: string;
  /** Undefined where it could not be read. */
  readonly testPiece?: string;
  readonly properties: readonly string[];
  /** The cells with errors, for the sentence in Why. */
  readonly cells: readonly string[];
}

/** A test row that holds only identification: nothing tested yet. The annotated copy still tells what comes next. */
export interface UnfilledRow {
  readonly sheet: TestSheet;
  readonly sheetName: string;
  readonly row: number;
  readonly coil?: string;
  readonly testPiece?: string;
}

/** What a workbook (or orders.json) says, cell by cell, with everything wrong in it. */
export interface Entry {
  readonly units: UnitSystem;
  readonly registers: readonly EntryRow[];
  readonly tests: readonly EntryRow[];
  readonly unread: readonly UnreadRow[];
  readonly unfilled: readonly UnfilledRow[];
  readonly findings: readonly Finding[];
  /** Where each test sheet has its header and columns (numbers from 1, by field), to write verdicts beside the rows. */
  readonly sheets: readonly EntrySheetPlace[];
  /** Provisional verdicts stored by live formulas. */
  readonly live: readonly { readonly sheetName: string; readonly row: number; readonly cell: string; readonly text: string }[];
}

export interface EntrySheetPlace {
  readonly sheet: TestSheet | RegisterSheet;
  readonly sheetName: string;
  readonly headerRow: number;
  readonly columns: Readonly<Record<string, number | undefined>>;
}

// ---- specifications as selected ------------------------------------------------------------------------------

export type Provenance = "read" | "memory" | "own";

/** What gives a figure its meaning. Lengths are exact; `wraps` is a count. */
export interface Conditions {
  readonly freeLength?: Measure;
  readonly gaugeLength?: Measure;
  readonly mandrelDiameter?: Measure;
  /** The upper end where the rule gives a range of mandrels (coiling). */
  readonly mandrelDiameterMax?: Measure;
  readonly wraps?: Measure;
  readonly radius?: Measure;
  readonly programme?: string;
  readonly area?: "measured" | "nominal" | "by-mass";
}

/** One requirement of one order item: limits in the table's own unit, never converted. */
export interface Requirement {
  readonly property: string;
  readonly min?: string;
  readonly max?: string;
  readonly unit: AnyUnit | "";
  /** A requirement without a number, as a wording code (`no-visible-cracks`, `even-pitch-no-cracks` …). */
  readonly word?: string;
  readonly conditions: Conditions;
  readonly rule: RuleReference;
  /** For people: "over 2.00 up to 2.10 mm". */
  readonly row: string;
  /** For people: "linear between 0.045 and 0.048 in". */
  readonly rowRule: string;
  readonly rounding: Rounding;
  readonly evaluate: "each" | "mean";
  /** Shown and never judged. */
  readonly indicative: boolean;
  /** Listed and never judged: no sheet can carry it. */
  readonly listedOnly: boolean;
  /** Extra requirement of the order itself. */
  readonly agreedIn?: string;
  /** Pieces of one coil that the requirement itself asks for; absent: as the sampling rule says. */
  readonly pieces?: number;
  /** Forward and reverse turns, and what of them is held against the limit. Absent: turns in one direction, all counted. */
  readonly torsionProgramme?: TorsionProgramme;
}

/** A test that turns forward, then back, over a number of cycles or until the break. Turns and cycles are decimal text. */
export interface TorsionProgramme {
  readonly forwardTurns: string;
  /** Absent: back until the break. */
  readonly reverseTurns?: string;
  /** Absent: until the break. */
  readonly cycles?: string;
  /**
   * `total`: turns of both directions. `reverse`: turns back only. `cycles`: whole cycles done. `survives`: every cycle done
   * unbroken.
   */
  readonly counts: "total" | "reverse" | "cycles" | "survives";
}

export interface RuleReference {
  readonly specification: string;
  readonly edition: string;
  readonly clause: string;
  readonly provenance: Provenance;
  readonly adopted: boolean;
}

/** How often a piece is asked for. */
export interface SamplingRule {
  /** `each-coil`: one piece a coil. `per-coils`: one in `coils` coils of a test unit, at most `atMost`. */
  readonly kind: "each-coil" | "per-coils";
  readonly coils?: number;
  readonly atMost?: number;
  readonly bothEnds: boolean;
  readonly perHeat: boolean;
  readonly clause: string;
  readonly provenance: Provenance;
}

/** What may be tried again after a valid failure. Absent: nothing. */
export interface RetestRule {
  /**
   * Absent is `pieces`: new pieces of the coil that failed. `every-coil`: a coil that failed is put aside and every other coil of
   * its test unit is tested.
   */
  readonly kind?: "pieces" | "every-coil";
  /** 1 is a piece replaced once. */
  readonly pieces: number;
  readonly mustConform: "all" | "one";
  readonly clause: string;
  readonly provenance: Provenance;
}

/** The test-method sentences of one specification that the validity rules need. Lengths are multiples of d unless a unit stands there. */
export interface ConductRules {
  /** A fracture nearer to a jaw than this is at the grip: multiple of d, or a length. */
  readonly torsionGripDistance: { readonly timesDiameter?: string; readonly length?: Measure };
  /** Highest speed that voids; undefined where the standard names none. */
  readonly torsionMaximumSpeed?: { readonly text: string; readonly provenance: Provenance };
  /** Highest speed from memory, which only warns. */
  readonly torsionAdvisedSpeed?: { readonly text: string; readonly provenance: Provenance };
  readonly torsionScalingAllowed: boolean;
  /** Share of the required free length, "0.01". Undefined: the lab's setting. */
  readonly freeLengthTolerance?: string;
  /** Highest tension as a share of nominal strength × area, "0.02". */
  readonly torsionMaximumTensionShare?: string;
  /** Smallest and largest tension of a method that gives forces by size. */
  readonly torsionTension?: { readonly min?: Measure; readonly max?: Measure };
  /** How a piece may be straightened, in the words of the entry; absent: every way counts, an unusual one is warned of. */
  readonly torsionStraightening?: readonly string[];
  /** Cracks in the first turn: `passes` (not counted) or `void-once` (void, the second time it fails). */
  readonly wrapFirstTurn: "passes" | "void-once";
  /** The mildest word that fails the wrap test. */
  readonly wrapFailsFrom: "visible" | "broken";
  /** "0.05": within this share of the required mandrel it is as required. */
  readonly mandrelTolerance: string;
  /** Highest wrapping rate, per minute; faster is harder. Undefined where the specification names none. */
  readonly wrapMaximumRate?: string;
  readonly coatingConstant: string;
}

/** A specification as the judgement sees it. Made by core/spec from its data. */
export interface SpecificationView {
  /** "EN 10270-1" */
  readonly id: string;
  readonly edition: string;
  readonly title: string;
  /** SHA-256 (hex) of the canonical content, given from outside the core where needed. */
  readonly grades: readonly string[];
  /** Properties the specification asks for at this grade and size; coatingClass adds coating-mass. */
  requiredProperties(grade: string, nominal: Measure, coatingClass?: string): readonly string[];
  /**
   * Each required and each listed requirement for the size.
   * `problem` instead of a requirement where the rule is held but does not answer (`outside-scope`, `no-rule`, `unknown-grade`).
   */
  requirement(property: string, grade: string, nominal: Measure): Requirement | RequirementProblem;
  sampling(property: string): SamplingRule;
  retest(property: string): RetestRule | undefined;
  conduct(nominal: Measure): ConductRules;
}

export interface RequirementProblem {
  readonly problem: "unknown-grade" | "no-rule" | "outside-scope";
  readonly text: string;
}

/** Finds specifications; `edition` undefined is the newest held. */
export interface SpecificationLibrary {
  find(designation: string, edition?: string): SpecificationView | undefined;
  list(): readonly SpecificationView[];
}

// ---- verdicts ------------------------------------------------------------------------------------------------

/** The worst wins, in this order. */
export const VERDICTS = ["does-not-conform", "retest-due", "undecided", "not-tested", "conforms"] as const;
export type Verdict = (typeof VERDICTS)[number];

export type VoidReason =
  | "instrument-not-in-force"
  | "free-length"
  | "speed"
  | "tension"
  | "programme"
  | "straightening"
  | "mandrel"
  | "wraps"
  | "grip-break"
  | "starting-turn"
  | "stopped-before-limit"
  | "set-aside";

export type TestRole = "acceptance" | "repeat" | "retest" | "check";

export interface NextStep {
  readonly do: "test" | "repeat" | "retest" | "inspect" | "mend" | "calibrate" | "adopt" | "sign";
  readonly pieces?: number;
  readonly end?: "outer" | "inner" | "between";
  readonly who?: string;
  readonly property?: string;
  readonly coil?: string;
  /** A whole sentence in English; other languages make theirs from the fields. */
  readonly text: string;
}

export interface Result {
  readonly testPiece: string;
  readonly position?: string;
  readonly role: TestRole;
  readonly retestOf?: string;
  readonly sheet: string;
  /** The deciding figure's cell. */
  readonly cell: string;
  readonly row: number;
  readonly file: string;
  readonly raw: string;
  readonly formula?: string;
  /** In the limit's unit; a word for tests judged by eye. */
  readonly value: number | string;
  readonly unit: string;
  readonly conditions: Conditions;
  /** Decimal text or the word, as held against the limit. */
  readonly compared: string;
  readonly counts: boolean;
  readonly voidReason?: VoidReason;
  /** A deviation that does not void: `harder-…` codes, printed on the document. */
  readonly deviation?: string;
  /** This result alone against the limit, before sampling and retest; absent where void. */
  readonly outcome?: "conforms" | "does-not-conform" | "undecided";
  readonly reason?: string;
  /** True for `>N`: decides a minimum, never enters statistics. */
  readonly censored?: boolean;
  readonly instrument?: string;
  readonly tester?: string;
  readonly date?: string;
  /** Expanded uncertainty, k = 2, in the limit's unit, where a decision rule used it. */
  readonly uncertainty?: number;
  /** Of the true value lying within the limits, 0 to 1, where a decision rule used the uncertainty. */
  readonly conformanceProbability?: number;
  /** The end of the coil the piece comes from. */
  readonly end?: NonNullable<NextStep["end"]>;
  /** The minimum as it was scaled to the free length used, where the standard scales. */
  readonly scaledMin?: string;
  /** Class of the torsion fracture, `1a` to `3c`. */
  readonly fractureType?: string;
  /** How the piece was straightened. */
  readonly straightened?: string;
  /** Every step from the cell to `compared`, one plain sentence each. */
  readonly steps: readonly string[];
}

export interface RequirementVerdict {
  readonly property: string;
  readonly requirement: Requirement;
  readonly verdict: Verdict;
  readonly reason?: string;
  readonly next: readonly NextStep[];
  readonly results: readonly Result[];
  /** Conformance probability of the deciding result, where a rule with uncertainty was used. */
  readonly conformanceProbability?: number;
}

export interface CoilVerdict {
  readonly coil: string;
  readonly heat: string;
  readonly testUnit: string;
  readonly verdict: Verdict;
  readonly basis: "own-results" | "test-unit";
  readonly next: readonly NextStep[];
  readonly requirements: readonly RequirementVerdict[];
}

export interface TestUnitVerdict {
  readonly testUnit: string;
  readonly verdict: Verdict;
  readonly next: readonly NextStep[];
}

export interface OrderVerdict {
  readonly order: string;
  readonly item: string;
  readonly specification: string;
  readonly edition: string;
  readonly grade: string;
  readonly nominalDiameter: Measure;
  readonly verdict: Verdict;
  readonly next: readonly NextStep[];
  readonly testUnits: readonly TestUnitVerdict[];
  readonly coils: readonly CoilVerdict[];
  /** Listed, not judged (indicative limits, what no sheet can carry). */
  readonly listed: readonly Requirement[];
}

// ---- what the judgement is given -----------------------------------------------------------------------------

export interface OrderItem {
  readonly order: string;
  readonly item: string;
  readonly customer: string;
  readonly contact?: string;
  readonly customerOrder?: string;
  readonly product?: string;
  readonly specification: string;
  /** Fixed when the order is first registered. */
  readonly edition: string;
  /** "" where the specification has one only. */
  readonly grade: string;
  readonly nominalDiameter: Measure;
  readonly coatingClass?: string;
  readonly documentType: "2.1" | "2.2" | "3.1" | "3.2";
  readonly decisionRule: "simple" | "guarded" | "guarded-open";
  readonly decisionRuleAgreed?: string;
  readonly language: string;
  readonly documentUnits?: string;
  readonly documentDecimalMark?: string;
  readonly remark?: string;
}

export interface AgreedRequirement {
  readonly order: string;
  readonly item: string;
  readonly property: string;
  readonly min?: string;
  readonly max?: string;
  readonly unit?: string;
  readonly conditions?: string;
  readonly agreedIn?: string;
}

export interface Coil {
  readonly coil: string;
  readonly order: string;
  readonly item: string;
  readonly heat: string;
  readonly testUnit?: string;
  readonly motherCoil?: string;
  readonly drawnOn?: string;
  readonly mass?: Measure;
  readonly length?: Measure;
}

export interface Heat {
  readonly heat: string;
  readonly analysis: "heat" | "product";
  readonly source: "own" | "supplier" | "external";
  readonly process?: string;
  /** Mass fraction in per cent, decimal text, by element symbol. */
  readonly elements: Readonly<Record<string, string>>;
  /** Where each element was read, for `why`. */
  readonly cells?: Readonly<Record<string, { readonly sheet: string; readonly cell: string; readonly raw: string }>>;
}

/** One range and calibration of an instrument; an instrument may have several. */
export interface InstrumentRange {
  readonly instrument: string;
  readonly kind?: string;
  readonly rangeMin?: string;
  readonly rangeMax?: string;
  readonly rangeUnit?: string;
  readonly class?: string;
  readonly calibratedOn?: string;
  readonly dueOn?: string;
  readonly uncertainty?: string;
  readonly uncertaintyUnit?: string;
  readonly coverageFactor?: string;
}

/** A person's decision that settles one property of one coil (an inspection, a set-aside, an unread row). */
export interface Settlement {
  readonly coil: string;
  readonly property: string;
  readonly as: string;
  readonly why: string;
  readonly by: string;
  readonly on: string;
}

export interface JudgementInput {
  readonly orders: readonly OrderItem[];
  readonly agreed: readonly AgreedRequirement[];
  readonly coils: readonly Coil[];
  readonly heats: readonly Heat[];
  readonly instruments: readonly InstrumentRange[];
  /** Test rows of all workbooks that concern these coils. */
  readonly tests: readonly EntryRow[];
  readonly unread: readonly UnreadRow[];
  readonly settlements: readonly Settlement[];
  readonly specifications: SpecificationLibrary;
  /** True where a named person compared this specification's content with the licensed text. */
  readonly isAdopted: (specification: string, edition: string) => boolean;
  /** `YYYY-MM-DD`, the lab's day. */
  readonly today: string;
  /** Share, "0.01". */
  readonly freeLengthTolerance: string;
}

export interface Judgement {
  readonly orders: readonly OrderVerdict[];
  /** What judging itself found: unlinked retests, unknown coils, instrument missing, slip suspected … */
  readonly findings: readonly Finding[];
}

export type { AnyUnit, Measure, Rounding };
