/** Record to finished text of one language. The page may loop and choose, never compute, round or look up. */

import { bilingual } from "../bilingual.ts";
import { type ChartPoint, coilChart, extremesOf } from "../charts.ts";
import { dateText } from "../dates.ts";
import { conditionsText, limitText, measureText, nominalText, shownFigure, unitText, wordText } from "../phrases.ts";
import { figure, propertyHead, propertyWord, type Say, secondWords, words } from "../wording.ts";
import { CODES, PROPERTY_CODES } from "./codes.ts";
import type { Amount, CertificateCell, CertificateNote, CertificateRecord, CertificateRequirement } from "./record.ts";

/** What comes with the signature. */
export interface Issue {
  readonly number: string;
  readonly issuedOn: string;
  readonly signedBy: readonly string[];
  /** The document that this one stands in for, and why. */
  readonly replaces?: { readonly number: string; readonly why: string };
}

export interface Field {
  readonly label: string;
  readonly value: string;
  /** Code of EN 10168, small in the margin. */
  readonly code: string;
}
export interface ViewCell {
  readonly text: string;
  readonly compared: string;
  /** The figure in the second unit, with it; for information. */
  readonly beside: string;
  readonly shape: Shape;
  /** Length of the margin bar, 0 to 100; undefined where there is none. */
  readonly bar?: number;
  readonly below: boolean;
}
export type Shape = "conforms" | "open" | "does-not-conform" | "held" | "none";

export interface CertificateView {
  readonly language: string;
  readonly number: string;
  readonly title: string;
  readonly typeTitle: string;
  readonly typeLine: string;
  readonly labName: string;
  readonly labAddress: readonly string[];
  readonly footer: string;
  /** Says that a language waits for its reader; "" where none does. */
  readonly draft: string;
  readonly head: readonly Field[];
  readonly product: readonly Field[];
  readonly labels: Readonly<Record<string, string>>;
  readonly requirements: readonly {
    readonly property: string;
    readonly limit: string;
    readonly conditions: string;
    readonly method: string;
    readonly instrument: string;
    readonly uncertainty: string;
    readonly clause: string;
    readonly code: string;
  }[];
  /** Columns of the strip that have something to say. */
  readonly shows: { readonly method: boolean; readonly instrument: boolean; readonly uncertainty: boolean; readonly beside: boolean };
  /** `head` is the property with soft hyphens, for a narrow column. */
  readonly columns: readonly { readonly property: string; readonly head: string; readonly unit: string }[];
  readonly rows: readonly {
    readonly coil: string;
    readonly heat: string;
    readonly mass: string;
    readonly massBeside: string;
    readonly basis: string;
    readonly verdict: string;
    readonly shape: Shape;
    readonly cells: readonly ViewCell[];
  }[];
  readonly charts: readonly { readonly title: string; readonly sentence: string; readonly svg: string }[];
  readonly elements: readonly string[];
  readonly heats: readonly {
    readonly heat: string;
    readonly analysis: string;
    readonly source: string;
    readonly values: readonly string[];
  }[];
  readonly statement: string;
  readonly remarks: readonly string[];
  readonly notes: readonly string[];
  readonly strip: readonly { readonly label: string; readonly value: string }[];
}

const LABELS = [
  "requirements",
  "property",
  "limit",
  "conditions",
  "method",
  "instrument",
  "uncertainty",
  "clause",
  "results",
  "charts",
  "coil",
  "heat",
  "mass",
  "basis",
  "verdict",
  "chemistry",
  "analysis",
  "statement",
  "note",
  "end",
  "page",
  "of",
  "asTested",
  "asCompared",
  "margin",
  "check",
  "converted",
];
/** Properties whose figures are drawn. */
const CHARTED = ["tensile-strength", "torsion"];
/** Fewer points say nothing that the table does not. */
const CHART_COILS = 3;

