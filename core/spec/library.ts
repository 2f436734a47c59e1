import { CalcError } from "../calc-error.ts";
import { compareExact, exact } from "../decimal.ts";
import type {
  ConductRules,
  Measure,
  Requirement,
  RequirementProblem,
  SamplingRule,
  SpecificationLibrary,
  SpecificationView,
  TorsionProgramme,
} from "../model.ts";
import { type AnyUnit, convertExact, type Unit } from "../quantity.ts";
import { type Rounding, stepOfLimit } from "../rounding.ts";
import { BUILT_IN } from "./data/index.ts";
import type { ChemistryRow, SpecificationData, Table } from "./schema.ts";
import { parseLength, type Selected, selectRow } from "./select.ts";

/** The rounding interval of each unit. @source DESIGN section 8, built-in defaults; ASTM E29 rounding method */
const STEPS: Readonly<Record<string, string>> = {
  MPa: "1",
  ksi: "1",
  mm: "0.001",
  in: "0.0001",
  "g/m2": "1",
  "oz/ft2": "0.01",
  N: "1",
  kN: "0.01",
  lbf: "1",
};
const PERCENT_STEPS: Readonly<Record<string, string>> = { elongation: "0.5", "reduction-of-area": "1" };
const COUNTS = new Set(["turns", "bends", "wraps"]);

export function defaultRounding(property: string, unit: string, ...limits: (string | undefined)[]): Rounding {
  if (COUNTS.has(unit)) return { method: "whole", step: "1", ties: "none" };
  if (unit === "") return { method: "absolute", step: "1", ties: "even" };
  const step = unit === "%" ? (PERCENT_STEPS[property] ?? stepOfLimit(...limits)) : (STEPS[unit] ?? stepOfLimit(...limits));
  return { method: "round", step, ties: "even" };
}

/** A specification with what the judgement asks of it. */
export interface HeldSpecification extends SpecificationView {
  readonly data: SpecificationData;
  readonly properties: readonly string[];
  /** Throws CalcError in the contract's order instead of answering with a problem. */
  select(property: string, grade: string, nominal: Measure): Selected;
  /** Several where a row of the standard has more than one (heat analyses by grade); undefined where none is held. */
  chemistry(element: string, grade: string): ChemistryRow | undefined;
}

export interface HeldLibrary extends SpecificationLibrary {
  find(designation: string, edition?: string): HeldSpecification | undefined;
  list(): readonly HeldSpecification[];
}

export function createSpecificationLibrary(all: readonly SpecificationData[]): HeldLibrary {
  const held = all.map(holdSpecification);
  return {
    list: () => held,
    find(designation, edition) {
      const { id, year } = splitDesignation(designation, held);
      const wanted = edition ?? year;
      const candidates = held.filter((s) => s.id === id && (wanted === undefined || wanted === "" || s.edition === wanted));
      return candidates.sort((a, b) => compareEditions(b.edition, a.edition))[0];
    },
  };
}

/** By text, years first; an edition the reference does not name is older than any it names. */
function compareEditions(a: string, b: string): number {
  if (a === b) return 0;
  if (a === UNSTATED || b === UNSTATED) return a === UNSTATED ? -1 : 1;
  return a < b ? -1 : 1;
}

function splitDesignation(designation: string, held: readonly HeldSpecification[]): { id: string; year?: string } {
  if (held.some((s) => s.id === designation)) return { id: designation };
  const colon = designation.lastIndexOf(":");
  return colon < 0 ? { id: designation } : { id: designation.slice(0, colon), year: designation.slice(colon + 1) };
}

let builtIn: HeldLibrary | undefined;
/** The specifications that come with the product. */
export function builtInLibrary(): HeldLibrary {
  builtIn ??= createSpecificationLibrary(BUILT_IN);
  return builtIn;
}

