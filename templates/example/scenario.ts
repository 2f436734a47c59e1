/**
 * The invented mill of the example and the samples: its people, customers, machines, orders, and what happens to each coil.
 * Every name and figure here is invented; limits of published standards are repeated as literals, so that what is expected of a coil
 * does not come out of the code that judges it.
 */
import type { EntryRecord } from "./entry-workbook.ts";

export const MILL = "Quillmark Wire (an invented mill)";
export const PEOPLE = [
  { name: "Ada Thornquist", roles: ["admin", "quality"] },
  { name: "Ivo Marlstone", roles: ["quality", "sales"] },
  { name: "Wren Hollis", roles: ["clerk"] },
  { name: "Bo Ferrant", roles: ["bench"] },
] as const;
export const QUALITY = "Ada Thornquist";
export const SIGNER = "Ivo Marlstone";
export const CUSTOMERS = [
  { name: "Brindlefoot Springs", email: ["goods-in@brindlefoot.example"], address: ["3 Invented Row", "Nowhere Wharf"] },
  { name: "Oxlip Suspension", email: ["quality@oxlip.example"], address: ["Unit 9, Made-up Estate", "Exampleton"] },
  { name: "Tarnholm Federn", email: ["pruefung@tarnholm.example"], address: ["Erdachte Straße 12", "Beispielheim"] },
] as const;

export const SETTINGS = {
  lab: { name: MILL, address: ["Mill Lane 1", "Exampleton"] },
  documents: { signer: SIGNER },
  mail: { from: "lab@quillmark.example", digestTo: ["quality@quillmark.example"] },
  equipment: [
    {
      name: "Torsion tester T1",
      kind: "torsion",
      freeLengthMin: "50 mm",
      freeLengthMax: "600 mm",
      gripLength: "25 mm",
      hanger: { name: "hanger A", mass: "0.5 kg" },
      weights: [
        { name: "W1", mass: "0.25 kg" },
        { name: "W2", mass: "0.5 kg" },
        { name: "W3", mass: "1 kg" },
        { name: "W4", mass: "2 kg" },
        { name: "W5", mass: "2 kg" },
        { name: "W6", mass: "5 kg" },
        { name: "W7", mass: "10 kg" },
      ],
    },
    { name: "Wrap tester W1", kind: "wrap", mandrels: ["1 mm", "1.2 mm", "1.6 mm", "2 mm", "2.5 mm", "3 mm", "3.2 mm", "5 mm", "6.5 mm"] },
    { name: "Tensile tester TM-1", kind: "tensile", forceMin: "400 N", forceMax: "20000 N" },
  ],
} as const;

/** An invented customer specification, complete in itself. */
export const OWN_SPECIFICATION = {
  id: "QW 100",
  edition: "2026",
  title: "Spring wire for return springs (invented)",
  grades: ["Q1", "Q2"],
  tables: [
    {
      property: "tensile-strength",
      clause: "4.1",
      unit: "MPa",
      diameterUnit: "mm",
      between: "bands",
      rows: [
        { grades: ["Q1"], from: "1.00", upTo: "2.00", min: "1650", max: "1880", provenance: "own" },
        { grades: ["Q1"], over: "2.00", upTo: "4.00", min: "1520", max: "1750", provenance: "own" },
        { grades: ["Q2"], from: "1.00", upTo: "2.00", min: "1800", max: "2050", provenance: "own" },
        { grades: ["Q2"], over: "2.00", upTo: "4.00", min: "1670", max: "1920", provenance: "own" },
      ],
    },
    {
      property: "torsion",
      clause: "4.3",
      unit: "turns",
      diameterUnit: "mm",
      between: "bands",
      freeLength: { times: "100" },
      rows: [
        { from: "1.00", upTo: "2.00", min: "22", provenance: "own" },
        { over: "2.00", upTo: "4.00", min: "18", provenance: "own" },
      ],
    },
    {
      property: "wrap",
      clause: "4.4",
      unit: "wraps",
      diameterUnit: "mm",
      between: "bands",
      mandrel: { times: "1" },
      wraps: "8",
      rows: [{ from: "1.00", upTo: "4.00", provenance: "own" }],
    },
    {
      property: "diameter",
      clause: "5.1",
      unit: "mm",
      diameterUnit: "mm",
      between: "bands",
      rows: [{ from: "1.00", upTo: "4.00", plusMinus: "0.020", provenance: "own" }],
    },
    {
      property: "out-of-round",
      clause: "5.2",
      unit: "mm",
      diameterUnit: "mm",
      between: "bands",
      rows: [{ from: "1.00", upTo: "4.00", max: "0.020", provenance: "own" }],
    },
  ],
  required: [
    { property: "tensile-strength" },
    { property: "torsion" },
    { property: "wrap" },
    { property: "diameter" },
    { property: "out-of-round" },
  ],
  retest: [{ properties: ["tensile-strength", "torsion", "wrap"], pieces: 2, mustConform: "all", clause: "6.2", provenance: "own" }],
  conduct: { torsionMaximumSpeed: { text: "60", provenance: "own" }, torsionGripDistance: { timesDiameter: "2" } },
} as const;

