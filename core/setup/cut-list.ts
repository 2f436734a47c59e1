/** What to cut from each end of each coil, where along the wire, and what to have ready for a retest. Pure. */
import { addExact, type Exact, exact, multiplyExact, toDecimalText } from "../decimal.ts";
import type { Measure, NextStep } from "../model.ts";
import type { Unit } from "../quantity.ts";
import { inUnit, sumOf } from "./amounts.ts";
import type { Piece, SetUp } from "./set-up.ts";

export interface Cut {
  readonly setUp: SetUp;
  readonly piece: Piece;
  /** Where the piece begins, from the end of the coil, in the unit of its length; undefined behind a piece of unknown length. */
  readonly from?: Measure;
}

export interface Spare {
  readonly setUp: SetUp;
  readonly pieces: number;
}

export interface EndCuts {
  readonly coil: string;
  readonly end: NextStep["end"] | "any";
  readonly cuts: readonly Cut[];
  readonly spares: readonly Spare[];
  /** To take off this end, m or ft; without what has no length. */
  readonly takeOff: Measure;
  /** The same with the spares of one retest of every test. */
  readonly withSpares: Measure;
  /** Pieces whose length the machine or the standard has to say. */
  readonly withoutLength: number;
}

const ENDS = ["outer", "any", "between", "inner"] as const;

/** Sheets whose pieces are not cut: the diameter is measured on the end itself. */
const NOT_CUT: ReadonlySet<string> = new Set(["diameter"]);

/**
 * End by end in the order of the coils. A piece that two tests share is cut once. Spares are what one retest of each test would ask
 * for, from the same end as the piece it stands for.
 */
export function cutList(setUps: readonly SetUp[], coils: readonly string[]): readonly EndCuts[] {
  const ends = new Map<string, { coil: string; end: EndCuts["end"]; cuts: { setUp: SetUp; piece: Piece }[] }>();
  const seen = new Set<string>();
  for (const setUp of setUps)
    for (const piece of setUp.pieces) {
      const key = `${setUp.sheet}\u0000${piece.testPiece}`;
      if (seen.has(key)) continue;
      seen.add(key);
      const end = piece.end ?? "any";
      const place = `${piece.coil}\u0000${end}`;
      const list = ends.get(place) ?? { coil: piece.coil, end, cuts: [] };
      ends.set(place, list);
      list.cuts.push({ setUp, piece });
    }
  const order = new Map(coils.map((coil, i) => [coil, i]));
  return [...ends.values()]
    .sort((a, b) => (order.get(a.coil) ?? 0) - (order.get(b.coil) ?? 0) || ENDS.indexOf(a.end ?? "any") - ENDS.indexOf(b.end ?? "any"))
    .map(({ coil, end, cuts }) => endCuts(coil, end, cuts));
}

function endCuts(coil: string, end: EndCuts["end"], pieces: readonly { setUp: SetUp; piece: Piece }[]): EndCuts {
  const unit = (pieces[0]?.setUp.nominal.unit ?? "mm") as Unit;
  let at: Exact | undefined = exact("0");
  const cuts: Cut[] = [];
  const lengths: Exact[] = [];
  let withoutLength = 0;
  // What has no length of its own comes last, so that the places before it stay known.
  const rank = ({ sheet, cutLength }: SetUp): number => (NOT_CUT.has(sheet) ? 0 : cutLength === undefined ? 2 : 1);
  for (const { setUp, piece } of [...pieces].sort((a, b) => rank(a.setUp) - rank(b.setUp))) {
    if (NOT_CUT.has(setUp.sheet)) {
      cuts.push({ setUp, piece });
      continue;
    }
    cuts.push({ setUp, piece, ...(at === undefined ? {} : { from: { text: toDecimalText(at), unit } }) });
    if (setUp.cutLength === undefined) {
      withoutLength += 1;
      at = undefined;
      continue;
    }
    const length = inUnit(setUp.cutLength, unit);
    lengths.push(length);
    at = at === undefined ? undefined : addExact(at, length);
  }
  const spares = [...new Set(pieces.map(({ setUp }) => setUp))]
    .filter((setUp) => setUp.retestPieces > 0 && !NOT_CUT.has(setUp.sheet))
    .map((setUp): Spare => ({ setUp, pieces: setUp.retestPieces }));
  const spareLengths = spares.flatMap(({ setUp, pieces: count }) =>
    setUp.cutLength === undefined ? [] : [multiplyExact(inUnit(setUp.cutLength, unit), exact(count.toString()))],
  );
  const far: Unit = unit === "in" ? "ft" : "m";
  const inFar = (length: Exact): Measure => ({ text: toDecimalText(convert(length, unit, far), 6), unit: far });
  const own = sumOf(lengths);
  return { coil, end, cuts, spares, takeOff: inFar(own), withSpares: inFar(addExact(own, sumOf(spareLengths))), withoutLength };
}

const convert = (length: Exact, from: Unit, to: Unit): Exact => inUnit({ text: toDecimalText(length, 30), unit: from }, to);
