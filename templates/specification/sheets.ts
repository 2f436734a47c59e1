/**
 * The sheets of the specification form. Writer and reader both follow this list, and the keys are those of the JSON schema,
 * so a specification goes through the form and back without loss. Labels, words and hints are English, like the JSON keys.
 */
import { PROPERTIES } from "../../core/spec/index.ts";

/**
 * `list`: several texts with semicolons between. `property`: a word of the drop-down; where it is `other` or `chemistry`, the
 * column after it (`property-name`) says which.
 */
export type FormColumnKind = "text" | "decimal" | "length" | "whole" | "yes-no" | "word" | "list" | "property" | "property-name" | "table";

export interface FormColumn {
  /** Path of the JSON key inside the sheet's record: `freeLength.times`. */
  readonly key: string;
  readonly label: string;
  readonly kind: FormColumnKind;
  /** What the drop-down offers. */
  readonly words?: readonly string[];
  readonly hint: string;
  /** Characters. */
  readonly width?: number;
}

export interface FormSheet {
  readonly name: string;
  /** `record`: one thing, a field a row. `list`: one thing a row. */
  readonly shape: "record" | "list";
  /** Where in the JSON the sheet's content stands; "" is the top. Rows of the sheet Limits go to their tables. */
  readonly path: "" | "tables" | "limits" | "chemistry" | "required" | "sampling" | "retest" | "conduct";
  readonly instruction: string;
  readonly columns: readonly FormColumn[];
  /** Empty rows that are ready to be filled. */
  readonly blank: number;
}

const PROVENANCE_WORDS = ["own", "read", "memory"];
const PROVENANCE_HINT = "own: the laboratory's own; read: seen in the cited text; memory: still to be compared";
const UNITS = ["MPa", "N/mm2", "ksi", "psi", "mm", "in", "N", "kN", "lbf", "g/m2", "oz/ft2", "%", "turns", "bends", "wraps"];
const LENGTH_HINT = 'with its unit, such as "300 mm"';

const provenance: FormColumn = {
  key: "provenance",
  label: "Provenance",
  kind: "word",
  words: PROVENANCE_WORDS,
  hint: PROVENANCE_HINT,
  width: 12,
};
const grades = (hint: string): FormColumn => ({ key: "grades", label: "Grades", kind: "list", hint, width: 18 });
const GRADES_HERE = "only for these, with semicolons between; empty: for all";
const property = (more: readonly string[], hint: string): readonly FormColumn[] => [
  { key: "property", label: "Property", kind: "property", words: [...PROPERTIES, ...more], hint, width: 20 },
  {
    key: "property",
    label: more.includes("chemistry") ? "Element or other name" : "Other name",
    kind: "property-name",
    hint: `only where Property is ${more.join(" or ")}`,
    width: 16,
  },
];

/** A length as a multiple of the diameter within bounds, or fixed: five columns. */
const lengthRule = (key: string, label: string): readonly FormColumn[] => [
  { key: `${key}.times`, label: `${label}: times d`, kind: "decimal", hint: "multiple of the nominal diameter" },
  { key: `${key}.atLeast`, label: `${label}: at least`, kind: "length", hint: LENGTH_HINT },
  { key: `${key}.atMost`, label: `${label}: at most`, kind: "length", hint: LENGTH_HINT },
  { key: `${key}.fixed`, label: `${label}: fixed`, kind: "length", hint: "instead of a multiple" },
  {
    key: `${key}.provenance`,
    label: `${label}: provenance`,
    kind: "word",
    words: PROVENANCE_WORDS,
    hint: "only where it differs from that of the rows",
  },
];

const HEAD: FormSheet = {
  name: "Specification",
  shape: "record",
  path: "",
  instruction:
    "One workbook holds one specification. Fill the value column. A specification that stands on a held one names it under Extends; whatever is tabled here then replaces the tables of that property, and all else is taken from it.",
  blank: 0,
  columns: [
    { key: "id", label: "Designation", kind: "text", hint: 'as orders name it, such as "QW 100"' },
    { key: "edition", label: "Edition", kind: "text", hint: "year or revision; a changed specification gets another" },
    { key: "title", label: "Title", kind: "text", hint: "what it is for" },
    { key: "grades", label: "Grades", kind: "list", hint: "with semicolons between; empty where there is one only" },
    { key: "extends.specification", label: "Extends", kind: "text", hint: "designation of a held specification, or empty" },
    { key: "extends.edition", label: "Extends: edition", kind: "text", hint: "empty: the newest held" },
    { key: "extends.grade", label: "Extends: grade", kind: "text", hint: "one grade of it; empty: all of its grades" },
    { key: "note", label: "Note", kind: "text", hint: "" },
  ],
};