export interface OrderPlan {
  readonly order: string;
  readonly item: string;
  readonly customer: string;
  readonly customerOrder: string;
  readonly product: string;
  readonly specification: string;
  readonly grade: string;
  /** In the workbook's length unit. */
  readonly nominal: string;
  readonly documentType: "2.1" | "2.2" | "3.1";
  readonly language: "en" | "de";
  readonly heat: string;
  readonly firstCoil: number;
  readonly coils: number;
  /** Coils a test unit; absent: the order item. */
  readonly unitOf?: number;
  readonly coilMass: number;
  /** What the limits are, for the readings: never read by the judgement. */
  readonly limits: Limits;
}

export interface Limits {
  readonly strength: readonly [min: number, max: number];
  readonly diameter: readonly [min: number, max: number];
  readonly outOfRound: number;
  readonly turns?: number;
  readonly freeLength?: number;
  readonly mandrel?: number;
  readonly coiling?: number;
}

/** A generator with a seed, so that the samples are the same on every machine. @source public-domain "mulberry32" recurrence */
export function seeded(seed: number): () => number {
  let state = seed >>> 0;
  return () => {
    state = (state + 0x6d2b79f5) >>> 0;
    let t = state;
    t = Math.imul(t ^ (t >>> 15), t | 1);
    t ^= t + Math.imul(t ^ (t >>> 7), t | 61);
    return ((t ^ (t >>> 14)) >>> 0) / 4_294_967_296;
  };
}

/** What happens to a coil. The name says what is expected; `expected` in the samples holds it in figures. */
export type Story =
  | "conforming"
  | "untested"
  | "tie-passes"
  | "tie-fails"
  | "strength-on-limit"
  | "strength-below"
  | "strength-above"
  | "diameter-out"
  | "torsion-grip-void"
  | "torsion-grip-void-repeated"
  | "torsion-grip-passes"
  | "torsion-short-low"
  | "torsion-short-passes"
  | "torsion-long-passes"
  | "mandrel-larger"
  | "mandrel-smaller"
  | "instrument-out"
  | "torsion-missing"
  | "retest-due"
  | "retest-done"
  | "retest-failed"
  | "retest-unlinked"
  | "unread-beside-pass";

export interface Rows {
  readonly diameter: EntryRecord[];
  readonly tensile: EntryRecord[];
  readonly torsion: EntryRecord[];
  readonly wrap: EntryRecord[];
  readonly coiling: EntryRecord[];
}
export const noRows = (): Rows => ({ diameter: [], tensile: [], torsion: [], wrap: [], coiling: [] });

interface Bench {
  readonly inch: boolean;
  readonly day: string;
  readonly random: () => number;
}

/** Instruments of the metric and of the inch bench. */
const namesOf = (inch: boolean) =>
  inch
    ? { micrometer: "MIC-2", tensile: "TM-3", lapsed: "TM-4", torsion: "TT-2", wrap: "WT-2" }
    : { micrometer: "MIC-1", tensile: "TM-1", lapsed: "TM-2", torsion: "TT-1", wrap: "WT-1" };

const fixed = (value: number, places: number): number => Number(value.toFixed(places));

/** Force that gives a strength on a diameter: N on mm for MPa, lbf on in for ksi. */
const forceFor = (strength: number, diameter: number, inch: boolean): number => {
  const force = strength * ((Math.PI * diameter * diameter) / 4) * (inch ? 1000 : 1);
  return fixed(force, inch ? 1 : 0);
};

