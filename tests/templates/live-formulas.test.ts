/**
 * Live verdicts against the judgement's own rounding: values on, just inside and just outside every half step. The oracle is LibreOffice;
 * the rule is ASTM E29, rounding method, ties to even (from memory).
 */
import { mkdirSync, readFileSync, writeFileSync } from "node:fs";
import { join } from "node:path";
import { afterAll, expect, it } from "vitest";
import { EMPTY_REGISTERS, ENTRY_SHEETS, mergeRegisters, parseOrdersJson } from "../../core/entry/index.ts";
import { judge } from "../../core/judge/index.ts";
import { compareWithLimits } from "../../core/rounding.ts";
import { builtInLibrary } from "../../core/spec/index.ts";
import { columnLetters, type DescribedCell, readWorkbook, writeWorkbook } from "../../core/workbook/index.ts";
import { LIMIT_COLUMNS, limitsRow, passesFrom } from "../../templates/bench/limits-sheet.ts";
import { liveFormula } from "../../templates/bench/live-formulas.ts";
import { temporaryFolder } from "../helpers/cli.ts";
import { officeConvert } from "../helpers/office.ts";
import { describeWith } from "../helpers/tools.ts";

const folder = temporaryFolder();
afterAll(() => folder.remove());

// Orders in both unit systems: a limit in whole MPa, an interpolated one in ksi (293.75), diameters to 0.001 mm and 0.0001 in.
const CASES = [
  { units: "SI", specification: "EN 10270-1", grade: "SH", nominal: "2.00", length: "0.001" },
  { units: "inch-pound", specification: "ASTM A228", grade: "-", nominal: "0.062", length: "0.0001" },
] as const;
const ROWS = 2500;