/** In the language of the record; where it names two, each text that differs holds both. */
export function toCertificateView(record: CertificateRecord, issue: Issue): CertificateView {
  const second = secondWords(record.language, record.decimalMark);
  const first = viewIn(words(record.language, record.decimalMark), record, issue);
  const both = bilingual(first, second === undefined ? undefined : viewIn(second, record, issue));
  // A picture has one language; its sentence beside it has both.
  return {
    ...both,
    language: first.language,
    charts: both.charts.map((chart, index) => ({ ...chart, svg: first.charts[index]?.svg ?? "" })),
  };
}

function viewIn(say: Say, record: CertificateRecord, issue: Issue): CertificateView {
  const label = (name: string): string => say(`document.${name}`);
  const typeTitle = label(record.form === undefined ? record.type : "laboratory");
  return {
    language: say.language,
    number: issue.number,
    title: `${typeTitle} ${issue.number}`,
    typeTitle,
    typeLine: record.form === undefined ? say("document.type", { name: typeTitle, type: record.type }) : label("laboratoryType"),
    labName: record.lab.name,
    labAddress: record.lab.address,
    footer: record.lab.footer ?? "",
    draft: say.draft ? label("draftTranslation") : "",
    head: headFields(say, record, issue),
    product: productFields(say, record),
    labels: {
      ...Object.fromEntries(LABELS.map((name) => [name, label(name)])),
      conforms: say("verdict.conforms"),
      fails: say("verdict.does-not-conform"),
      open: label("legend.open"),
      logo: say("document.logo", { name: record.lab.name }),
      code: say("document.code", { number: issue.number }),
    },
    requirements: record.requirements.map((requirement) => requirementLine(say, requirement)),
    shows: {
      method: record.requirements.some((r) => r.method !== undefined),
      instrument: record.requirements.some((r) => r.instruments !== undefined),
      uncertainty: record.requirements.some((r) => r.uncertainty !== undefined),
      beside: record.requirements.some((r) => r.unitBeside !== undefined) || record.nominalBeside !== undefined,
    },
    columns: record.requirements.map((requirement) => ({
      property: propertyWord(say, requirement.property),
      head: propertyHead(say, requirement.property),
      unit: requirement.unit === "turns" || requirement.unit === "bends" ? say(`head.unit.${requirement.unit}`) : requirement.unit,
    })),
    rows: record.rows.map((row) => ({
      coil: row.coil,
      heat: row.heat,
      mass: row.mass === undefined ? "" : amountText(say, row.mass),
      massBeside: row.massBeside === undefined ? "" : amountText(say, row.massBeside),
      basis: say(`document.basis.${row.basis}`, { unit: row.testUnit }),
      verdict: say(`verdict.${row.verdict}`),
      shape: row.verdict === "conforms" ? "conforms" : row.verdict === "does-not-conform" ? "does-not-conform" : "open",
      cells: row.cells.map((cell, index) => toViewCell(say, cell, record.requirements[index]?.unitBeside)),
    })),
    charts: chartsOf(say, record),
    elements: elementsOf(record),
    heats: record.heats.map((heat) => ({
      heat: heat.heat,
      analysis: say(`document.analysis.${heat.analysis}`),
      source: say(`document.source.${heat.source}`),
      values: elementsOf(record).map((element) => (heat.elements[element] === undefined ? "" : figure(say, heat.elements[element]))),
    })),
    statement: label(`statement.${record.form === undefined ? record.type : "laboratory"}`),
    remarks: remarksOf(say, record),
    notes: record.notes.map((note) => noteText(say, note)),
    strip: [
      { label: label("strip.written"), value: record.lab.name },
      { label: label("strip.signed"), value: issue.signedBy.join(", ") },
      { label: label("strip.out"), value: "" },
      { label: label("strip.replaced"), value: "" },
      { label: label("strip.calledBack"), value: "" },
    ],
  };
}

const amountText = (say: Say, amount: Amount): string => `${figure(say, amount.text)} ${amount.unit}`;

