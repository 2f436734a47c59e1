/**
 * What a certificate or test report says, as data: kept in the ledger when it is drafted, printed later, and attached to the file.
 * Figures are decimal text. Number, day and signer come when it is signed.
 */
import { compareExact, divideExact, exact, numberText, subtractExact, toNumber } from "../../core/decimal.ts";
import type { Coil, CoilVerdict, Heat, OrderItem, OrderVerdict, Requirement, RequirementVerdict, Result } from "../../core/model.ts";

export const CERTIFICATE_TEMPLATE = "certificate/1";

export interface LabParty {
  readonly name: string;
  readonly address: readonly string[];
}

export interface CertificateCell {
  /** Unrounded, decimal text, or a word. */
  readonly value: string;
  readonly compared: string;
  readonly word: boolean;
  readonly censored: boolean;
  readonly outcome: "conforms" | "does-not-conform" | "undecided" | "not-tested";
  /** Of several valid pieces: how many. The worst of them is shown. */
  readonly pieces: number;
  /** Distance to the nearer limit as a share of the limit, decimal text; absent for words. */
  readonly margin?: string;
  readonly uncertainty?: string;
}

export interface CertificateRow {
  readonly coil: string;
  readonly heat: string;
  readonly testUnit: string;
  readonly basis: "own-results" | "test-unit";
  readonly verdict: CoilVerdict["verdict"];
  readonly mass?: { readonly text: string; readonly unit: string };
  /** In the order of `requirements`; null where the coil stands on its test unit for that property. */
  readonly cells: readonly (CertificateCell | null)[];
}

export type CertificateNote =
  | { readonly kind: "deviation"; readonly coil: string; readonly property: string; readonly piece: string; readonly deviation: string }
  | { readonly kind: "void"; readonly coil: string; readonly property: string; readonly count: number }
  | { readonly kind: "retest"; readonly coil: string; readonly property: string; readonly first: string }
  | { readonly kind: "indicative" | "listed"; readonly property: string; readonly word?: string }
  | { readonly kind: "agreed"; readonly property: string; readonly agreedIn: string }
  | { readonly kind: "not-adopted"; readonly specification: string };

export interface CertificateRecord {
  readonly schema: "certificate-record/1";
  readonly template: string;
  readonly type: OrderItem["documentType"];
  readonly language: string;
  readonly decimalMark?: string;
  readonly lab: LabParty;
  readonly customer: { readonly name: string; readonly address: readonly string[]; readonly contact?: string; readonly order?: string };
  readonly order: string;
  readonly item: string;
  readonly delivery?: string;
  readonly product?: string;
  readonly specification: string;
  readonly edition: string;
  readonly grade: string;
  readonly coatingClass?: string;
  readonly nominalDiameter: { readonly text: string; readonly unit: string };
  readonly decisionRule: OrderItem["decisionRule"];
  readonly requirements: readonly Omit<Requirement, "rounding" | "evaluate" | "indicative" | "listedOnly">[];
  readonly rows: readonly CertificateRow[];
  readonly heats: readonly {
    readonly heat: string;
    readonly analysis: string;
    readonly source: string;
    readonly elements: Readonly<Record<string, string>>;
  }[];
  readonly notes: readonly CertificateNote[];
  readonly testedOn: readonly string[];
  readonly instruments: readonly string[];
}

export interface CertificateInput {
  readonly order: OrderItem;
  readonly verdict: OrderVerdict;
  /** The coils on the document, in order. */
  readonly coils: readonly Coil[];
  readonly heats: readonly Heat[];
  readonly lab: LabParty;
  readonly customer: { readonly name: string; readonly address: readonly string[] };
  readonly delivery?: string;
}

/** Type 2.1 gives no results, so its record holds none. */
export function toCertificateRecord(input: CertificateInput): CertificateRecord {
  const { order, verdict } = input;
  const chosen = new Map(input.coils.map((coil) => [coil.coil, coil]));
  const coils = verdict.coils.filter((coil) => chosen.has(coil.coil));
  const requirements = (coils[0]?.requirements ?? []).filter((r) => !r.property.startsWith("chemistry:")).map((r) => r.requirement);
  const withResults = order.documentType !== "2.1";
  const results = coils.flatMap((coil) => coil.requirements.flatMap((r) => r.results.filter((result) => result.counts)));
  const heats = input.heats.filter((heat) => coils.some((coil) => coil.heat === heat.heat) && Object.keys(heat.elements).length > 0);
  return {
    schema: "certificate-record/1",
    template: CERTIFICATE_TEMPLATE,
    type: order.documentType,
    language: order.language,
    ...(order.documentDecimalMark === undefined ? {} : { decimalMark: order.documentDecimalMark }),
    lab: input.lab,
    customer: {
      name: input.customer.name,
      address: input.customer.address,
      ...(order.contact === undefined ? {} : { contact: order.contact }),
      ...(order.customerOrder === undefined ? {} : { order: order.customerOrder }),
    },
    order: order.order,
    item: order.item,
    ...(input.delivery === undefined ? {} : { delivery: input.delivery }),
    ...(order.product === undefined ? {} : { product: order.product }),
    specification: verdict.specification,
    edition: verdict.edition,
    grade: verdict.grade,
    ...(order.coatingClass === undefined ? {} : { coatingClass: order.coatingClass }),
    nominalDiameter: order.nominalDiameter,
    decisionRule: order.decisionRule,
    requirements: withResults ? requirements.map(({ rounding: _r, evaluate: _e, indicative: _i, listedOnly: _l, ...rest }) => rest) : [],
    rows: coils.map((coil) => toRow(coil, chosen.get(coil.coil) as Coil, requirements, withResults)),
    heats: withResults
      ? heats.map((heat) => ({ heat: heat.heat, analysis: heat.analysis, source: heat.source, elements: heat.elements }))
      : [],
    notes: withResults ? notesOf(coils, verdict) : notAdopted(coils),
    testedOn: withResults ? [...new Set(results.flatMap((r) => r.date ?? []))].sort() : [],
    instruments: withResults ? [...new Set(results.flatMap((r) => r.instrument ?? []))].sort() : [],
  };
}

