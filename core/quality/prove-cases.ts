/** Rows at, just inside and just outside every limit, with what the rule of the limit says of them. Pure; no verdict is looked up here. */
import { addExact, divideExact, exact, multiplyExact, numberText, subtractExact, toDecimalText } from "../decimal.ts";
import type { ConductRules, EntryRow, Measure, Requirement } from "../model.ts";
import { convertExact, convertNumber, isUnit, type Unit } from "../quantity.ts";

export interface ProveCase {
  /** "min, on the limit" */
  readonly name: string;
  readonly sheet: EntryRow["sheet"];
  readonly fields: Readonly<Record<string, { readonly text: string; readonly unit?: string }>>;
  /** A void reason where the piece does not count. */
  readonly expected: "conforms" | "does-not-conform" | `void: ${string}`;
}

interface Point {
  readonly name: string;
  readonly value: string;
  readonly conforms: boolean;
}

/**
 * Cases of one requirement at one size; none where its figures come from a programme of turns or from weighing, which need more than one
 * reading, or where only a person can decide.
 */
export function casesOf(requirement: Requirement, nominal: Measure, conduct: ConductRules): readonly ProveCase[] {
  if (requirement.indicative || requirement.listedOnly || requirement.torsionProgramme !== undefined) return [];
  if (requirement.property === "wrap" || requirement.property === "coiling") return wordCases(requirement, nominal, conduct);
  const rowOf = ROWS[requirement.property] ?? (requirement.word === undefined && requirement.unit !== "" ? otherRow : undefined);
  if (rowOf === undefined) return [];
  const cases = pointsOf(requirement).map(
    ({ name, value, conforms }): ProveCase => ({
      name,
      // A strength that is worked out of a force of 15 digits misses the tie by the last of them; as a figure of its own it does not.
      ...(rowOf === strengthRow && name.endsWith("on the tie") ? otherRow : rowOf)(value, requirement, nominal),
      expected: conforms ? "conforms" : "does-not-conform",
    }),
  );
  return requirement.property === "torsion" ? [...cases, ...gripCases(requirement, nominal)] : cases;
}

/**
 * Around each limit: one rounding step either way, on it, at the tie beyond it, and a hundredth of a step either side of the tie.
 * @source ASTM E29, rounding method and absolute method; ISO 80000-1, annex on rounding, rules A and B (memory)
 */
function pointsOf(requirement: Requirement): readonly Point[] {
  const { min, max } = requirement;
  return [
    ...(min === undefined ? [] : around("min", min, -1, requirement)),
    ...(max === undefined ? [] : around("max", max, 1, requirement)),
  ];
}

/** @param outward the direction that leaves the limits */
function around(side: "min" | "max", limit: string, outward: 1 | -1, { min, max, rounding }: Requirement): readonly Point[] {
  const { method, ties } = rounding;
  const step = method === "absolute" ? lastPlace(limit) : rounding.step;
  // An interpolated limit may lie between two roundings: what decides is the nearest one inside.
  const edge = method === "absolute" ? limit : insideEdge(limit, step, outward);
  const at = (share: string): string => {
    const way = multiplyExact(exact(step), exact(share));
    return toDecimalText(outward === 1 ? addExact(exact(edge), way) : subtractExact(exact(edge), way));
  };
  const point = (name: string, share: string, conforms: boolean): Point => ({ name: `${side}, ${name}`, value: at(share), conforms });
  // Where the two limits lie closer than a step, what is inside one is outside the other.
  const narrow = min !== undefined && max !== undefined && Number(max) - Number(min) < 2 * Number(step);
  const edges = [
    point(edge === limit ? "on the limit" : "nearest figure inside", "0", true),
    point("one step outside", "1", false),
    ...(narrow ? [] : [point("one step inside", "-1", true)]),
  ];
  if (method === "absolute") return edges;
  // Part counts do not count: above a maximum that is no more than it, below a minimum it is less.
  if (method === "whole") return [...edges, point("part of a count outside", "0.75", outward === 1)];
  const tie = ties === "even" ? isEven(edge, step) : outward === -1;
  return [
    ...edges,
    point("on the tie", "0.5", tie),
    point("just inside the tie", "0.49", true),
    point("just outside the tie", "0.51", false),
  ];
}

/** The multiple of the step nearest to a limit above zero on the side that conforms. */
function insideEdge(limit: string, step: string, outward: 1 | -1): string {
  const { numerator, denominator } = divideExact(exact(limit), exact(step));
  const below = numerator / denominator;
  if (below * denominator === numerator) return limit;
  return toDecimalText(multiplyExact({ numerator: outward === 1 ? below : below + 1n, denominator: 1n }, exact(step)));
}