function headFields(say: Say, record: CertificateRecord, issue: Issue): readonly Field[] {
  const label = (name: string): string => say(`document.${name}`);
  const { customer, lab } = record;
  return [
    { label: label("number"), value: issue.number, code: CODES.number },
    ...(issue.replaces === undefined ? [] : [{ label: label("replaces"), value: say("document.replacesText", issue.replaces), code: "" }]),
    { label: label("issuedOn"), value: dateText(say, issue.issuedOn), code: CODES.issuedOn },
    {
      label: label("customer"),
      value: [customer.name, ...customer.address, ...(customer.contact ? [customer.contact] : [])].join(", "),
      code: CODES.customer,
    },
    ...optional(label("customerOrder"), customer.order, CODES.customerOrder),
    { label: label("order"), value: `${record.order} / ${record.item}`, code: CODES.order },
    ...optional(label("delivery"), record.delivery, CODES.delivery),
    ...(record.form === undefined ? [] : optional(label("place"), lab.address.join(", "), "")),
  ];
}

function productFields(say: Say, record: CertificateRecord): readonly Field[] {
  const label = (name: string): string => say(`document.${name}`);
  const nominal = nominalText(say, record.nominalDiameter as Parameters<typeof nominalText>[1]);
  return [
    ...optional(label("product"), record.product, CODES.product),
    { label: label("specification"), value: editionText(record.specification, record.edition), code: CODES.specification },
    { label: label("grade"), value: record.grade === "" ? label("oneGrade") : record.grade, code: CODES.specification },
    {
      label: label("nominalDiameter"),
      value: record.nominalBeside === undefined ? nominal : `${nominal} (${amountText(say, record.nominalBeside)})`,
      code: CODES.nominalDiameter,
    },
    ...optional(label("coatingClass"), record.coatingClass, CODES.coatingClass),
    { label: label("coils"), value: String(record.rows.length), code: CODES.coils },
    ...optional(label("testDates"), record.testedOn.map((day) => dateText(say, day)).join(", "), ""),
    // Where each column names its own, the list above says nothing more.
    ...(record.requirements.some((requirement) => requirement.instruments !== undefined)
      ? []
      : optional(label("instruments"), record.instruments.join(", "), "")),
  ];
}

const optional = (label: string, value: string | undefined, code: string): readonly Field[] =>
  value === undefined || value === "" ? [] : [{ label, value, code }];

function requirementLine(say: Say, requirement: CertificateRequirement): CertificateView["requirements"][number] {
  const { specification, edition, clause } = requirement.rule;
  return {
    property: propertyWord(say, requirement.property),
    limit: limitText(say, requirement),
    conditions: conditionsText(say, requirement.conditions),
    method: requirement.method ?? "",
    instrument: (requirement.instruments ?? []).join(", "),
    uncertainty:
      requirement.uncertainty === undefined
        ? ""
        : `± ${measureText(say, { text: requirement.uncertainty, unit: requirement.unit as "mm" })}`,
    clause: [editionText(specification, edition), clause].filter((part) => part !== "").join(", "),
    code: PROPERTY_CODES[requirement.property] ?? "",
  };
}

function remarksOf(say: Say, record: CertificateRecord): readonly string[] {
  const label = (name: string): string => say(`document.${name}`);
  const judged = record.type !== "2.1" || record.form !== undefined;
  return [
    ...(judged
      ? [say("document.decisionRule", { rule: label(`decisionRule.${record.decisionRule}`) }), label("rounding"), label("testedOnly")]
      : []),
    ...(record.rows.some((row) => row.cells.some((cell) => cell?.censored)) ? [label("note.censored")] : []),
    label("copying"),
  ];
}

/** An edition that the reference does not name is not printed as if it were one. */
export const editionText = (specification: string, edition: string): string =>
  edition === "" || edition === "unstated" ? specification : `${specification}:${edition}`;

const elementsOf = (record: CertificateRecord): readonly string[] => [
  ...new Set(record.heats.flatMap((heat) => Object.keys(heat.elements))),
];

