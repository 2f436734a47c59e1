/**
 * What a certificate or test report says, as data: kept in the ledger when it is drafted, printed later, and attached to the file.
 * Figures are decimal text. Number, day and signer come when it is signed.
 */
import { compareExact, divideExact, exact, numberText, subtractExact, toNumber } from "../../core/decimal.ts";
import type { Coil, CoilVerdict, Heat, OrderItem, OrderVerdict, Requirement, RequirementVerdict, Result } from "../../core/model.ts";
import { convertedText, systemsAsked, unitBeside } from "../units.ts";

export const CERTIFICATE_TEMPLATE = "certificate/1";

export interface LabParty {
  readonly name: string;
  readonly address: readonly string[];
  /** One line at the end of the document: register, tax number, whatever the lab's country asks for. */
  readonly footer?: string;
}

/** Limits and conditions of one column, and what was used to find its figures. */
export type CertificateRequirement = Omit<Requirement, "rounding" | "evaluate" | "indicative" | "listedOnly"> & {
  /** The standard of the test itself, as the laboratory names it. */
  readonly method?: string;
  readonly instruments?: readonly string[];
  /** The largest expanded uncertainty (k = 2) among the figures shown, in the limit's unit, decimal text. */
  readonly uncertainty?: string;
  /** A second unit that the order asks for; figures in it inform. */
  readonly unitBeside?: string;
};

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
  /** The unrounded value in the second unit, rounded, decimal text; for information. */
  readonly beside?: string;
}

/** Decimal text and unit. */
export interface Amount {
  readonly text: string;
  readonly unit: string;
}

export interface CertificateRow {
  readonly coil: string;
  readonly heat: string;
  readonly testUnit: string;
  readonly basis: "own-results" | "test-unit";
  readonly verdict: CoilVerdict["verdict"];
  readonly mass?: Amount;
  readonly massBeside?: Amount;
  /** In the order of `requirements`; null where the coil stands on its test unit for that property. */
  readonly cells: readonly (CertificateCell | null)[];
}

export type CertificateNote =
  | { readonly kind: "deviation"; readonly coil: string; readonly property: string; readonly piece: string; readonly deviation: string }
  | { readonly kind: "void"; readonly coil: string; readonly property: string; readonly count: number }
  | { readonly kind: "retest"; readonly coil: string; readonly property: string; readonly first: string }
  | { readonly kind: "indicative" | "listed"; readonly property: string; readonly word?: string }
  | { readonly kind: "agreed"; readonly property: string; readonly agreedIn: string }
  | { readonly kind: "concession"; readonly coil: string; readonly property: string; readonly reference: string }
  | { readonly kind: "conditional"; readonly coil: string; readonly condition: string }
  | { readonly kind: "not-adopted"; readonly specification: string };

export interface CertificateRecord {
  readonly schema: "certificate-record/1";
  readonly template: string;
  readonly type: OrderItem["documentType"];
  /** A report of the laboratory instead of a document of EN 10204. */
  readonly form?: "laboratory-report";
  /** `de`, or two languages: `en+de`. */
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
  readonly nominalDiameter: Amount;
  readonly nominalBeside?: Amount;
  readonly decisionRule: OrderItem["decisionRule"];
  readonly requirements: readonly CertificateRequirement[];
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
  readonly form?: "laboratory-report";
  /** The standard of each test by property, where the laboratory names it. */
  readonly methods?: Readonly<Record<string, string>>;
  /** Accepted by concession or released on a condition: printed among the notes. */
  readonly decisions?: readonly Extract<CertificateNote, { kind: "concession" | "conditional" }>[];
}

