/** Extra requirements of one order: limits and conditions as typed, made into requirements, or a problem that names what is wrong. */
import { compareExact, exact, isDecimalText, multiplyExact, toDecimalText } from "../decimal.ts";
import type { AgreedRequirement, Conditions, OrderItem, Requirement, TorsionProgramme } from "../model.ts";
import { type AnyUnit, type Dimension, dimensionOf, isUnit, type Measure } from "../quantity.ts";
import { type Rounding, stepOfLimit } from "../rounding.ts";
import { isPropertyName } from "../spec/properties.ts";
import { programmeText, turnsToSurvive } from "./checks/torsion-programme.ts";
import { optional } from "./row.ts";

/** What keeps a requirement from being judged. */
export interface LimitProblem {
  readonly problem: "contradictory-limits" | "limit-without-unit";
  readonly text: string;
}

/** Counts carry their unit in their name. */
const COUNTED: Readonly<Record<string, AnyUnit>> = { torsion: "turns", "reverse-bend": "bends" };
/** A minimum agreed for these is the number of wraps, a condition of the test. */
const WRAPPED = new Set(["wrap", "adherence"]);
const DIMENSIONS: Readonly<Record<string, Dimension>> = {
  "tensile-strength": "stress",
  "proof-strength": "stress",
  "breaking-force": "force",
  elongation: "ratio",
  "reduction-of-area": "ratio",
  "coating-mass": "areal-mass",
  diameter: "length",
  "out-of-round": "length",
};
const EXAMPLES: Readonly<Partial<Record<Dimension, string>>> = {
  stress: "MPa",
  force: "N",
  ratio: "%",
  "areal-mass": "g/m2",
  length: "mm",
};

/**
 * An extra requirement of one order: its limits as agreed, rounded to the last place in which they are written. Conditions that are not
 * named are those of the specification for the same property.
 * @param base the specification's own requirement of the property, where it has one
 */
export function agreedRequirement(extra: AgreedRequirement, order: OrderItem, base: Requirement | undefined): Requirement | LimitProblem {
  const property = isPropertyName(extra.property) || extra.property.startsWith("other:") ? extra.property : `other:${extra.property}`;
  const wrapped = WRAPPED.has(property);
  const asked = parseAgreedConditions(extra.conditions, order.nominalDiameter);
  const survive = asked.programme?.counts === "survives" ? turnsToSurvive(asked.programme) : undefined;
  const limits = { ...optional("min", wrapped ? undefined : (extra.min ?? survive)), ...optional("max", wrapped ? undefined : extra.max) };
  const counted = asked.programme?.counts === "cycles" ? "cycles" : COUNTED[property];
  const numeric = limits.min !== undefined || limits.max !== undefined;
  const problem = numeric ? problemOf(property, limits, extra.unit, counted) : undefined;
  if (problem !== undefined) return problem;
  const unit = !numeric ? "" : (counted ?? extra.unit ?? (dimensionFor(property) === "ratio" ? "%" : ""));
  const rounding: Rounding = counted
    ? { method: "whole", step: "1", ties: "none" }
    : { method: "round", step: stepOfLimit(limits.min, limits.max), ties: "even" };
  const wraps = wrapped && extra.min !== undefined ? { wraps: { text: extra.min, unit: "wraps" as const } } : {};
  return {
    property,
    ...limits,
    unit: unit as AnyUnit | "",
    ...optional("word", numeric ? undefined : base?.word),
    conditions: { ...base?.conditions, ...wraps, ...asked.conditions },
    rule: {
      specification: `order ${order.order}/${order.item}`,
      edition: "",
      clause: extra.agreedIn ?? "agreed in addition",
      provenance: "own",
      adopted: true,
    },
    row: "agreed in addition",
    rowRule: "",
    rounding,
    evaluate: asked.mean ? "mean" : "each",
    indicative: false,
    listedOnly: false,
    agreedIn: extra.agreedIn ?? "",
    ...optional("pieces", asked.pieces),
    ...optional("torsionProgramme", asked.programme),
  };
}

const dimensionFor = (property: string): Dimension | undefined => (property.startsWith("chemistry:") ? "ratio" : DIMENSIONS[property]);

