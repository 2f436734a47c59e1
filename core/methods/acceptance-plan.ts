import { CalcError } from "../calc-error.ts";
import { compareExact, exact } from "../decimal.ts";
import type { Provenance } from "../model.ts";
import {
  ACCEPTANCE_BY_DIAGONAL,
  AQLS,
  CODE_LETTERS,
  type InspectionLevel,
  ISO_2859_PROVENANCE,
  LAST_DIAGONAL,
  LEVELS,
  SAMPLE_SIZES,
  UP_DIAGONAL,
} from "./data/iso-2859-1.ts";

export interface AcceptancePlan {
  /** Of the plan used, after the arrows. */
  readonly letter: string;
  readonly n: number;
  readonly accept: number;
  readonly reject: number;
  readonly provenance: Provenance;
}

/**
 * Single sampling plan for normal inspection; arrows are followed, and a sample as large as the lot is the lot.
 * @param lot items, a whole number above zero
 * @param aql decimal text, as ISO 2859-1 lists it
 * @throws CalcError `no-rule` for an AQL between two listed and for letter A at AQL 10, whose arrow the chart held leaves open;
 *   `outside-scope` beyond the list and for a lot of one
 * @source ISO 2859-1 tables 1 and 2-A
 */
export function acceptancePlan(lot: number, level: InspectionLevel, aql: string): AcceptancePlan {
  const column = columnOf(aql);
  if (lot < 2) throw new CalcError("outside-scope", `lot: ${lot}; ISO 2859-1 begins with a lot of 2`);
  const letters = CODE_LETTERS.find((row) => lot <= row.lotTo)?.letters ?? "";
  const start = placeOf(letters.charAt(LEVELS.indexOf(level)));
  const place = followArrows(start, column);
  const [letter, n] = SAMPLE_SIZES[place] ?? [];
  const accept = acceptanceAt(place, column);
  if (letter === undefined || n === undefined || accept === undefined)
    throw new CalcError("no-rule", `aql: the arrow at ${aql} and letter A leads to no plan in the table held`);
  return { letter, n: Math.min(n, lot), accept, reject: accept + 1, provenance: ISO_2859_PROVENANCE };
}

const placeOf = (letter: string): number => SAMPLE_SIZES.findIndex(([name]) => name === letter);

function columnOf(aql: string): number {
  const value = exact(aql);
  const column = AQLS.findIndex((listed) => compareExact(exact(listed), value) === 0);
  if (column >= 0) return column;
  const list = `aql: ${aql} is not listed; ISO 2859-1 lists ${AQLS.join(", ")}`;
  const inside = compareExact(value, exact(AQLS[0] ?? "0")) > 0 && compareExact(value, exact(AQLS.at(-1) ?? "0")) < 0;
  throw new CalcError(inside ? "no-rule" : "outside-scope", list);
}

/** Undefined where the cell holds an arrow. */
function acceptanceAt(place: number, column: number): number | undefined {
  const diagonal = place + column;
  return diagonal > lastDiagonal(place) ? undefined : ACCEPTANCE_BY_DIAGONAL.get(diagonal);
}

const lastDiagonal = (place: number): number => (place <= placeOf("E") ? LAST_DIAGONAL.upToLetterE : LAST_DIAGONAL.usual);

/**
 * Up arrows stand in the diagonal above acceptance number 0, beyond the last plan, and in the last letter, which has nothing
 * below it; all others point down.
 */
function followArrows(start: number, column: number): number {
  const up = start + column === UP_DIAGONAL || start + column > lastDiagonal(start) || start === SAMPLE_SIZES.length - 1;
  let place = start;
  while (place >= 0 && acceptanceAt(place, column) === undefined) place += up ? -1 : 1;
  return place;
}
