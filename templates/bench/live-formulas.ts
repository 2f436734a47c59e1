/**
 * The provisional verdict of a row as one formula, from the row's own cells and the row of its coil on the sheet Limits, and the figures
 * behind it. Only IF, IFERROR, AND, OR, NOT, ISNUMBER, INT, MOD, ROUND, PI, SEARCH, INDEX and MATCH are used: every spreadsheet program
 * answers them alike. It is a preview; the judgement decides, and where a preview cannot tell it shows nothing.
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
  const words = wordsAt(place);
  const { cell } = words;
  return `IFERROR(IF(OR(${cell("coil")}="",${cell("role")}="check"),"",${rule(words)}),"")`;
}

/**
 * The unrounded figure and the compared one beside the preview: "2069.01 → compared 2069". Undefined for a sheet judged by eye.
 * @param text holds `{value}` and `{compared}`
 */
export function liveFigures(sheet: TestSheet, place: FormulaPlace, text: string): string | undefined {
  const figures = FIGURES[sheet];
  if (figures === undefined) return undefined;
  const words = wordsAt(place);
  const { known, pairs } = figures(words);
  const shown = pairs.map(({ value, compared }) =>
    text
      .split(/(\{value\}|\{compared\})/)
      .filter((part) => part !== "")
      .map((part) => (part === "{value}" ? `ROUND(${value},6)` : part === "{compared}" ? compared : `"${part.replaceAll('"', '""')}"`))
      .join("&"),
  );
  return `IFERROR(IF(${and(`${words.cell("coil")}<>""`, known)},${shown.join('&"; "&')},""),"")`;
}

interface Words {
  readonly cell: (field: string) => string;
  readonly limit: (column: LimitColumn) => string;
}

function wordsAt({ row, columns, limits: { sheet, firstRow, lastRow } }: FormulaPlace): Words {
  const cell = (field: string): string => `$${columns[field] ?? "A"}${row}`;
  const range = (column: string): string => `'${sheet}'!$${column}$${firstRow}:$${column}$${lastRow}`;
  const coilRow = `MATCH(${cell("coil")},${range("A")},0)`;
  return { cell, limit: (column) => `INDEX(${range(columnLetters(LIMIT_COLUMNS.indexOf(column) + 1))},${coilRow})` };
}

const PASS = '"conforms"';
const FAIL = '"does-not-conform"';
const VOID = '"void"';
const NOTHING = '""';

const when = (condition: string, then: string, otherwise: string): string => `IF(${condition},${then},${otherwise})`;
const and = (...parts: readonly string[]): string => `AND(${parts.join(",")})`;
const or = (...parts: readonly string[]): string => `OR(${parts.join(",")})`;
const not = (part: string): string => `NOT(${part})`;
const number = (cell: string): string => `ISNUMBER(${cell})`;
/** Nine places, so that the last bit of a quotient decides nothing. */
const atLeast = (value: string, limit: string): string => `ROUND((${value})-${limit},9)>=0`;
const atMost = (value: string, limit: string): string => `ROUND(${limit}-(${value}),9)>=0`;

/** An incomplete row shows nothing, a piece set aside is void, the rest is judged. */
const judged = ({ cell }: Words, complete: readonly string[], verdict: string): string =>
  when(not(and(...complete)), NOTHING, when(`${cell("setAside")}<>""`, VOID, verdict));

/** A pass under an easier condition is void; a failure under a harder one is void. */
const directed = (passes: string, easier: string, harder: string): string =>
  when(passes, when(easier, VOID, PASS), when(harder, VOID, FAIL));

/** What a person has yet to decide is no pass, so a harder condition makes it void; otherwise nothing is shown. */
const open = (harder: string): string => when(harder, VOID, NOTHING);

type Rule = (words: Words) => string;

const COATINGS = ["sound", "cracked-firm", "dust-only", "comes-off", "uncoated"] as const;

const diameter: Rule = (words) => {
  const { cell, limit } = words;
  const k = limit("diameterFactor");
  const inside = and(atMost(`${cell("largest")}*${k}`, limit("diameterTo")), atLeast(`${cell("smallest")}*${k}`, limit("diameterFrom")));
  const round = atMost(`(${cell("largest")}-${cell("smallest")})*${k}`, limit("outOfRoundTo"));
  // A specification may ask for one of the two only.
  const verdict = when(and(`IFERROR(${inside},TRUE)`, `IFERROR(${round},TRUE)`), PASS, FAIL);
  return judged(words, [number(cell("largest")), number(cell("smallest")), number(k)], verdict);
};

const strengthOf = ({ cell, limit }: Words): string => {
  const d = when(number(limit("areaDiameter")), limit("areaDiameter"), cell("diameter"));
  return `${cell("maximumForce")}*4/(PI()*(${d})^2)*${limit("strengthFactor")}`;
};