const TABLES: FormSheet = {
  name: "Tables",
  shape: "list",
  path: "tables",
  instruction:
    "One row a table: a property with its unit and conditions. Table is any short name; the rows of the sheet Limits name it. A requirement without a number has a word instead of limits and an empty unit.",
  blank: 30,
  columns: [
    { key: "table", label: "Table", kind: "table", hint: "a short name, once on this sheet", width: 8 },
    ...property(["other"], "what is limited"),
    grades(GRADES_HERE),
    { key: "clause", label: "Clause", kind: "text", hint: "where it stands in the document", width: 24 },
    { key: "unit", label: "Unit", kind: "word", words: UNITS, hint: "of the limits; empty for a word" },
    { key: "diameterUnit", label: "Diameter unit", kind: "word", words: ["mm", "in"], hint: "of the sizes" },
    {
      key: "between",
      label: "Between sizes",
      kind: "word",
      words: ["bands", "linear", "next-larger", "next-smaller", "listed"],
      hint: "bands: every row is a range of sizes; the others: a row a size",
      width: 14,
    },
    {
      key: "betweenProvenance",
      label: "Between sizes: provenance",
      kind: "word",
      words: PROVENANCE_WORDS,
      hint: "where it differs from that of the rows",
    },
    { key: "places", label: "Places", kind: "whole", hint: "rows printed with gaps (0.99 / 1.00): decimal places, 0 to 4" },
    ...lengthRule("freeLength", "Free length"),
    ...lengthRule("gaugeLength", "Gauge length"),
    ...lengthRule("mandrel", "Mandrel"),
    ...lengthRule("mandrelMax", "Largest mandrel"),
    { key: "wraps", label: "Wraps", kind: "decimal", hint: "required number" },
    { key: "area", label: "Area", kind: "word", words: ["measured", "nominal", "by-mass"], hint: "the section that the stress is for" },
    { key: "evaluate", label: "Evaluate", kind: "word", words: ["each", "mean"], hint: "empty: each" },
    { key: "word", label: "Word", kind: "text", hint: "a requirement without a number, such as no-cracks", width: 18 },
    { key: "listedOnly", label: "Listed only", kind: "yes-no", hint: "yes: shown and never judged" },
    {
      key: "rounding.method",
      label: "Rounding",
      kind: "word",
      words: ["round", "absolute", "whole"],
      hint: "empty: the usual one of the unit",
    },
    { key: "rounding.step", label: "Rounding: step", kind: "decimal", hint: "interval in the unit" },
    { key: "rounding.ties", label: "Rounding: ties", kind: "word", words: ["even", "away", "none"], hint: "none: towards zero" },
  ],
};

const LIMITS: FormSheet = {
  name: "Limits",
  shape: "list",
  path: "limits",
  instruction:
    "One row a line of a table. Sizes: Size alone, or a range: Over and Below leave their edge out, From and Up to take it in; all empty means every size. Ranges of one grade may neither overlap nor leave a gap.",
  blank: 200,
  columns: [
    { key: "table", label: "Table", kind: "table", hint: "a table of the sheet Tables", width: 8 },
    grades(GRADES_HERE),
    { key: "size", label: "Size", kind: "decimal", hint: "one tabulated diameter" },
    { key: "over", label: "Over", kind: "decimal", hint: "edge left out" },
    { key: "from", label: "From", kind: "decimal", hint: "edge taken in" },
    { key: "upTo", label: "Up to", kind: "decimal", hint: "edge taken in" },
    { key: "below", label: "Below", kind: "decimal", hint: "edge left out" },
    { key: "min", label: "Minimum", kind: "decimal", hint: "in the table's unit" },
    { key: "max", label: "Maximum", kind: "decimal", hint: "in the table's unit" },
    { key: "plusMinus", label: "Plus/minus", kind: "decimal", hint: "round the nominal diameter" },
    { key: "mandrelTimes", label: "Mandrel: times d", kind: "decimal", hint: "where it changes with the size" },
    { key: "radius", label: "Radius", kind: "length", hint: 'of a bend, such as "5.0 mm"' },
    { key: "indicative", label: "Indicative", kind: "yes-no", hint: "yes: shown and never judged" },
    { key: "undecided", label: "Undecided", kind: "yes-no", hint: "yes: a person decides these sizes; no limits here" },
    provenance,
    { key: "source", label: "Source", kind: "text", hint: "page, drawing or letter", width: 26 },
    { key: "note", label: "Note", kind: "text", hint: "", width: 26 },
  ],
};

const CHEMISTRY: FormSheet = {
  name: "Chemistry",
  shape: "list",
  path: "chemistry",
  instruction: "One row an element of the heat analysis, limits as mass fraction in per cent.",
  blank: 40,
  columns: [
    { key: "element", label: "Element", kind: "text", hint: "symbol, such as C or Mn", width: 9 },
    grades(GRADES_HERE),
    { key: "min", label: "Minimum", kind: "decimal", hint: "per cent" },
    { key: "max", label: "Maximum", kind: "decimal", hint: "per cent" },
    provenance,
    { key: "source", label: "Source", kind: "text", hint: "page, drawing or letter", width: 26 },
  ],
};

