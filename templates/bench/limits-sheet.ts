/**
 * The sheet Limits: one row a coil, with every figure the live formulas look up. Limits stand as the smallest and largest unrounded
 * value that the rounding rule still lets pass, so that a formula compares and never rounds to even.
 */
import { addExact, compareExact, divideExact, exact, multiplyExact, subtractExact, toNumber } from "../../core/decimal.ts";
import { HEADER_ROW } from "../../core/entry/index.ts";
import { ZINC_PER_ML } from "../../core/formulas/coating.ts";
import { forceAtShare } from "../../core/formulas/stress.ts";
import type { Coil, ConductRules, Measure, OrderItem, OrderVerdict, Requirement, UnitSystem } from "../../core/model.ts";
import { convertExact, convertNumber, dimensionOf, isUnit, type Unit } from "../../core/quantity.ts";
import { columnLetters, type DescribedCell, type DescribedSheet } from "../../core/workbook/index.ts";
import type { Say } from "../wording.ts";
import { type BenchOrder, type Rows, rowOfValues, TITLE_HEIGHT } from "./bench-order.ts";

/** Columns of the sheet Limits, in order. */
export const LIMIT_COLUMNS = [
  "coil",
  "order",
  "item",
  "specification",
  "grade",
  "nominal",
  "diameterFrom",
  "diameterTo",
  "outOfRoundTo",
  "diameterFactor",
  "diameterStep",
  "strengthFrom",
  "strengthTo",
  "strengthFactor",
  "strengthStep",
  "areaDiameter",
  "elongationFrom",
  "areaReductionFrom",
  "turnsFrom",
  "turnsTo",
  "freeLength",
  "freeLengthShort",
  "freeLengthLong",
  "scaled",
  "gripDistance",
  "speedTo",
  "tensionFrom",
  "tensionTo",
  "straightened",
  "mandrelFrom",
  "mandrelTo",
  "wraps",
  "wrapRateTo",
  "failsFrom",
  "firstTurn",
  "adherenceMandrelFrom",
  "adherenceMandrelTo",
  "adherenceWraps",
  "coilingMandrelFrom",
  "coilingMandrelTo",
  "bendsFrom",
  "bendsTo",
  "radiusFrom",
  "radiusTo",
  "coatingFrom",
  "coatingTo",
  "coatingFactor",
  "gasFactor",
  "coatingStep",
] as const;
export type LimitColumn = (typeof LIMIT_COLUMNS)[number];

/** Stands where a side has no limit; shown as a dash by its number format. */
export const NO_LIMIT = 1e90;
/** Text where a property is not asked for: a formula that meets it shows nothing. */
export const NOT_ASKED = "–";

/** Formulas compare at nine places behind the point, which is far below every rounding interval. */
const EXCLUSIVE = exact("0.000000001");

export interface LimitsRow {
  readonly coil: Coil;
  readonly order: OrderItem;
  readonly verdict: OrderVerdict;
  readonly conduct: ConductRules;
  readonly freeLengthTolerance: string;
}

/**
 * The smallest (`min`) or largest (`max`) unrounded value that still conforms.
 * @source ASTM E29-22, rounding method: a value conforms where its rounded value does (from memory)
 */
export function passesFrom(requirement: Requirement, side: "min" | "max"): number {
  const limit = requirement[side];
  if (limit === undefined) return side === "min" ? -NO_LIMIT : NO_LIMIT;
  const { method, step, ties } = requirement.rounding;
  if (method !== "round") return Number(limit);
  const steps = divideExact(exact(limit), exact(step));
  const down = steps.numerator / steps.denominator;
  const whole = steps.numerator % steps.denominator === 0n;
  // The multiple of the interval that is the last to conform, and whether a tie on its outer side comes to it.
  const last = side === "min" ? (whole ? down : down + 1n) : down;
  const tieIsMine = ties === "even" ? last % 2n === 0n : ties === "away" ? side === "min" : side === "max";
  const half = divideExact(exact(step), exact("2"));
  const edge = (side === "min" ? subtractExact : addExact)(multiplyExact(exact(last.toString()), exact(step)), half);
  if (tieIsMine) return toNumber(edge);
  return toNumber((side === "min" ? addExact : subtractExact)(edge, EXCLUSIVE));
}