const tensile: Rule = (words) => {
  const { cell, limit } = words;
  const strength = strengthOf(words);
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
  const short = and(number(limit("freeLength")), not(atLeast(length, limit("freeLengthShort"))));
  const long = and(number(limit("freeLength")), not(atMost(length, limit("freeLengthLong"))));
  const scaling = `${limit("scaled")}=1`;
  const least = when(and(scaling, or(short, long)), `${limit("turnsFrom")}*${length}/${limit("freeLength")}`, limit("turnsFrom"));
  const enough = atLeast(`INT(${cell("turns")})`, least);
  const passes = and(enough, atMost(`INT(${cell("turns")})`, limit("turnsTo")));
  const distance = cell("fractureFromGrip");
  const near = not(atLeast(distance, limit("gripDistance")));
  const broke = cell("breakAt");
  const contradicts = and(number(distance), or(`${broke}="none"`, and(`${broke}="grip"`, not(near)), and(`${broke}="clear"`, near)));
  const grip = when(number(distance), near, `${broke}="grip"`);
  const fast = and(number(cell("speed")), `${cell("speed")}>${limit("speedTo")}`);
  const easier = and(not(scaling), long);
  const harder = or(and(not(scaling), short), grip, fast, and(`${broke}="none"`, not(enough)));
  const tension = and(
    number(cell("tension")),
    or(`ROUND(${cell("tension")}-${limit("tensionTo")}*1.000000001,9)>0`, not(atLeast(cell("tension"), limit("tensionFrom")))),
  );
  const ways = limit("straightened");
  const bent = and(`${cell("straightened")}<>""`, `${ways}<>"–"`, not(number(`SEARCH(" "&${cell("straightened")}&" ",${ways})`)));
  const verdict = when(contradicts, NOTHING, when(or(tension, bent), VOID, directed(passes, easier, harder)));
  const complete = [number(cell("turns")), number(length), number(limit("turnsFrom"))];
  // A contradicting row is no result, whatever else it says.
  return when(and(...complete, contradicts), NOTHING, judged(words, complete, verdict));
};

const wrap: Rule = (words) => {
  const { cell, limit } = words;
  const mandrel = cell("mandrelDiameter");
  const band = (from: LimitColumn, to: LimitColumn, wraps: LimitColumn) => ({
    easier: or(not(atMost(mandrel, limit(to))), and(`${limit(wraps)}>0`, `${cell("wraps")}<${limit(wraps)}`)),
    harder: or(
      not(atLeast(mandrel, limit(from))),
      and(`${limit(wraps)}>0`, `${cell("wraps")}>${limit(wraps)}`),
      and(number(cell("rate")), `${cell("rate")}>${limit("wrapRateTo")}`),
    ),
  });
  const cracks = cell("cracks");
  const inFirst = and(number(cell("firstCrackTurn")), `${cell("firstCrackTurn")}<=1`);
  const fails = or(
    `${cracks}="broken"`,
    and(`${cracks}="visible"`, `${limit("failsFrom")}="visible"`, not(and(inFirst, `${limit("firstTurn")}="passes"`))),
  );
  const own = band("mandrelFrom", "mandrelTo", "wraps");
  const starting = and(inFirst, `${limit("firstTurn")}="void-once"`);
  const ductility = judged(words, [number(limit("wraps"))], directed(not(fails), own.easier, or(own.harder, starting)));
  const other = band("adherenceMandrelFrom", "adherenceMandrelTo", "adherenceWraps");
  const coating = cell("coating");
  const look = cell("secondLook");
  const alone = or(`${coating}="sound"`, `${coating}="comes-off"`);
  const decided = and(`${coating}<>""`, or(alone, `${look}<>""`));
  // A second look that is one of the words decides by it; any other text confirms the first word.
  const looked = or(...COATINGS.map((word) => `${look}="${word}"`));
  const comesOff = (seen: string): string => or(`${seen}="comes-off"`, `${seen}="uncoated"`);
  const holds = not(when(and(not(alone), looked), comesOff(look), comesOff(coating)));
  const adherence = judged(
    words,
    [number(limit("adherenceWraps"))],
    when(decided, directed(holds, other.easier, other.harder), open(other.harder)),
  );
  const purpose = when(`${cell("purpose")}="ductility"`, ductility, when(`${cell("purpose")}="adherence"`, adherence, NOTHING));
  return when(not(and(number(mandrel), number(cell("wraps")), `${cracks}<>""`)), NOTHING, purpose);
};