/** Adds the rows of one coil for one story. */
export function addStory(rows: Rows, coil: string, plan: OrderPlan, story: Story, { inch, day, random }: Bench): void {
  if (story === "untested") return;
  const { limits } = plan;
  const names = namesOf(inch);
  const places = inch ? 4 : 3;
  const nominal = Number(plan.nominal);
  const within = (low: number, high: number): number => low + (high - low) * (0.25 + 0.5 * random());
  const common = (letter: string, count: number, instrument: string): EntryRecord => ({
    testPiece: `${coil}-${letter}${count}`,
    coil,
    end: "outer",
    instrument,
    date: day,
    tester: "Bo Ferrant",
  });

  const spread = fixed(limits.outOfRound * (0.2 + 0.4 * random()), places);
  let largest = fixed(nominal + (limits.diameter[1] - nominal) * (0.1 + 0.5 * random()), places);
  let smallest = fixed(largest - spread, places);
  // Ties at half the last printed place: 2.0205 goes to the even 2.020, 2.0255 to the even 2.026.
  if (story === "tie-passes") [largest, smallest] = [2.0205, 2.008];
  if (story === "tie-fails") [largest, smallest] = [2.0255, 2.012];
  if (story === "diameter-out")
    [largest, smallest] = [
      fixed(limits.diameter[1] + limits.outOfRound * 0.4, places),
      fixed(limits.diameter[1] - limits.outOfRound * 0.4, places),
    ];
  rows.diameter.push({ ...common("D", 1, names.micrometer), position: "1", largest, smallest });

  const diameter = fixed((largest + smallest) / 2, places);
  const [least, most] = limits.strength;
  let strength = within(least, most);
  if (story === "strength-on-limit") strength = least;
  if (story === "strength-below") strength = least - (inch ? 4 : 22);
  if (story === "strength-above") strength = most + (inch ? 5 : 30);
  rows.tensile.push({
    ...common("S", 1, story === "instrument-out" ? names.lapsed : names.tensile),
    diameter,
    maximumForce: forceFor(strength, diameter, inch),
    breakAt: "clear",
  });

  if (limits.turns !== undefined && limits.freeLength !== undefined && story !== "torsion-missing") {
    const turns = limits.turns;
    const good = (): number => turns + 3 + Math.floor(random() * 8) + 0.25 * Math.floor(random() * 4);
    const torsion = (count: number, own: EntryRecord): void => {
      rows.torsion.push({
        ...common("T", count, names.torsion),
        diameter,
        freeLength: limits.freeLength,
        speed: 30 + 5 * Math.floor(random() * 6),
        breakAt: "clear",
        ...own,
      });
    };
    switch (story) {
      case "torsion-grip-void":
        torsion(1, { turns: turns - 4, breakAt: "grip" });
        break;
      case "torsion-grip-void-repeated":
        torsion(1, { turns: turns - 5, breakAt: "grip" });
        torsion(2, { turns: good(), role: "repeat" });
        break;
      case "torsion-grip-passes":
        torsion(1, { turns: turns + 5, breakAt: "grip" });
        break;
      case "torsion-short-low":
        torsion(1, { turns: turns - 2, freeLength: limits.freeLength * 0.9 });
        break;
      case "torsion-short-passes":
        torsion(1, { turns: turns + 4, freeLength: limits.freeLength * 0.75 });
        break;
      case "torsion-long-passes":
        torsion(1, { turns: turns + 4, freeLength: limits.freeLength * 1.2 });
        break;
      case "retest-due":
      case "retest-done":
        torsion(1, { turns: turns - 2 });
        break;
      case "retest-failed":
        torsion(1, { turns: turns - 3 });
        torsion(2, { turns: turns - 1, role: "retest", retestOf: `${coil}-T1` });
        torsion(3, { turns: turns + 4, role: "retest", retestOf: `${coil}-T1` });
        break;
      case "retest-unlinked":
        torsion(1, { turns: turns - 2 });
        torsion(2, { turns: turns + 6 });
        break;
      case "unread-beside-pass":
        torsion(1, { turns: turns + 5 });
        torsion(2, { turns: `about ${turns + 4}` });
        break;
      default:
        torsion(1, { turns: good() });
    }
  }
  if (limits.mandrel !== undefined) {
    const mandrelDiameter =
      story === "mandrel-larger" ? limits.mandrel * 1.5 : story === "mandrel-smaller" ? limits.mandrel * 0.75 : limits.mandrel;
    rows.wrap.push({
      ...common("W", 1, names.wrap),
      purpose: "ductility",
      diameter,
      mandrelDiameter,
      wraps: 8,
      cracks: "none",
    });
  }
  if (limits.coiling !== undefined)
    rows.coiling.push({
      ...common("C", 1, names.wrap),
      diameter,
      mandrelDiameter: limits.coiling,
      evenPitch: "yes",
      cracks: "none",
    });
}

