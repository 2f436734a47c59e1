/** The bench workbook of an order list: set-up plan, cards, cut list, overview, entry sheets with the pieces filled in, live limits. */
import { ENTRY_SHEETS, type EntrySheet, HEADER_ROW } from "../../core/entry/index.ts";
import { judge } from "../../core/judge/index.ts";
import type { OrderVerdict, Requirement, RetestRule, SpecificationLibrary, TestSheet } from "../../core/model.ts";
import { convertNumber } from "../../core/quantity.ts";
import { inChangeOrder, planSetUps, type SetUp, toolingOf } from "../../core/setup/index.ts";
import { type DescribedSheet, writeWorkbook } from "../../core/workbook/index.ts";
import { words } from "../wording.ts";
import { type BenchOrder, isTest, Placement, SPARE_ROWS, testSheetName } from "./bench-order.ts";
import { toCard } from "./cards.ts";
import { cardsSheet } from "./cards-sheet.ts";
import { cutSheet } from "./cut-sheet.ts";
import { entrySheet } from "./entry-sheet.ts";
import { limitsSheet } from "./limits-sheet.ts";
import { overviewSheet } from "./overview-sheet.ts";
import { planSheet } from "./plan-sheet.ts";
import { STYLES } from "./styles.ts";

export type { BenchOrder } from "./bench-order.ts";

export function prepareWorkbook(bench: BenchOrder): Uint8Array {
  const say = words(bench.language);
  const judgement = judge({
    orders: bench.orders,
    agreed: bench.agreed,
    coils: bench.coils,
    heats: bench.heats,
    instruments: bench.instruments,
    tests: [],
    unread: [],
    settlements: [],
    specifications: bench.library,
    isAdopted: () => true,
    today: bench.today,
    freeLengthTolerance: bench.freeLengthTolerance,
  });
  const setUps = inWorkingOrder(judgement.orders.flatMap((verdict) => setUpsOf(verdict, bench)));
  const placed = new Placement(setUps);
  const cards = setUps.map((setUp, index) => {
    const rows = placed.rowsOf(setUp);
    const rowOf = (testPiece: string): number | undefined => placed.rowOf(setUp.sheet, testPiece);
    return toCard(setUp, index + 1, rows === undefined ? undefined : { sheet: testSheetName(setUp.sheet, say), ...rows, rowOf }, say);
  });
  const limits = {
    sheet: say("bench.sheet.limits"),
    firstRow: HEADER_ROW + 1,
    lastRow: HEADER_ROW + bench.coils.length + SPARE_ROWS,
  };
  return writeWorkbook({
    styles: STYLES,
    sheets: [
      ...(bench.startHere === undefined ? [] : [startSheet(bench.startHere)]),
      planSheet(setUps, cards, placed, bench, say),
      cardsSheet(cards, bench, say),
      cutSheet(setUps, placed, bench, say),
      overviewSheet(placed, bench, say),
      ...ENTRY_SHEETS.filter((sheet) => isNeeded(sheet, placed)).map((sheet) => entrySheet(sheet, placed, limits, bench, say)),
      limitsSheet(judgement.orders, bench, say),
    ],
  });
}

const startSheet = (lines: readonly string[]): DescribedSheet => ({
  name: "Start-here",
  rows: new Map(lines.map((value, i) => [i + 1, new Map([[1, { value, style: i === 0 ? "title" : "plain" }]])])),
  widths: { 1: 120 },
});

const isNeeded = (sheet: EntrySheet, placed: Placement): boolean =>
  !isTest(sheet) || placed.sheets.has(sheet.sheet as TestSheet) || sheet.sheet === "other";

function setUpsOf(verdict: OrderVerdict, bench: BenchOrder): readonly SetUp[] {
  const view = bench.library.find(verdict.specification, verdict.edition);
  if (view === undefined) return [];
  return planSetUps({
    verdict,
    conduct: view.conduct(verdict.nominalDiameter),
    testers: bench.testers,
    retestOf: (requirement) => retestRule(requirement, bench.library),
    freeLengthTolerance: bench.freeLengthTolerance,
  });
}

/** By the specification that asks, which for a coating is the class's own; what was agreed in addition has no retest. */
function retestRule({ rule, property, agreedIn }: Requirement, library: SpecificationLibrary): RetestRule | undefined {
  return agreedIn === undefined ? library.find(rule.specification, rule.edition)?.retest(property) : undefined;
}

/** Sheets that share a bench, in the order in which a coil is usually tested. Wrap and spread coil share their mandrels. */
const BENCHES: readonly (readonly TestSheet[])[] = [
  ["diameter"],
  ["tensile"],
  ["torsion"],
  ["wrap", "coiling"],
  ["reverse-bend"],
  ["coating-mass"],
  ["other"],
];

/** Bench by bench and machine by machine, there with the fewest changes of tooling, small tooling before large where nothing else decides. */
function inWorkingOrder(setUps: readonly SetUp[]): readonly SetUp[] {
  return BENCHES.flatMap((sheets) => {
    const own = setUps
      .filter((setUp) => sheets.includes(setUp.sheet))
      .sort(
        (a, b) => sheets.indexOf(a.sheet) - sheets.indexOf(b.sheet) || a.property.localeCompare(b.property, "en") || sizeOf(a) - sizeOf(b),
      );
    const machines = [...new Set(own.map((setUp) => setUp.tester ?? ""))];
    return machines.flatMap((machine) =>
      inChangeOrder(
        own.filter((setUp) => (setUp.tester ?? "") === machine),
        toolingOf,
      ),
    );
  });
}

const sizeOf = (s: SetUp): number => convertNumber(s.freeLength ?? s.mandrel ?? s.radius ?? s.nominal, "mm");