/** Stands for a count that the rule leaves open. */
export const ANY_COUNT = 0;

/**
 * Largest tension where the specification names none, as the judgement holds it.
 * @source ISO 7800:2012 (2 % of nominal tensile strength x area; memory, high)
 */
const TENSION_SHARE = "0.02";

/** The rounding interval where ties go to even, for the figures beside the preview. */
const stepOf = ({ rounding: { method, step, ties } }: Requirement): number | string =>
  method === "round" && ties === "even" ? Number(step) : NOT_ASKED;

/** One row of the sheet Limits, in the workbook's units where a reading is compared as it is typed. */
export function limitsRow({ coil, order, verdict, conduct, freeLengthTolerance }: LimitsRow, units: UnitSystem): readonly DescribedCell[] {
  const length: Unit = units === "SI" ? "mm" : "in";
  const own = verdict.coils.find((c) => c.coil === coil.coil)?.requirements ?? [];
  // Two requirements of one property (the specification's and one agreed in addition) are left to the judgement.
  const asked = (property: string): Requirement | undefined => {
    const [first, second] = own.filter((r) => r.property === property && r.requirement.rounding !== undefined && hasRule(r.requirement));
    return second === undefined ? first?.requirement : undefined;
  };
  // A guarded rule needs the uncertainty of the instrument: no preview of what is measured.
  const measured = (property: string): Requirement | undefined => (order.decisionRule === "simple" ? asked(property) : undefined);
  const inLength = (m: Measure): number => toNumber(convertExact(exact(m.text), m.unit as Unit, length));
  const values = new Map<LimitColumn, string | number>();
  const set = (column: LimitColumn, value: string | number): void => void values.set(column, value);
  set("coil", coil.coil);
  set("order", order.order);
  set("item", order.item);
  set("specification", order.specification);
  set("grade", order.grade);
  set("nominal", inLength(order.nominalDiameter));

  const diameter = measured("diameter");
  if (diameter !== undefined && isUnit(diameter.unit)) {
    set("diameterFrom", passesFrom(diameter, "min"));
    set("diameterTo", passesFrom(diameter, "max"));
    set("diameterFactor", factor(length, diameter.unit));
    set("diameterStep", stepOf(diameter));
  }
  const outOfRound = measured("out-of-round");
  if (outOfRound !== undefined && isUnit(outOfRound.unit)) {
    set("outOfRoundTo", passesFrom(outOfRound, "max"));
    set("diameterFactor", factor(length, outOfRound.unit));
  }
  const strength = measured("tensile-strength");
  if (strength !== undefined && isUnit(strength.unit)) {
    set("strengthFrom", passesFrom(strength, "min"));
    set("strengthTo", passesFrom(strength, "max"));
    // N/mm2 is MPa; lbf/in2 is psi.
    set("strengthStep", stepOf(strength));
    set("strengthFactor", factor(units === "SI" ? "MPa" : "psi", strength.unit));
    set("areaDiameter", strength.conditions.area === "nominal" ? inLength(order.nominalDiameter) : "");
  }
  for (const [property, column] of [
    ["elongation", "elongationFrom"],
    ["reduction-of-area", "areaReductionFrom"],
  ] as const) {
    const requirement = measured(property);
    if (requirement !== undefined) set(column, passesFrom(requirement, "min"));
  }
  const torsion = asked("torsion");
  // What counts of a programme of forward and reverse turns is more than a cell can say.
  if (torsion !== undefined && torsion.torsionProgramme === undefined) {
    set("turnsFrom", torsion.min === undefined ? -NO_LIMIT : Number(torsion.min));
    set("turnsTo", torsion.max === undefined ? NO_LIMIT : Number(torsion.max));
    const free = torsion.conditions.freeLength;
    if (free !== undefined) {
      const tolerance = exact(conduct.freeLengthTolerance ?? freeLengthTolerance);
      const at = convertExact(exact(free.text), free.unit as Unit, length);
      const off = multiplyExact(at, tolerance);
      set("freeLength", toNumber(at));
      set("freeLengthShort", toNumber(subtractExact(at, off)));
      set("freeLengthLong", toNumber(addExact(at, off)));
    }
    set("scaled", conduct.torsionScalingAllowed && torsion.min !== undefined ? 1 : 0);
    const rule = conduct.torsionGripDistance;
    set(
      "gripDistance",
      rule.length === undefined
        ? toNumber(
            multiplyExact(
              exact(rule.timesDiameter ?? "2"),
              convertExact(exact(order.nominalDiameter.text), order.nominalDiameter.unit as Unit, length),
            ),
          )
        : inLength(rule.length),
    );
    set("speedTo", conduct.torsionMaximumSpeed === undefined ? NO_LIMIT : Number(conduct.torsionMaximumSpeed.text));
    const [least, most] = tensionBand();
    set("tensionFrom", least);
    set("tensionTo", most);
    if (conduct.torsionStraightening !== undefined) set("straightened", ` ${conduct.torsionStraightening.join(" ")} `);
  }
  const wrap = asked("wrap");
  if (wrap !== undefined) winding(wrap, "mandrelFrom", "mandrelTo", "wraps");
  set("wrapRateTo", conduct.wrapMaximumRate === undefined ? NO_LIMIT : Number(conduct.wrapMaximumRate));
  set("failsFrom", conduct.wrapFailsFrom);
  set("firstTurn", conduct.wrapFirstTurn);
  const adherence = asked("adherence");
  if (adherence !== undefined) winding(adherence, "adherenceMandrelFrom", "adherenceMandrelTo", "adherenceWraps");
  const coiling = asked("coiling");
  if (coiling !== undefined) winding(coiling, "coilingMandrelFrom", "coilingMandrelTo");
  const bends = asked("reverse-bend");
  if (bends !== undefined) {
    set("bendsFrom", bends.min === undefined ? -NO_LIMIT : Number(bends.min));
    set("bendsTo", bends.max === undefined ? NO_LIMIT : Number(bends.max));
    const band = tolerated(bends.conditions.radius);
    set("radiusFrom", band[0]);
    set("radiusTo", band[1]);
  }
  const coating = measured("coating-mass");
  if (coating !== undefined && isUnit(coating.unit)) {
    set("coatingFrom", passesFrom(coating, "min"));
    set("coatingTo", passesFrom(coating, "max"));
    // Stripped diameter in the workbook's unit, made millimetres; then g/m2 into the limit's unit.
    set("coatingFactor", factor(length, "mm") * Number(conduct.coatingConstant) * factor("g/m2", coating.unit));
    set("gasFactor", gasFactor() * factor("g/m2", coating.unit));
    set("coatingStep", stepOf(coating));
  }
  return LIMIT_COLUMNS.map((column) => ({
    value: values.get(column) ?? NOT_ASKED,
    style: typeof values.get(column) === "number" ? "limit" : "limitText",
  }));

  /** Forces in the workbook's unit, as the judgement takes them: the rule's own, else the share of the nominal strength. */
  function tensionBand(): readonly [number, number] {
    const force: Unit = units === "SI" ? "N" : "lbf";
    const band = conduct.torsionTension;
    if (band !== undefined)
      return [
        band.min === undefined ? -NO_LIMIT : convertNumber(band.min, force),
        band.max === undefined ? NO_LIMIT : convertNumber(band.max, force),
      ];
    const strength = own.find((r) => r.property === "tensile-strength" && r.requirement.agreedIn === undefined)?.requirement;
    if (strength?.min === undefined || !isUnit(strength.unit) || dimensionOf(strength.unit) !== "stress") return [-NO_LIMIT, NO_LIMIT];
    const share = Number(conduct.torsionMaximumTensionShare ?? TENSION_SHARE);
    return [-NO_LIMIT, forceAtShare({ text: strength.min, unit: strength.unit }, order.nominalDiameter, share, force)];
  }
  /** Millilitres at 273.15 K and 1013 mbar over the stripped surface, made grams a square metre. */
  function gasFactor(): number {
    const inMillimetres = factor(length, "mm");
    return ((ZINC_PER_ML * 273.15) / 1013 / 1000 / (Math.PI * inMillimetres * inMillimetres)) * 1e6;
  }
  function winding(requirement: Requirement, from: LimitColumn, to: LimitColumn, wraps?: LimitColumn): void {
    const { mandrelDiameter, mandrelDiameterMax } = requirement.conditions;
    set(from, tolerated(mandrelDiameter)[0]);
    set(to, tolerated(mandrelDiameterMax ?? mandrelDiameter)[1]);
    if (wraps !== undefined) set(wraps, requirement.conditions.wraps === undefined ? ANY_COUNT : Number(requirement.conditions.wraps.text));
  }
  function tolerated(mandrel: Measure | undefined): [number, number] {
    if (mandrel === undefined) return [-NO_LIMIT, NO_LIMIT];
    const at = convertExact(exact(mandrel.text), mandrel.unit as Unit, length);
    const off = multiplyExact(at, exact(conduct.mandrelTolerance));
    return [toNumber(subtractExact(at, off)), toNumber(addExact(at, off))];
  }
}

