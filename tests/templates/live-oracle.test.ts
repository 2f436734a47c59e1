/**
 * The live verdicts of torsion, wrap, coiling, reverse bend and coating mass, calculated by LibreOffice, against the judgement's own outcome
 * of every row. Readings are random among edges: on, just inside and just outside every condition and half step. All limits are invented.
 */
import { mkdirSync, readFileSync, writeFileSync } from "node:fs";
import { join } from "node:path";
import { afterAll, beforeAll, describe, expect, it } from "vitest";
import { ENTRY_SHEETS, entrySheet, unitOf } from "../../core/entry/index.ts";
import { judge } from "../../core/judge/index.ts";
import type { ConductRules, EntryRow, FieldValue, Measure, OrderItem, Requirement, TestSheet, UnitSystem } from "../../core/model.ts";
import { columnLetters, type DescribedCell, readWorkbook, writeWorkbook } from "../../core/workbook/index.ts";
import { limitsRow } from "../../templates/bench/limits-sheet.ts";
import { liveFigures, liveFormula } from "../../templates/bench/live-formulas.ts";
import { temporaryFolder } from "../helpers/cli.ts";
import { CONDUCT, coil, ORDER, requirement, specification } from "../helpers/judge.ts";
import { officeConvert } from "../helpers/office.ts";
import { describeWith } from "../helpers/tools.ts";

const folder = temporaryFolder();
afterAll(() => folder.remove());

const SHEETS = ["torsion", "wrap", "coiling", "reverse-bend", "coating-mass"] as const;
/** Three laboratories of five sheets: 10,800 rows. */
const ROWS = 720;
const HEAD = 4;

const COUNT = { method: "whole", step: "1", ties: "none" } as const;
const WORD = { method: "absolute", step: "1", ties: "even" } as const;
const wraps = (text: string): Measure => ({ text, unit: "wraps" });

interface Laboratory {
  readonly name: string;
  readonly units: UnitSystem;
  readonly nominal: Measure;
  readonly conduct: Partial<ConductRules>;
  readonly requirements: readonly Requirement[];
}

function requirements(
  unit: "mm" | "in",
  d: number,
  coating: { unit: "g/m2" | "oz/ft2"; min: string; max: string; step: string },
): readonly Requirement[] {
  const length = (times: number): Measure => ({ text: String(Number((times * d).toFixed(6))), unit });
  return [
    requirement("tensile-strength", unit === "mm" ? { min: "1770", max: "2010" } : { min: "260", max: "290", unit: "ksi" }),
    requirement("torsion", { min: "20", max: "30", unit: "turns", conditions: { freeLength: length(100) }, rounding: COUNT }),
    requirement("wrap", { unit: "", conditions: { mandrelDiameter: length(1), wraps: wraps("8") }, rounding: WORD }),
    requirement("adherence", { unit: "", conditions: { mandrelDiameter: length(4), wraps: wraps("6") }, rounding: WORD }),
    requirement("coiling", { unit: "", conditions: { mandrelDiameter: length(3), mandrelDiameterMax: length(3.5) }, rounding: WORD }),
    requirement("reverse-bend", { min: "9", max: "20", unit: "bends", conditions: { radius: length(2.5) }, rounding: COUNT }),
    requirement("coating-mass", { ...coating, rounding: { method: "round", step: coating.step, ties: "even" } }),
  ];
}

const LABORATORIES: readonly Laboratory[] = [
  {
    name: "no scaling, straightened by hand, the first turn void once",
    units: "SI",
    nominal: { text: "2.00", unit: "mm" },
    conduct: { torsionStraightening: ["none", "hand"] },
    requirements: requirements("mm", 2, { unit: "g/m2", min: "215", max: "300", step: "1" }),
  },
  {
    name: "scaled turns, forces by size, first turn not counted, a highest rate, in inches",
    units: "inch-pound",
    nominal: { text: "0.080", unit: "in" },
    conduct: {
      torsionScalingAllowed: true,
      torsionGripDistance: { length: { text: "0.2", unit: "in" } },
      torsionTension: { min: { text: "4", unit: "lbf" }, max: { text: "8", unit: "lbf" } },
      wrapFirstTurn: "passes",
      wrapMaximumRate: "15",
    },
    requirements: requirements("in", 0.08, { unit: "oz/ft2", min: "0.70", max: "1.00", step: "0.01" }),
  },
  {
    name: "only a break fails, a share of its own, ties to even on an odd limit",
    units: "SI",
    nominal: { text: "3.15", unit: "mm" },
    conduct: { wrapFailsFrom: "broken", torsionMaximumTensionShare: "0.01", mandrelTolerance: "0.02" },
    requirements: requirements("mm", 3.15, { unit: "g/m2", min: "214", max: "301", step: "1" }),
  },
];

