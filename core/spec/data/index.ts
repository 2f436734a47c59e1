/**
 * The built-in specifications. Editions: only where the reference names none, the edition is `unstated`, and the limits are the
 * reference's all the same. Required properties, sampling and retest are the defaults of DESIGN section 8.
 */
import type { SpecificationData, SpecificationInput } from "../schema.ts";
import { astmA227Chemistry, astmA227Tables } from "./astm-a227.ts";
import { astmA228Chemistry, astmA228Tables } from "./astm-a228.ts";
import { astmA229Chemistry, astmA229Tables } from "./astm-a229.ts";
import { astmA231Chemistry, astmA231Tables } from "./astm-a231.ts";
import { astmA232Chemistry, astmA232Tables } from "./astm-a232.ts";
import { astmA313Chemistry, astmA313Tables } from "./astm-a313.ts";
import { astmA641Tables } from "./astm-a641.ts";
import { en10244Part2Tables } from "./en-10244-2.ts";
import { en10270Part1Chemistry, en10270Part1Tables } from "./en-10270-1.ts";
import { en10270Part2Chemistry, en10270Part2Tables } from "./en-10270-2.ts";
import { en10270Part3Chemistry, en10270Part3Tables } from "./en-10270-3.ts";
import { en50189Tables } from "./en-50189.ts";
import { jisG3521Tables } from "./jis-g-3521.ts";
import { jisG3522Tables } from "./jis-g-3522.ts";
import { jisG4314Tables } from "./jis-g-4314.ts";

type Given = Omit<SpecificationInput, "chemistry" | "conduct" | "retest"> & Partial<SpecificationData>;
const specification = (given: Given): SpecificationData => ({ chemistry: [], conduct: {}, retest: [], ...given }) as SpecificationData;

/**
 * What a valid failure of the tensile, torsion, wrap, coiling or coating test allows. Diameter and out-of-round: nothing.
 * @source DESIGN section 8, retest; ISO 404 / EN 10021: two further tests, both must pass (memory, high)
 */
const TWO_MORE: SpecificationData["retest"] = [
  {
    properties: [
      "tensile-strength",
      "proof-strength",
      "breaking-force",
      "elongation",
      "reduction-of-area",
      "torsion",
      "wrap",
      "coiling",
      "coating-mass",
      "adherence",
    ],
    pieces: 2,
    mustConform: "all",
    clause: "EN 10021 / ISO 404 retest",
    provenance: "memory",
  },
];
/** @source ASTM A227, A228, A229, number of tests: one per ten coils or part (memory, medium) */
const ONE_IN_TEN = {
  kind: "per-coils",
  coils: 10,
  bothEnds: false,
  perHeat: false,
  clause: "number of tests",
  provenance: "memory",
} as const;
/** @source ASTM A370, A4.7: cracks in the first complete turn are not counted (read in a secondary page) */
const ASTM_WRAP = { wrapFirstTurn: "passes" } as const;
/** @source ASTM A227 and A229, wrap clause: to 8.00 mm (0.312 in) (memory) */
const ASTM_WRAP_SIZES: SpecificationData["required"] = [
  { property: "wrap", diameterUnit: "in", upTo: "0.312 in" },
  { property: "wrap", diameterUnit: "mm", upTo: "8.00 mm" },
];
const STRENGTH_AND_SIZE = [{ property: "tensile-strength" }, { property: "diameter" }, { property: "out-of-round" }];
const TORSION_SIZES = { from: "0.70 mm", upTo: "6.00 mm" };