/** Type 2.1 gives no results, so its record holds none. */
export function toCertificateRecord(input: CertificateInput): CertificateRecord {
  const { order, verdict } = input;
  const asked = systemsAsked(order.documentUnits);
  const chosen = new Map(input.coils.map((coil) => [coil.coil, coil]));
  const coils = verdict.coils.filter((coil) => chosen.has(coil.coil));
  const requirements = (coils[0]?.requirements ?? []).filter((r) => !r.property.startsWith("chemistry:")).map((r) => r.requirement);
  const withResults = order.documentType !== "2.1" || input.form !== undefined;
  const results = coils.flatMap((coil) => coil.requirements.flatMap((r) => r.results.filter((result) => result.counts)));
  const heats = input.heats.filter((heat) => coils.some((coil) => coil.heat === heat.heat) && Object.keys(heat.elements).length > 0);
  return {
    schema: "certificate-record/1",
    template: CERTIFICATE_TEMPLATE,
    type: order.documentType,
    ...(input.form === undefined ? {} : { form: input.form }),
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
    ...amountBeside("nominalBeside", order.nominalDiameter, asked),
    decisionRule: order.decisionRule,
    requirements: withResults ? requirements.map((requirement) => toRequirement(requirement, coils, input.methods, asked)) : [],
    rows: coils.map((coil) => toRow(coil, chosen.get(coil.coil) as Coil, requirements, withResults, asked)),
    heats: withResults
      ? heats.map((heat) => ({ heat: heat.heat, analysis: heat.analysis, source: heat.source, elements: heat.elements }))
      : [],
    notes: [...(withResults ? notesOf(coils, verdict) : notAdopted(coils)), ...(input.decisions ?? [])],
    testedOn: withResults ? [...new Set(results.flatMap((r) => r.date ?? []))].sort() : [],
    instruments: withResults ? [...new Set(results.flatMap((r) => r.instrument ?? []))].sort() : [],
  };
}

type Asked = ReturnType<typeof systemsAsked>;

function amountBeside<K extends string>(key: K, amount: Amount, asked: Asked): { readonly [key in K]?: Amount } {
  const unit = unitBeside(amount.unit, asked);
  return unit === undefined ? {} : ({ [key]: { text: convertedText(amount.text, amount.unit), unit } } as { readonly [key in K]: Amount });
}

/** The verdict on one column of one coil. */
const verdictOn = (coil: CoilVerdict, requirement: Requirement): RequirementVerdict | undefined =>
  coil.requirements.find((r) => r.requirement.property === requirement.property && r.requirement.agreedIn === requirement.agreedIn);

function toRequirement(
  requirement: Requirement,
  coils: readonly CoilVerdict[],
  methods: CertificateInput["methods"],
  asked: Asked,
): CertificateRequirement {
  const { rounding: _r, evaluate: _e, indicative: _i, listedOnly: _l, ...rest } = requirement;
  const results = coils.flatMap((coil) => verdictOn(coil, requirement)?.results.filter((result) => result.counts) ?? []);
  const instruments = [...new Set(results.flatMap((result) => result.instrument ?? []))].sort();
  const uncertainty = Math.max(...results.map((result) => result.uncertainty ?? 0));
  const method = methods?.[requirement.property];
  const beside = unitBeside(requirement.unit, asked);
  return {
    ...rest,
    ...(method === undefined ? {} : { method }),
    ...(instruments.length === 0 ? {} : { instruments }),
    ...(uncertainty > 0 ? { uncertainty: numberText(uncertainty, 2) } : {}),
    ...(beside === undefined ? {} : { unitBeside: beside }),
  };
}

function toRow(verdict: CoilVerdict, coil: Coil, requirements: readonly Requirement[], withResults: boolean, asked: Asked): CertificateRow {
  return {
    coil: verdict.coil,
    heat: verdict.heat,
    testUnit: verdict.testUnit,
    basis: verdict.basis,
    verdict: verdict.verdict,
    ...(coil.mass === undefined ? {} : { mass: coil.mass, ...amountBeside("massBeside", coil.mass, asked) }),
    cells: withResults ? requirements.map((requirement) => toCell(verdictOn(verdict, requirement), asked)) : [],
  };
}

/** The worst of the pieces that count; a failed first piece that its retest replaced is told in the notes. */
function toCell(verdict: RequirementVerdict | undefined, asked: Asked): CertificateCell | null {
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
  const value = typeof worst.value === "number" ? numberText(worst.value, 15) : worst.value;
  const { unit } = verdict.requirement;
  return {
    value,
    compared: worst.compared,
    word: typeof worst.value === "string",
    censored: worst.censored === true,
    outcome: worst.outcome ?? "undecided",
    pieces: good.length,
    ...(Number.isFinite(margin) ? { margin: numberText(margin, 4) } : {}),
    ...(worst.uncertainty === undefined ? {} : { uncertainty: numberText(worst.uncertainty, 2) }),
    ...(typeof worst.value === "number" && unitBeside(unit, asked) !== undefined ? { beside: convertedText(value, unit) } : {}),
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
