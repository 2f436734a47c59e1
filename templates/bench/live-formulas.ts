/**
 * The provisional verdict of a row as one formula, from the row's own cells and the row of its coil on the sheet Limits.
 * Only IF, IFERROR, AND, OR, NOT, ISNUMBER, INT, ROUND, PI, INDEX and MATCH are used: every spreadsheet program answers them alike.
 * It is a preview; the judgement decides.
 */
import type { TestSheet } from "../../core/model.ts";
import { columnLetters } from "../../core/workbook/index.ts";
import { LIMIT_COLUMNS, type LimitColumn } from "./limits-sheet.ts";

export interface FormulaPlace {
  /** Row number. */
  readonly row: number;
  /** Column letters by field. */
  readonly columns: Readonly<Record<string, string>>;
  readonly limits: { readonly sheet: string; readonly firstRow: number; readonly lastRow: number };
}

/** The formula without its equals sign; undefined for a sheet without a live verdict. */
export function liveFormula(sheet: TestSheet, place: FormulaPlace): string | undefined {
  const rule = RULES[sheet];
  if (rule === undefined) return undefined;
  const cell = (field: string): string => `$${place.columns[field] ?? "A"}${place.row}`;
  const { sheet: name, firstRow, lastRow } = place.limits;
  const range = (column: string): string => `'${name}'!$${column}$${firstRow}:$${column}$${lastRow}`;
  const coilRow = `MATCH(${cell("coil")},${range("A")},0)`;
  const limit = (column: LimitColumn): string => `INDEX(${range(columnLetters(LIMIT_COLUMNS.indexOf(column) + 1))},${coilRow})`;
  return `IFERROR(IF(OR(${cell("coil")}="",${cell("role")}="check"),"",${rule({ cell, limit })}),"")`;
}

interface Words {
  readonly cell: (field: string) => string;
  readonly limit: (column: LimitColumn) => string;
}

const PASS = '"conforms"';
const FAIL = '"does-not-conform"';
const VOID = '"void"';
const NOTHING = '""';

const when = (condition: string, then: string, otherwise: string): string => `IF(${condition},${then},${otherwise})`;
const and = (...parts: readonly string[]): string => `AND(${parts.join(",")})`;
const or = (...parts: readonly string[]): string => `OR(${parts.join(",")})`;
const number = (cell: string): string => `ISNUMBER(${cell})`;
/** Nine places, so that the last bit of a quotient decides nothing. */
const atLeast = (value: string, limit: string): string => `ROUND((${value})-${limit},9)>=0`;
const atMost = (value: string, limit: string): string => `ROUND(${limit}-(${value}),9)>=0`;

/** An incomplete row shows nothing, a piece set aside is void, the rest is judged. */
const judged = ({ cell }: Words, complete: readonly string[], verdict: string): string =>
  when(`NOT(${and(...complete)})`, NOTHING, when(`${cell("setAside")}<>""`, VOID, verdict));

/** A pass under an easier condition is void; a failure under a harder one is void. */
const directed = (passes: string, easier: string, harder: string): string =>
  when(passes, when(easier, VOID, PASS), when(harder, VOID, FAIL));

type Rule = (words: Words) => string;

const diameter: Rule = (words) => {
  const { cell, limit } = words;
  const k = limit("diameterFactor");
  const inside = and(atMost(`${cell("largest")}*${k}`, limit("diameterTo")), atLeast(`${cell("smallest")}*${k}`, limit("diameterFrom")));
  const round = atMost(`(${cell("largest")}-${cell("smallest")})*${k}`, limit("outOfRoundTo"));
  // A specification may ask for one of the two only.
  const verdict = when(and(`IFERROR(${inside},TRUE)`, `IFERROR(${round},TRUE)`), PASS, FAIL);
  return judged(words, [number(cell("largest")), number(cell("smallest")), number(k)], verdict);
};

const tensile: Rule = (words) => {
  const { cell, limit } = words;
  const d = when(number(limit("areaDiameter")), limit("areaDiameter"), cell("diameter"));
  const strength = `${cell("maximumForce")}*4/(PI()*(${d})^2)*${limit("strengthFactor")}`;
  const above = `IFERROR(NOT(${atMost(strength, limit("strengthTo"))}),FALSE)`;
  const lowStrength = `IFERROR(NOT(${atLeast(strength, limit("strengthFrom"))}),FALSE)`;
  const lowElongation = `IFERROR(IF(${number(cell("elongation"))},NOT(${atLeast(cell("elongation"), limit("elongationFrom"))}),FALSE),FALSE)`;
  const reduction = `100*(1-(${cell("diameterAfter")}/${cell("diameter")})^2)`;
  const lowReduction = `IFERROR(IF(${number(cell("diameterAfter"))},NOT(${atLeast(reduction, limit("areaReductionFrom"))}),FALSE),FALSE)`;
  const low = or(lowStrength, lowElongation, lowReduction);
  const verdict = when(above, FAIL, when(low, when(`${cell("breakAt")}="grip"`, VOID, FAIL), PASS));
  return judged(words, [number(cell("maximumForce")), number(cell("diameter")), number(limit("strengthFactor"))], verdict);
};