/** A requirement that the table answered; an unanswered one carries neither limit nor word nor condition. */
const hasRule = (r: Requirement): boolean =>
  r.min !== undefined || r.max !== undefined || r.word !== undefined || Object.keys(r.conditions).length > 0;

function factor(from: Unit, to: Unit): number {
  if (dimensionOf(from) !== dimensionOf(to)) throw new RangeError(`${from} and ${to} are not of one dimension`);
  return compareExact(convertExact(exact("1"), from, to), exact("1")) === 0 ? 1 : convertNumber({ text: "1", unit: from }, to);
}

/** The sheet: figures only, protected, to be filtered and looked up in. */
export function limitsSheet(verdicts: readonly OrderVerdict[], bench: BenchOrder, say: Say): DescribedSheet {
  const rows: Rows = new Map<number, Map<number, DescribedCell>>([
    [1, new Map([[1, { value: say("bench.limits.title"), style: "title" }]])],
    [2, new Map([[1, { value: say("bench.limits.intro"), style: "note" }]])],
    [
      HEADER_ROW,
      rowOfValues(
        LIMIT_COLUMNS.map((name) => say(`limits.${name}`)),
        "header",
      ),
    ],
  ]);
  const key = (order: string, item: string): string => `${order}\u0000${item}`;
  const orders = new Map(bench.orders.map((o) => [key(o.order, o.item), o]));
  const judged = new Map(verdicts.map((v) => [key(v.order, v.item), v]));
  let last = HEADER_ROW;
  for (const coil of bench.coils) {
    const order = orders.get(key(coil.order, coil.item));
    const verdict = judged.get(key(coil.order, coil.item));
    const view = order === undefined ? undefined : bench.library.find(order.specification, order.edition);
    if (order === undefined || verdict === undefined || view === undefined) continue;
    const conduct = view.conduct(order.nominalDiameter);
    const cells = limitsRow({ coil, order, verdict, conduct, freeLengthTolerance: bench.freeLengthTolerance }, bench.units);
    last += 1;
    rows.set(last, new Map(cells.map((cell, i) => [i + 1, cell])));
  }
  const name = say("bench.sheet.limits");
  return {
    name,
    rows,
    widths: Object.fromEntries(LIMIT_COLUMNS.map((_, i) => [i + 1, i < 5 ? 14 : 12])),
    heights: { 1: TITLE_HEIGHT, [HEADER_ROW]: 30 },
    freezeRows: HEADER_ROW,
    freezeColumns: 1,
    protect: true,
    filter: `A${HEADER_ROW}:${columnLetters(LIMIT_COLUMNS.length)}${Math.max(last, HEADER_ROW + 1)}`,
    print: { paper: bench.paper, landscape: true, repeatRows: `$${HEADER_ROW}:$${HEADER_ROW}`, footer: `${bench.labName} · ${name}` },
  };
}
