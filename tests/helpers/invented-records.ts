/** Records of an invented mill, of any size, made without judging anything. Every figure, name and number here is invented. */
import type { CertificateCell, CertificateRecord, CertificateRequirement, CertificateRow } from "../../templates/certificate/record.ts";
import type { Issue } from "../../templates/certificate/view.ts";
import type { LabelsRecord } from "../../templates/label/record.ts";
import type { NoticeRecord } from "../../templates/notice/record.ts";
import type { RetestRecord } from "../../templates/retest/record.ts";

export const ISSUE: Issue = { number: "2026-00042", issuedOn: "2026-03-03", signedBy: ["Ada Thornquist"] };

const RULE = { specification: "QW 100", edition: "2026", clause: "4.1", provenance: "own", adopted: true } as const;

const REQUIREMENTS: CertificateRecord["requirements"] = [
  { property: "tensile-strength", min: "1800", max: "2050", unit: "MPa", conditions: {}, rule: RULE, row: "2.00 mm", rowRule: "as tabled" },
  {
    property: "torsion",
    min: "22",
    unit: "turns",
    conditions: { freeLength: { text: "200", unit: "mm" } },
    rule: { ...RULE, clause: "4.3" },
    row: "2.00 mm",
    rowRule: "as tabled",
  },
  {
    property: "wrap",
    word: "no-cracks",
    unit: "",
    conditions: { mandrelDiameter: { text: "2", unit: "mm" }, wraps: { text: "8", unit: "wraps" } },
    rule: { ...RULE, clause: "4.4" },
    row: "2.00 mm",
    rowRule: "as tabled",
  },
  {
    property: "diameter",
    min: "1.980",
    max: "2.020",
    unit: "mm",
    conditions: {},
    rule: { ...RULE, clause: "5.1" },
    row: "2.00 mm",
    rowRule: "as tabled",
  },
];

/** Spreads figures over the band without a source of chance, so that every run makes the same record. */
const spread = (index: number, low: number, high: number): number => low + ((index * 7919) % (high - low + 1));

const figureCell = (value: string, compared: string, margin: string): CertificateCell => ({
  value,
  compared,
  word: false,
  censored: false,
  outcome: "conforms",
  pieces: 1,
  margin,
});

function row(index: number): CertificateRow {
  const strength = spread(index, 1800, 2050);
  const turns = spread(index, 22, 40);
  const diameter = (1980 + spread(index, 0, 40)) / 1000;
  return {
    coil: String(81_001 + index),
    heat: `H77${20 + (index % 3)}`,
    testUnit: "U-1",
    basis: "own-results",
    verdict: "conforms",
    mass: { text: String(240 + (index % 7)), unit: "kg" },
    cells: [
      figureCell(`${strength}.25`, String(strength), String(Math.min(strength - 1800, 2050 - strength) / 250)),
      figureCell(`${turns}.5`, String(turns), String((turns - 22) / 22)),
      { value: "none", compared: "none", word: true, censored: false, outcome: "conforms", pieces: 1 },
      figureCell(diameter.toFixed(4), diameter.toFixed(3), "0.2"),
    ],
  };
}

export function inventedCertificate(coils: number, change: Partial<CertificateRecord> = {}): CertificateRecord {
  return {
    schema: "certificate-record/1",
    template: "certificate/1",
    type: "3.1",
    language: "en",
    lab: { name: "Quillmark Wire (an invented mill)", address: ["Mill Lane 1", "Exampleton"] },
    customer: { name: "Brindlefoot Springs", address: ["3 Invented Row", "Nowhere Wharf"], order: "BF 40118" },
    order: "QM-2601",
    item: "10",
    product: "Spring wire, bright",
    specification: "QW 100",
    edition: "2026",
    grade: "Q2",
    nominalDiameter: { text: "2.00", unit: "mm" },
    decisionRule: "simple",
    requirements: REQUIREMENTS,
    rows: Array.from({ length: coils }, (_, index) => row(index)),
    heats: [{ heat: "H7720", analysis: "heat", source: "supplier", elements: { C: "0.82", Mn: "0.61", P: "0.009" } }],
    notes: [],
    testedOn: ["2026-03-02"],
    instruments: ["MIC-1", "TM-1", "TT-1", "WT-1"],
    ...change,
  };
}

export function inventedNotice(change: Partial<NoticeRecord> = {}): NoticeRecord {
  const [strength, torsion] = REQUIREMENTS as [
    NoticeRecord["findings"][number]["requirement"],
    NoticeRecord["findings"][number]["requirement"],
  ];
  return {
    schema: "notice-record/1",
    template: "notice/1",
    language: "en",
    lab: { name: "Quillmark Wire (an invented mill)", address: ["Mill Lane 1", "Exampleton"] },
    order: "QM-2601",
    item: "10",
    customer: "Brindlefoot Springs",
    specification: "QW 100",
    edition: "2026",
    grade: "Q2",
    nominalDiameter: { text: "2.00", unit: "mm" },
    findings: [
      {
        coil: "81007",
        property: "torsion",
        requirement: torsion,
        testPiece: "A",
        compared: "19",
        value: "19.5",
        reason: "below-min",
        excess: "-3",
        sheet: "Torsion",
        cell: "F12",
      },
      {
        coil: "81009",
        property: "tensile-strength",
        requirement: strength,
        testPiece: "A",
        compared: "2061",
        value: "2061.4",
        reason: "above-max",
        excess: "11",
        sheet: "Tensile",
        cell: "G14",
      },
    ],
    sameHeat: [{ heat: "H7720", coils: ["81001", "81004"] }],
    sameUnit: [],
    held: ["81007", "81009"],
    ...change,
  };
}

export function inventedRetest(change: Partial<RetestRecord> = {}): RetestRecord {
  const [, torsion] = REQUIREMENTS as [CertificateRequirement, CertificateRequirement];
  const { lab, order, item, specification, edition, grade, nominalDiameter } = inventedNotice();
  return {
    schema: "retest-order-record/1",
    template: "retest-order/1",
    language: "en",
    lab,
    order,
    item,
    customer: "Brindlefoot Springs",
    specification,
    edition,
    grade,
    nominalDiameter,
    steps: [
      {
        coil: "81007",
        heat: "H7720",
        property: "torsion",
        do: "retest",
        pieces: 2,
        end: "outer",
        requirement: torsion,
        reason: "retest-due",
        standsFor: ["81007-T1"],
      },
    ],
    ...change,
  };
}

export function inventedLabels(change: Partial<LabelsRecord> = {}): LabelsRecord {
  const { lab, order, item, specification, edition, grade, nominalDiameter } = inventedNotice();
  return {
    schema: "coil-labels-record/1",
    template: "coil-labels/1",
    language: "en",
    lab,
    order,
    item,
    customer: "Brindlefoot Springs",
    customerOrder: "BF 40118",
    product: "Spring wire, bright",
    specification,
    edition,
    grade,
    nominalDiameter,
    coils: [
      { coil: "81001", heat: "H7720", mass: { text: "240", unit: "kg" }, document: "2026-00042" },
      { coil: "81002", heat: "H7721", length: { text: "9700", unit: "m" } },
    ],
    ...change,
  };
}
