/** Specifications as data. The built-in ones and a laboratory's own JSON files have this one shape; unknown keys are errors. */
import { z } from "zod";
import { compareExact, exact, isDecimalText } from "../decimal.ts";

const decimal = z.string().refine(isDecimalText, { abort: true, params: { accepted: 'decimal text such as "1770" or "0.025"' } });
const provenance = z.enum(["read", "memory", "own"]);
const forceText = z.string().regex(/^\d+(\.\d+)? (N|lbf)$/, 'a force such as "40 N"');
const lengthText = z.string().regex(/^\d+(\.\d+)? (mm|in)$/, 'a length such as "300 mm"');
/** A length as a multiple of the nominal diameter within bounds, or fixed. */
const lengthRule = z
  .strictObject({
    times: decimal.optional(),
    atLeast: lengthText.optional(),
    atMost: lengthText.optional(),
    fixed: lengthText.optional(),
    provenance: provenance.optional(),
  })
  .refine((rule) => (rule.times === undefined) !== (rule.fixed === undefined), "either times (of the diameter) or fixed");

const row = z.strictObject({
  grades: z.array(z.string()).optional(),
  /** Edges in the table's diameter unit: over/below exclude, from/upTo include; size is one tabulated diameter. */
  size: decimal.optional(),
  over: decimal.optional(),
  from: decimal.optional(),
  upTo: decimal.optional(),
  below: decimal.optional(),
  min: decimal.optional(),
  max: decimal.optional(),
  /** Half the tolerance field round the nominal diameter. */
  plusMinus: decimal.optional(),
  mandrelTimes: decimal.optional(),
  radius: lengthText.optional(),
  indicative: z.boolean().optional(),
  /** The reference leaves these sizes to a person: asked for them, the answer is `no-rule`. Such a row holds no limit. */
  undecided: z.boolean().optional(),
  provenance,
  source: z.string().optional(),
  note: z.string().optional(),
});

const NEEDS_SIZE = (between: string): string => `a table with between "${between}" gives a size in every row`;

const table = z
  .strictObject({
    property: z.string().min(1),
    grades: z.array(z.string()).optional(),
    clause: z.string(),
    unit: z.string(),
    diameterUnit: z.enum(["mm", "in"]),
    /** `listed`: only the tabulated sizes; the text for sizes between was not seen. */
    between: z.enum(["bands", "linear", "next-larger", "next-smaller", "listed"]),
    betweenProvenance: provenance.optional(),
    /** Rows printed with gaps (0.99 / 1.00): the diameter is first rounded to these places. */
    places: z.int().min(0).max(4).optional(),
    freeLength: lengthRule.optional(),
    gaugeLength: lengthRule.optional(),
    mandrel: lengthRule.optional(),
    mandrelMax: lengthRule.optional(),
    wraps: decimal.optional(),
    /** Pieces of one coil; absent: as the sampling rule says. */
    pieces: z.int().positive().optional(),
    /** Forward and reverse turns, and what of them is held against the limit. */
    programme: z
      .strictObject({
        forwardTurns: decimal,
        reverseTurns: decimal.optional(),
        cycles: decimal.optional(),
        counts: z.enum(["total", "reverse", "cycles", "survives"]),
      })
      .optional(),
    area: z.enum(["measured", "nominal", "by-mass"]).optional(),
    evaluate: z.enum(["each", "mean"]).optional(),
    /** A requirement without a number. */
    word: z.string().optional(),
    listedOnly: z.boolean().optional(),
    rounding: z
      .strictObject({ method: z.enum(["round", "absolute", "whole"]), step: decimal, ties: z.enum(["even", "away", "none"]) })
      .optional(),
    rows: z.array(row).min(1),
  })
  .superRefine((value, context) => {
    value.rows.forEach((r, index) => {
      const add = (message: string, key?: string): void =>
        context.addIssue({ code: "custom", message, path: ["rows", index, ...(key ? [key] : [])] });
      if (r.min !== undefined && r.max !== undefined && compareExact(exact(r.min), exact(r.max)) > 0)
        add(`min ${r.min} is above max ${r.max}`, "min");
      const limited = r.min !== undefined || r.max !== undefined || r.plusMinus !== undefined;
      if (r.undecided) {
        if (limited || r.mandrelTimes !== undefined) add("an undecided row holds no limit", "undecided");
        if (value.between !== "bands" && r.size === undefined) add(NEEDS_SIZE(value.between), "size");
        return;
      }
      if (limited && value.unit === "") add("a limit needs the unit of its table", "min");
      if (!limited && value.word === undefined && value.wraps === undefined)
        add("a row needs min, max or plusMinus, or the table a word or wraps");
      if (value.between !== "bands" && r.size === undefined) add(NEEDS_SIZE(value.between), "size");
    });
  });

