/** One cell to one value: nothing is guessed, and nothing is coerced without saying so. */
import { compareExact, exact, numberText, plainText, toNumber } from "../decimal.ts";
import type { CellRecord, FieldValue, Finding, UnitSystem } from "../model.ts";
import { convertExact, isUnit } from "../quantity.ts";
import { isDateFormat, isExponentFormat, isIsoDay, isPercentFormat, serialToDate } from "../workbook/dates.ts";
import { type Column, type Kind, unitOf } from "./columns.ts";

export interface CellContext {
  readonly sheetName: string;
  readonly column: Column;
  readonly system: UnitSystem;
  readonly decimalMark: "." | ",";
  readonly date1904: boolean;
  readonly today: string;
}

/** A value, nothing (an empty cell), or undefined with an error among the findings. */
export interface ReadCell {
  readonly value?: FieldValue;
  readonly findings: readonly Finding[];
  readonly failed: boolean;
}

const VOLATILE = /\b(NOW|TODAY|RAND|RANDBETWEEN|RANDARRAY|OFFSET|INDIRECT|CELL|INFO)\s*\(/i;
/** Blanks of every kind that programs put round a figure. */
const BLANKS = /[\s\u00a0\u2007\u2009\u202f]+/g;
// Controls, direction marks and zero-width characters have no place in an identifier.
const FORBIDDEN_IN_IDENTIFIER = /[\u0000-\u001f\u007f-\u009f\u200b-\u200f\u2028-\u202e\u2060-\u2069\ufeff]/;
const LONGEST_IDENTIFIER = 64;
const LONGEST_TEXT = 500;

export function readCell(cell: CellRecord, context: CellContext): ReadCell {
  const early = formulaFinding(cell, context);
  if (early) return failed(early);
  switch (context.column.type) {
    case "date":
      return readDate(cell, context);
    case "identifier":
      return readIdentifier(cell, context);
    case "text":
      return context.column.allowed ? readWord(cell, context) : readText(cell, context);
    default:
      return readNumber(cell, context);
  }
}

const failed = (...findings: Finding[]): ReadCell => ({ findings, failed: true });

function finding(
  code: string,
  severity: Finding["severity"],
  cell: CellRecord,
  { sheetName }: CellContext,
  expected: string,
  text: string,
): Finding {
  return { code, severity, sheet: sheetName, cell: cell.cell, actual: cell.raw.slice(0, 120), expected, text };
}

function formulaFinding(cell: CellRecord, context: CellContext): Finding | undefined {
  if (cell.type === "error")
    return finding(
      "error-value",
      "error",
      cell,
      context,
      "a value",
      `${cell.cell} holds the error ${cell.raw}; mend the formula or type the value.`,
    );
  if (cell.formula === undefined) return undefined;
  if (cell.unevaluated)
    return finding(
      "formula-without-value",
      "error",
      cell,
      context,
      "a stored value",
      `${cell.cell} holds a formula without a stored value; recalculate and save the workbook.`,
    );
  if (VOLATILE.test(cell.formula.replaceAll(/"[^"]*"/g, "")))
    return finding(
      "volatile-formula",
      "error",
      cell,
      context,
      "a typed value",
      `The formula in ${cell.cell} (=${cell.formula}) changes by itself; type the value instead.`,
    );
  return undefined;
}

const make = (cell: CellRecord, text: string, rest: Partial<FieldValue> = {}): FieldValue => ({
  text,
  cell: cell.cell,
  raw: cell.raw,
  ...(cell.formula === undefined ? {} : { formula: cell.formula }),
  ...rest,
});

// ---- numbers -------------------------------------------------------------------------------------------------

function readNumber(cell: CellRecord, context: CellContext): ReadCell {
  const { column } = context;
  if (cell.type === "boolean" || cell.type === "date-text")
    return failed(
      finding(
        "not-a-number",
        "error",
        cell,
        context,
        "a number",
        `${cell.cell} holds ${cell.type === "boolean" ? "a logical value" : "a date"}; a number is expected.`,
      ),
    );
  if (cell.type === "number") {
    if (isDateFormat(cell.format))
      return failed(
        finding("not-a-number", "error", cell, context, "a number", `${cell.cell} is formatted as a date; a number is expected.`),
      );
    if (isPercentFormat(cell.format) && column.kind !== "percent")
      return failed(
        finding(
          "percent-cell",
          "error",
          cell,
          context,
          "a number without per cent format",
          `${cell.cell} is formatted as a percentage; a plain number is expected.`,
        ),
      );
    const text = storedNumber(cell.raw);
    if (text === undefined)
      return failed(
        finding(
          "not-a-number",
          "error",
          cell,
          context,
          "a number",
          `${cell.cell} holds "${cell.raw}", which is no number that can be kept.`,
        ),
      );
    // A percentage column whose cell is formatted as per cent stores a fraction of one.
    const value = isPercentFormat(cell.format) ? numberText(Number(text) * 100, 15) : text;
    return finish(cell, value, context, []);
  }
  return textAsNumber(cell, context);
}

/** 15 significant digits of a stored number; undefined for what is none or overflows. */
function storedNumber(raw: string): string | undefined {
  if (!/^[+-]?(\d+\.?\d*|\.\d+)([eE][+-]?\d+)?$/.test(raw)) return undefined;
  const number = Number(raw);
  if (!Number.isFinite(number)) return undefined;
  return numberText(number, 15);
}

function textAsNumber(cell: CellRecord, context: CellContext): ReadCell {
  const { column, decimalMark } = context;
  const typed = cell.raw.replaceAll(BLANKS, " ").trim().replaceAll("\u2212", "-");
  const open = column.openEnd === true && typed.startsWith(">");
  const figureText = open ? typed.slice(1).trim() : typed;
  const mark = decimalMark === "," ? "," : "\\.";
  const plain = new RegExp(`^-?\\d+(?:${mark}\\d+)?$`).test(figureText);
  if (!plain) {
    const other = /^-?\d{1,3}([.,]\d{3})+$/.test(figureText) || /^-?\d+[.,]\d+$/.test(figureText);
    const code = other ? "ambiguous-number" : "not-a-number";
    const expected = `a number cell${column.openEnd ? ", or >N for a piece stopped unbroken" : ""}`;
    const why = other ? "could be read in two ways" : "is no number";
    return failed(
      finding(
        code,
        "error",
        cell,
        context,
        expected,
        `${cell.cell} holds the text "${shorten(cell.raw)}", which ${why}; type ${expected}.`,
      ),
    );
  }
  const text = plainText(figureText.replace(",", "."));
  if (text.replace(/[-.]/g, "").replace(/^0+/, "").length > 15)
    return failed(finding("not-a-number", "error", cell, context, "at most 15 digits", `${cell.cell} holds more digits than can be kept.`));
  const warning = open
    ? []
    : [
        finding(
          "number-as-text",
          "warning",
          cell,
          context,
          "a number cell",
          `${cell.cell} holds the number ${text} as text; it was taken as the number.`,
        ),
      ];
  return finish(cell, text, context, warning, open);
}

/** Plausibility and unit; the last step of every number. */
function finish(cell: CellRecord, text: string, context: CellContext, findings: readonly Finding[], atLeast = false): ReadCell {
  const { column, system } = context;
  const unit = unitOf(column, system);
  if (column.plausible && !plausible(text, unit, column, context)) {
    const [low, high] = column.plausible;
    const si = unitOf(column, "SI");
    return failed(
      ...findings,
      finding(
        "implausible",
        "error",
        cell,
        context,
        `${low} to ${high} ${si ?? ""}`.trim(),
        `${cell.cell} holds ${text}${unit ? ` ${unit}` : ""}, outside the plausible ${low} to ${high}${si ? ` ${si}` : ""}; check figure and unit.`,
      ),
    );
  }
  return {
    value: make(cell, text, { ...(unit === undefined ? {} : { unit }), ...(atLeast ? { atLeast: true } : {}) }),
    findings,
    failed: false,
  };
}

function plausible(text: string, unit: string | undefined, column: Column, { system }: CellContext): boolean {
  const [low, high] = column.plausible ?? [Number.NEGATIVE_INFINITY, Number.POSITIVE_INFINITY];
  const si = unitOf(column, "SI");
  let value = exact(text);
  if (system === "inch-pound" && unit !== undefined && si !== undefined && unit !== si && isUnit(unit) && isUnit(si))
    value = convertExact(value, unit, si);
  const within = (edge: number, side: 1 | -1): boolean => !Number.isFinite(edge) || compareExact(value, exact(numberText(edge))) !== side;
  return within(low, -1) && within(high, 1);
}

// ---- dates ---------------------------------------------------------------------------------------------------

const EARLIEST = "1990-01-01";

function readDate(cell: CellRecord, context: CellContext): ReadCell {
  const day = dayOf(cell, context);
  if (day === undefined)
    return failed(
      finding(
        "not-a-date",
        "error",
        cell,
        context,
        "a date cell or YYYY-MM-DD",
        `${cell.cell} holds "${shorten(cell.raw)}", which is no date; type a date or YYYY-MM-DD.`,
      ),
    );
  if (day < EARLIEST)
    return failed(
      finding(
        "date-too-early",
        "error",
        cell,
        context,
        `${EARLIEST} or later`,
        `${cell.cell} says ${day}; dates before ${EARLIEST} are not accepted.`,
      ),
    );
  if (day > context.today && !context.column.mayBeAhead)
    return failed(
      finding(
        "date-ahead",
        "error",
        cell,
        context,
        `${context.today} or earlier`,
        `${cell.cell} says ${day}, which lies after today (${context.today}).`,
      ),
    );
  return { value: make(cell, day), findings: [], failed: false };
}

function dayOf(cell: CellRecord, { date1904 }: CellContext): string | undefined {
  if (cell.type === "number")
    return isDateFormat(cell.format) && storedNumber(cell.raw) !== undefined ? serialToDate(cell.raw, date1904)?.date : undefined;
  if (cell.type !== "text" && cell.type !== "date-text") return undefined;
  const text = cell.raw.replaceAll(BLANKS, " ").trim();
  const day = /^(\d{4}-\d{2}-\d{2})(?:[T ]\d{2}:\d{2}(?::\d{2}(?:\.\d+)?)?Z?)?$/.exec(text)?.[1];
  return day !== undefined && isIsoDay(day) ? day : undefined;
}

// ---- words and identifiers -----------------------------------------------------------------------------------

function readWord(cell: CellRecord, context: CellContext): ReadCell {
  const allowed = context.column.allowed ?? [];
  const text = typedText(cell).replaceAll(BLANKS, " ").trim();
  // A document type of 2.2 typed as a number is what it looks like.
  const found = allowed.find((word) => word === text) ?? allowed.find((word) => word === text.toLowerCase());
  if (found === undefined)
    return failed(
      finding(
        "not-allowed",
        "error",
        cell,
        context,
        allowed.join(", "),
        `${cell.cell} holds "${shorten(cell.raw)}"; accepted are ${allowed.join(", ")}.`,
      ),
    );
  return { value: make(cell, found), findings: [], failed: false };
}

function typedText(cell: CellRecord): string {
  return cell.type === "number" ? (storedNumber(cell.raw) ?? cell.raw) : cell.raw;
}

function readIdentifier(cell: CellRecord, context: CellContext): ReadCell {
  if (cell.type === "boolean")
    return failed(
      finding("not-an-identifier", "error", cell, context, "text", `${cell.cell} holds a logical value; an identifier is expected.`),
    );
  if (cell.type === "number") return numberAsIdentifier(cell, context);
  const normal = cell.raw.normalize("NFC");
  const trimmed = normal.replaceAll(/^[\s\u00a0\u2007\u202f]+|[\s\u00a0\u2007\u202f]+$/g, "");
  if (FORBIDDEN_IN_IDENTIFIER.test(trimmed))
    return failed(
      finding(
        "hidden-character",
        "error",
        cell,
        context,
        "letters, digits and signs",
        `The identifier in ${cell.cell} holds a character that cannot be seen; type it again.`,
      ),
    );
  if (trimmed.length > LONGEST_IDENTIFIER)
    return failed(
      finding(
        "identifier-too-long",
        "error",
        cell,
        context,
        `at most ${LONGEST_IDENTIFIER} characters`,
        `The identifier in ${cell.cell} has ${trimmed.length} characters; at most ${LONGEST_IDENTIFIER} are accepted.`,
      ),
    );
  if (trimmed === "") return { findings: [], failed: false };
  const findings =
    trimmed === normal
      ? []
      : [finding("blanks-trimmed", "warning", cell, context, trimmed, `${cell.cell} has blanks around "${trimmed}"; they were dropped.`)];
  return { value: make(cell, trimmed), findings, failed: false };
}

function numberAsIdentifier(cell: CellRecord, context: CellContext): ReadCell {
  const text = storedNumber(cell.raw);
  const whole = text !== undefined && /^\d+$/.test(text) && compareExact(exact(text), exact("1000000000000000")) < 0;
  if (!whole || isExponentFormat(cell.format) || isDateFormat(cell.format) || isPercentFormat(cell.format))
    return failed(
      finding(
        "not-an-identifier",
        "error",
        cell,
        context,
        "text",
        `${cell.cell} holds the number ${shorten(cell.raw)} where an identifier is expected; format the cell as text and type it again.`,
      ),
    );
  return {
    value: make(cell, text),
    findings: [
      finding(
        "identifier-as-number",
        "warning",
        cell,
        context,
        "text",
        `${cell.cell} holds ${text} as a number; it was taken as its digits. Leading zeros would be lost.`,
      ),
    ],
    failed: false,
  };
}

function readText(cell: CellRecord, context: CellContext): ReadCell {
  const findings: Finding[] = [];
  let text = typedText(cell).normalize("NFC").trim();
  const clean = text
    .replaceAll(/[\u0000-\u0008\u000b\u000c\u000e-\u001f\u007f]/g, "\ufffd")
    .replaceAll(/[\ud800-\udbff](?![\udc00-\udfff])|(?<![\ud800-\udbff])[\udc00-\udfff]/g, "\ufffd");
  if (clean !== text)
    findings.push(
      finding(
        "control-character",
        "warning",
        cell,
        context,
        "printable text",
        `The text in ${cell.cell} holds characters that cannot be printed; each became \ufffd.`,
      ),
    );
  text = clean;
  if ([...text].length > LONGEST_TEXT) {
    text = `${[...text].slice(0, LONGEST_TEXT - 1).join("")}…`;
    findings.push(
      finding(
        "text-shortened",
        "warning",
        cell,
        context,
        `at most ${LONGEST_TEXT} characters`,
        `The text in ${cell.cell} is longer than ${LONGEST_TEXT} characters and was shortened.`,
      ),
    );
  }
  if (text === "") return { findings, failed: false };
  return { value: make(cell, text), findings, failed: false };
}

export const shorten = (text: string): string => (text.length > 60 ? `${text.slice(0, 59)}…` : text);

/** The amount in SI as a double, for the check against the nominal diameter. */
export function siNumber(value: FieldValue, kind: Kind): number {
  const si = unitOf({ field: "", type: "number", kind }, "SI");
  return value.unit !== undefined && si !== undefined && isUnit(value.unit) && isUnit(si)
    ? toNumber(convertExact(exact(value.text), value.unit, si))
    : Number(value.text);
}