/** Repeatable numbers in [0, 1). @source mulberry32, a public-domain generator (from memory) */
function generator(seed: number): () => number {
  let state = seed;
  return () => {
    state = (state + 0x6d2b79f5) | 0;
    let t = Math.imul(state ^ (state >>> 15), 1 | state);
    t = (t + Math.imul(t ^ (t >>> 7), 61 | t)) ^ t;
    return ((t ^ (t >>> 14)) >>> 0) / 4294967296;
  };
}

type Filled = Readonly<Record<string, string | number>>;

/** A row of edges: a typed figure has at most six places, as the bench can read it. */
function readings({ nominal, conduct, units }: Laboratory, sheet: TestSheet, next: () => number): Filled {
  const d = Number(nominal.text);
  const typed = (value: number): number => Number(value.toFixed(6));
  const pick = <T>(...from: readonly T[]): T => from[Math.floor(next() * from.length)] as T;
  /** Mostly left empty. */
  const rarely = <T>(...from: readonly T[]): T | "" => (next() < 0.7 ? "" : pick(...from));
  const tolerance = Number(conduct.mandrelTolerance ?? "0.05");
  const around = (size: number): number =>
    typed(size * pick(1, 1, 1, 1 - tolerance, 1 + tolerance, 1 - tolerance - 0.001, 1 + tolerance + 0.001, 0.7, 1.4));
  const setAside = next() < 0.04 ? "kink" : "";
  const role = next() < 0.03 ? "check" : pick("", "acceptance");
  switch (sheet) {
    case "torsion": {
      const freeLength = typed(100 * d * pick(1, 1, 1, 0.99, 1.01, 0.9899, 1.0101, 0.85, 1.25));
      // Around the minimum, the scaled minimum and the maximum; part turns on both sides of a whole one.
      const at = pick(20, 30, (20 * freeLength) / (100 * d));
      const turns = typed(Math.max(0, pick(at, Math.ceil(at), Math.floor(at), at + pick(-1, -0.25, -0.01, 0.01, 0.5, 0.99, 1))));
      const grip = conduct.torsionGripDistance?.length === undefined ? 2 * d : Number(conduct.torsionGripDistance.length.text);
      const fractureFromGrip = rarely(0, typed(grip), typed(grip - 0.001), typed(grip + 0.001), typed(grip * 3));
      const force = units === "SI" ? pick(1, 50, 55, 56, 111, 112, 125, 139, 140) : pick(3.99, 4, 6, 8, 8.01);
      return {
        diameter: d,
        freeLength,
        turns,
        fractureFromGrip,
        breakAt: pick("", "clear", "clear", "grip", "none"),
        speed: rarely(30, 60, 60.5, 61),
        tension: rarely(force),
        straightened: rarely("none", "hand", "tapped", "rolled"),
        setAside,
        role,
      };
    }
    case "wrap": {
      const purpose = pick("ductility", "adherence");
      return {
        purpose,
        diameter: d,
        mandrelDiameter: around(purpose === "ductility" ? d : 4 * d),
        wraps: purpose === "ductility" ? pick(7, 8, 8, 8, 9) : pick(5, 6, 6, 6, 7),
        rate: rarely(10, 15, 15.5, 60, 61),
        cracks: pick("none", "none", "visible", "broken"),
        firstCrackTurn: rarely(0.5, 1, 1.5, 4),
        coating: rarely("sound", "sound", "cracked-firm", "dust-only", "comes-off", "uncoated"),
        secondLook: rarely("A. Nonym, firm", "comes-off", "sound", "uncoated"),
        setAside,
        role,
      };
    }
    case "coiling":
      return {
        diameter: d,
        mandrelDiameter: around(pick(3, 3.25, 3.5) * d),
        evenPitch: pick("", "yes", "yes", "no"),
        cracks: pick("none", "none", "none", "visible", "broken"),
        setAside,
        role,
      };
    case "reverse-bend":
      return {
        diameter: d,
        radius: around(2.5 * d),
        bends: pick(0, 8, 9, 10, 20, 21),
        breakAt: pick("", "clear", "grip", "none"),
        setAside,
        role,
      };
    default: {
      const [step, low, high] = units === "SI" ? [1, pick(214, 215), pick(300, 301)] : [0.01, 0.7, 1];
      const target = pick(low, high) + step * pick(-1, -0.51, -0.5, -0.49, 0, 0.49, 0.5, 0.51, 1, -3.7);
      if (next() < 0.3)
        return {
          method: "gas",
          strippedDiameter: d,
          hydrogen: typed(60 + 60 * next()),
          temperature: pick(0, 20, 23.5),
          pressure: pick(1013, 990),
          length: units === "SI" ? 300 : 12,
          setAside,
          role,
        };
      // In SI mass after is chosen so that the loss in grams is the coating in kg/m2, and half steps are met exactly.
      const massAfter = units === "SI" ? typed((d * 1960) / 1000) : typed(d * 25.4 * 1.96);
      const massBefore = units === "SI" ? typed(massAfter + target / 1000) : typed(massAfter + (target * 305.15172) / 1000);
      return { method: "strip", strippedDiameter: d, massBefore, massAfter, setAside, role };
    }
  }
}

