import { compareExact, exact } from "../decimal.ts";
import type {
  AgreedRequirement,
  Heat,
  OrderItem,
  Requirement,
  RequirementProblem,
  SpecificationLibrary,
  SpecificationView,
} from "../model.ts";
import { agreedRequirement, type LimitProblem } from "./agreed.ts";

/** A property the order asks for and no limit answers. */
export interface Unanswered {
  readonly property: string;
  readonly problem: RequirementProblem | LimitProblem;
  /** Where it is asked for. */
  readonly sheet: "Orders" | "Agreed";
}

/** Requirements of one order item, ready to be held against results. */
export interface ItemRequirements {
  readonly specification: SpecificationView;
  readonly judged: readonly Requirement[];
  readonly listed: readonly Requirement[];
  /** Judged where a row names it, listed where none does: the appearance of a fracture. */
  readonly whereGiven: readonly Requirement[];
  readonly unanswered: readonly Unanswered[];
}

/** Splits "EN 10244-2 A x 3" into the specification and the class; undefined where no held specification begins it. */
function splitCoatingClass(text: string, library: SpecificationLibrary): { specification: SpecificationView; grade: string } | undefined {
  const words = text.trim().split(/\s+/);
  for (let count = words.length - 1; count >= 1; count -= 1) {
    const specification = library.find(words.slice(0, count).join(" "));
    if (specification) return { specification, grade: words.slice(count).join(" ") };
  }
  return undefined;
}

/** Properties that no sheet must carry and a row may. */
const WHERE_GIVEN = new Set(["fracture-appearance"]);

/**
 * Every requirement of an order item: the specification's, the coating class's, the heat's chemistry, and what was agreed in addition.
 * @param agreed those of this order item
 * @param heats those of its coils
 */
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
  const unanswered: Unanswered[] = [];
  const ofView = (view: SpecificationView, found: Requirement): Requirement => withAdoption(found, isAdopted(view.id, view.edition));
  const take = (view: SpecificationView, property: string, grade: string): void => {
    const found = view.requirement(property, grade, order.nominalDiameter);
    if ("problem" in found) unanswered.push({ property, problem: found, sheet: "Orders" });
    else if (contradicts(found)) unanswered.push({ property, problem: contradiction(found), sheet: "Orders" });
    else (found.indicative || found.listedOnly ? listed : judged).push(ofView(view, found));
  };
  for (const property of specification.requiredProperties(order.grade, order.nominalDiameter))
    if (property !== "coating-mass" || order.coatingClass === undefined) take(specification, property, order.grade);
  if (order.coatingClass !== undefined) takeCoating(order.coatingClass, library, take, unanswered);
  for (const element of new Set(heats.flatMap((heat) => Object.keys(heat.elements)))) {
    const found = specification.requirement(`chemistry:${element}`, order.grade, order.nominalDiameter);
    if (!("problem" in found)) judged.push(ofView(specification, found));
  }
  for (const extra of agreed) {
    const base = judged.find((r) => r.property === extra.property && r.agreedIn === undefined);
    const made = agreedRequirement(extra, order, base);
    if ("problem" in made) unanswered.push({ property: extra.property, problem: made, sheet: "Agreed" });
    else judged.push(made);
  }
  return { specification, judged, listed, whereGiven: listed.filter((r) => WHERE_GIVEN.has(r.property) && !r.indicative), unanswered };
}

const ADOPTED = new WeakMap<Requirement, Requirement>();
const NOT_ADOPTED = new WeakMap<Requirement, Requirement>();

/** The same object for the same requirement, so that what is remembered of it serves every order item. */
function withAdoption(found: Requirement, adopted: boolean): Requirement {
  const held = adopted ? ADOPTED : NOT_ADOPTED;
  const known = held.get(found);
  if (known !== undefined) return known;
  const made = { ...found, rule: { ...found.rule, adopted } };
  held.set(found, made);
  return made;
}

function takeCoating(
  coatingClass: string,
  library: SpecificationLibrary,
  take: (view: SpecificationView, property: string, grade: string) => void,
  unanswered: Unanswered[],
): void {
  const coating = splitCoatingClass(coatingClass, library);
  if (coating) take(coating.specification, "coating-mass", coating.grade);
  else
    unanswered.push({
      property: "coating-mass",
      problem: { problem: "unknown-grade", text: `coating class "${coatingClass}" is not held` },
      sheet: "Orders",
    });
}

const contradicts = ({ min, max }: Requirement): boolean =>
  min !== undefined && max !== undefined && compareExact(exact(min), exact(max)) > 0;

const contradiction = ({ property, min, max, rule }: Requirement): LimitProblem => ({
  problem: "contradictory-limits",
  text: `${rule.specification}, ${rule.clause}: the minimum ${min} of ${property} is above the maximum ${max}`,
});
