/** Set-ups of an order, as the bench workbook asks for them. */
import { EMPTY_REGISTERS, mergeRegisters, parseOrdersJson } from "../../../core/entry/index.ts";
import { judge } from "../../../core/judge/index.ts";
import type { Measure } from "../../../core/model.ts";
import type { AnyUnit } from "../../../core/quantity.ts";
import { planSetUps, type SetUp, type Tester } from "../../../core/setup/index.ts";
import { builtInLibrary, createSpecificationLibrary, parseSpecification } from "../../../core/spec/index.ts";

export const m = (text: string): Measure => {
  const at = text.indexOf(" ");
  return { text: text.slice(0, at), unit: text.slice(at + 1) as AnyUnit };
};

/** A held specification and one of our own that scales the turns (invented), with every test that needs a machine. */
const SCALING = {
  id: "SCALE 1",
  edition: "2026",
  title: "Wire whose torsion may be scaled (invented)",
  grades: ["A"],
  tables: [
    {
      property: "tensile-strength",
      clause: "1",
      unit: "MPa",
      diameterUnit: "mm",
      between: "bands",
      rows: [{ min: "1600", max: "1900", provenance: "own" }],
    },
    {
      property: "torsion",
      clause: "2",
      unit: "turns",
      diameterUnit: "mm",
      between: "bands",
      freeLength: { times: "100" },
      rows: [{ min: "16", provenance: "own" }],
    },
  ],
  required: [{ property: "tensile-strength" }, { property: "torsion" }],
  conduct: { torsionScalingAllowed: true },
} as const;

export interface Asked {
  readonly specification: string;
  readonly grade?: string;
  readonly diameter: string;
  readonly testers?: readonly Tester[];
  readonly coils?: number;
  readonly coatingClass?: string;
  readonly agreed?: readonly object[];
  readonly freeLengthTolerance?: string;
}

export function plan({
  specification,
  grade = "-",
  diameter,
  testers = [],
  coils = 1,
  coatingClass,
  agreed = [],
  freeLengthTolerance = "0.01",
}: Asked): readonly SetUp[] {
  const parsed = parseSpecification(SCALING, () => undefined);
  if (!parsed.ok) throw new Error(parsed.problems[0]?.text);
  const library = createSpecificationLibrary([
    ...builtInLibrary()
      .list()
      .map((held) => held.data),
    parsed.specification,
  ]);
  const { text, unit } = m(diameter);
  const json = {
    units: unit === "in" ? "inch-pound" : "SI",
    orders: [
      {
        order: "P1",
        item: "1",
        customer: "nobody",
        specification,
        grade,
        nominalDiameter: Number(text),
        ...(coatingClass === undefined ? {} : { coatingClass }),
      },
    ],
    coils: Array.from({ length: coils }, (_, i) => ({ coil: `K${i + 1}`, order: "P1", item: "1", heat: "H1" })),
    agreed: agreed.map((extra) => ({ order: "P1", item: "1", ...extra })),
  };
  const read = parseOrdersJson(json, "list", "2026-03-02");
  const { all, findings } = mergeRegisters(EMPTY_REGISTERS, read.rows, library);
  const wrong = [...read.findings, ...findings].find((finding) => finding.severity === "error");
  if (wrong !== undefined) throw new Error(wrong.text);
  const [verdict] = judge({
    ...all,
    tests: [],
    unread: [],
    settlements: [],
    specifications: library,
    isAdopted: () => true,
    today: "2026-03-02",
    freeLengthTolerance,
  }).orders;
  const view = library.find(specification);
  if (verdict === undefined || view === undefined) throw new Error(`no order of ${specification}`);
  return planSetUps({
    verdict,
    conduct: view.conduct(verdict.nominalDiameter),
    testers,
    retestOf: (requirement) => library.find(requirement.rule.specification)?.retest(requirement.property),
    freeLengthTolerance,
  });
}

export function setUpOf(property: string, asked: Asked): SetUp {
  const found = plan(asked).find((setUp) => setUp.property === property);
  if (found === undefined) throw new Error(`no set-up of ${property}`);
  return found;
}
