import { judge } from "../../core/judge/index.ts";
import type {
  Coil,
  CoilVerdict,
  ConductRules,
  EntryRow,
  FieldValue,
  Judgement,
  JudgementInput,
  OrderItem,
  Requirement,
  RetestRule,
  SamplingRule,
  SpecificationView,
  TestSheet,
} from "../../core/model.ts";
import type { AnyUnit } from "../../core/quantity.ts";

/** Invented limits for tests of the rules; SPEC-X is no real document. */
export const CONDUCT: ConductRules = {
  torsionGripDistance: { timesDiameter: "2" },
  torsionMaximumSpeed: { text: "60", provenance: "own" },
  torsionScalingAllowed: false,
  wrapFirstTurn: "void-once",
  wrapFailsFrom: "visible",
  mandrelTolerance: "0.05",
  coatingConstant: "1960",
};

export function requirement(property: string, rest: Partial<Requirement> = {}): Requirement {
  return {
    property,
    unit: "MPa",
    conditions: {},
    rule: { specification: "SPEC-X", edition: "2020", clause: "1", provenance: "own", adopted: true },
    row: "",
    rowRule: "",
    rounding: { method: "round", step: "1", ties: "even" },
    evaluate: "each",
    indicative: false,
    listedOnly: false,
    ...rest,
  };
}

export const TORSION = requirement("torsion", {
  min: "20",
  unit: "turns",
  conditions: { freeLength: { text: "200", unit: "mm" } },
  rounding: { method: "whole", step: "1", ties: "none" },
});
export const TENSILE = requirement("tensile-strength", { min: "1770", max: "2010" });
export const WRAP = requirement("wrap", {
  unit: "",
  conditions: { mandrelDiameter: { text: "2", unit: "mm" }, wraps: { text: "8", unit: "wraps" } },
  rounding: { method: "absolute", step: "1", ties: "even" },
});
export const DIAMETER = requirement("diameter", {
  min: "1.975",
  max: "2.025",
  unit: "mm",
  rounding: { method: "round", step: "0.001", ties: "even" },
});
export const OUT_OF_ROUND = requirement("out-of-round", {
  max: "0.025",
  unit: "mm",
  rounding: { method: "round", step: "0.001", ties: "even" },
});

export interface SpecOptions {
  requirements?: readonly Requirement[];
  sampling?: SamplingRule;
  /** null: no retest at all. */
  retest?: RetestRule | null;
  conduct?: Partial<ConductRules>;
}
export const RETEST: RetestRule = { pieces: 2, mustConform: "all", clause: "2", provenance: "own" };
const EACH: SamplingRule = { kind: "each-coil", bothEnds: false, perHeat: false, clause: "3", provenance: "own" };

export function specification({
  requirements = [TORSION],
  sampling = EACH,
  retest = RETEST,
  conduct = {},
}: SpecOptions = {}): SpecificationView {
  return {
    id: "SPEC-X",
    edition: "2020",
    title: "Invented",
    grades: ["G"],
    requiredProperties: () => requirements.map((r) => r.property),
    requirement: (property) => requirements.find((r) => r.property === property) ?? { problem: "no-rule", text: `no rule for ${property}` },
    sampling: () => sampling,
    retest: () => retest ?? undefined,
    conduct: () => ({ ...CONDUCT, ...conduct }),
  };
}

const UNITS: Readonly<Record<string, AnyUnit>> = {
  largest: "mm",
  smallest: "mm",
  diameter: "mm",
  maximumForce: "N",
  proofForce: "N",
  gaugeLength: "mm",
  elongation: "%",
  diameterAfter: "mm",
  freeLength: "mm",
  fractureFromGrip: "mm",
  tension: "N",
  mandrelDiameter: "mm",
  radius: "mm",
  turns: "turns",
  wraps: "wraps",
  bends: "bends",
  speed: "r/min",
  strippedDiameter: "mm",
  massBefore: "g",
  massAfter: "g",
  hydrogen: "ml",
  temperature: "degC",
  pressure: "mbar",
  length: "mm",
};

let rows = 5;
/** A readable row; `>N` in turns or bends is a piece stopped unbroken. */
export function row(sheet: TestSheet, fields: Readonly<Record<string, string>>): EntryRow {
  const number = rows++;
  const filled: Record<string, FieldValue> = {};
  for (const [name, value] of Object.entries({ testPiece: "T1", coil: "C1", date: "2026-03-02", instrument: "M1", ...fields })) {
    if (value === "") continue;
    const unit = UNITS[name];
    filled[name] = {
      text: value.replace(/^>/, ""),
      cell: `${name}${number}`,
      raw: value,
      ...(unit ? { unit } : {}),
      ...(value.startsWith(">") ? { atLeast: true } : {}),
    };
  }
  return { sheet, sheetName: sheet, row: number, file: "", fields: filled };
}

export const torsionRow = (fields: Readonly<Record<string, string>> = {}): EntryRow =>
  row("torsion", { diameter: "2.00", freeLength: "200", turns: "24", breakAt: "clear", ...fields });
export const wrapRow = (fields: Readonly<Record<string, string>> = {}): EntryRow =>
  row("wrap", { purpose: "ductility", diameter: "2.00", mandrelDiameter: "2", wraps: "8", cracks: "none", ...fields });
export const tensileRow = (fields: Readonly<Record<string, string>> = {}): EntryRow =>
  row("tensile", { diameter: "2.00", maximumForce: "5800", ...fields });

export const ORDER: OrderItem = {
  order: "O1",
  item: "1",
  customer: "Invented customer",
  specification: "SPEC-X",
  edition: "2020",
  grade: "G",
  nominalDiameter: { text: "2.00", unit: "mm" },
  documentType: "2.2",
  decisionRule: "simple",
  language: "en",
};
export const coil = (name: string, rest: Partial<Coil> = {}): Coil => ({ coil: name, order: "O1", item: "1", heat: "H1", ...rest });

export function judged(tests: readonly EntryRow[], spec: SpecOptions = {}, rest: Partial<JudgementInput> = {}): Judgement {
  const view = specification(spec);
  return judge({
    orders: [ORDER],
    agreed: [],
    coils: [coil("C1")],
    heats: [],
    instruments: [{ instrument: "M1", calibratedOn: "2026-01-01", dueOn: "2026-12-31" }],
    tests,
    unread: [],
    settlements: [],
    specifications: { find: (name) => (name === "SPEC-X" ? view : undefined), list: () => [view] },
    isAdopted: () => true,
    today: "2026-03-03",
    freeLengthTolerance: "0.01",
    ...rest,
  });
}

/** The first coil of the first order item. */
export function firstCoil(judgement: Judgement): CoilVerdict {
  const found = judgement.orders[0]?.coils[0];
  if (found === undefined) throw new Error("the judgement holds no coil");
  return found;
}
