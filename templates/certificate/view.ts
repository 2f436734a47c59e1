/** Record to finished text of one language. The page may loop and choose, never compute, round or look up. */

import { dateText } from "../dates.ts";
import { conditionsText, limitText, nominalText, shownFigure, wordText } from "../phrases.ts";
import { figure, propertyHead, propertyWord, type Say, words } from "../wording.ts";
import type { CertificateCell, CertificateNote, CertificateRecord } from "./record.ts";

export interface Issue {
  readonly number: string;
  readonly issuedOn: string;
  readonly signedBy: readonly string[];
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
  readonly typeLine: string;
  readonly labName: string;
  readonly labAddress: readonly string[];
  readonly head: readonly Field[];
  readonly product: readonly Field[];
  readonly labels: Readonly<Record<string, string>>;
  readonly requirements: readonly {
    readonly property: string;
    readonly limit: string;
    readonly conditions: string;
    readonly clause: string;
    readonly code: string;
  }[];
  /** `head` is the property with soft hyphens, for a narrow column. */
  readonly columns: readonly { readonly property: string; readonly head: string; readonly unit: string }[];
  readonly rows: readonly {
    readonly coil: string;
    readonly heat: string;
    readonly mass: string;
    readonly basis: string;
    readonly verdict: string;
    readonly shape: Shape;
    readonly cells: readonly ViewCell[];
  }[];
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

/** @source EN 10168:2004 information codes (some read in a secondary description, the others from memory) */
const CODES = {
  issuer: "A01",
  type: "A02",
  number: "A03",
  customer: "A06",
  customerOrder: "A07",
  order: "A08",
  delivery: "A10",
  product: "B01",
  specification: "B02",
  nominalDiameter: "B09",
  coatingClass: "B03",
  statement: "Z01",
  issuedOn: "Z02",
} as const;

const PROPERTY_CODES: Readonly<Record<string, string>> = {
  "tensile-strength": "C12",
  "proof-strength": "C11",
  elongation: "C13",
  "reduction-of-area": "C14",
  torsion: "C50",
  wrap: "C52",
  adherence: "D52",
  coiling: "C53",
  "reverse-bend": "C51",
  "coating-mass": "D51",
  diameter: "D01",
  "out-of-round": "D01",
};

export function toCertificateView(record: CertificateRecord, issue: Issue): CertificateView {
  const say = words(record.language, record.decimalMark);
  const label = (name: string): string => say(`document.${name}`);
  const day = (text: string): string => dateText(say, text);
  const typeLine = say("document.type", { name: label(record.type), type: record.type });
  const optional = (name: string, value: string | undefined, code: string): readonly Field[] =>
    value === undefined || value === "" ? [] : [{ label: label(name), value, code }];
  return {
    language: say.language,
    number: issue.number,
    title: `${label(record.type)} ${issue.number}`,
    typeLine,
    labName: record.lab.name,
    labAddress: record.lab.address,
    head: [
      { label: label("number"), value: issue.number, code: CODES.number },
      { label: label("issuedOn"), value: day(issue.issuedOn), code: CODES.issuedOn },
      {
        label: label("customer"),
        value: [record.customer.name, ...record.customer.address, ...(record.customer.contact ? [record.customer.contact] : [])].join(", "),
        code: CODES.customer,
      },
      ...optional("customerOrder", record.customer.order, CODES.customerOrder),
      { label: label("order"), value: `${record.order} / ${record.item}`, code: CODES.order },
      ...optional("delivery", record.delivery, CODES.delivery),
    ],
    product: [
      ...optional("product", record.product, CODES.product),
      { label: label("specification"), value: editionText(record.specification, record.edition), code: CODES.specification },
      { label: label("grade"), value: record.grade === "" ? label("oneGrade") : record.grade, code: CODES.specification },
      {
        label: label("nominalDiameter"),
        value: nominalText(say, record.nominalDiameter as Parameters<typeof nominalText>[1]),
        code: CODES.nominalDiameter,
      },
      ...optional("coatingClass", record.coatingClass, CODES.coatingClass),
      { label: label("coils"), value: String(record.rows.length), code: "B08" },
      ...optional("testDates", record.testedOn.map(day).join(", "), ""),
      ...optional("instruments", record.instruments.join(", "), ""),
    ],
    labels: Object.fromEntries(
      [
        "requirements",
        "property",
        "limit",
        "conditions",
        "clause",
        "results",
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
        "legend",
        "page",
        "of",
        "issuer",
        "number",
        "asTested",
        "asCompared",
        "margin",
      ].map((name) => [name, label(name)]),
    ),
    requirements: record.requirements.map((requirement) => ({
      property: propertyWord(say, requirement.property),
      limit: limitText(say, requirement),
      conditions: conditionsText(say, requirement.conditions),
      clause: [editionText(requirement.rule.specification, requirement.rule.edition), requirement.rule.clause]
        .filter((part) => part !== "")
        .join(", "),
      code: PROPERTY_CODES[requirement.property] ?? "",
    })),
    columns: record.requirements.map((requirement) => ({
      property: propertyWord(say, requirement.property),
      head: propertyHead(say, requirement.property),
      unit: requirement.unit === "turns" || requirement.unit === "bends" ? say(`head.unit.${requirement.unit}`) : requirement.unit,
    })),
    rows: record.rows.map((row) => ({
      coil: row.coil,
      heat: row.heat,
      mass: row.mass === undefined ? "" : `${figure(say, row.mass.text)} ${row.mass.unit}`,
      basis: say(`document.basis.${row.basis}`, { unit: row.testUnit }),
      verdict: say(`verdict.${row.verdict}`),
      shape: row.verdict === "conforms" ? "conforms" : row.verdict === "does-not-conform" ? "does-not-conform" : "open",
      cells: row.cells.map((cell) => toViewCell(say, cell)),
    })),
    elements: elementsOf(record),
    heats: record.heats.map((heat) => ({
      heat: heat.heat,
      analysis: say(`document.analysis.${heat.analysis}`),
      source: say(`document.source.${heat.source}`),
      values: elementsOf(record).map((element) => (heat.elements[element] === undefined ? "" : figure(say, heat.elements[element]))),
    })),
    statement: label(`statement.${record.type}`),
    remarks: [
      ...(record.type === "2.1"
        ? []
        : [say("document.decisionRule", { rule: label(`decisionRule.${record.decisionRule}`) }), label("rounding"), label("testedOnly")]),
      ...(record.rows.some((row) => row.cells.some((cell) => cell?.censored)) ? [label("note.censored")] : []),
      label("copying"),
    ],
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

/** An edition that the reference does not name is not printed as if it were one. */
export const editionText = (specification: string, edition: string): string =>
  edition === "" || edition === "unstated" ? specification : `${specification}:${edition}`;

const elementsOf = (record: CertificateRecord): readonly string[] => [
  ...new Set(record.heats.flatMap((heat) => Object.keys(heat.elements))),
];

function toViewCell(say: Say, cell: CertificateCell | null): ViewCell {
  if (cell === null) return { text: "", compared: "", shape: "none", below: false };
  const shape: Shape = cell.outcome === "conforms" ? "conforms" : cell.outcome === "does-not-conform" ? "does-not-conform" : "open";
  if (cell.word) return { text: wordText(say, cell.value), compared: "", shape, below: false };
  const tested = shownFigure(Number(cell.value), cell.compared);
  const margin = cell.margin === undefined ? undefined : Number(cell.margin);
  return {
    text: `${cell.censored ? "≥ " : ""}${figure(say, tested)}${cell.pieces > 1 ? ` (${cell.pieces})` : ""}${cell.uncertainty === undefined ? "" : ` ± ${figure(say, cell.uncertainty)}`}`,
    compared: figure(say, cell.compared),
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
    default:
      return say("document.notAdopted", { specification: note.specification.replace(/:unstated$/, "") });
  }
}