const columnsOf = (sheet: TestSheet) => entrySheet(sheet).columns;

function toEntryRow(sheet: TestSheet, index: number, filled: Filled, units: UnitSystem): EntryRow {
  const fields: Record<string, FieldValue> = {};
  const all: Filled = { testPiece: `P${index}`, coil: `${sheet}-${index}`, date: "2026-03-02", ...filled };
  for (const column of columnsOf(sheet)) {
    const value = all[column.field];
    if (value === undefined || value === "") continue;
    const unit = unitOf(column, units);
    fields[column.field] = {
      text: String(value),
      raw: String(value),
      cell: `${column.field}${index}`,
      ...(unit === undefined ? {} : { unit }),
    };
  }
  return { sheet, sheetName: sheet, row: HEAD + 1 + index, file: "", fields };
}

interface Case {
  readonly laboratory: Laboratory;
  readonly rows: ReadonlyMap<TestSheet, readonly Filled[]>;
}

const CASES: readonly Case[] = LABORATORIES.map((laboratory, l) => ({
  laboratory,
  rows: new Map(
    SHEETS.map((sheet, s) => {
      const next = generator(1000 * l + s + 20260302);
      return [sheet, Array.from({ length: ROWS }, () => readings(laboratory, sheet, next))];
    }),
  ),
}));

const orderOf = ({ nominal }: Laboratory): OrderItem => ({ ...ORDER, nominalDiameter: nominal });

function judgementOf({ requirements: asked, conduct, ...laboratory }: Laboratory, tests: readonly EntryRow[], coils: readonly string[]) {
  const view = specification({ requirements: asked, conduct });
  return judge({
    orders: [orderOf({ requirements: asked, conduct, ...laboratory })],
    agreed: [],
    coils: coils.map((name) => coil(name)),
    heats: [],
    instruments: [],
    tests,
    unread: [],
    settlements: [],
    specifications: { find: (name) => (name === "SPEC-X" ? view : undefined), list: () => [view] },
    isAdopted: () => true,
    today: "2026-03-03",
    freeLengthTolerance: "0.01",
  }).orders[0];
}

function workbookOf({ laboratory, rows }: Case): Uint8Array {
  const verdict = judgementOf(laboratory, [], ["K1"]);
  if (verdict === undefined) throw new Error("no order");
  const conduct = { ...CONDUCT, ...laboratory.conduct };
  const cells = limitsRow(
    { coil: coil("K1"), order: orderOf(laboratory), verdict, conduct, freeLengthTolerance: "0.01" },
    laboratory.units,
  );
  const sheets = SHEETS.map((sheet) => {
    const columns = columnsOf(sheet);
    const letters = Object.fromEntries(columns.map((c, i) => [c.field, columnLetters(i + 1)]));
    const described = new Map<number, Map<number, DescribedCell>>();
    (rows.get(sheet) ?? []).forEach((filled, i) => {
      const row = HEAD + 1 + i;
      const place = { row, columns: letters, limits: { sheet: "Limits", firstRow: HEAD + 1, lastRow: HEAD + 2 } };
      const values: Filled = { testPiece: `P${i}`, coil: "K1", ...filled };
      const line = new Map<number, DescribedCell>();
      columns.forEach(({ field }, c) => {
        const formula =
          field === "verdict" ? liveFormula(sheet, place) : field === "why" ? liveFigures(sheet, place, "{value} → {compared}") : undefined;
        const value = values[field];
        if (formula !== undefined) line.set(c + 1, { formula, value: "" });
        else if (value !== undefined && value !== "") line.set(c + 1, { value });
      });
      described.set(row, line);
    });
    return { name: entrySheet(sheet).name, rows: described };
  });
  const limits = { name: "Limits", rows: new Map([[HEAD + 1, new Map(cells.map((cell, i) => [i + 1, cell]))]]) };
  return writeWorkbook({ styles: { limit: {}, limitText: {} }, sheets: [...sheets, limits] });
}

