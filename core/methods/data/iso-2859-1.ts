/** Single sampling, normal inspection. */
export const LEVELS = ["S-1", "S-2", "S-3", "S-4", "I", "II", "III"] as const;
export type InspectionLevel = (typeof LEVELS)[number];

/**
 * Code letters by lot size (up to and including `lotTo`) in the order of LEVELS.
 * @source [read] ISO 2859-1 table 1 in a public copy of the chart
 */
export const CODE_LETTERS: readonly { readonly lotTo: number; readonly letters: string }[] = [
  { lotTo: 8, letters: "AAAAAAB" },
  { lotTo: 15, letters: "AAAAABC" },
  { lotTo: 25, letters: "AABBBCD" },
  { lotTo: 50, letters: "ABBCCDE" },
  { lotTo: 90, letters: "BBCCCEF" },
  { lotTo: 150, letters: "BBCDDFG" },
  { lotTo: 280, letters: "BCDEEGH" },
  { lotTo: 500, letters: "BCDEFHJ" },
  { lotTo: 1200, letters: "CCEFGJK" },
  { lotTo: 3200, letters: "CDEGHKL" },
  { lotTo: 10000, letters: "CDFGJLM" },
  { lotTo: 35000, letters: "CDFHKMN" },
  { lotTo: 150000, letters: "DEGJLNP" },
  { lotTo: 500000, letters: "DEGJMPQ" },
  { lotTo: Number.POSITIVE_INFINITY, letters: "DEHKNQR" },
];

/** Letters with their sample sizes. @source [read] same chart */
export const SAMPLE_SIZES: readonly (readonly [letter: string, n: number])[] = [
  ["A", 2],
  ["B", 3],
  ["C", 5],
  ["D", 8],
  ["E", 13],
  ["F", 20],
  ["G", 32],
  ["H", 50],
  ["J", 80],
  ["K", 125],
  ["L", 200],
  ["M", 315],
  ["N", 500],
  ["P", 800],
  ["Q", 1250],
  ["R", 2000],
];

/** Acceptable quality limits, per cent nonconforming or nonconformities per hundred items. @source [read] same chart */
export const AQLS: readonly string[] = [
  ..."0.010 0.015 0.025 0.040 0.065 0.10 0.15 0.25 0.40 0.65 1.0 1.5 2.5 4.0 6.5".split(" "),
  ..."10 15 25 40 65 100 150 250 400 650 1000".split(" "),
];

/**
 * Acceptance numbers along the diagonals of the table: by the sum of the places of letter and AQL. Below 14 the arrow points
 * down; 15 is an up arrow and 16 a down arrow; above 24 (A to E: 26) it points up. The rejection number is one more.
 * @source acceptance numbers read in the chart, their placement from memory; held against P(accept) at the AQL
 */
export const ACCEPTANCE_BY_DIAGONAL: ReadonlyMap<number, number> = new Map([
  [14, 0],
  [17, 1],
  [18, 2],
  [19, 3],
  [20, 5],
  [21, 7],
  [22, 10],
  [23, 14],
  [24, 21],
  [25, 30],
  [26, 44],
]);
/** The diagonal of up arrows between acceptance numbers 0 and 1. */
export const UP_DIAGONAL = 15;
/** The last diagonal with a plan, and the one for letters up to E (place 4). */
export const LAST_DIAGONAL = { usual: 24, upToLetterE: 26 } as const;
export const ISO_2859_PROVENANCE = "memory";
