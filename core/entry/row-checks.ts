/** What can only be said of a row as a whole, or of a row beside its order. */
import { addExact, compareExact, exact, multiplyExact, subtractExact } from "../decimal.ts";
import type { EntryRow, FieldValue, Finding, Measure } from "../model.ts";
import { convertExact, type Unit } from "../quantity.ts";
import type { EntryFindingCode } from "./finding-codes.ts";
import type { ReadRow } from "./rows.ts";

/** What the register knows of ordered diameters. */
export interface OrderedDiameters {
  /** Of a registered coil. */
  readonly nominalDiameterOf: (coil: string) => Measure | undefined;
  /** Of a registered order item. */
  readonly nominalDiameterOfItem: (order: string, item: string) => Measure | undefined;
}

/** Rows that contradict themselves or their order. Codes: contradicting-entry, implausible; as a warning slip-suspected. */
export function checkRows(tests: readonly ReadRow[], registers: readonly ReadRow[], ordered: OrderedDiameters, findings: Finding[]): void {
  const nominalOf = nominalDiameters(registers, ordered);
  for (const { row, errors } of tests) {
    if (errors.length > 0) continue;
    const found = [
      turnsFindings(row),
      diameterFindings(row, nominalOf(row.fields["coil"]?.text ?? "")),
      stoppedFindings(row),
      pairFindings(row),
    ].filter((some) => some.length > 0);
    for (const finding of found.flat()) {
      findings.push(finding);
      if (finding.severity === "error" && !errors.includes(finding.cell)) errors.push(finding.cell);
    }
  }
}

/** The ordered diameter of a coil: the register's wherever it has one, else the workbook's own. */
function nominalDiameters(registers: readonly ReadRow[], ordered: OrderedDiameters): (coil: string) => Measure | undefined {
  const items = new Map<string, Measure>();
  const coils = new Map<string, Measure>();
  const key = (order: string, item: string): string => `${order}\u0000${item}`;
  for (const { row } of registers) {
    const diameter = row.fields["nominalDiameter"];
    if (row.sheet === "orders" && diameter?.unit)
      items.set(key(row.fields["order"]?.text ?? "", row.fields["item"]?.text ?? ""), { text: diameter.text, unit: diameter.unit });
  }
  for (const { row } of registers) {
    const [coil, order, item] = ["coil", "order", "item"].map((field) => row.fields[field]?.text);
    if (row.sheet !== "coils" || coil === undefined || order === undefined || item === undefined) continue;
    const diameter = ordered.nominalDiameterOfItem(order, item) ?? items.get(key(order, item));
    if (diameter !== undefined) coils.set(coil, diameter);
  }
  return (coil) => ordered.nominalDiameterOf(coil) ?? coils.get(coil);
}

const at = (
  row: EntryRow,
  value: FieldValue,
  code: EntryFindingCode,
  severity: Finding["severity"],
  expected: string,
  text: string,
): Finding => ({ code, severity, sheet: row.sheetName, cell: value.cell, actual: value.raw, expected, text });

/** Forward and reverse turns must fit the total; a line drawn along the wire should agree with the counter. */
function turnsFindings(row: EntryRow): Finding[] {
  const turns = row.fields["turns"];
  if (row.sheet !== "torsion" || turns === undefined) return [];
  const found: Finding[] = [];
  const [forward, reverse, cycles, line] = ["forwardTurns", "reverseTurns", "cycles", "lineTurns"].map((field) => row.fields[field]);
  if (forward !== undefined || reverse !== undefined) {
    const sum = addExact(exact(forward?.text ?? "0"), exact(reverse?.text ?? "0"));
    const total = exact(turns.text);
    const fits =
      cycles === undefined
        ? compareExact(sum, total) === 0
        : compareExact(multiplyExact(exact(cycles.text), sum), total) <= 0 &&
          compareExact(total, multiplyExact(addExact(exact(cycles.text), exact("1")), sum)) < 0;
    if (!fits)
      found.push(
        at(
          row,
          turns,
          "contradicting-entry",
          "error",
          cycles === undefined ? "forward plus reverse turns" : "between cycles and one cycle more of forward plus reverse turns",
          `The total of ${turns.raw} turns does not fit the forward and reverse turns${cycles ? " and cycles" : ""}.`,
        ),
      );
  }
  // Doubles settle what is clearly less than a turn apart.
  if (line !== undefined && !(Math.abs(Number(line.text) - Number(turns.text)) < 0.99)) {
    const off = subtractExact(exact(line.text), exact(turns.text));
    const size = off.numerator < 0n ? { ...off, numerator: -off.numerator } : off;
    if (compareExact(size, exact("1")) > 0)
      found.push(
        at(
          row,
          line,
          "slip-suspected",
          "warning",
          `about ${turns.text} turns`,
          `The line along the wire shows ${line.raw} turns and the counter ${turns.raw}; the wire may have slipped in a jaw.`,
        ),
      );
  }
  return found;
}