interface Shown {
  readonly verdict: string;
  readonly figures: string;
}

describeWith(["soffice"], "live verdicts against the judgement, row by row", () => {
  const shown = new Map<string, readonly Shown[]>();

  beforeAll(() => {
    const files = CASES.map((given, i) => {
      const file = join(folder.path, `case-${i}.xlsx`);
      writeFileSync(file, workbookOf(given));
      return file;
    });
    const out = join(folder.path, "out");
    mkdirSync(out, { recursive: true });
    officeConvert(files, "xlsx", out);
    CASES.forEach((_, i) => {
      const read = readWorkbook(new Uint8Array(readFileSync(join(out, `case-${i}.xlsx`))));
      if (!read.ok) throw new Error(read.refusal.text);
      for (const sheet of SHEETS) {
        const columns = columnsOf(sheet);
        const at = (field: string): number => columns.findIndex((c) => c.field === field) + 1;
        const record = read.workbook.sheets.find((s) => s.name === entrySheet(sheet).name);
        const cell = (row: number, field: string): string => record?.rows.get(row)?.find((c) => c.column === at(field))?.raw ?? "";
        shown.set(
          `${i} ${sheet}`,
          Array.from({ length: ROWS }, (__, r) => ({ verdict: cell(HEAD + 1 + r, "verdict"), figures: cell(HEAD + 1 + r, "why") })),
        );
      }
    });
  }, 240_000);

  describe.each(CASES.map((given, index) => ({ ...given, index, name: given.laboratory.name })))("$name", ({ laboratory, rows, index }) => {
    it.each(SHEETS)("%s", (sheet) => {
      const filled = rows.get(sheet) ?? [];
      const tests = filled.map((values, i) => toEntryRow(sheet, i, values, laboratory.units));
      const order = judgementOf(
        laboratory,
        tests,
        filled.map((_, i) => `${sheet}-${i}`),
      );
      const results = new Map((order?.coils ?? []).map((c) => [c.coil, c.requirements.flatMap((r) => r.results)[0]]));
      const seen = new Map<string, number>();
      const differing: string[] = [];
      const lines = shown.get(`${index} ${sheet}`) ?? [];
      filled.forEach((values, i) => {
        const result = results.get(`${sheet}-${i}`);
        // What a person has yet to decide, a row that contradicts itself and a check wire show nothing.
        const own = result === undefined || result.role === "check" ? "" : result.voidReason !== undefined ? "void" : result.outcome;
        const expected = own === "undecided" ? "" : own;
        seen.set(String(expected), (seen.get(String(expected)) ?? 0) + 1);
        const line = lines[i];
        if (line?.verdict !== expected)
          differing.push(
            `${JSON.stringify(values)}: shown "${line?.verdict}", judged "${expected}" (${result?.voidReason ?? result?.reason ?? ""})`,
          );
        const compared = Number(line?.figures.split(" → ")[1] ?? "");
        if (typeof result?.value === "number" && compared !== Number(result.compared))
          differing.push(`${JSON.stringify(values)}: figures "${line?.figures}", compared ${result.compared}`);
      });
      expect(differing.slice(0, 12)).toEqual([]);
      // Every answer is met, so that an empty column cannot agree. A coating is only void where it is set aside.
      for (const answer of ["conforms", "does-not-conform", "void", ""]) expect(seen.get(answer) ?? 0, answer).toBeGreaterThan(5);
    });
  });
});

it("covers every sheet with a live verdict but the two that have a test of their own", () => {
  const live = ENTRY_SHEETS.filter((sheet) =>
    liveFormula(sheet.sheet as TestSheet, { row: 5, columns: {}, limits: { sheet: "L", firstRow: 5, lastRow: 6 } }),
  ).map((sheet) => sheet.sheet);
  expect(live).toEqual(["diameter", "tensile", ...SHEETS]);
});