/** The retest that makes good a coil of the story `retest-done`. */
export function addRetest(rows: Rows, coil: string, plan: OrderPlan, { day }: Bench): void {
  for (const count of [2, 3])
    rows.torsion.push({
      testPiece: `${coil}-T${count}`,
      coil,
      end: "outer",
      diameter: Number(plan.nominal),
      freeLength: plan.limits.freeLength,
      speed: 45,
      turns: (plan.limits.turns ?? 0) + count,
      breakAt: "clear",
      role: "retest",
      retestOf: `${coil}-T1`,
      instrument: namesOf(false).torsion,
      date: day,
      tester: "Bo Ferrant",
    });
}

export const coilsOf = (plan: OrderPlan): readonly string[] => Array.from({ length: plan.coils }, (_, i) => String(plan.firstCoil + i));

/** The register rows of some orders. */
export function registerRows(
  plans: readonly OrderPlan[],
  { inch, calibratedOn, dueOn, lapsedOn }: { inch: boolean; calibratedOn: string; dueOn: string; lapsedOn: string },
) {
  return {
    orders: plans.map(
      (plan): EntryRecord => ({
        order: plan.order,
        item: plan.item,
        customer: plan.customer,
        customerOrder: plan.customerOrder,
        product: plan.product,
        specification: plan.specification,
        grade: plan.grade === "" ? "-" : plan.grade,
        nominalDiameter: Number(plan.nominal),
        documentType: plan.documentType,
        decisionRule: "simple",
        language: plan.language,
      }),
    ),
    coils: plans.flatMap((plan) =>
      coilsOf(plan).map(
        (coil, i): EntryRecord => ({
          coil,
          order: plan.order,
          item: plan.item,
          heat: plan.heat,
          testUnit:
            plan.unitOf === undefined ? undefined : `${plan.order}-${plan.item}-${String.fromCharCode(65 + Math.floor(i / plan.unitOf))}`,
          mass: plan.coilMass + (i % 5),
        }),
      ),
    ),
    heats: [...new Map(plans.map((plan) => [plan.heat, plan])).values()].map(
      (plan, i): EntryRecord => ({
        heat: plan.heat,
        analysis: "heat",
        source: "supplier",
        C: 0.78 + 0.01 * i,
        Si: 0.22,
        Mn: 0.61,
        P: 0.011,
        S: 0.009,
      }),
    ),
    instruments: [
      {
        instrument: namesOf(inch).micrometer,
        kind: "micrometer",
        rangeMin: 0,
        rangeMax: inch ? 1 : 25,
        rangeUnit: inch ? "in" : "mm",
        calibratedOn,
        dueOn,
        uncertainty: inch ? 0.00005 : 0.001,
        uncertaintyUnit: inch ? "in" : "mm",
        coverageFactor: 2,
      },
      {
        instrument: namesOf(inch).tensile,
        kind: "tensile tester",
        rangeMin: inch ? 100 : 400,
        rangeMax: inch ? 4500 : 20_000,
        rangeUnit: inch ? "lbf" : "N",
        class: "1",
        calibratedOn,
        dueOn,
        uncertainty: 0.8,
        uncertaintyUnit: "%",
        coverageFactor: 2,
      },
      {
        instrument: namesOf(inch).lapsed,
        kind: "tensile tester",
        rangeMin: inch ? 100 : 400,
        rangeMax: inch ? 4500 : 20_000,
        rangeUnit: inch ? "lbf" : "N",
        class: "1",
        calibratedOn: "2024-01-15",
        dueOn: lapsedOn,
        uncertainty: 0.8,
        uncertaintyUnit: "%",
        coverageFactor: 2,
      },
      { instrument: namesOf(inch).torsion, kind: "torsion tester", calibratedOn, dueOn },
      { instrument: namesOf(inch).wrap, kind: "wrap tester", calibratedOn, dueOn },
    ] as readonly EntryRecord[],
  };
}
