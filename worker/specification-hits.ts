/** Open orders whose requirements another content of their specification would change. */
import type { ConductRules, Measure, OrderItem, Requirement } from "../core/model.ts";
import {
  canonicalContent,
  createSpecificationLibrary,
  type HeldLibrary,
  type HeldSpecification,
  type SpecificationData,
} from "../core/spec/index.ts";
import type { LedgerReader } from "./ports/ledger.ts";

/** One open order item, with the requirements that would change. */
export interface OrderHit {
  readonly order: string;
  readonly item: string;
  readonly specification: string;
  readonly edition: string;
  readonly grade: string;
  readonly nominalDiameter: string;
  readonly requirements: readonly { readonly property: string; readonly a: string; readonly b: string }[];
}

interface SignedCoils {
  readonly status: string;
  readonly kind: string;
  readonly coils: readonly string[];
}

/**
 * Order items on `a` or `b` that are not yet documented coil by coil, and whose requirements differ between the two.
 * A coating class counts as an order on the specification it names.
 */
export async function openOrdersHit(
  reader: LedgerReader,
  library: HeldLibrary,
  a: SpecificationData,
  b: SpecificationData,
): Promise<readonly OrderHit[]> {
  const [first] = createSpecificationLibrary([a]).list();
  const [second] = createSpecificationLibrary([b]).list();
  if (first === undefined || second === undefined) return [];
  const hits: OrderHit[] = [];
  for (const { key, value: order } of await reader.list<OrderItem>("order")) {
    const grade = gradeOrdered(order, library, [a, b]);
    if (grade === undefined) continue;
    const requirements = changedRequirements(first, second, grade, order.nominalDiameter);
    if (requirements.length === 0 || !(await isOpen(reader, key))) continue;
    const { item, specification, edition, nominalDiameter } = order;
    const size = `${nominalDiameter.text} ${nominalDiameter.unit}`;
    hits.push({ order: order.order, item, specification, edition, grade: order.grade, nominalDiameter: size, requirements });
  }
  return hits;
}

/** The grade under which the order stands on one of the two; undefined where it stands on neither. */
function gradeOrdered(order: OrderItem, library: HeldLibrary, sides: readonly SpecificationData[]): string | undefined {
  const ordered = library.find(order.specification, order.edition);
  const stands = (id: string, edition: string): boolean => sides.some((side) => side.id === id && side.edition === edition);
  // The content held now may have gone while an order on it stands: then the order's own words decide.
  if (stands(ordered?.id ?? order.specification, ordered?.edition ?? order.edition)) return order.grade;
  const coating = sides.find(({ id }) => order.coatingClass?.startsWith(`${id} `));
  return coating === undefined ? undefined : order.coatingClass?.slice(coating.id.length + 1);
}

/** Signed documents name every coil of a closed item. */
async function isOpen(reader: LedgerReader, key: string): Promise<boolean> {
  const signed = (await reader.list<SignedCoils>("document", key)).filter(
    ({ value }) => value.kind === "certificate" && value.status !== "draft",
  );
  const documented = new Set(signed.flatMap(({ value }) => value.coils));
  const coils = await reader.list<{ readonly coil: string }>("coil", key);
  return coils.length === 0 || coils.some(({ value }) => !documented.has(value.coil));
}

function changedRequirements(
  a: HeldSpecification,
  b: HeldSpecification,
  grade: string,
  nominal: Measure,
): readonly { readonly property: string; readonly a: string; readonly b: string }[] {
  const changed = (property: string, textOf: (side: HeldSpecification) => string): readonly OrderHit["requirements"][number][] =>
    textOf(a) === textOf(b) ? [] : [{ property, a: textOf(a), b: textOf(b) }];
  return [
    ...[...new Set([...a.properties, ...b.properties])].flatMap((property) =>
      changed(property, (side) => sideText(side, property, side.grades.length === 0 ? "" : grade, nominal)),
    ),
    ...changed("conduct", (side) => conductText(side.conduct(nominal))),
  ];
}

/** The rules of conduct as the judgement sees them, word for word. */
const conductText = (rules: ConductRules): string => canonicalContent(rules);

/** Everything of a requirement that a verdict can turn on. */
function sideText(side: HeldSpecification, property: string, grade: string, nominal: Measure): string {
  const found = side.requirement(property, grade, nominal);
  if ("problem" in found) return `no limit (${found.problem})`;
  const chemistry = property.startsWith("chemistry:");
  const required = chemistry || side.requiredProperties(grade, nominal).includes(property);
  const { kind, coils, atMost, bothEnds, perHeat } = side.sampling(property);
  const pieces = kind === "each-coil" ? "every coil" : `one in ${coils} coils${atMost === undefined ? "" : `, at most ${atMost}`}`;
  const retest = side.retest(property);
  return [
    `${requirementWords(found)}${required ? "" : " (not required)"}${found.indicative ? " (indicative)" : ""}`,
    `${pieces}${bothEnds ? ", both ends" : ""}${perHeat ? ", every heat" : ""}`,
    retest === undefined ? "no retest" : `retest ${retest.pieces}, ${retest.mustConform}`,
  ].join("; ");
}

function requirementWords(requirement: Requirement): string {
  const { min, max, unit, word, conditions, rounding, evaluate } = requirement;
  const limits = [...(min === undefined ? [] : [`min ${min}`]), ...(max === undefined ? [] : [`max ${max}`])].join(", ");
  const stated = Object.entries(conditions).map(([name, value]) =>
    typeof value === "string" ? `${name} ${value}` : `${name} ${(value as Measure).text} ${(value as Measure).unit}`,
  );
  const figure = [`${limits}${unit === "" ? "" : ` ${unit}`}`.trim(), word ?? ""].filter((text) => text !== "").join(" ");
  const rounded = `rounding ${rounding.method} ${rounding.step} ${rounding.ties}`;
  return [figure, ...stated, rounded, ...(evaluate === "mean" ? ["mean"] : [])].join("; ");
}