function problemOf(
  property: string,
  { min, max }: { min?: string; max?: string },
  unit: string | undefined,
  counted: AnyUnit | undefined,
): LimitProblem | undefined {
  if (min !== undefined && max !== undefined && compareExact(exact(min), exact(max)) > 0)
    return { problem: "contradictory-limits", text: `${property}: the minimum ${min} is above the maximum ${max}` };
  const limit = [min, max].filter((text) => text !== undefined).join(" to ");
  const wrong = (accepted: string): LimitProblem => ({
    problem: "limit-without-unit",
    text: `${property}: the limit ${limit} has ${unit === undefined ? "no unit" : `the unit "${unit}"`}; accepted is ${accepted}`,
  });
  if (counted !== undefined) return unit === undefined || unit === counted ? undefined : wrong(`${counted}, or an empty cell`);
  const dimension = dimensionFor(property);
  if (dimension === undefined || (unit === undefined && dimension === "ratio")) return undefined;
  return unit !== undefined && isUnit(unit) && dimensionOf(unit) === dimension
    ? undefined
    : wrong(`a unit such as ${EXAMPLES[dimension] ?? ""}`);
}

interface AgreedConditions {
  readonly conditions: Conditions;
  readonly programme?: TorsionProgramme;
  readonly pieces?: number;
  readonly mean: boolean;
}

const LENGTHS = new Set(["freeLength", "gaugeLength", "mandrelDiameter", "mandrelDiameterMax", "radius"]);
const AREAS = new Set(["measured", "nominal", "by-mass"]);
const COUNTS = new Set(["total", "reverse", "cycles", "survives"]);

/**
 * Conditions of an agreed requirement as they are typed:
 * `freeLength 200 mm; mandrelDiameter 4 d; wraps 8; area nominal; forwardTurns 3; reverseTurns 3; cycles 4; counts reverse; pieces 3;
 * evaluate mean`. `d` is the nominal diameter. What is not of that form is kept as the programme in words.
 */
function parseAgreedConditions(typed: string | undefined, nominal: Measure): AgreedConditions {
  const conditions: Record<string, Measure | string> = {};
  const figures = new Map<string, string>();
  const rest: string[] = [];
  for (const part of (typed ?? "").split(/[;,]/).map((p) => p.trim())) {
    const [, name = "", number, unit] = /^([A-Za-z]+)\s*=?\s*(\d+(?:\.\d+)?)\s*([A-Za-z]+)?$/.exec(part) ?? [];
    const [, turns, direction = ""] = /^(\d+(?:\.\d+)?)\s+(forward|back|reverse|cycles?)$/.exec(part) ?? [];
    const [, key = "", word = ""] = /^([A-Za-z]+)\s*=?\s*([a-z-]+)$/.exec(part) ?? [];
    if (number !== undefined && name === "wraps") conditions["wraps"] = { text: number, unit: "wraps" };
    else if (number !== undefined && isDecimalText(number) && LENGTHS.has(name) && unit !== undefined && (unit === "d" || isUnit(unit)))
      conditions[name] = unit === "d" ? timesDiameter(number, nominal) : { text: number, unit: unit as AnyUnit };
    else if (number !== undefined && unit === undefined && FIGURES.has(name)) figures.set(name, number);
    else if (turns !== undefined) figures.set(IN_WORDS[direction] ?? "cycles", turns);
    else if (key === "area" && AREAS.has(word)) conditions["area"] = word;
    else if (key === "counts" && COUNTS.has(word)) figures.set("counts", word);
    else if (key === "evaluate" && (word === "mean" || word === "each")) figures.set("evaluate", word);
    else if (part !== "") rest.push(part);
  }
  const programme = programmeOf(figures);
  if (programme !== undefined) rest.unshift(`${programmeText(programme)}; counts ${programme.counts}`);
  if (rest.length > 0) conditions["programme"] = rest.join("; ");
  const pieces = figures.get("pieces");
  return {
    conditions: conditions as Conditions,
    ...optional("programme", programme),
    ...optional("pieces", pieces === undefined ? undefined : Math.max(1, Math.trunc(Number(pieces)))),
    mean: figures.get("evaluate") === "mean",
  };
}

/** "3 forward, 3 back, 4 cycles" */
const IN_WORDS: Readonly<Record<string, string>> = { forward: "forwardTurns", back: "reverseTurns", reverse: "reverseTurns" };
const FIGURES = new Set(["forwardTurns", "reverseTurns", "cycles", "pieces"]);

const timesDiameter = (times: string, nominal: Measure): Measure => ({
  text: toDecimalText(multiplyExact(exact(times), exact(nominal.text)), 30),
  unit: nominal.unit,
});

function programmeOf(figures: ReadonlyMap<string, string>): TorsionProgramme | undefined {
  const forwardTurns = figures.get("forwardTurns");
  if (forwardTurns === undefined) return undefined;
  return {
    forwardTurns,
    ...optional("reverseTurns", figures.get("reverseTurns")),
    ...optional("cycles", figures.get("cycles")),
    counts: (figures.get("counts") ?? "total") as TorsionProgramme["counts"],
  };
}
