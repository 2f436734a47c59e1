/**
 * The sheet Limits: one row a coil, with every figure the live formulas look up. Limits stand as the smallest and largest unrounded
 * value that the rounding rule still lets pass, so that a formula compares and never rounds to even.
 */
import { addExact, compareExact, divideExact, exact, multiplyExact, subtractExact, toNumber } from "../../core/decimal.ts";
import type { Coil, ConductRules, Measure, OrderItem, OrderVerdict, Requirement, UnitSystem } from "../../core/model.ts";
import { convertExact, convertNumber, dimensionOf, isUnit, type Unit } from "../../core/quantity.ts";
import type { DescribedCell } from "../../core/workbook/index.ts";

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
  "strengthFrom",
  "strengthTo",
  "strengthFactor",
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
  "mandrelFrom",
  "mandrelTo",
  "wraps",
  "failsFrom",
  "firstTurn",
  "adherenceMandrelFrom",
  "adherenceMandrelTo",
  "adherenceWraps",
  "coilingMandrelFrom",
  "coilingMandrelTo",
  "bendsFrom",
  "radiusFrom",
  "radiusTo",
  "coatingFrom",
  "coatingTo",
  "coatingFactor",
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

/** One row of the sheet Limits, in the workbook's units where a reading is compared as it is typed. */
export function limitsRow({ coil, order, verdict, conduct, freeLengthTolerance }: LimitsRow, units: UnitSystem): readonly DescribedCell[] {
  const length: Unit = units === "SI" ? "mm" : "in";
  const own = verdict.coils.find((c) => c.coil === coil.coil)?.requirements ?? [];
  const asked = (property: string): Requirement | undefined =>
    own.find((r) => r.property === property && r.requirement.rounding !== undefined && hasRule(r.requirement))?.requirement;
  const inLength = (m: Measure): number => toNumber(convertExact(exact(m.text), m.unit as Unit, length));
  const values = new Map<LimitColumn, string | number>();
  const set = (column: LimitColumn, value: string | number): void => void values.set(column, value);
  set("coil", coil.coil);
  set("order", order.order);
  set("item", order.item);
  set("specification", order.specification);
  set("grade", order.grade);
  set("nominal", inLength(order.nominalDiameter));

  const diameter = asked("diameter");
  if (diameter !== undefined && isUnit(diameter.unit)) {
    set("diameterFrom", passesFrom(diameter, "min"));
    set("diameterTo", passesFrom(diameter, "max"));
    set("diameterFactor", factor(length, diameter.unit));
  }
  const outOfRound = asked("out-of-round");
  if (outOfRound !== undefined && isUnit(outOfRound.unit)) {
    set("outOfRoundTo", passesFrom(outOfRound, "max"));
    set("diameterFactor", factor(length, outOfRound.unit));
  }
  const strength = asked("tensile-strength");
  if (strength !== undefined && isUnit(strength.unit)) {
    set("strengthFrom", passesFrom(strength, "min"));
    set("strengthTo", passesFrom(strength, "max"));
    // N/mm2 is MPa; lbf/in2 is psi.
    set("strengthFactor", factor(units === "SI" ? "MPa" : "psi", strength.unit));
    set("areaDiameter", strength.conditions.area === "nominal" ? inLength(order.nominalDiameter) : "");
  }
  for (const [property, column] of [
    ["elongation", "elongationFrom"],
    ["reduction-of-area", "areaReductionFrom"],
  ] as const) {
    const requirement = asked(property);
    if (requirement !== undefined) set(column, passesFrom(requirement, "min"));
  }
  const torsion = asked("torsion");
  if (torsion !== undefined) {
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
    set("scaled", conduct.torsionScalingAllowed ? 1 : 0);
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
  }
  const wrap = asked("wrap");
  if (wrap !== undefined) winding(wrap, "mandrelFrom", "mandrelTo", "wraps");
  set("failsFrom", conduct.wrapFailsFrom);
  set("firstTurn", conduct.wrapFirstTurn);
  const adherence = asked("adherence");
  if (adherence !== undefined) winding(adherence, "adherenceMandrelFrom", "adherenceMandrelTo", "adherenceWraps");
  const coiling = asked("coiling");
  if (coiling !== undefined) winding(coiling, "coilingMandrelFrom", "coilingMandrelTo");
  const bends = asked("reverse-bend");
  if (bends !== undefined) {
    set("bendsFrom", bends.min === undefined ? -NO_LIMIT : Number(bends.min));
    const band = tolerated(bends.conditions.radius);
    set("radiusFrom", band[0]);
    set("radiusTo", band[1]);
  }
  const coating = asked("coating-mass");
  if (coating !== undefined && isUnit(coating.unit)) {
    set("coatingFrom", passesFrom(coating, "min"));
    set("coatingTo", passesFrom(coating, "max"));
    // Stripped diameter in the workbook's unit, made millimetres; then g/m2 into the limit's unit.
    set("coatingFactor", factor(length, "mm") * Number(conduct.coatingConstant) * factor("g/m2", coating.unit));
  }
  return LIMIT_COLUMNS.map((column) => ({
    value: values.get(column) ?? NOT_ASKED,
    style: typeof values.get(column) === "number" ? "limit" : "limitText",
  }));

  function winding(requirement: Requirement, from: LimitColumn, to: LimitColumn, wraps?: LimitColumn): void {
    const { mandrelDiameter, mandrelDiameterMax } = requirement.conditions;
    set(from, tolerated(mandrelDiameter)[0]);
    set(to, tolerated(mandrelDiameterMax ?? mandrelDiameter)[1]);
    if (wraps !== undefined) set(wraps, requirement.conditions.wraps === undefined ? NOT_ASKED : Number(requirement.conditions.wraps.text));
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
