/**
 * The published form of every record: what lies inside a document as `record.json`. A reader that knows nothing of this program can
 * hold a record against the JSON schema in docs/schema/.
 */
import { z } from "zod";

const text = z.string();
const texts = z.array(text).readonly();
const decimal = z
  .string()
  .regex(/^-?\d+(\.\d+)?$/)
  .describe("decimal text with a point, never rounded on the way");
const day = z
  .string()
  .regex(/^\d{4}-\d{2}-\d{2}$/)
  .describe("YYYY-MM-DD");
const amount = z.strictObject({ text: decimal, unit: text }).readonly();
const verdict = z.enum(["does-not-conform", "retest-due", "undecided", "not-tested", "conforms"]);
const documentType = z.enum(["2.1", "2.2", "3.1", "3.2"]).describe("type of EN 10204");
const decisionRule = z.enum(["simple", "guarded", "guarded-open"]);

const lab = z.strictObject({ name: text, address: texts, footer: text.optional() }).readonly();
const issue = z
  .strictObject({
    number: text,
    issuedOn: day,
    signedBy: texts,
    replaces: z.strictObject({ number: text, why: text }).readonly().optional(),
  })
  .readonly();

const conditions = z
  .strictObject({
    freeLength: amount.optional(),
    gaugeLength: amount.optional(),
    mandrelDiameter: amount.optional(),
    mandrelDiameterMax: amount.optional(),
    wraps: amount.optional(),
    radius: amount.optional(),
    programme: text.optional(),
    area: z.enum(["measured", "nominal", "by-mass"]).optional(),
  })
  .readonly()
  .describe("what gives a figure its meaning");

const requirement = z
  .strictObject({
    property: text,
    min: decimal.optional(),
    max: decimal.optional(),
    unit: text.describe("unit of the limits, never converted"),
    word: text.optional().describe("a requirement without a number, as a code"),
    conditions,
    rule: z
      .strictObject({
        specification: text,
        edition: text,
        clause: text,
        provenance: z.enum(["read", "memory", "own"]),
        adopted: z.boolean(),
      })
      .readonly(),
    row: text,
    rowRule: text,
    agreedIn: text.optional(),
    pieces: z.number().int().optional(),
    torsionProgramme: z
      .strictObject({
        forwardTurns: decimal,
        reverseTurns: decimal.optional(),
        cycles: decimal.optional(),
        counts: z.enum(["total", "reverse", "cycles", "survives"]),
      })
      .readonly()
      .optional(),
    method: text.optional(),
    instruments: texts.optional(),
    uncertainty: decimal.optional(),
    unitBeside: text.optional(),
  })
  .readonly();

const cell = z
  .strictObject({
    value: text.describe("unrounded, decimal text, or a word"),
    compared: text.describe("as held against the limit"),
    word: z.boolean(),
    censored: z.boolean().describe("stopped unbroken: at least this much"),
    outcome: z.enum(["conforms", "does-not-conform", "undecided", "not-tested"]),
    pieces: z.number().int(),
    margin: decimal.optional(),
    uncertainty: decimal.optional(),
    beside: decimal.optional(),
  })
  .readonly();

const note = z.union([
  z.strictObject({ kind: z.literal("deviation"), coil: text, property: text, piece: text, deviation: text }).readonly(),
  z.strictObject({ kind: z.literal("void"), coil: text, property: text, count: z.number().int() }).readonly(),
  z.strictObject({ kind: z.literal("retest"), coil: text, property: text, first: text }).readonly(),
  z.strictObject({ kind: z.enum(["indicative", "listed"]), property: text, word: text.optional() }).readonly(),
  z.strictObject({ kind: z.literal("agreed"), property: text, agreedIn: text }).readonly(),
  z.strictObject({ kind: z.literal("concession"), coil: text, property: text, reference: text }).readonly(),
  z.strictObject({ kind: z.literal("conditional"), coil: text, condition: text }).readonly(),
  z.strictObject({ kind: z.literal("not-adopted"), specification: text }).readonly(),
]);