const REQUIRED: FormSheet = {
  name: "Required",
  shape: "list",
  path: "required",
  instruction:
    "The properties that every coil, or the sample the sampling rule asks for, must be tested for. Each needs a table or an element.",
  blank: 30,
  columns: [
    ...property(["chemistry", "other"], "what must be tested"),
    grades(GRADES_HERE),
    { key: "diameterUnit", label: "Diameter unit", kind: "word", words: ["mm", "in"], hint: "only for orders in this unit" },
    { key: "from", label: "From", kind: "length", hint: `smallest size, ${LENGTH_HINT}` },
    { key: "over", label: "Over", kind: "length", hint: "smallest size, left out" },
    { key: "upTo", label: "Up to", kind: "length", hint: "largest size" },
  ],
};

const SAMPLING: FormSheet = {
  name: "Sampling",
  shape: "record",
  path: "sampling",
  instruction: "How many coils give test pieces. Left empty: one piece of every coil, or the rule of the specification this one extends.",
  blank: 0,
  columns: [
    { key: "kind", label: "Kind", kind: "word", words: ["each-coil", "per-coils"], hint: "per-coils: one in so many coils of a test unit" },
    { key: "coils", label: "One in so many coils", kind: "whole", hint: "for per-coils" },
    { key: "atMost", label: "At most", kind: "whole", hint: "pieces of one test unit" },
    { key: "bothEnds", label: "Both ends", kind: "yes-no", hint: "yes: a piece from each end of the coil" },
    { key: "perHeat", label: "Every heat", kind: "yes-no", hint: "yes: every heat of the test unit is sampled" },
    { key: "clause", label: "Clause", kind: "text", hint: "where it stands in the document" },
    provenance,
  ],
};

const RETEST: FormSheet = {
  name: "Retest",
  shape: "list",
  path: "retest",
  instruction: "What a valid failure allows. Left empty: nothing, or the rules of the specification this one extends.",
  blank: 15,
  columns: [
    { key: "properties", label: "Properties", kind: "list", hint: `with semicolons between, of ${PROPERTIES.join(", ")}`, width: 60 },
    { key: "pieces", label: "Pieces", kind: "whole", hint: "further pieces" },
    { key: "mustConform", label: "Must conform", kind: "word", words: ["all", "one"], hint: "of the further pieces" },
    { key: "clause", label: "Clause", kind: "text", hint: "where it stands in the document", width: 24 },
    provenance,
  ],
};

const CONDUCT: FormSheet = {
  name: "Conduct",
  shape: "record",
  path: "conduct",
  instruction: "What makes a test valid. Left empty: the usual rule of the trade, or that of the specification this one extends.",
  blank: 0,
  columns: [
    {
      key: "torsionGripDistance.timesDiameter",
      label: "Torsion: grip distance, times d",
      kind: "decimal",
      hint: "a nearer break is at the grip",
    },
    { key: "torsionGripDistance.length", label: "Torsion: grip distance, fixed", kind: "length", hint: "instead of a multiple" },
    { key: "torsionMaximumSpeed.text", label: "Torsion: highest speed", kind: "decimal", hint: "turns a minute" },
    {
      key: "torsionMaximumSpeed.provenance",
      label: "Torsion: highest speed, provenance",
      kind: "word",
      words: PROVENANCE_WORDS,
      hint: PROVENANCE_HINT,
    },
    {
      key: "torsionScalingAllowed",
      label: "Torsion: count may be scaled",
      kind: "yes-no",
      hint: "yes: to another free length, in proportion",
    },
    { key: "freeLengthTolerance", label: "Free length tolerance", kind: "decimal", hint: "share, such as 0.01" },
    {
      key: "torsionMaximumTensionShare",
      label: "Torsion: highest tension",
      kind: "decimal",
      hint: "share of strength times area, such as 0.02",
    },
    {
      key: "wrapFirstTurn",
      label: "Wrap: cracks in the first turn",
      kind: "word",
      words: ["passes", "void-once"],
      hint: "passes: they are not counted; void-once: repeated, the second time it fails",
    },
    { key: "wrapFailsFrom", label: "Wrap: fails from", kind: "word", words: ["visible", "broken"], hint: "the mildest damage that fails" },
    { key: "mandrelTolerance", label: "Mandrel tolerance", kind: "decimal", hint: "share, such as 0.05" },
    { key: "wrapMaximumRate", label: "Wrap: highest rate", kind: "decimal", hint: "turns a minute; a faster one warns" },
    { key: "coatingConstant", label: "Coating constant", kind: "decimal", hint: "of the stripping formula, such as 1960" },
  ],
};

export const FORM_SHEETS: readonly FormSheet[] = [HEAD, TABLES, LIMITS, CHEMISTRY, REQUIRED, SAMPLING, RETEST, CONDUCT];

/** Sheets that only show the specification this one extends begin with this and are never read. */
export const BASE_PREFIX = "Base ";
/** Row of the labels; of a record sheet too. */
export const FORM_HEADER_ROW = 4;
/** Columns of a record sheet. */
export const RECORD_COLUMNS = { label: 1, value: 2, hint: 3 } as const;
/** Between the texts of one cell. */
export const LIST_SEPARATOR = ";";