export const BUILT_IN: readonly SpecificationData[] = [
  specification({
    id: "EN 10270-1",
    edition: "2011",
    title: "Patented cold drawn unalloyed spring steel wire",
    grades: ["SL", "SM", "SH", "DM", "DH"],
    tables: [...en10270Part1Tables],
    chemistry: [...en10270Part1Chemistry],
    required: [
      ...STRENGTH_AND_SIZE,
      { property: "coiling" },
      { property: "wrap", upTo: "3.00 mm" },
      { property: "torsion", grades: ["SM", "SH", "DM", "DH"], from: "0.70 mm", upTo: "10.00 mm" },
      { property: "u-bend", over: "3.00 mm" },
    ],
    retest: TWO_MORE,
    conduct: { torsionMaximumSpeed: { text: "60", provenance: "read" } },
  }),
  specification({
    id: "EN 10270-2",
    edition: "unstated",
    title: "Oil hardened and tempered spring steel wire",
    grades: ["FDC", "FDSiCr", "FDSiCrV", "TDSiCr", "TDSiCrV", "VDSiCr", "VDSiCrV"],
    tables: [...en10270Part2Tables],
    chemistry: [...en10270Part2Chemistry],
    required: [{ property: "tensile-strength" }],
  }),
  specification({
    id: "EN 10270-3",
    edition: "unstated",
    title: "Stainless spring steel wire",
    grades: ["1.4310 NS", "1.4310 HS"],
    tables: [...en10270Part3Tables],
    chemistry: [...en10270Part3Chemistry],
    required: [{ property: "tensile-strength" }],
  }),
  specification({
    id: "EN 50189",
    edition: "2000",
    title: "Zinc coated steel wires for conductors",
    grades: ["ST1A"],
    tables: [...en50189Tables],
    required: [{ property: "torsion" }, { property: "wrap" }],
    retest: TWO_MORE,
    conduct: { wrapFailsFrom: "broken", wrapMaximumRate: "15" },
  }),
  specification({
    id: "EN 10244-2",
    edition: "unstated",
    title: "Zinc and zinc alloy coatings on steel wire",
    grades: ["A", "AB", "B", "C", "D", "A x 3"],
    tables: [...en10244Part2Tables],
    required: [{ property: "coating-mass" }],
    retest: TWO_MORE,
  }),
  specification({
    id: "ASTM A227",
    edition: "unstated",
    title: "Steel wire, cold-drawn for mechanical springs",
    grades: ["I", "II"],
    tables: [...astmA227Tables],
    chemistry: [...astmA227Chemistry],
    required: [...STRENGTH_AND_SIZE, ...ASTM_WRAP_SIZES],
    sampling: ONE_IN_TEN,
    conduct: ASTM_WRAP,
  }),
  specification({
    id: "ASTM A228",
    edition: "unstated",
    title: "Steel wire, music spring quality",
    grades: [],
    tables: [...astmA228Tables],
    chemistry: [...astmA228Chemistry],
    required: STRENGTH_AND_SIZE,
    sampling: ONE_IN_TEN,
    conduct: ASTM_WRAP,
  }),
  specification({
    id: "ASTM A229",
    edition: "unstated",
    title: "Steel wire, quenched and tempered for mechanical springs",
    grades: ["I", "II"],
    tables: [...astmA229Tables],
    chemistry: [...astmA229Chemistry],
    required: [...STRENGTH_AND_SIZE, ...ASTM_WRAP_SIZES],
    sampling: ONE_IN_TEN,
    conduct: ASTM_WRAP,
  }),
  specification({
    id: "ASTM A231",
    edition: "1996",
    title: "Chromium-vanadium alloy steel spring wire",
    grades: [],
    tables: [...astmA231Tables],
    chemistry: [...astmA231Chemistry],
    required: [
      ...STRENGTH_AND_SIZE,
      { property: "reduction-of-area", diameterUnit: "in", from: "0.092 in" },
      { property: "reduction-of-area", diameterUnit: "mm", from: "2.50 mm" },
    ],
    conduct: ASTM_WRAP,
  }),
  specification({
    id: "ASTM A232",
    edition: "2005",
    title: "Chromium-vanadium alloy steel valve spring quality wire",
    grades: [],
    tables: [...astmA232Tables],
    chemistry: [...astmA232Chemistry],
    required: [{ property: "tensile-strength" }, { property: "reduction-of-area", from: "2.50 mm" }],
    conduct: ASTM_WRAP,
  }),
  specification({
    id: "ASTM A313",
    edition: "unstated",
    title: "Stainless steel spring wire",
    grades: ["302", "304"],
    tables: [...astmA313Tables],
    chemistry: [...astmA313Chemistry],
    required: [{ property: "tensile-strength" }],
    conduct: ASTM_WRAP,
  }),
  specification({
    id: "ASTM A641",
    edition: "2009a(2014)",
    title: "Zinc-coated carbon steel wire",
    grades: ["1", "3", "A", "B", "C", "4", "5"],
    tables: [...astmA641Tables],
    required: [{ property: "coating-mass" }],
  }),
  specification({
    id: "JIS G 3521",
    edition: "1991",
    title: "Hard drawn steel wires",
    grades: ["SW-A", "SW-B", "SW-C"],
    tables: [...jisG3521Tables],
    required: [{ property: "tensile-strength" }],
  }),
  specification({
    id: "JIS G 3522",
    edition: "2014",
    title: "Piano wires",
    grades: ["SWP-A", "SWP-B", "SWP-V"],
    tables: [...jisG3522Tables],
    required: [
      { property: "tensile-strength" },
      { property: "torsion", ...TORSION_SIZES },
      { property: "diameter", from: "0.50 mm", upTo: "1.40 mm" },
      { property: "out-of-round", from: "0.50 mm", upTo: "1.40 mm" },
      { property: "fracture-appearance", ...TORSION_SIZES },
    ],
  }),
  specification({
    id: "JIS G 4314",
    edition: "unstated",
    title: "Stainless steel wires for springs",
    grades: ["SUS302-WPA", "SUS304-WPA", "SUS304N1-WPA", "SUS316-WPA", "SUS302-WPB", "SUS304-WPB", "SUS304N1-WPB", "SUS631J1-WPC"],
    tables: [...jisG4314Tables],
    required: [
      { property: "tensile-strength" },
      { property: "diameter", from: "0.080 mm", upTo: "1.60 mm" },
      { property: "out-of-round", from: "0.080 mm", upTo: "1.60 mm" },
    ],
  }),
];