const certificate = z.strictObject({
  schema: z.literal("certificate-record/1"),
  template: text,
  type: documentType,
  form: z.literal("laboratory-report").optional(),
  language: text,
  decimalMark: text.optional(),
  lab,
  customer: z.strictObject({ name: text, address: texts, contact: text.optional(), order: text.optional() }).readonly(),
  order: text,
  item: text,
  delivery: text.optional(),
  product: text.optional(),
  specification: text,
  edition: text,
  grade: text,
  coatingClass: text.optional(),
  nominalDiameter: amount,
  nominalBeside: amount.optional(),
  decisionRule,
  requirements: z.array(requirement).readonly(),
  rows: z
    .array(
      z
        .strictObject({
          coil: text,
          heat: text,
          testUnit: text,
          basis: z.enum(["own-results", "test-unit"]),
          verdict,
          mass: amount.optional(),
          massBeside: amount.optional(),
          cells: z
            .array(cell.nullable())
            .readonly()
            .describe("in the order of the requirements; null where the coil stands on its test unit"),
        })
        .readonly(),
    )
    .readonly(),
  heats: z
    .array(z.strictObject({ heat: text, analysis: text, source: text, elements: z.record(text, decimal).readonly() }).readonly())
    .readonly(),
  notes: z.array(note).readonly(),
  testedOn: z.array(day).readonly(),
  instruments: texts,
});

const order = {
  language: text,
  lab,
  order: text,
  item: text,
  customer: text,
  specification: text,
  edition: text,
  grade: text,
  nominalDiameter: amount,
};

const notice = z.strictObject({
  schema: z.literal("notice-record/1"),
  template: text,
  ...order,
  findings: z
    .array(
      z
        .strictObject({
          coil: text,
          property: text,
          requirement,
          testPiece: text,
          compared: text,
          value: text,
          reason: text,
          excess: decimal.optional(),
          sheet: text,
          cell: text,
        })
        .readonly(),
    )
    .readonly(),
  sameHeat: z.array(z.strictObject({ heat: text, coils: texts }).readonly()).readonly(),
  sameUnit: z.array(z.strictObject({ unit: text, coils: texts }).readonly()).readonly(),
  held: texts,
  audience: z.literal("customer").optional(),
  answerBy: day.optional(),
  decisions: z
    .array(
      z
        .strictObject({
          decision: z.enum(["scrap", "concession", "regrade", "return", "release"]),
          coils: texts,
          why: text,
          by: text,
          on: day,
        })
        .readonly(),
    )
    .readonly()
    .optional(),
  documents: z
    .array(z.strictObject({ number: text, coil: text, property: text, before: text, now: text }).readonly())
    .readonly()
    .optional(),
});

const retest = z.strictObject({
  schema: z.literal("retest-order-record/1"),
  template: text,
  decimalMark: text.optional(),
  ...order,
  steps: z
    .array(
      z
        .strictObject({
          coil: text,
          heat: text,
          property: text,
          do: z.enum(["test", "repeat", "retest"]),
          pieces: z.number().int(),
          end: z.enum(["outer", "inner", "between"]).optional(),
          requirement,
          reason: text.optional(),
          standsFor: texts,
        })
        .readonly(),
    )
    .readonly(),
});

const labels = z.strictObject({
  schema: z.literal("coil-labels-record/1"),
  template: text,
  decimalMark: text.optional(),
  ...order,
  customerOrder: text.optional(),
  product: text.optional(),
  coatingClass: text.optional(),
  coils: z
    .array(
      z.strictObject({ coil: text, heat: text, mass: amount.optional(), length: amount.optional(), document: text.optional() }).readonly(),
    )
    .readonly(),
});

/** By the name of the file in docs/schema/. Each describes the attached file: the record with its issue. */
export const RECORD_SCHEMAS = {
  "certificate-record": certificate.extend({ issue }),
  "notice-record": notice.extend({ issue }),
  "retest-order-record": retest.extend({ issue }),
  "coil-labels-record": labels.extend({ issue }),
} as const;

/** The JSON schemas as they are published: file name and content. */
export const publishedSchemas = (): ReadonlyMap<string, string> =>
  new Map(
    Object.entries(RECORD_SCHEMAS).map(([name, schema]) => [
      `${name}.json`,
      `${JSON.stringify({ $id: `${name}/1`, title: `Coilbook ${name.replaceAll("-", " ")}`, ...z.toJSONSchema(schema, { io: "input" }) }, null, 2)}\n`,
    ]),
  );
