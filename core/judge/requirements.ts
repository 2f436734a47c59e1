import { exact, isDecimalText, multiplyExact, toDecimalText } from "../decimal.ts";
import type {
  AgreedRequirement,
  Conditions,
  Heat,
  OrderItem,
  Requirement,
  RequirementProblem,
  SpecificationLibrary,
  SpecificationView,
} from "../model.ts";
import { type AnyUnit, isUnit, type Measure } from "../quantity.ts";
import { type Rounding, stepOfLimit } from "../rounding.ts";

/** Requirements of one order item, ready to be held against results. */
export interface ItemRequirements {
  readonly specification: SpecificationView;
  readonly judged: readonly Requirement[];
  readonly listed: readonly Requirement[];
  /** Required, but the table does not answer for this size or grade. */
  readonly unanswered: readonly { readonly property: string; readonly problem: RequirementProblem }[];
}

/** Splits "EN 10244-2 A x 3" into the specification and the class; undefined where no held specification begins it. */
export function splitCoatingClass(
  text: string,
  library: SpecificationLibrary,
): { specification: SpecificationView; grade: string } | undefined {
  const words = text.trim().split(/\s+/);
  for (let count = words.length - 1; count >= 1; count -= 1) {
    const specification = library.find(words.slice(0, count).join(" "));
    if (specification) return { specification, grade: words.slice(count).join(" ") };
  }
  return undefined;
}

/** Every requirement of an order item: the specification's, the coating class's, the heat's chemistry, and what was agreed in addition. */
export function itemRequirements(
  order: OrderItem,
  agreed: readonly AgreedRequirement[],
  heats: readonly Heat[],
  library: SpecificationLibrary,
  isAdopted: (specification: string, edition: string) => boolean,
): ItemRequirements | undefined {
  const specification = library.find(order.specification, order.edition);
  if (specification === undefined) return undefined;
  const judged: Requirement[] = [];
  const listed: Requirement[] = [];
  const unanswered: { property: string; problem: RequirementProblem }[] = [];
  const take = (view: SpecificationView, property: string, grade: string): void => {
    const found = view.requirement(property, grade, order.nominalDiameter);
    if ("problem" in found) {
      unanswered.push({ property, problem: found });
      return;
    }
    const requirement = { ...found, rule: { ...found.rule, adopted: isAdopted(view.id, view.edition) } };
    (requirement.indicative || requirement.listedOnly ? listed : judged).push(requirement);
  };
  const required = specification.requiredProperties(order.grade, order.nominalDiameter);
  for (const property of required)
    if (property !== "coating-mass" || order.coatingClass === undefined) take(specification, property, order.grade);
  if (order.coatingClass !== undefined) {
    const coating = splitCoatingClass(order.coatingClass, library);
    if (coating) take(coating.specification, "coating-mass", coating.grade);
    else
      unanswered.push({
        property: "coating-mass",
        problem: { problem: "unknown-grade", text: `coating class "${order.coatingClass}" is not held` },
      });
  }
  for (const element of new Set(heats.flatMap((heat) => Object.keys(heat.elements)))) {
    const property = `chemistry:${element}`;
    const found = specification.requirement(property, order.grade, order.nominalDiameter);
    if (!("problem" in found))
      judged.push({ ...found, rule: { ...found.rule, adopted: isAdopted(specification.id, specification.edition) } });
  }
  for (const extra of agreed) if (extra.order === order.order && extra.item === order.item) judged.push(agreedRequirement(extra, order));
  return { specification, judged, listed, unanswered };
}

const COUNTED: Readonly<Record<string, AnyUnit>> = { torsion: "turns", "reverse-bend": "bends" };

/** An extra requirement of one order: its limits as agreed, rounded to the last place in which they are written. */
function agreedRequirement(extra: AgreedRequirement, order: OrderItem): Requirement {
  const counted = COUNTED[extra.property];
  const rounding: Rounding = counted
    ? { method: "whole", step: "1", ties: "none" }
    : { method: "round", step: stepOfLimit(extra.min, extra.max), ties: "even" };
  return {
    property: extra.property,
    ...(extra.min === undefined ? {} : { min: extra.min }),
    ...(extra.max === undefined ? {} : { max: extra.max }),
    unit: (counted ?? extra.unit ?? "") as AnyUnit | "",
    conditions: parseConditions(extra.conditions, order.nominalDiameter),
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
    evaluate: "each",
    indicative: false,
    listedOnly: false,
    agreedIn: extra.agreedIn ?? "",
  };
}

const LENGTH_CONDITIONS = new Set(["freeLength", "gaugeLength", "mandrelDiameter", "radius"]);

/**
 * Conditions of an agreed requirement as they are typed: `freeLength 200 mm; mandrelDiameter 4 d; wraps 8`.
 * `d` is the nominal diameter. What is not of that form is kept as the programme in words.
 */
export function parseConditions(typed: string | undefined, nominal: Measure): Conditions {
  if (typed === undefined || typed.trim() === "") return {};
  const conditions: Record<string, Measure | string> = {};
  const rest: string[] = [];
  for (const part of typed.split(/[;,]/).map((p) => p.trim())) {
    const found = /^([A-Za-z]+)\s*=?\s*(\d+(?:\.\d+)?)\s*([A-Za-z]+)?$/.exec(part);
    const [, name, number, unit] = found ?? [];
    if (name === "wraps" && number !== undefined) conditions["wraps"] = { text: number, unit: "wraps" };
    else if (
      name !== undefined &&
      number !== undefined &&
      isDecimalText(number) &&
      LENGTH_CONDITIONS.has(name) &&
      unit !== undefined &&
      (unit === "d" || isUnit(unit))
    )
      conditions[name] =
        unit === "d"
          ? { text: toDecimalText(multiplyExact(exact(number), exact(nominal.text)), 30), unit: nominal.unit }
          : { text: number, unit: unit as AnyUnit };
    else if (part !== "") rest.push(part);
  }
  if (rest.length > 0) conditions["programme"] = rest.join("; ");
  return conditions as Conditions;
}