const DIAMETERS = ["diameter", "largest", "smallest", "strippedDiameter"] as const;
const STOPPABLE = ["turns", "bends"] as const;

/** A measured diameter more than a fifth off the order's nominal is a slip of the pen or the wrong wire. */
function diameterFindings(row: EntryRow, nominal: Measure | undefined): Finding[] {
  if (nominal === undefined) return [];
  return DIAMETERS.flatMap((field) => {
    const value = row.fields[field];
    if (value?.unit === undefined) return [];
    // Most rows lie far inside; only those near the edge need exact arithmetic.
    if (value.unit === nominal.unit && Math.abs(Number(value.text) / Number(nominal.text) - 1) < 0.19) return [];
    const wanted = exact(nominal.text);
    const is = convertExact(exact(value.text), value.unit as Unit, nominal.unit as Unit);
    const off = subtractExact(is, wanted);
    const size = off.numerator < 0n ? { ...off, numerator: -off.numerator } : off;
    if (compareExact(size, multiplyExact(wanted, exact("0.2"))) <= 0) return [];
    return [
      at(
        row,
        value,
        "implausible",
        "error",
        `about ${nominal.text} ${nominal.unit}`,
        `${value.cell} says ${value.raw}, more than 20 % off the ordered ${nominal.text} ${nominal.unit}.`,
      ),
    ];
  });
}

/** `>N` says the piece did not break. */
function stoppedFindings(row: EntryRow): Finding[] {
  const stopped = STOPPABLE.map((field) => row.fields[field]).find((value) => value?.atLeast);
  const breakAt = row.fields["breakAt"];
  if (stopped === undefined || breakAt === undefined || breakAt.text === "none") return [];
  return [
    at(
      row,
      breakAt,
      "contradicting-entry",
      "error",
      "none or empty",
      `${stopped.raw} says the piece was stopped unbroken, but ${breakAt.cell} says it broke (${breakAt.text}).`,
    ),
  ];
}

/** Two readings of which one cannot be larger than the other. */
function pairFindings(row: EntryRow): Finding[] {
  return [
    ...(row.sheet === "diameter" ? notAbove(row, "smallest", "largest", "The smallest diameter is above the largest.") : []),
    ...(row.sheet === "tensile"
      ? [
          ...notAbove(row, "diameterAfter", "diameter", "The diameter after the break is above the diameter before it."),
          ...notAbove(row, "proofForce", "maximumForce", "The proof force is above the maximum force."),
        ]
      : []),
    ...(row.sheet === "coating-mass" ? notAbove(row, "massAfter", "massBefore", "The piece is heavier after stripping than before.") : []),
  ];
}

function notAbove(row: EntryRow, small: string, large: string, text: string): Finding[] {
  const [a, b] = [row.fields[small], row.fields[large]];
  // Of two doubles that differ the smaller one stands for the smaller figure.
  return a !== undefined && b !== undefined && !(Number(a.text) < Number(b.text)) && compareExact(exact(a.text), exact(b.text)) > 0
    ? [at(row, a, "contradicting-entry", "error", `at most ${b.raw}`, text)]
    : [];
}

/** Limits, ranges and calibrations that end before they begin. Code: contradicting-entry. */
export function checkRegistrations(registers: readonly ReadRow[], findings: Finding[]): void {
  for (const { row, errors } of registers) {
    if (row.sheet !== "agreed" && row.sheet !== "instruments") continue;
    const [calibrated, due] = [row.fields["calibratedOn"], row.fields["dueOn"]];
    const found = [
      ...notAbove(row, "min", "max", "The minimum is above the maximum."),
      ...notAbove(row, "rangeMin", "rangeMax", "The range begins above its end."),
      ...(calibrated !== undefined && due !== undefined && due.text < calibrated.text
        ? [at(row, due, "contradicting-entry", "error", `${calibrated.text} or later`, "The calibration is due before it was made.")]
        : []),
    ];
    for (const finding of found) {
      findings.push(finding);
      errors.push(finding.cell);
    }
  }
}