const lastPlace = (limit: string): string => `0.${"0".repeat(limit.split(".")[1]?.length ?? 0)}1`;
const isEven = (limit: string, step: string): boolean => Number(toDecimalText(divideExact(exact(limit), exact(step)))) % 2 === 0;

type RowOf = (value: string, requirement: Requirement, nominal: Measure) => Pick<ProveCase, "sheet" | "fields">;

const inUnitOf = (value: string, from: string, to: string): string =>
  from === to || !isUnit(from) || !isUnit(to) ? value : toDecimalText(convertExact(exact(value), from, to));
const field = (text: string, unit?: string): { readonly text: string; readonly unit?: string } =>
  unit === undefined ? { text } : { text, unit };

const otherRow: RowOf = (value, { property, unit }) => ({
  sheet: "other",
  fields: { property: field(property.replace(/^other:/, "")), value: field(value), unit: field(unit) },
});

/** Force on the nominal diameter, so that measured and nominal area are one. */
const strengthRow: RowOf = (value, { unit }, nominal) => {
  const diameter = convertNumber(nominal, "mm");
  const stress = convertNumber({ text: value, unit: unit as Unit }, "MPa");
  return {
    sheet: "tensile",
    fields: { diameter: field(nominal.text, nominal.unit), maximumForce: field(numberText((stress * Math.PI * diameter ** 2) / 4), "N") },
  };
};

const diameterRow: RowOf = (value, { unit }, nominal) => {
  const both = field(inUnitOf(value, unit, nominal.unit), nominal.unit);
  return { sheet: "diameter", fields: { largest: both, smallest: both } };
};
const outOfRoundRow: RowOf = (value, { unit }, nominal) => {
  const largest = addExact(exact(nominal.text), exact(inUnitOf(value, unit, nominal.unit)));
  return {
    sheet: "diameter",
    fields: { largest: field(toDecimalText(largest), nominal.unit), smallest: field(nominal.text, nominal.unit) },
  };
};
const torsionRow: RowOf = (value, { conditions }, nominal) => ({
  sheet: "torsion",
  fields: {
    diameter: field(nominal.text, nominal.unit),
    turns: field(value, "turns"),
    breakAt: field("clear"),
    freeLength: field(conditions.freeLength?.text ?? "100", conditions.freeLength?.unit ?? "mm"),
  },
});
const bendRow: RowOf = (value, { conditions }, nominal) => ({
  sheet: "reverse-bend",
  fields: {
    diameter: field(nominal.text, nominal.unit),
    bends: field(value.split(".")[0] ?? value, "bends"),
    breakAt: field("clear"),
    radius: field(conditions.radius?.text ?? "10", conditions.radius?.unit ?? "mm"),
  },
});

const ROWS: Readonly<Record<string, RowOf | undefined>> = {
  "tensile-strength": strengthRow,
  diameter: diameterRow,
  "out-of-round": outOfRoundRow,
  torsion: torsionRow,
  "reverse-bend": bendRow,
  // Weighing needs two readings and a stripped diameter; adherence and appearance are words.
  "coating-mass": undefined,
};

/** A break at the grip is harder on the wire: a pass counts, a low result is void and repeated. @source DESIGN rule of directions */
function gripCases(requirement: Requirement, nominal: Measure): readonly ProveCase[] {
  const { min } = requirement;
  if (min === undefined) return [];
  const below = toDecimalText(subtractExact(exact(min), exact("1")));
  const at = (value: string): Pick<ProveCase, "sheet" | "fields"> => {
    const { sheet, fields } = torsionRow(value, requirement, nominal);
    return { sheet, fields: { ...fields, breakAt: field("grip") } };
  };
  return [
    { name: "min, on the limit, broke at the grip", ...at(min), expected: "conforms" },
    { name: "min, one below, broke at the grip", ...at(below), expected: "void: grip-break" },
  ];
}

function wordCases({ property, conditions }: Requirement, nominal: Measure, { wrapFailsFrom }: ConductRules): readonly ProveCase[] {
  const mandrel = conditions.mandrelDiameter ?? nominal;
  const shared = { diameter: field(nominal.text, nominal.unit), mandrelDiameter: field(mandrel.text, mandrel.unit) };
  const of = (cracks: string, expected: ProveCase["expected"]): ProveCase => ({
    name: `cracks ${cracks}`,
    sheet: property === "wrap" ? "wrap" : "coiling",
    fields:
      property === "wrap"
        ? { ...shared, purpose: field("ductility"), wraps: field(conditions.wraps?.text ?? "8", "wraps"), cracks: field(cracks) }
        : { ...shared, evenPitch: field("yes"), cracks: field(cracks) },
    expected,
  });
  const visible = property === "wrap" && wrapFailsFrom === "broken" ? "conforms" : "does-not-conform";
  return [of("none", "conforms"), of("visible", visible), of("broken", "does-not-conform")];
}