const torsion: Rule = (words) => {
  const { cell, limit } = words;
  const length = cell("freeLength");
  const short = and(number(limit("freeLength")), `NOT(${atLeast(length, limit("freeLengthShort"))})`);
  const long = and(number(limit("freeLength")), `NOT(${atMost(length, limit("freeLengthLong"))})`);
  const scaling = `${limit("scaled")}=1`;
  const least = when(and(scaling, or(short, long)), `${limit("turnsFrom")}*${length}/${limit("freeLength")}`, limit("turnsFrom"));
  const passes = and(atLeast(`INT(${cell("turns")})`, least), atMost(`INT(${cell("turns")})`, limit("turnsTo")));
  const grip = when(number(cell("fractureFromGrip")), `${cell("fractureFromGrip")}<${limit("gripDistance")}`, `${cell("breakAt")}="grip"`);
  const fast = `${cell("speed")}>${limit("speedTo")}`;
  const easier = and(`NOT(${scaling})`, long);
  const harder = or(and(`NOT(${scaling})`, short), grip, `${cell("breakAt")}="none"`, and(number(cell("speed")), fast));
  return judged(words, [number(cell("turns")), number(length), number(limit("turnsFrom"))], directed(passes, easier, harder));
};

const wrap: Rule = (words) => {
  const { cell, limit } = words;
  const mandrel = cell("mandrelDiameter");
  const band = (from: LimitColumn, to: LimitColumn, wraps: LimitColumn) => ({
    easier: or(`NOT(${atMost(mandrel, limit(to))})`, `${cell("wraps")}<${limit(wraps)}`),
    harder: or(`NOT(${atLeast(mandrel, limit(from))})`, `${cell("wraps")}>${limit(wraps)}`),
  });
  const cracks = cell("cracks");
  const inFirst = and(number(cell("firstCrackTurn")), `${cell("firstCrackTurn")}<=1`);
  const fails = or(
    `${cracks}="broken"`,
    and(`${cracks}="visible"`, `${limit("failsFrom")}="visible"`, `NOT(${and(inFirst, `${limit("firstTurn")}="passes"`)})`),
  );
  const own = band("mandrelFrom", "mandrelTo", "wraps");
  const starting = and(inFirst, `${limit("firstTurn")}="void-once"`);
  const ductility = when(`NOT(${number(limit("wraps"))})`, NOTHING, directed(`NOT(${fails})`, own.easier, or(own.harder, starting)));
  const other = band("adherenceMandrelFrom", "adherenceMandrelTo", "adherenceWraps");
  const coating = cell("coating");
  const adherence = when(
    or(`NOT(${number(limit("adherenceWraps"))})`, `NOT(${or(`${coating}="sound"`, `${coating}="comes-off"`)})`),
    NOTHING,
    directed(`${coating}="sound"`, other.easier, other.harder),
  );
  return judged(
    words,
    [number(mandrel), number(cell("wraps")), `${cracks}<>""`],
    when(`${cell("purpose")}="ductility"`, ductility, when(`${cell("purpose")}="adherence"`, adherence, NOTHING)),
  );
};

const coiling: Rule = (words) => {
  const { cell, limit } = words;
  const mandrel = cell("mandrelDiameter");
  const passes = and(`${cell("cracks")}="none"`, `${cell("evenPitch")}<>"no"`);
  const easier = `NOT(${atMost(mandrel, limit("coilingMandrelTo"))})`;
  const harder = `NOT(${atLeast(mandrel, limit("coilingMandrelFrom"))})`;
  const open = and(`${cell("cracks")}="none"`, `${cell("evenPitch")}=""`);
  return judged(
    words,
    [number(mandrel), `${cell("cracks")}<>""`, number(limit("coilingMandrelFrom"))],
    when(open, NOTHING, directed(passes, easier, harder)),
  );
};

const reverseBend: Rule = (words) => {
  const { cell, limit } = words;
  const passes = atLeast(`INT(${cell("bends")})`, limit("bendsFrom"));
  const easier = `NOT(${atMost(cell("radius"), limit("radiusTo"))})`;
  const harder = or(`NOT(${atLeast(cell("radius"), limit("radiusFrom"))})`, `${cell("breakAt")}="grip"`, `${cell("breakAt")}="none"`);
  return judged(words, [number(cell("bends")), number(cell("radius")), number(limit("bendsFrom"))], directed(passes, easier, harder));
};

const coatingMass: Rule = (words) => {
  const { cell, limit } = words;
  const mass = `(${cell("massBefore")}-${cell("massAfter")})/${cell("massAfter")}*${cell("strippedDiameter")}*${limit("coatingFactor")}`;
  const inside = and(atLeast(mass, limit("coatingFrom")), atMost(mass, limit("coatingTo")));
  return judged(
    words,
    [`${cell("method")}="strip"`, number(cell("massBefore")), number(cell("massAfter")), number(cell("strippedDiameter"))],
    when(inside, PASS, FAIL),
  );
};

const RULES: Partial<Record<TestSheet, Rule>> = {
  diameter,
  tensile,
  torsion,
  wrap,
  coiling,
  "reverse-bend": reverseBend,
  "coating-mass": coatingMass,
};
