import { CalcError } from "../calc-error.ts";
import { addExact, compareExact, divideExact, type Exact, exact, multiplyExact, subtractExact, toDecimalText } from "../decimal.ts";
import type { Conditions, Provenance } from "../model.ts";
import { convertExact, type Measure, measure, type Unit } from "../quantity.ts";
import { decimalPlaces, roundToStep } from "../rounding.ts";
import type { LengthRule, Table, TableRow } from "./schema.ts";

/** What a table says of one grade at one diameter. Limits are decimal text; interpolated ones have at most 15 digits. */
export interface Selected {
  readonly table: Table;
  readonly min?: string;
  readonly max?: string;
  readonly conditions: Conditions;
  readonly row: string;
  readonly rule: string;
  readonly provenance: Provenance;
  readonly indicative: boolean;
}

const WORST: readonly Provenance[] = ["memory", "read", "own"];
/** The least trustworthy of several. */
export const worstProvenance = (...list: readonly (Provenance | undefined)[]): Provenance => WORST.find((p) => list.includes(p)) ?? "own";

/**
 * The table's answer.
 * @param nominal nominal diameter; converted exactly where the table is in the other unit
 * @throws CalcError `no-rule` for a hole (never the neighbour), `outside-scope` beyond the table
 */
export function selectRow(table: Table, grade: string, nominal: Measure): Selected {
  const d = diameterFor(table, nominal);
  const concerns = (row: TableRow): boolean => row.grades === undefined || row.grades.includes(grade);
  if (table.between === "bands") {
    const row = table.rows.find((candidate) => concerns(candidate) && holds(candidate, d));
    if (row === undefined) throw missing(table, isHole(table.rows.filter(concerns), d), nominal);
    if (row.undecided) throw undecided(table, row, nominal);
    return selected(table, nominal, [row], row.min, row.max, bandText(row, table.diameterUnit), "");
  }
  return selectSize(table, nominal, d, concerns);
}

function selectSize(table: Table, nominal: Measure, d: Exact, concerns: (row: TableRow) => boolean): Selected {
  const sizes = [...new Set(table.rows.map((row) => row.size ?? ""))].sort((a, b) => compareExact(exact(a), exact(b)));
  // "1.0" of one grade and "1.00" of another are one size.
  const rowAt = (size: string): TableRow | undefined =>
    table.rows.find((row) => row.size !== undefined && compareExact(exact(row.size), exact(size)) === 0 && concerns(row));
  const equal = sizes.find((size) => compareExact(exact(size), d) === 0);
  const below = sizes.findLast((size) => compareExact(exact(size), d) < 0);
  const above = sizes.find((size) => compareExact(exact(size), d) > 0);
  const unit = table.diameterUnit;
  const own = table.rows.filter(concerns);
  // A rule that takes the next smaller size has no upper end: a grade's empty cell up there is a hole.
  const hole = isHole(own, d) || (table.between === "next-smaller" && own.some((row) => endsBelow(row, d)));
  const one = (size: string, rule: string): Selected => {
    const row = rowAt(size);
    if (row === undefined) throw missing(table, hole, nominal);
    if (row.undecided) throw undecided(table, row, nominal);
    const found = selected(table, nominal, [row], row.min, row.max, `${size} ${unit}`, rule);
    return rule === "" ? found : { ...found, provenance: worstProvenance(found.provenance, table.betweenProvenance) };
  };
  if (equal !== undefined) return one(equal, "");
  if (table.between === "next-smaller" && below !== undefined) return one(below, `next smaller tabulated diameter, ${below} ${unit}`);
  // A grade that starts at a larger size than the table does not reach down to the other grades' sizes.
  if (below === undefined || above === undefined || !own.some((row) => endsBelow(row, d))) throw missing(table, false, nominal);
  if (table.between === "next-larger") return one(above, `next larger tabulated diameter, ${above} ${unit}`);
  if (table.between !== "linear") throw missing(table, hole, nominal);
  const [low, high] = [rowAt(below), rowAt(above)];
  if (low === undefined || high === undefined) throw missing(table, hole, nominal);
  for (const row of [low, high]) if (row.undecided) throw undecided(table, row, nominal);
  const share = divideExact(subtractExact(d, exact(below)), subtractExact(exact(above), exact(below)));
  const rule = `linear between ${below} and ${above} ${unit}`;
  const found = selected(
    table,
    nominal,
    [low, high],
    between(low.min, high.min, share),
    between(low.max, high.max, share),
    `${below} and ${above} ${unit}`,
    rule,
  );
  return { ...found, provenance: worstProvenance(found.provenance, table.betweenProvenance) };
}

function between(low: string | undefined, high: string | undefined, share: Exact): string | undefined {
  if (low === undefined || high === undefined) return undefined;
  return toDecimalText(addExact(exact(low), multiplyExact(subtractExact(exact(high), exact(low)), share)), 15);
}

function diameterFor(table: Table, nominal: Measure): Exact {
  const d = convertExact(exact(nominal.text), nominal.unit as Unit, table.diameterUnit);
  if (table.places === undefined) return d;
  return exact(roundToStep(d, table.places === 0 ? "1" : `0.${"0".repeat(table.places - 1)}1`, "even"));
}

function holds(row: TableRow, d: Exact): boolean {
  if (row.size !== undefined) return compareExact(d, exact(row.size)) === 0;
  return (
    (row.over === undefined || compareExact(d, exact(row.over)) > 0) &&
    (row.from === undefined || compareExact(d, exact(row.from)) >= 0) &&
    (row.upTo === undefined || compareExact(d, exact(row.upTo)) <= 0) &&
    (row.below === undefined || compareExact(d, exact(row.below)) < 0)
  );
}

