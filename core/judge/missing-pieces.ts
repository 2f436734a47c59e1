import type { NextStep, Result } from "../model.ts";
import { toCalibrate, toRepeat, toTest } from "./next.ts";
import type { Part, RequirementInput } from "./requirement-input.ts";

type End = NonNullable<NextStep["end"]>;

/** What is still to be tested: pieces never tested, or void ones to be repeated with the same right. Empty where nothing is. */
export function missingPieces(firstLine: readonly Result[], input: RequirementInput): readonly Part[] {
  const { requirement, coil, bothEnds } = input;
  const property = requirement.property;
  const valid = distinctPieces(firstLine.filter((r) => r.counts));
  const ends = bothEnds ? endsWithout(valid, input.pieces) : [];
  const missing = Math.max(input.pieces - valid.length, ends.length);
  if (missing <= 0) return [];
  const voided = distinctPieces(firstLine.filter((r) => !r.counts && r.voidReason !== undefined));
  const waiting = new Set(input.unread.filter((row) => row.coil === coil).map((row) => row.testPiece ?? `row ${row.row}`)).size;
  const repeats = Math.min(missing, voided.length);
  const tests = Math.max(0, missing - repeats - waiting);
  const next: NextStep[] = [];
  const lapsed = voided.find((r) => r.voidReason === "instrument-not-in-force");
  if (lapsed !== undefined) next.push(toCalibrate({ property, coil }, lapsed.instrument ?? "the instrument"));
  const last = voided.at(-1);
  if (repeats > 0 && last !== undefined) {
    const end = repeats === 1 && last.end !== undefined && ends.includes(last.end) ? { end: last.end } : {};
    next.push(toRepeat({ property, coil, pieces: repeats, ...end }, `${last.testPiece} is void (${last.voidReason ?? ""})`));
  }
  // Which end a void piece is repeated from is known only where the piece named it.
  const open = ends.filter((end) => !voided.some((r) => r.end === end));
  if (tests > 0 && open.length === tests) next.push(...open.map((end) => toTest({ property, coil, pieces: 1, end })));
  else if (tests > 0) next.push(toTest({ property, coil, pieces: tests }));
  return [{ verdict: "not-tested", reason: voided.length > 0 && valid.length === 0 ? "all-void" : "too-few-results", next }];
}

/** A test piece may give several results (one a position); it is one piece. */
function distinctPieces(results: readonly Result[]): readonly Result[] {
  if (results.length < 2) return results;
  return [...new Map(results.map((r) => [r.testPiece, r])).values()];
}

/** Ends of the coil that no valid piece stands for; a piece that names no end stands for the one that is open. */
function endsWithout(valid: readonly Result[], pieces: number): readonly End[] {
  const each = Math.ceil(pieces / 2);
  const open = (["outer", "inner"] as const).flatMap((end) =>
    Array<End>(Math.max(0, each - valid.filter((r) => r.end === end).length)).fill(end),
  );
  return open.slice(valid.filter((r) => r.end === undefined).length);
}