function toRow(verdict: CoilVerdict, coil: Coil, requirements: readonly Requirement[], withResults: boolean): CertificateRow {
  return {
    coil: verdict.coil,
    heat: verdict.heat,
    testUnit: verdict.testUnit,
    basis: verdict.basis,
    verdict: verdict.verdict,
    ...(coil.mass === undefined ? {} : { mass: coil.mass }),
    cells: withResults
      ? requirements.map((requirement) =>
          toCell(
            verdict.requirements.find(
              (r) => r.requirement.property === requirement.property && r.requirement.agreedIn === requirement.agreedIn,
            ),
          ),
        )
      : [],
  };
}

/** The worst of the pieces that count; a failed first piece that its retest replaced is told in the notes. */
function toCell(verdict: RequirementVerdict | undefined): CertificateCell | null {
  if (verdict === undefined) return null;
  const counting = verdict.results.filter((result) => result.counts && result.role !== "check");
  const good = verdict.verdict === "conforms" ? counting.filter((result) => result.outcome === "conforms") : counting;
  const worst = [...good].sort(
    (a, b) =>
      Number(a.outcome === "conforms") - Number(b.outcome === "conforms") ||
      marginOf(a, verdict.requirement) - marginOf(b, verdict.requirement),
  )[0];
  if (worst === undefined) return null;
  const margin = marginOf(worst, verdict.requirement);
  return {
    value: typeof worst.value === "number" ? numberText(worst.value, 15) : worst.value,
    compared: worst.compared,
    word: typeof worst.value === "string",
    censored: worst.censored === true,
    outcome: worst.outcome ?? "undecided",
    pieces: good.length,
    ...(Number.isFinite(margin) ? { margin: numberText(margin, 4) } : {}),
    ...(worst.uncertainty === undefined ? {} : { uncertainty: numberText(worst.uncertainty, 2) }),
  };
}

/** Distance to the nearer limit as a share of that limit (of the band's width where there are two); infinite for words. */
export function marginOf(result: Result, limits: { readonly min?: string; readonly max?: string }): number {
  if (typeof result.value === "string") return Number.POSITIVE_INFINITY;
  const compared = exact(result.compared);
  const width = limits.min !== undefined && limits.max !== undefined ? subtractExact(exact(limits.max), exact(limits.min)) : undefined;
  const share = (limit: string, above: boolean): number => {
    const distance = above ? subtractExact(compared, exact(limit)) : subtractExact(exact(limit), compared);
    const scale = width !== undefined && compareExact(width, exact("0")) > 0 ? width : exact(limit);
    return scale.numerator === 0n ? 0 : toNumber(divideExact(distance, scale));
  };
  return Math.min(
    limits.min === undefined ? Number.POSITIVE_INFINITY : share(limits.min, true),
    limits.max === undefined ? Number.POSITIVE_INFINITY : share(limits.max, false),
  );
}

function notesOf(coils: readonly CoilVerdict[], verdict: OrderVerdict): readonly CertificateNote[] {
  const notes: CertificateNote[] = [];
  for (const coil of coils)
    for (const { property, results, requirement } of coil.requirements) {
      for (const result of results)
        for (const deviation of result.counts && result.deviation ? result.deviation.split(" ") : [])
          notes.push({ kind: "deviation", coil: coil.coil, property, piece: result.testPiece, deviation });
      const voided = results.filter((result) => !result.counts && result.voidReason !== undefined).length;
      if (voided > 0) notes.push({ kind: "void", coil: coil.coil, property, count: voided });
      const failed = results.find(
        (result) => result.counts && result.outcome === "does-not-conform" && results.some((r) => r.retestOf === result.testPiece),
      );
      if (failed !== undefined && requirement.evaluate === "each")
        notes.push({ kind: "retest", coil: coil.coil, property, first: failed.testPiece });
    }
  for (const listed of verdict.listed)
    notes.push({
      kind: listed.indicative ? "indicative" : "listed",
      property: listed.property,
      ...(listed.word === undefined ? {} : { word: listed.word }),
    });
  for (const { requirement } of coils[0]?.requirements ?? [])
    if (requirement.agreedIn !== undefined) notes.push({ kind: "agreed", property: requirement.property, agreedIn: requirement.agreedIn });
  return [...notes, ...notAdopted(coils)];
}

function notAdopted(coils: readonly CoilVerdict[]): readonly CertificateNote[] {
  const names = new Set(
    coils.flatMap((coil) =>
      coil.requirements
        .filter((r) => !r.requirement.rule.adopted)
        .map((r) => `${r.requirement.rule.specification}:${r.requirement.rule.edition}`),
    ),
  );
  return [...names].sort().map((specification) => ({ kind: "not-adopted", specification }));
}
