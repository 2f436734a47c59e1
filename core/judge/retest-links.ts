import type { Finding, Requirement, Result, RetestRule } from "../model.ts";
import { propertyName } from "./next.ts";

interface Linking {
  readonly coil: string;
  readonly requirement: Requirement;
  readonly retest: RetestRule | undefined;
  readonly pieces: number;
  readonly elsewhere: ReadonlySet<string>;
  readonly report: (finding: Finding) => void;
}

/** A retest of a retest of a retest: more hops than this is a ring of names. */
const MOST_HOPS = 10;

/**
 * Retest results by the first-line piece they stand for; a retest of a void retest stands for the same piece. A piece that retests another
 * coil's failure belongs there and is passed over.
 * @param isFailure whether a first-line piece may be retested
 */
export function linkRetests(
  acceptance: readonly Result[],
  linking: Linking & { readonly isFailure: (result: Result) => boolean },
): ReadonlyMap<string, readonly Result[]> {
  const { retest, elsewhere, isFailure } = linking;
  const linked = new Map<string, Result[]>();
  const candidates = acceptance.filter((r) => r.role === "retest" || r.retestOf !== undefined);
  if (candidates.length === 0) return linked;
  const byPiece = new Map(acceptance.map((r) => [r.testPiece, r]));
  for (const result of candidates) {
    if (result.retestOf === undefined) {
      unlinked(result, "retestOf is empty", linking);
      continue;
    }
    let root = byPiece.get(result.retestOf);
    for (let hops = 0; root?.retestOf !== undefined && byPiece.has(root.retestOf) && hops < MOST_HOPS; hops += 1)
      root = byPiece.get(root.retestOf);
    if (root === undefined) {
      if (!elsewhere.has(result.retestOf)) unlinked(result, `${result.retestOf} is not a test piece of this coil and property`, linking);
    } else if (retest === undefined || retest.kind === "every-coil") unlinked(result, "the specification allows no retest here", linking);
    else if (!isFailure(root)) unlinked(result, `${root.testPiece} is no valid failure`, linking);
    else push(linked, root.testPiece, result);
  }
  return linked;
}

function push(linked: Map<string, Result[]>, root: string, result: Result): void {
  const group = linked.get(root);
  if (group === undefined) linked.set(root, [result]);
  else group.push(result);
}

function unlinked(result: Result, why: string, { report, coil, requirement }: Linking): void {
  report({
    code: "unlinked-retest",
    severity: "warning",
    sheet: result.sheet,
    cell: result.cell,
    actual: result.testPiece,
    expected: "role retest with the failed test piece in retestOf",
    text: `Test piece ${result.testPiece} of coil ${coil} changes nothing for ${propertyName(requirement.property)}: ${why}.`,
  });
}

/** A new piece after a valid failure does not undo it unless it is linked. */
export function warnOfUnlinkedPieces(firstLine: readonly Result[], failures: readonly Result[], linking: Linking): void {
  const [first] = failures;
  if (first === undefined || firstLine.filter((r) => r.counts).length <= Math.max(1, linking.pieces)) return;
  const earliest = failures.reduce((a, b) => (cameBefore(b, a) ? b : a), first);
  for (const piece of firstLine) {
    if (!piece.counts || piece.outcome !== "conforms" || piece.retestOf !== undefined) continue;
    const failure = [earliest, first].find((f) => f.testPiece !== piece.testPiece && cameBefore(f, piece));
    if (failure !== undefined) unlinked(piece, `${failure.testPiece} failed before it and retestOf is empty`, linking);
  }
}

/** By day; within a day by place where both stand on one sheet of one file. */
function cameBefore(a: Result, b: Result): boolean {
  const [first, second] = [a.date ?? "", b.date ?? ""];
  if (first !== second) return first < second;
  return a.file === b.file && a.sheet === b.sheet && a.row < b.row;
}