const chemistryRow = z.strictObject({
  element: z.string(),
  grades: z.array(z.string()).optional(),
  min: decimal.optional(),
  max: decimal.optional(),
  provenance,
  source: z.string().optional(),
});

const required = z.strictObject({
  property: z.string(),
  grades: z.array(z.string()).optional(),
  /** Concerns only orders in this unit system, where the two editions of a table start at unlike sizes. */
  diameterUnit: z.enum(["mm", "in"]).optional(),
  from: lengthText.optional(),
  over: lengthText.optional(),
  upTo: lengthText.optional(),
});

const sampling = z.strictObject({
  kind: z.enum(["each-coil", "per-coils"]),
  coils: z.int().positive().optional(),
  atMost: z.int().positive().optional(),
  bothEnds: z.boolean().default(false),
  perHeat: z.boolean().default(false),
  clause: z.string(),
  provenance,
});

const retest = z.strictObject({
  /** `every-coil`: after a failure every other coil of the test unit is tested. */
  kind: z.enum(["pieces", "every-coil"]).optional(),
  properties: z.array(z.string()).min(1),
  pieces: z.int().positive(),
  mustConform: z.enum(["all", "one"]),
  clause: z.string(),
  provenance,
});

const conduct = z.strictObject({
  torsionGripDistance: z.union([z.strictObject({ timesDiameter: decimal }), z.strictObject({ length: lengthText })]).optional(),
  torsionMaximumSpeed: z.strictObject({ text: decimal, provenance }).optional(),
  torsionScalingAllowed: z.boolean().optional(),
  freeLengthTolerance: decimal.optional(),
  torsionMaximumTensionShare: decimal.optional(),
  torsionTension: z.strictObject({ min: forceText.optional(), max: forceText.optional() }).optional(),
  torsionStraightening: z.array(z.enum(["none", "hand", "tapped", "rolled"])).optional(),
  wrapFirstTurn: z.enum(["passes", "void-once"]).optional(),
  wrapFailsFrom: z.enum(["visible", "broken"]).optional(),
  mandrelTolerance: decimal.optional(),
  wrapMaximumRate: decimal.optional(),
  coatingConstant: decimal.optional(),
});

export const specificationSchema = z.strictObject({
  id: z.string().min(1),
  edition: z.string().min(1),
  title: z.string(),
  /** Empty where the specification has one grade only. */
  grades: z.array(z.string()),
  /** A lab's own specification may stand on a held one; what it names replaces the base's tables of that property. */
  extends: z.strictObject({ specification: z.string(), edition: z.string().optional(), grade: z.string().optional() }).optional(),
  tables: z.array(table),
  chemistry: z.array(chemistryRow).default([]),
  required: z.array(required),
  sampling: sampling.optional(),
  retest: z.array(retest).default([]),
  conduct: conduct.default({}),
  note: z.string().optional(),
});

export type SpecificationInput = z.input<typeof specificationSchema>;
export type SpecificationData = z.output<typeof specificationSchema>;
export type Table = z.output<typeof table>;
export type TableRow = z.output<typeof row>;
export type ChemistryRow = z.output<typeof chemistryRow>;
export type LengthRule = z.output<typeof lengthRule>;

const SHAPES: Readonly<Record<string, object>> = {
  tables: table.shape,
  rows: row.shape,
  chemistry: chemistryRow.shape,
  required: required.shape,
  sampling: sampling.shape,
  retest: retest.shape,
  conduct: conduct.shape,
  freeLength: lengthRule.shape,
  gaugeLength: lengthRule.shape,
  mandrel: lengthRule.shape,
  mandrelMax: lengthRule.shape,
};

/** The keys that are accepted where `path` leads, for error texts; of the whole specification where it leads to none of its lists. */
export function acceptedKeys(path: readonly PropertyKey[]): string {
  const place = path.findLast((part) => typeof part === "string");
  return Object.keys(SHAPES[String(place ?? "")] ?? specificationSchema.shape).join(", ");
}