const coiling: Rule = (words) => {
  const { cell, limit } = words;
  const mandrel = cell("mandrelDiameter");
  const passes = and(`${cell("cracks")}="none"`, `${cell("evenPitch")}<>"no"`);
  const easier = not(atMost(mandrel, limit("coilingMandrelTo")));
  const harder = not(atLeast(mandrel, limit("coilingMandrelFrom")));
  const unstated = and(`${cell("cracks")}="none"`, `${cell("evenPitch")}=""`);
  return judged(
    words,
    [number(mandrel), `${cell("cracks")}<>""`, number(limit("coilingMandrelFrom"))],
    when(unstated, open(harder), directed(passes, easier, harder)),
  );
};

const reverseBend: Rule = (words) => {
  const { cell, limit } = words;
  const count = `INT(${cell("bends")})`;
  const enough = atLeast(count, limit("bendsFrom"));
  const passes = and(enough, atMost(count, limit("bendsTo")));
  const easier = not(atMost(cell("radius"), limit("radiusTo")));
  const harder = or(
    not(atLeast(cell("radius"), limit("radiusFrom"))),
    `${cell("breakAt")}="grip"`,
    and(`${cell("breakAt")}="none"`, not(enough)),
  );
  return judged(words, [number(cell("bends")), number(cell("radius")), number(limit("bendsFrom"))], directed(passes, easier, harder));
};

const stripped = ({ cell, limit }: Words): string =>
  `(${cell("massBefore")}-${cell("massAfter")})/${cell("massAfter")}*${cell("strippedDiameter")}*${limit("coatingFactor")}`;
const byGas = ({ cell, limit }: Words): string =>
  `${cell("hydrogen")}/(${cell("temperature")}+273.15)*${cell("pressure")}/(${cell("strippedDiameter")}*${cell("length")})*${limit("gasFactor")}`;
const isStrip = ({ cell }: Words): string =>
  and(`${cell("method")}="strip"`, ...["massBefore", "massAfter", "strippedDiameter"].map((field) => number(cell(field))));
const isGas = ({ cell }: Words): string =>
  and(
    `${cell("method")}="gas"`,
    ...["hydrogen", "temperature", "pressure", "length", "strippedDiameter"].map((field) => number(cell(field))),
  );

const coatingMass: Rule = (words) => {
  const { limit } = words;
  const inside = (mass: string): string => and(atLeast(mass, limit("coatingFrom")), atMost(mass, limit("coatingTo")));
  const verdict = when(inside(when(isStrip(words), stripped(words), byGas(words))), PASS, FAIL);
  return judged(words, [number(limit("coatingFactor")), or(isStrip(words), isGas(words))], verdict);
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

interface Figures {
  /** True where the row holds what the figures need and the coil is asked for them. */
  readonly known: string;
  readonly pairs: readonly { readonly value: string; readonly compared: string }[];
}

/**
 * Half to even, in two steps: nine places take the last bit away, then the interval decides. ROUND sends a half away from zero, which is one
 * too many exactly where the figure lies half an interval above an even multiple.
 */
function roundedEven(value: string, step: string): string {
  const steps = `ROUND((${value})/${step},9)`;
  return `ROUND((ROUND(${steps},0)-IF(ROUND(MOD(${steps},2),9)=0.5,1,0))*${step},9)`;
}

const FIGURES: Partial<Record<TestSheet, (words: Words) => Figures>> = {
  diameter: ({ cell, limit }) => ({
    known: and(number(cell("largest")), number(cell("smallest")), number(limit("diameterStep"))),
    pairs: ["largest", "smallest"].map((field) => {
      const value = `${cell(field)}*${limit("diameterFactor")}`;
      return { value, compared: roundedEven(value, limit("diameterStep")) };
    }),
  }),
  tensile: (words) => {
    const value = strengthOf(words);
    return {
      known: and(number(words.cell("maximumForce")), number(words.cell("diameter")), number(words.limit("strengthStep"))),
      pairs: [{ value, compared: roundedEven(value, words.limit("strengthStep")) }],
    };
  },
  torsion: ({ cell, limit }) => ({
    known: and(number(cell("turns")), number(limit("turnsFrom"))),
    pairs: [{ value: cell("turns"), compared: `INT(${cell("turns")})` }],
  }),
  "reverse-bend": ({ cell, limit }) => ({
    known: and(number(cell("bends")), number(limit("bendsFrom"))),
    pairs: [{ value: cell("bends"), compared: `INT(${cell("bends")})` }],
  }),
  "coating-mass": (words) => {
    const value = when(isStrip(words), stripped(words), byGas(words));
    return {
      known: and(number(words.limit("coatingStep")), or(isStrip(words), isGas(words))),
      pairs: [{ value, compared: roundedEven(value, words.limit("coatingStep")) }],
    };
  },
};