function holdSpecification(data: SpecificationData): HeldSpecification {
  const tablesOf = new Map<string, Table[]>();
  for (const table of data.tables) tablesOf.set(table.property, [...(tablesOf.get(table.property) ?? []), table]);
  const knowsGrade = (grade: string): boolean => (data.grades.length === 0 ? isNoGrade(grade) : data.grades.includes(grade));

  /** The table in the diameter's own unit system where there is one. */
  const tableFor = (property: string, grade: string, nominal: Measure): Table => {
    const tables = (tablesOf.get(property) ?? []).filter((t) => t.grades === undefined || t.grades.includes(grade));
    const table = tables.find((t) => inSystem(t.diameterUnit, nominal)) ?? tables[0];
    if (table === undefined) throw new CalcError("no-rule", `${data.id} holds no rule for ${property}`);
    const concerned = table.rows.some((row) => row.grades === undefined || row.grades.includes(grade));
    if (!concerned) throw new CalcError("no-rule", `${data.id} holds no rule for ${property} of grade ${grade}`);
    return table;
  };
  const select = (property: string, grade: string, nominal: Measure): Selected => {
    if (!knowsGrade(grade)) throw new CalcError("unknown-grade", unknownGradeText(data, grade));
    return selectRow(tableFor(property, grade, nominal), grade, nominal);
  };
  const chemistry = (element: string, grade: string): ChemistryRow | undefined =>
    data.chemistry.find((row) => row.element === element && (row.grades === undefined || row.grades.includes(grade)));
  const ask = (property: string, grade: string, nominal: Measure): Requirement | RequirementProblem => {
    try {
      if (!property.startsWith("chemistry:")) return toRequirement(data, property, select(property, grade, nominal));
      if (!knowsGrade(grade)) return { problem: "unknown-grade", text: unknownGradeText(data, grade) };
      const row = chemistry(property.slice("chemistry:".length), grade);
      return row === undefined
        ? { problem: "no-rule", text: `${data.id} limits no ${property.slice("chemistry:".length)}` }
        : chemistryRequirement(data, property, row);
    } catch (error) {
      if (!(error instanceof CalcError)) throw error;
      return { problem: error.code as RequirementProblem["problem"], text: error.message };
    }
  };
  const asked = new Map<string, Requirement | RequirementProblem>();
  return {
    data,
    id: data.id,
    edition: data.edition,
    title: data.title,
    grades: data.grades,
    properties: [...new Set([...tablesOf.keys(), ...data.chemistry.map((row) => `chemistry:${row.element}`)])],
    select,
    chemistry,
    requiredProperties: (grade, nominal) =>
      data.required
        .filter((r) => (r.grades === undefined || r.grades.includes(grade)) && inSystem(r.diameterUnit, nominal) && withinSizes(r, nominal))
        .map((r) => r.property),
    requirement(property, grade, nominal) {
      const key = `${property}\u0000${grade}\u0000${nominal.text}\u0000${nominal.unit}`;
      const found = asked.get(key) ?? ask(property, grade, nominal);
      asked.set(key, found);
      return found;
    },
    sampling: () => (data.sampling === undefined ? EACH_COIL : samplingRule(data.sampling)),
    retest(property) {
      const rule = data.retest.find((r) => r.properties.includes(property));
      return rule === undefined
        ? undefined
        : {
            ...(rule.kind === undefined ? {} : { kind: rule.kind }),
            pieces: rule.pieces,
            mustConform: rule.mustConform,
            clause: rule.clause,
            provenance: rule.provenance,
          };
    },
    conduct: (nominal) => conductRules(data, nominal),
  };
}

/** The edition of a specification whose reference names none. */
export const UNSTATED = "unstated";

/** True where a grade column holds nothing or a dash. */
export const isNoGrade = (grade: string): boolean => grade === "" || grade === "-";

function unknownGradeText(data: SpecificationData, grade: string): string {
  return data.grades.length === 0
    ? `${data.id} has one grade only; leave the grade empty instead of "${grade}"`
    : `${data.id} has no grade "${grade}"; held are ${data.grades.join(", ")}`;
}

/** @source DESIGN section 8: one piece a coil and requirement where no sampling rule is held */
const EACH_COIL: SamplingRule = { kind: "each-coil", bothEnds: false, perHeat: false, clause: "one piece a coil", provenance: "own" };

/** True where the diameter is in the unit system of `unit`, or none is named. */
const inSystem = (unit: "mm" | "in" | undefined, nominal: Measure): boolean =>
  unit === undefined || (unit === "in") === (nominal.unit === "in" || nominal.unit === "ft");

const samplingRule = (s: NonNullable<SpecificationData["sampling"]>): SamplingRule => ({
  kind: s.kind,
  ...(s.coils === undefined ? {} : { coils: s.coils }),
  ...(s.atMost === undefined ? {} : { atMost: s.atMost }),
  bothEnds: s.bothEnds,
  perHeat: s.perHeat,
  clause: s.clause,
  provenance: s.provenance,
});

function withinSizes(rule: { from?: string | undefined; over?: string | undefined; upTo?: string | undefined }, nominal: Measure): boolean {
  const side = (edge: string): -1 | 0 | 1 => {
    const length = parseLength(edge);
    return compareExact(convertExact(exact(nominal.text), nominal.unit as Unit, length.unit as Unit), exact(length.text));
  };
  return (
    (rule.from === undefined || side(rule.from) >= 0) &&
    (rule.over === undefined || side(rule.over) > 0) &&
    (rule.upTo === undefined || side(rule.upTo) <= 0)
  );
}

