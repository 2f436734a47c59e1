import { compareExact, exact, subtractExact, toDecimalText } from "../decimal.ts";
import { judge } from "../judge/index.ts";
import type {
  Coil,
  CoilVerdict,
  EntryRow,
  Heat,
  InstrumentRange,
  OrderItem,
  Requirement,
  RequirementVerdict,
  Result,
  SpecificationLibrary,
  SpecificationView,
  UnreadRow,
} from "../model.ts";

export interface RegradeInput {
  /** As ordered: its nominal diameter and decision rule stay, its specification and grade are passed over. */
  readonly order: OrderItem;
  readonly coil: Coil;
  /** Every test row of the coil, retests included. */
  readonly tests: readonly EntryRow[];
  readonly unread: readonly UnreadRow[];
  /** Analyses of the coil's heat. */
  readonly heats: readonly Heat[];
  readonly instruments: readonly InstrumentRange[];
  readonly specifications: SpecificationLibrary;
  readonly isAdopted: (specification: string, edition: string) => boolean;
  readonly today: string;
  /** Share, "0.01". */
  readonly freeLengthTolerance: string;
}

/** How near the coil comes to one property's limits. */
export interface RegradeMargin {
  readonly property: string;
  /** Distance of the compared figure to its nearer limit, decimal text in `unit`; left out where the limit is a word. */
  readonly margin?: string;
  readonly unit: string;
  /** The piece that comes nearest, as compared. */
  readonly compared: string;
  readonly testPiece: string;
}

export interface RegradeCandidate {
  readonly specification: string;
  readonly edition: string;
  readonly title: string;
  readonly grade: string;
  /** True where every limit used was compared with the licensed text. */
  readonly adopted: boolean;
  /** Every property judged, in the specification's order; all conform. */
  readonly margins: readonly RegradeMargin[];
  /** Limits that nobody could judge: not tested, void under the other conditions, undecided, or carried by no sheet. */
  readonly notJudgeable: readonly { readonly property: string; readonly reason: string }[];
}

/**
 * Every other specification and grade held of which the coil meets every limit that could be judged, at least one among them. Every valid
 * piece must conform, retests included: what failed once is not regraded by its retest. Candidates without an open limit come first.
 * Coatings alone are no product: their specifications are passed over.
 */
export function regradeSearch(input: RegradeInput): readonly RegradeCandidate[] {
  const { order } = input;
  const found: RegradeCandidate[] = [];
  for (const view of input.specifications.list())
    for (const grade of view.grades.length === 0 ? [""] : view.grades) {
      if (view.id === order.specification && view.edition === order.edition && sameGrade(grade, order.grade)) continue;
      const required = view.requiredProperties(grade, order.nominalDiameter);
      if (required.every((property) => property === "coating-mass")) continue;
      const candidate = tryGrade(view, grade, input);
      if (candidate !== undefined) found.push(candidate);
    }
  return found.sort(
    (a, b) =>
      Number(a.notJudgeable.length > 0) - Number(b.notJudgeable.length > 0) ||
      compareText(a.specification, b.specification) ||
      compareText(a.edition, b.edition) ||
      compareText(a.grade, b.grade),
  );
}

const sameGrade = (a: string, b: string): boolean => a === b || (a === "" && b === "-");
const compareText = (a: string, b: string): number => (a < b ? -1 : a > b ? 1 : 0);

function tryGrade(view: SpecificationView, grade: string, input: RegradeInput): RegradeCandidate | undefined {
  const { coatingClass: _coating, ...ordered } = input.order;
  const [verdict] = judge({
    orders: [{ ...ordered, specification: view.id, edition: view.edition, grade }],
    agreed: [],
    coils: [input.coil],
    heats: input.heats,
    instruments: input.instruments,
    tests: input.tests,
    unread: input.unread,
    settlements: [],
    specifications: { find: () => view, list: () => [view] },
    isAdopted: input.isAdopted,
    today: input.today,
    freeLengthTolerance: input.freeLengthTolerance,
  }).orders;
  const coil: CoilVerdict | undefined = verdict?.coils[0];
  if (verdict === undefined || coil === undefined) return undefined;
  const margins: RegradeMargin[] = [];
  const notJudgeable: { property: string; reason: string }[] = [];
  for (const requirement of coil.requirements) {
    const met = meets(requirement);
    if (met === "fails") return undefined;
    if (met === "open") notJudgeable.push({ property: requirement.property, reason: requirement.reason ?? requirement.verdict });
    else margins.push(met);
  }
  if (margins.length === 0) return undefined;
  const listed = verdict.listed.filter((r) => r.listedOnly).map((r) => ({ property: r.property, reason: "not-recorded" }));
  return {
    specification: view.id,
    edition: view.edition,
    title: view.title,
    grade,
    adopted: coil.requirements.every((r) => r.requirement.rule.adopted),
    margins,
    notJudgeable: [...notJudgeable, ...listed],
  };
}

function meets(verdict: RequirementVerdict): RegradeMargin | "fails" | "open" {
  const counting = verdict.results.filter((r) => r.counts && r.role !== "check");
  const each = verdict.requirement.evaluate === "each";
  if (verdict.verdict === "does-not-conform" || (each && counting.some((r) => r.outcome === "does-not-conform"))) return "fails";
  const [first, ...others] = counting;
  if (verdict.verdict !== "conforms" || first === undefined) return "open";
  const nearest = others.reduce((a, b) => (nearer(b, a, verdict.requirement) ? b : a), first);
  const margin = marginText(nearest, verdict.requirement);
  return {
    property: verdict.property,
    ...(margin === undefined ? {} : { margin }),
    unit: nearest.unit,
    compared: nearest.compared,
    testPiece: nearest.testPiece,
  };
}

function nearer(a: Result, b: Result, requirement: Requirement): boolean {
  const [first, second] = [marginText(a, requirement), marginText(b, requirement)];
  return first !== undefined && second !== undefined && compareExact(exact(first), exact(second)) < 0;
}

/** Distance to the nearer limit, exact; undefined for a word. */
function marginText({ value, compared, scaledMin }: Result, { min: tabulated, max }: Requirement): string | undefined {
  const min = scaledMin ?? tabulated;
  if (typeof value === "string") return undefined;
  const is = exact(compared);
  const distances = [
    ...(min === undefined ? [] : [subtractExact(is, exact(min))]),
    ...(max === undefined ? [] : [subtractExact(exact(max), is)]),
  ];
  const [first, second] = distances;
  if (first === undefined) return undefined;
  return toDecimalText(second !== undefined && compareExact(second, first) < 0 ? second : first, 15);
}