/** The whole range of the row lies below `d`. */
function endsBelow(row: TableRow, d: Exact): boolean {
  const end = row.size ?? row.upTo;
  if (end !== undefined) return compareExact(exact(end), d) < 0;
  return row.below !== undefined && compareExact(exact(row.below), d) <= 0;
}

/** The whole range of the row lies above `d`. */
function startsAbove(row: TableRow, d: Exact): boolean {
  const start = row.size ?? row.from;
  if (start !== undefined) return compareExact(exact(start), d) > 0;
  return row.over !== undefined && compareExact(exact(row.over), d) >= 0;
}

/** Between two rows of the grade and in none: a hole. Beyond them the diameter is outside the rule. */
const isHole = (rows: readonly TableRow[], d: Exact): boolean =>
  rows.some((row) => endsBelow(row, d)) && rows.some((row) => startsAbove(row, d));

function undecided(table: Table, row: TableRow, nominal: Measure): CalcError {
  const range = bandText(row, table.diameterUnit);
  return new CalcError(
    "no-rule",
    `the reference does not decide ${table.property} (${table.clause}) at ${nominal.text} ${nominal.unit} (${range}); a person must`,
  );
}

function missing(table: Table, hole: boolean, nominal: Measure): CalcError {
  const at = `${nominal.text} ${nominal.unit}`;
  return hole
    ? new CalcError("no-rule", `the table of ${table.property} (${table.clause}) has no figure at ${at}`)
    : new CalcError("outside-scope", `${at} lies outside the table of ${table.property} (${table.clause})`);
}

function bandText(row: TableRow, unit: string): string {
  if (row.size !== undefined) return `${row.size} ${unit}`;
  const start = row.over !== undefined ? `over ${row.over}` : row.from !== undefined ? `from ${row.from}` : "";
  const end = row.upTo !== undefined ? `up to ${row.upTo}` : row.below !== undefined ? `below ${row.below}` : "";
  const text = [start, end].filter((part) => part !== "").join(" ");
  return text === "" ? "all sizes" : `${text} ${unit}`;
}

function selected(
  table: Table,
  nominal: Measure,
  rows: readonly TableRow[],
  min: string | undefined,
  max: string | undefined,
  row: string,
  rule: string,
): Selected {
  const first = rows[0];
  const limits =
    first?.plusMinus === undefined
      ? { ...(min === undefined ? {} : { min }), ...(max === undefined ? {} : { max }) }
      : toleranceAbout(nominal, first.plusMinus, table);
  const conditions: { -readonly [K in keyof Conditions]: Conditions[K] } = {};
  if (table.freeLength) conditions.freeLength = lengthAt(table.freeLength, nominal);
  if (table.gaugeLength) conditions.gaugeLength = lengthAt(table.gaugeLength, nominal);
  const mandrel = first?.mandrelTimes === undefined ? table.mandrel : { times: first.mandrelTimes };
  if (mandrel) conditions.mandrelDiameter = lengthAt(mandrel, nominal);
  if (table.mandrelMax) conditions.mandrelDiameterMax = lengthAt(table.mandrelMax, nominal);
  if (table.wraps !== undefined) conditions.wraps = measure(table.wraps, "wraps");
  if (table.area) conditions.area = table.area;
  if (first?.radius) conditions.radius = parseLength(first.radius);
  return {
    table,
    ...limits,
    conditions,
    row,
    rule,
    provenance: worstProvenance(...rows.map((r) => r.provenance), table.freeLength?.provenance),
    indicative: rows.some((r) => r.indicative === true),
  };
}

/** Nominal ∓ tolerance in the table's unit, to the places in which the tolerance is printed: 2.00 ∓ 0.020 is 1.980 and 2.020. */
function toleranceAbout(nominal: Measure, plusMinus: string, table: Table): { min: string; max: string } {
  const d = convertExact(exact(nominal.text), nominal.unit as Unit, table.diameterUnit);
  const printed = (value: Exact): string => {
    const text = toDecimalText(value, 15);
    const missing = decimalPlaces(plusMinus) - decimalPlaces(text);
    return missing <= 0 ? text : `${text}${text.includes(".") ? "" : "."}${"0".repeat(missing)}`;
  };
  return { min: printed(subtractExact(d, exact(plusMinus))), max: printed(addExact(d, exact(plusMinus))) };
}

export function parseLength(text: string): Measure {
  const [number = "", unit = ""] = text.split(" ");
  return measure(number, unit as Unit);
}

/** A length rule at a diameter, in the diameter's unit. */
export function lengthAt(rule: LengthRule, nominal: Measure): Measure {
  const unit = nominal.unit as Unit;
  const inUnit = (text: string): Exact => {
    const length = parseLength(text);
    return convertExact(exact(length.text), length.unit as Unit, unit);
  };
  if (rule.fixed !== undefined) return measure(toDecimalText(inUnit(rule.fixed), 15), unit);
  let length = multiplyExact(exact(nominal.text), exact(rule.times ?? "1"));
  if (rule.atLeast !== undefined && compareExact(length, inUnit(rule.atLeast)) < 0) length = inUnit(rule.atLeast);
  if (rule.atMost !== undefined && compareExact(length, inUnit(rule.atMost)) > 0) length = inUnit(rule.atMost);
  return measure(toDecimalText(length, 15), unit);
}