function chartsOf(say: Say, record: CertificateRecord): CertificateView["charts"] {
  return record.requirements.flatMap((requirement, column) => {
    if (!CHARTED.includes(requirement.property) || (requirement.min === undefined && requirement.max === undefined)) return [];
    const points = record.rows.flatMap((row): ChartPoint[] => {
      const cell = row.cells[column];
      if (cell === null || cell === undefined || cell.word) return [];
      return [{ coil: row.coil, compared: cell.compared, outside: cell.outcome === "does-not-conform" }];
    });
    if (points.length < CHART_COILS) return [];
    const [low, high] = extremesOf(points);
    const unit = requirement.unit === "" ? "" : ` ${unitText(say, requirement.unit)}`;
    const outside = points.filter((point) => point.outside).length;
    const title = propertyWord(say, requirement.property);
    const sentence = say("document.chart", {
      property: title,
      count: points.length,
      low: `${figure(say, low.compared)}${unit}`,
      lowCoil: low.coil,
      high: `${figure(say, high.compared)}${unit}`,
      highCoil: high.coil,
      limit: limitText(say, requirement),
      outside: outside === 0 ? say("document.chart.inside") : say("document.chart.outside", { count: outside }),
    });
    const limits = {
      ...(requirement.min === undefined ? {} : { min: requirement.min }),
      ...(requirement.max === undefined ? {} : { max: requirement.max }),
    };
    return [{ title, sentence, svg: coilChart({ sentence, points, ...limits, figure: (text) => figure(say, text) }) }];
  });
}

function toViewCell(say: Say, cell: CertificateCell | null, unitBeside: string | undefined): ViewCell {
  if (cell === null) return { text: "", compared: "", beside: "", shape: "none", below: false };
  const shape: Shape = cell.outcome === "conforms" ? "conforms" : cell.outcome === "does-not-conform" ? "does-not-conform" : "open";
  if (cell.word) return { text: wordText(say, cell.value), compared: "", beside: "", shape, below: false };
  const tested = shownFigure(Number(cell.value), cell.compared);
  const margin = cell.margin === undefined ? undefined : Number(cell.margin);
  return {
    text: `${cell.censored ? "≥ " : ""}${figure(say, tested)}${cell.pieces > 1 ? ` (${cell.pieces})` : ""}${cell.uncertainty === undefined ? "" : ` ± ${figure(say, cell.uncertainty)}`}`,
    compared: figure(say, cell.compared),
    beside: cell.beside === undefined ? "" : `${figure(say, cell.beside)} ${unitBeside ?? ""}`.trim(),
    shape,
    ...(margin === undefined ? {} : { bar: Math.round(Math.min(1, Math.abs(margin) * 2) * 100) }),
    below: margin !== undefined && margin < 0,
  };
}

function noteText(say: Say, note: CertificateNote): string {
  const property = "property" in note ? propertyWord(say, note.property) : "";
  switch (note.kind) {
    case "deviation":
      return say("document.note.deviation", {
        coil: note.coil,
        property,
        piece: note.piece,
        deviation: say(`deviation.${note.deviation}`),
      });
    case "void":
      return say("document.note.void", { coil: note.coil, property, count: note.count });
    case "retest":
      return say("document.note.retest", { coil: note.coil, property, first: note.first });
    case "indicative":
      return say("document.note.indicative", { property });
    case "listed":
      return say("document.note.listed", {
        property,
        requirement: limitText(say, { unit: "", property: note.property, ...(note.word === undefined ? {} : { word: note.word }) }),
      });
    case "agreed":
      return say("document.note.agreed", { property, agreedIn: note.agreedIn });
    case "concession":
      return say("document.note.concession", { coil: note.coil, property, reference: note.reference });
    case "conditional":
      return say("document.note.conditional", { coil: note.coil, condition: note.condition });
    case "not-adopted":
      return say("document.notAdopted", { specification: note.specification.replace(/:unstated$/, "") });
  }
}