function toRequirement(data: SpecificationData, property: string, found: Selected): Requirement {
  const { table } = found;
  const word = table.word ?? (table.wraps === undefined ? undefined : "no-cracks");
  return {
    property,
    ...(found.min === undefined ? {} : { min: found.min }),
    ...(found.max === undefined ? {} : { max: found.max }),
    unit: (word === undefined ? table.unit : "") as AnyUnit | "",
    ...(word === undefined ? {} : { word }),
    conditions: found.conditions,
    rule: { specification: data.id, edition: data.edition, clause: table.clause, provenance: found.provenance, adopted: false },
    row: found.row,
    rowRule: found.rule,
    rounding: table.rounding ?? defaultRounding(property, word === undefined ? table.unit : "", found.min, found.max),
    evaluate: table.evaluate ?? "each",
    ...(table.pieces === undefined ? {} : { pieces: table.pieces }),
    ...(table.programme === undefined ? {} : { torsionProgramme: torsionProgramme(table.programme) }),
    indicative: found.indicative,
    listedOnly: table.listedOnly === true,
  };
}

function torsionProgramme({ forwardTurns, reverseTurns, cycles, counts }: NonNullable<Table["programme"]>): TorsionProgramme {
  return {
    forwardTurns,
    counts,
    ...(reverseTurns === undefined ? {} : { reverseTurns }),
    ...(cycles === undefined ? {} : { cycles }),
  };
}

function chemistryRequirement(data: SpecificationData, property: string, row: ChemistryRow): Requirement {
  return {
    property,
    ...(row.min === undefined ? {} : { min: row.min }),
    ...(row.max === undefined ? {} : { max: row.max }),
    unit: "%",
    conditions: {},
    rule: { specification: data.id, edition: data.edition, clause: "chemical composition", provenance: row.provenance, adopted: false },
    row: "heat analysis",
    rowRule: "",
    rounding: defaultRounding(property, "%", row.min, row.max),
    evaluate: "each",
    indicative: false,
    listedOnly: false,
  };
}

/**
 * Speeds that only warn where a standard names none.
 * @source ISO 7800 speed table (memory, low)
 */
const ADVISED_SPEEDS: readonly { readonly from: string; readonly below: string; readonly speed: string }[] = [
  { from: "0", below: "1.0", speed: "60" },
  { from: "1.5", below: "5.0", speed: "30" },
  { from: "5.0", below: "10.0001", speed: "15" },
];

function conductRules({ conduct }: SpecificationData, nominal: Measure): ConductRules {
  const grip = conduct.torsionGripDistance;
  const d = convertExact(exact(nominal.text), nominal.unit as Unit, "mm");
  const advised = ADVISED_SPEEDS.find((s) => compareExact(d, exact(s.from)) >= 0 && compareExact(d, exact(s.below)) < 0);
  return {
    torsionGripDistance:
      grip === undefined
        ? { timesDiameter: "2" }
        : "length" in grip
          ? { length: parseLength(grip.length) }
          : { timesDiameter: grip.timesDiameter },
    ...(conduct.torsionMaximumSpeed === undefined ? {} : { torsionMaximumSpeed: conduct.torsionMaximumSpeed }),
    ...(conduct.torsionMaximumSpeed !== undefined || advised === undefined
      ? {}
      : { torsionAdvisedSpeed: { text: advised.speed, provenance: "memory" as const } }),
    torsionScalingAllowed: conduct.torsionScalingAllowed ?? false,
    ...(conduct.freeLengthTolerance === undefined ? {} : { freeLengthTolerance: conduct.freeLengthTolerance }),
    ...(conduct.torsionMaximumTensionShare === undefined ? {} : { torsionMaximumTensionShare: conduct.torsionMaximumTensionShare }),
    ...(conduct.torsionTension === undefined ? {} : { torsionTension: forceBand(conduct.torsionTension) }),
    ...(conduct.torsionStraightening === undefined ? {} : { torsionStraightening: conduct.torsionStraightening }),
    wrapFirstTurn: conduct.wrapFirstTurn ?? "void-once",
    wrapFailsFrom: conduct.wrapFailsFrom ?? "visible",
    mandrelTolerance: conduct.mandrelTolerance ?? "0.05",
    ...(conduct.wrapMaximumRate === undefined ? {} : { wrapMaximumRate: conduct.wrapMaximumRate }),
    coatingConstant: conduct.coatingConstant ?? "1960",
  };
}

function forceBand({ min, max }: NonNullable<SpecificationData["conduct"]["torsionTension"]>): NonNullable<ConductRules["torsionTension"]> {
  const force = (text: string): Measure => ({ text: text.split(" ")[0] ?? "", unit: text.endsWith("lbf") ? "lbf" : "N" });
  return { ...(min === undefined ? {} : { min: force(min) }), ...(max === undefined ? {} : { max: force(max) }) };
}