describeWith(["soffice"], "live verdicts of the diameter and strength sheets", () => {
  it.each(CASES)("$specification in $units: the sheet and the judgement agree on every value", (given) => {
    const list = {
      units: given.units,
      orders: [
        {
          order: "L1",
          item: "1",
          customer: "nobody",
          specification: given.specification,
          grade: given.grade,
          nominalDiameter: Number(given.nominal),
        },
      ],
      coils: [{ coil: "K1", order: "L1", item: "1", heat: "H1" }],
    };
    const read = parseOrdersJson(list, "list", "2026-03-02");
    const { all } = mergeRegisters(EMPTY_REGISTERS, read.rows, builtInLibrary());
    const base = {
      ...all,
      tests: [],
      unread: [],
      settlements: [],
      specifications: builtInLibrary(),
      isAdopted: () => true,
      today: "2026-03-02",
      freeLengthTolerance: "0.01",
    };
    const [verdict] = judge(base).orders;
    const [order] = all.orders;
    const [coil] = all.coils;
    const view = builtInLibrary().find(given.specification);
    if (!verdict || !order || !coil || !view) throw new Error("no order");
    const requirement = (property: string) => {
      const found = verdict.coils[0]?.requirements.find((r) => r.property === property)?.requirement;
      if (found === undefined) throw new Error(property);
      return found;
    };
    const limits = limitsRow(
      { coil, order, verdict, conduct: view.conduct(order.nominalDiameter), freeLengthTolerance: "0.01" },
      given.units,
    );

    const diameter = requirement("diameter");
    const [low, high] = [Number(diameter.min), Number(diameter.max)];
    const step = Number(given.length);
    const places = given.units === "SI" ? 5 : 6;
    const readings = Array.from({ length: ROWS }, (_, i) => {
      // A tenth of a step a row, so that every half step is met exactly and from both sides.
      const off = ((i % 100) - 50) * (step / 10);
      return Number(((i % 200 < 100 ? high : low) + off + (i % 7 === 0 ? step / 100 : 0)).toFixed(places));
    });
    const limitOf = {
      ...(diameter.min === undefined ? {} : { min: diameter.min }),
      ...(diameter.max === undefined ? {} : { max: diameter.max }),
    };
    const own = readings.map((value) => compareWithLimits(value.toFixed(places), limitOf, diameter.rounding).outcome);

    const strength = requirement("tensile-strength");
    const d = Number(given.nominal);
    const area = ((Math.PI * d * d) / 4) * (given.units === "SI" ? 1 : 1000);
    const edge = {
      ...(strength.min === undefined ? {} : { min: strength.min }),
      ...(strength.max === undefined ? {} : { max: strength.max }),
    };
    const forces = Array.from({ length: ROWS }, (_, i) =>
      Number(((Number(i % 2 === 0 ? strength.min : strength.max) + ((i % 400) - 200) / 100) * area).toFixed(2)),
    );
    const ownStrength = forces.map((force) => compareWithLimits((force / area).toFixed(9), edge, strength.rounding).outcome);

    const sheetRows = (sheet: "diameter" | "tensile", fill: (i: number) => Readonly<Record<string, string | number>>) => {
      const definition = ENTRY_SHEETS.find((s) => s.sheet === sheet);
      const columns = definition?.columns ?? [];
      const letters = Object.fromEntries(columns.map((c, i) => [c.field, columnLetters(i + 1)]));
      const rows = new Map<number, Map<number, DescribedCell>>();
      for (let i = 0; i < ROWS; i += 1) {
        const row = i + 5;
        const cells = new Map<number, DescribedCell>();
        const values = fill(i);
        columns.forEach((column, c) => {
          const value = values[column.field];
          if (value !== undefined) cells.set(c + 1, { value });
          if (column.field === "verdict") {
            const formula = liveFormula(sheet, { row, columns: letters, limits: { sheet: "Limits", firstRow: 5, lastRow: 6 } });
            if (formula !== undefined) cells.set(c + 1, { formula, value: "" });
          }
        });
        rows.set(row, cells);
      }
      return { name: definition?.name ?? "", rows };
    };
    const file = join(folder.path, `${given.units}.xlsx`);
    writeFileSync(
      file,
      writeWorkbook({
        styles: { limit: {}, limitText: {} },
        sheets: [
          sheetRows("diameter", (i) => ({ testPiece: `P${i}`, coil: "K1", largest: readings[i] ?? 0, smallest: readings[i] ?? 0 })),
          sheetRows("tensile", (i) => ({ testPiece: `P${i}`, coil: "K1", diameter: d, maximumForce: forces[i] ?? 0 })),
          { name: "Limits", rows: new Map([[5, new Map(limits.map((cell, i) => [i + 1, cell]))]]) },
        ],
      }),
    );
    mkdirSync(join(folder.path, "out"), { recursive: true });
    officeConvert([file], "xlsx", join(folder.path, "out"));
    const saved = readWorkbook(new Uint8Array(readFileSync(join(folder.path, "out", `${given.units}.xlsx`))));
    if (!saved.ok) throw new Error(saved.refusal.text);
    for (const [sheet, wanted] of [
      ["diameter", own],
      ["tensile", ownStrength],
    ] as const) {
      const definition = ENTRY_SHEETS.find((s) => s.sheet === sheet);
      const column = (definition?.columns.findIndex((c) => c.field === "verdict") ?? 0) + 1;
      const record = saved.workbook.sheets.find((s) => s.name === definition?.name);
      const found = Array.from({ length: ROWS }, (_, i) => record?.rows.get(i + 5)?.find((c) => c.column === column)?.raw);
      expect(found).toEqual(wanted);
      expect(new Set(found)).toEqual(new Set(["conforms", "does-not-conform"]));
    }
    expect(LIMIT_COLUMNS.length).toBe(limits.length);
  });
});

// The threshold stands half a step outside the limit, and belongs to it where the limit is an even multiple of the step.
it.each([
  { min: "1980", step: "1", from: 1979.5 },
  { min: "1981", step: "1", from: 1980.500000001 },
  { min: "293.75", step: "1", from: 293.5 },
  { min: "1.975", step: "0.001", from: 1.974500000001 },
  { max: "2.020", step: "0.001", to: 2.0205 },
  { max: "2.025", step: "0.001", to: 2.025499999 },
])("a value passes a limit $min$max, rounded to $step, from its threshold", ({ min, max, step, from, to }) => {
  const requirement = {
    property: "tensile-strength",
    unit: "MPa",
    conditions: {},
    rule: { specification: "", edition: "", clause: "", provenance: "own", adopted: true },
    row: "",
    rowRule: "",
    evaluate: "each",
    indicative: false,
    listedOnly: false,
    rounding: { method: "round", step, ties: "even" },
    ...(min === undefined ? {} : { min }),
    ...(max === undefined ? {} : { max }),
  } as const;
  if (from !== undefined) expect(passesFrom(requirement, "min")).toBeCloseTo(from, 8);
  if (to !== undefined) expect(passesFrom(requirement, "max")).toBeCloseTo(to, 8);
});
