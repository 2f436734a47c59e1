/** What `init --example` puts into a lab, so that one command later there is a document, a notice and a refused file to look at. */
import { EMPTY_REGISTERS, mergeRegisters, parseOrdersJson } from "../../core/entry/index.ts";
import { builtInLibrary, createSpecificationLibrary, parseSpecification } from "../../core/spec/index.ts";
import { prepareWorkbook } from "../bench/index.ts";
import { type EntryRecord, entryWorkbook } from "./entry-workbook.ts";
import {
  addStory,
  CUSTOMERS,
  coilsOf,
  noRows,
  type OrderPlan,
  OWN_SPECIFICATION,
  PEOPLE,
  QUALITY,
  registerRows,
  SETTINGS,
  type Story,
  seeded,
} from "./scenario.ts";

export interface ExampleLab {
  readonly settings: object;
  readonly people: readonly { readonly name: string; readonly roles: readonly string[] }[];
  readonly customers: readonly { readonly name: string; readonly email: readonly string[]; readonly address: readonly string[] }[];
  readonly specifications: readonly { readonly name: string; readonly json: object }[];
  readonly adopt: readonly { readonly id: string; readonly by: string }[];
  readonly inbox: readonly { readonly name: string; readonly bytes: Uint8Array }[];
  /** Beside the folders. */
  readonly extra: readonly { readonly name: string; readonly bytes: Uint8Array }[];
}

const Q2_AT_2 = { strength: [1800, 2050], diameter: [1.98, 2.02], outOfRound: 0.02, turns: 22, freeLength: 200, mandrel: 2 } as const;

const plan = (order: string, heat: string, firstCoil: number, coils: number): OrderPlan => ({
  order,
  item: "10",
  customer: CUSTOMERS[0].name,
  customerOrder: `BF ${order.slice(-3)}`,
  product: "Spring wire, bright",
  specification: "QW 100",
  grade: "Q2",
  nominal: "2.00",
  documentType: "2.2",
  language: "en",
  heat,
  firstCoil,
  coils,
  coilMass: 240,
  limits: Q2_AT_2,
});

const GOOD = plan("EX-001", "H4410", 81_001, 4);
const FAILING = plan("EX-002", "H4411", 81_101, 4);
const NEXT = plan("EX-003", "H4412", 81_201, 3);

const START_HERE = [
  "Start here",
  "1. This workbook is what the bench gets: a set-up plan, a card for every set-up, a cut list, and the sheets to fill in. Everything in it is invented.",
  "2. Look at the cards. They advise; local safety rules, the machine's manual and the licensed standard come first.",
  "3. Type readings for coil 81201 into Diameter, Tensile, Torsion and Wrap. The column Verdict shows a preview at once.",
  "4. Save, close, and drop a copy into the folder inbox.",
  "5. Run: coilbook work --drain",
  "6. The same workbook comes back in the folder returned, with verdict, reason and next step beside every row.",
  "7. Three workbooks wait in inbox already: one good, one with a coil that does not conform, one broken.",
];

/** @param today the lab's day, `YYYY-MM-DD`; the example was tested on it */
export function exampleLab(today: string): ExampleLab {
  const year = Number(today.slice(0, 4));
  const calibration = { inch: false, calibratedOn: `${year - 1}-11-02`, dueOn: `${year + 1}-11-02`, lapsedOn: `${year - 1}-01-15` };
  const stories: readonly Story[] = ["conforming", "diameter-out", "torsion-grip-void-repeated", "retest-due"];
  const good = workbookOf(GOOD, () => "conforming", today, calibration);
  const failing = workbookOf(FAILING, (i) => stories[i] ?? "conforming", today, calibration);
  return {
    settings: SETTINGS,
    people: PEOPLE,
    customers: CUSTOMERS,
    specifications: [{ name: "QW-100.json", json: OWN_SPECIFICATION }],
    adopt: [{ id: "QW 100", by: QUALITY }],
    inbox: [
      { name: "good.xlsx", bytes: good },
      { name: "failing.xlsx", bytes: failing },
      // Separated text under a workbook's name: refused, with what to save it as.
      { name: "broken.xlsx", bytes: new TextEncoder().encode("coil;turns\n81201;24\n81202;26\n") },
    ],
    extra: [{ name: "START-HERE.xlsx", bytes: startHere(today, calibration) }],
  };
}

type Calibration = Parameters<typeof registerRows>[1];

function workbookOf(order: OrderPlan, storyOf: (index: number) => Story, day: string, calibration: Calibration): Uint8Array {
  const rows = noRows();
  const random = seeded(order.firstCoil);
  coilsOf(order).forEach((coil, i) => {
    addStory(rows, coil, order, storyOf(i), { inch: false, day, random });
  });
  const { coiling: _, ...tests } = rows;
  return entryWorkbook({ units: "SI", sheets: { ...registerRows([order], calibration), ...tests } });
}

function startHere(today: string, calibration: Calibration): Uint8Array {
  const parsed = parseSpecification(OWN_SPECIFICATION, () => undefined);
  if (!parsed.ok) throw new Error(`the example's own specification: ${parsed.problems[0]?.text}`);
  const library = createSpecificationLibrary([
    ...builtInLibrary()
      .list()
      .map((held) => held.data),
    parsed.specification,
  ]);
  const { orders, coils, heats, instruments } = registerRows([NEXT], calibration);
  const json = { units: "SI", orders: plain(orders), coils: plain(coils), heats: plain(heats), instruments: plain(instruments) };
  const read = parseOrdersJson(json, "START-HERE.xlsx", today);
  const merged = mergeRegisters(EMPTY_REGISTERS, read.rows, library);
  return prepareWorkbook({
    ...merged.all,
    library,
    units: "SI",
    language: "en",
    paper: "A4",
    labName: SETTINGS.lab.name,
    testers: EXAMPLE_TESTERS,
    today,
    freeLengthTolerance: "0.01",
    startHere: START_HERE,
  });
}

const EXAMPLE_TESTERS = [
  {
    name: "Torsion tester T1",
    kind: "torsion",
    freeLengthMin: { text: "50", unit: "mm" },
    freeLengthMax: { text: "600", unit: "mm" },
    gripLength: { text: "25", unit: "mm" },
    hanger: { name: "hanger A", mass: { text: "0.5", unit: "kg" } },
    weights: [
      { name: "W2", mass: { text: "0.5", unit: "kg" } },
      { name: "W3", mass: { text: "1", unit: "kg" } },
      { name: "W4", mass: { text: "2", unit: "kg" } },
      { name: "W6", mass: { text: "5", unit: "kg" } },
    ],
  },
  { name: "Wrap tester W1", kind: "wrap" },
  { name: "Tensile tester TM-1", kind: "tensile" },
] as const;

/** Records without what is empty, as an order list in JSON writes them. */
const plain = (records: readonly EntryRecord[]): object[] =>
  records.map((record) => Object.fromEntries(Object.entries(record).filter(([, value]) => value !== undefined)));
