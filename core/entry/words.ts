import { compareExact, exact } from "../decimal.ts";
import type { CellRecord, Finding } from "../model.ts";
import { type CellContext, joinBlanks, type ReadCell, refuse, shorten, take, trimBlanks, warning } from "./cell.ts";
import { dayOf } from "./days.ts";
import { shownBy } from "./formats.ts";
import { storedNumber } from "./numbers.ts";

/** What nobody sees or prints: controls, formats (direction marks, zero-width characters), halves of a pair, separators, non-characters. */
const UNSEEN = /[\p{Cc}\p{Cf}\p{Cs}\u2028\u2029\ufffe\uffff]/u;
const LONGEST_IDENTIFIER = 64;
const LONGEST_TEXT = 500;

/** One cell of a column with listed words. Codes: not-allowed, word-respelled, blanks-trimmed, taken-as-text. */
export function readWord(cell: CellRecord, context: CellContext): ReadCell {
  const allowed = context.column.allowed ?? [];
  const typed = typedNumber(cell) ?? cell.raw;
  const text = joinBlanks(typed);
  const found =
    cell.type === "boolean" ? undefined : (allowed.find((word) => word === text) ?? allowed.find((word) => word === text.toLowerCase()));
  if (found === undefined)
    return refuse(
      cell,
      context,
      "not-allowed",
      allowed.join(", "),
      `${cell.cell} holds "${shorten(cell.raw)}"; accepted are ${allowed.join(", ")}.`,
    );
  const findings: Finding[] = [];
  if (cell.type === "number")
    findings.push(warning(cell, context, "taken-as-text", found, `${cell.cell} holds the number ${typed}; it was taken as "${found}".`));
  else if (text !== found)
    findings.push(warning(cell, context, "word-respelled", found, `${cell.cell} holds "${shorten(text)}"; it was taken as "${found}".`));
  else if (text !== typed)
    findings.push(warning(cell, context, "blanks-trimmed", found, `${cell.cell} has blanks around "${found}"; they were dropped.`));
  return take(cell, found, findings);
}

/** The digits of a plain number cell; undefined for every other cell, and for a number shown as a date or a percentage. */
function typedNumber(cell: CellRecord): string | undefined {
  const { date, percent } = shownBy(cell.format);
  return cell.type !== "number" || date || percent ? undefined : storedNumber(cell.raw);
}

/** One cell of a column of names. Codes: not-an-identifier, hidden-character, identifier-too-long, identifier-as-number, blanks-trimmed. */
export function readIdentifier(cell: CellRecord, context: CellContext): ReadCell {
  if (cell.type === "number") return numberAsIdentifier(cell, context);
  if (cell.type === "boolean" || cell.type === "date-text")
    return refuse(
      cell,
      context,
      "not-an-identifier",
      "text",
      `${cell.cell} holds a ${cell.type === "boolean" ? "logical value" : "date"}; an identifier is expected.`,
    );
  const normal = cell.raw.normalize("NFC");
  const trimmed = trimBlanks(normal);
  if (UNSEEN.test(trimmed))
    return refuse(
      cell,
      context,
      "hidden-character",
      "letters, digits and signs",
      `The identifier in ${cell.cell} holds a character that cannot be seen; type it again.`,
    );
  const length = [...trimmed].length;
  if (length > LONGEST_IDENTIFIER)
    return refuse(
      cell,
      context,
      "identifier-too-long",
      `at most ${LONGEST_IDENTIFIER} characters`,
      `The identifier in ${cell.cell} has ${length} characters; at most ${LONGEST_IDENTIFIER} are accepted.`,
    );
  if (trimmed === "") return { findings: [], failed: false };
  const said = `${cell.cell} has blanks around "${trimmed}"; they were dropped.`;
  return take(cell, trimmed, trimmed === normal ? [] : [warning(cell, context, "blanks-trimmed", trimmed, said)]);
}

/** From 10^15 on a workbook no longer keeps every digit. */
const TOO_MANY_DIGITS = exact("1000000000000000");

function numberAsIdentifier(cell: CellRecord, context: CellContext): ReadCell {
  const text = shownBy(cell.format).exponent ? undefined : typedNumber(cell);
  if (text === undefined || !/^\d+$/.test(text) || compareExact(exact(text), TOO_MANY_DIGITS) >= 0)
    return refuse(
      cell,
      context,
      "not-an-identifier",
      "text",
      `${cell.cell} holds the number ${shorten(cell.raw)} where an identifier is expected; format the cell as text and type it again.`,
    );
  const said = `${cell.cell} holds ${text} as a number; it was taken as its digits. Leading zeros would be lost.`;
  return take(cell, text, [warning(cell, context, "identifier-as-number", "text", said)]);
}

/** One cell of free text. Codes (all warnings): taken-as-text, control-character, text-shortened. */
export function readText(cell: CellRecord, context: CellContext): ReadCell {
  const findings: Finding[] = [];
  const shown = shownText(cell, context);
  if (cell.type !== "text")
    findings.push(warning(cell, context, "taken-as-text", "text", `${cell.cell} holds no text; it was taken as the text "${shown}".`));
  const text = shown.normalize("NFC").trim();
  // Tabs and line breaks are part of a text; other controls and halves of a pair cannot be printed.
  let clean = text.replaceAll(/(?![\t\n\r])[\p{Cc}\p{Cs}]/gu, "\ufffd");
  if (clean !== text)
    findings.push(
      warning(
        cell,
        context,
        "control-character",
        "printable text",
        `The text in ${cell.cell} holds characters that cannot be printed; each became \ufffd.`,
      ),
    );
  const characters = [...clean];
  if (characters.length > LONGEST_TEXT) {
    clean = `${characters.slice(0, LONGEST_TEXT - 1).join("")}…`;
    const said = `The text in ${cell.cell} is longer than ${LONGEST_TEXT} characters and was shortened.`;
    findings.push(warning(cell, context, "text-shortened", `at most ${LONGEST_TEXT} characters`, said));
  }
  return clean === "" ? { findings, failed: false } : take(cell, clean, findings);
}

/** What the clerk sees: the day of a date cell, TRUE or FALSE, the digits of a number. */
function shownText(cell: CellRecord, context: CellContext): string {
  if (cell.type === "boolean") return cell.raw === "1" || cell.raw === "true" ? "TRUE" : "FALSE";
  if (cell.type === "number") return dayOf(cell, context) ?? storedNumber(cell.raw) ?? cell.raw;
  return cell.raw;
}
