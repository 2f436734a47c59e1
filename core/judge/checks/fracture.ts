import type { EntryRow } from "../../model.ts";
import type { CheckContext, CheckedRow } from "../context.ts";
import { text } from "../row.ts";

/**
 * Classes of a torsion fracture.
 * @source ISO 7800:2012, informative annex on fractures (memory, medium); delamination: lengthwise splitting of the surface (read in a
 *   journal paper)
 */
const CLASSES: Readonly<Record<string, string>> = {
  "1": "no cracks",
  "2": "local cracks",
  "3": "spiral cracks over most of the length (delamination)",
};

/** One sentence of what the class says; shown with every count, and judged only where the specification asks for the appearance. */
export const fractureStep = (type: string): string => `fracture ${type}: ${CLASSES[type[0] ?? ""] ?? "of no known class"}`;

/** What each way of naming the face says of "square face, no flaw or crack, even twist". */
const SQUARE: Readonly<Record<string, "conforms" | "does-not-conform">> = {
  "square-face-even-twist": "conforms",
  delamination: "does-not-conform",
};

/**
 * Appearance of the fracture, where the row names it. A smooth face without cracks (1a) is square; cracks along the wire fail; an oblique or
 * unnamed face without cracks is by agreement, so a person decides.
 * @source JIS G 3522:2014, 7.3 (square face, no flaw or crack, even twist, not markedly spiral; read); classes: ISO 7800 annex (memory, medium)
 */
export function checkFractureAppearance(row: EntryRow, { requirement }: CheckContext): CheckedRow | undefined {
  const field = row.sheet === "torsion" ? "fractureType" : "word";
  const named = text(row, field);
  if (named === undefined) return undefined;
  const outcome =
    (requirement.word === named ? "conforms" : SQUARE[named]) ??
    (named === "1a" ? "conforms" : /^[23][abc]$/.test(named) ? "does-not-conform" : "undecided");
  return {
    value: named,
    unit: "",
    compared: named,
    outcome,
    ...(outcome === "conforms" ? {} : { reason: outcome === "undecided" ? "needs-a-person" : "fracture-appearance" }),
    field,
    conditions: {},
    deviations: [],
    ...(field === "fractureType" ? { fractureType: named } : {}),
    steps: [field === "fractureType" ? fractureStep(named) : `face: ${named}`],
  };
}
