/** Rows that stand twice, or nearly: nobody can say which is meant, so none of them is judged. */
import type { EntryRow, FieldValue, Finding, TestSheet } from "../model.ts";
import type { EntryFindingCode } from "./finding-codes.ts";
import { answeredBy } from "./properties.ts";
import type { ReadRow } from "./rows.ts";

/** The same property, test piece and position twice, rows that could not be read included. Code: doubled-result, on every such row. */
export function refuseDoubles(tests: readonly ReadRow[], findings: Finding[]): void {
  // By property and then by piece: a key made of both would be a text more for every result of a day book.
  const first = new Map<string, Map<string, ReadRow>>();
  const doubled = new Set<ReadRow>();
  for (const read of tests) {
    const place = placeOf(read);
    if (place === undefined) continue;
    for (const property of answeredBy(read.row.sheet as TestSheet, read.row.fields)) {
      const ofProperty = first.get(property) ?? new Map<string, ReadRow>();
      first.set(property, ofProperty);
      const earlier = ofProperty.get(place);
      if (earlier === undefined) ofProperty.set(place, read);
      else doubled.add(earlier).add(read);
    }
  }
  for (const read of doubled) {
    const piece = read.row.fields["testPiece"];
    blame(
      read,
      piece,
      "doubled-result",
      "each test piece once",
      `Test piece ${piece?.text ?? ""} stands in this workbook more than once for the same property; none of its rows is judged.`,
      findings,
    );
  }
}

/** The test piece and position of a row; undefined where a part of them could not be read. */
function placeOf({ row, unreadable }: ReadRow): string | undefined {
  const piece = row.fields["testPiece"];
  if (piece === undefined || unreadable.has("position")) return undefined;
  const position = row.fields["position"];
  return position === undefined ? piece.text : `${piece.text}\u0000${position.text}`;
}

/** Test pieces of one sheet that differ only by case. Code: near-match, on every such row. */
export function refuseCaseTwins(tests: readonly ReadRow[], findings: Finding[]): void {
  const keyOf = ({ row }: ReadRow, piece: string): string => `${row.sheet}\u0000${piece.toLowerCase()}`;
  const first = new Map<string, string>();
  const twins = new Map<string, Set<string>>();
  for (const read of tests) {
    const piece = read.row.fields["testPiece"]?.text;
    if (piece === undefined) continue;
    const key = keyOf(read, piece);
    const earlier = first.get(key);
    if (earlier === undefined) first.set(key, piece);
    else if (earlier !== piece) twins.set(key, (twins.get(key) ?? new Set([earlier])).add(piece));
  }
  if (twins.size === 0) return;
  for (const read of tests) {
    const piece = read.row.fields["testPiece"];
    const spellings = piece === undefined ? undefined : twins.get(keyOf(read, piece.text));
    if (piece === undefined || spellings === undefined) continue;
    const others = [...spellings].filter((spelling) => spelling !== piece.text).join(", ");
    blame(read, piece, "near-match", others, `Test piece ${piece.text} differs from ${others} only by case; which is meant?`, findings);
  }
}

const REGISTER_KEYS: Readonly<Record<string, readonly string[]>> = {
  orders: ["order", "item"],
  agreed: ["order", "item", "property", "conditions"],
  coils: ["coil"],
  heats: ["heat", "analysis"],
};

/**
 * The same order item, coil, heat analysis or agreed requirement in two rows. Instruments may have several rows.
 * Code: doubled-registration, on every such row.
 */
export function refuseDoubledRegistrations(registers: readonly ReadRow[], findings: Finding[]): void {
  const first = new Map<string, ReadRow>();
  const doubled = new Set<ReadRow>();
  for (const read of registers) {
    const key = registrationKey(read.row);
    if (key === undefined) continue;
    const earlier = first.get(key);
    if (earlier === undefined) first.set(key, read);
    else doubled.add(earlier).add(read);
  }
  for (const read of doubled) {
    const field = REGISTER_KEYS[read.row.sheet]?.[0] ?? "";
    const value = read.row.fields[field];
    const said = `${value?.text ?? ""} stands in more than one row; none of them registers anything.`;
    blame(read, value, "doubled-registration", "one row", said, findings);
  }
}

function registrationKey(row: EntryRow): string | undefined {
  const keys = REGISTER_KEYS[row.sheet];
  if (keys === undefined || row.fields[keys[0] ?? ""] === undefined) return undefined;
  // An analysis that is not named is the heat analysis.
  return [row.sheet, ...keys.map((field) => row.fields[field]?.text ?? (field === "analysis" ? "heat" : ""))].join("\u0000");
}

/** Puts an error on a row, at one of its cells. */
export function blame(
  { row, errors }: ReadRow,
  value: FieldValue | undefined,
  code: EntryFindingCode,
  expected: string,
  text: string,
  findings: Finding[],
): void {
  const cell = value?.cell ?? `A${row.row}`;
  if (!errors.includes(cell)) errors.push(cell);
  findings.push({ code, severity: "error", sheet: row.sheetName, cell, actual: value?.raw ?? "", expected, text });
}
