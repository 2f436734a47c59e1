import { CalcError } from "../calc-error.ts";
import { compareExact, type Exact, exact, multiplyExact, toDecimalText } from "../decimal.ts";
import { inOwnSystem, systemOf } from "../formulas/stress.ts";
import type { Measure, Provenance } from "../model.ts";
import { convertExact } from "../quantity.ts";
import { bandText, lengthIn, rowOf } from "./bands.ts";
import { TORSION_LENGTHS, type TorsionLengthRow } from "./data/torsion-length.ts";
import { heldStandard } from "./standards.ts";

export interface TorsionLengthQuestion {
  readonly standard: string;
  readonly diameter: Measure;
  /** What the tester can hold; no bound where left out. */
  readonly testerMin?: Measure | undefined;
  readonly testerMax?: Measure | undefined;
}

export interface TorsionLength {
  readonly freeLength: Measure;
  readonly rule: string;
  readonly provenance: Provenance;
  /** The rule's own length, where the tester forced another. */
  readonly scaledFrom?: Measure;
}

/**
 * The free length between the grips for a torsion test, in the unit of the diameter unless the table prints one.
 * @throws CalcError `unknown-standard`, `no-rule`, `outside-scope`, `no-combination` (the tester cannot hold it and the
 *   standard allows no other length), in this order
 */
export function torsionLength({ standard, diameter, testerMin, testerMax }: TorsionLengthQuestion): TorsionLength {
  const { id } = heldStandard(standard);
  const rule = TORSION_LENGTHS[id];
  if (rule === undefined) throw new CalcError("no-rule", `${id}: no free length for a torsion test is held`);
  const row = rowOf(rule.rows, lengthIn(diameter, "mm"), `${id}, free length`, diameter);
  if (row.unseen)
    throw new CalcError("no-rule", `${id}: the free length for ${diameter.text} ${diameter.unit} is not held (${row.source})`);
  const wanted = lengthOf(row, diameter);
  const text = `${rowText(row)}, ${bandText(row, "mm")}${row.note === undefined ? "" : ` (${row.note})`}`;
  const end = nearestEnd(wanted, testerMin, testerMax);
  if (end === undefined) return { freeLength: wanted, rule: text, provenance: row.provenance };
  const [nearest, side] = end;
  if (rule.scaling === "none" || (rule.scaling === "shorter" && side === "longer"))
    throw new CalcError(
      "no-combination",
      `${id} asks for ${toDecimalText(exact(wanted.text))} ${wanted.unit}; the tester ends at ${nearest.text} ${nearest.unit} and the standard allows no ${side} length`,
    );
  const unit = wanted.unit as "mm" | "in";
  return {
    freeLength: { text: toDecimalText(lengthIn(nearest, unit), 20), unit },
    rule: `${text}; scaled to the tester, turns in proportion`,
    provenance: row.provenance,
    scaledFrom: wanted,
  };
}

function lengthOf(row: TorsionLengthRow, diameter: Measure): Measure {
  const unit = systemOf(diameter);
  if (row.fixed !== undefined) {
    const inches = unit === "in" ? row.fixed.in : undefined;
    return inches === undefined ? { text: row.fixed.mm, unit: "mm" } : { text: inches, unit: "in" };
  }
  const own = exact(inOwnSystem(diameter).text);
  const multiple = multiplyExact(own, exact(row.times ?? "1"));
  const most: Exact | undefined = row.atMost === undefined ? undefined : convertExact(exact(row.atMost), "mm", unit);
  return { text: toDecimalText(most !== undefined && compareExact(multiple, most) > 0 ? most : multiple, 20), unit };
}

function rowText(row: TorsionLengthRow): string {
  if (row.fixed !== undefined) return row.fixed.in === undefined ? `${row.fixed.mm} mm` : `${row.fixed.mm} mm (${row.fixed.in} in)`;
  return row.atMost === undefined ? `${row.times} d` : `${row.times} d, at most ${row.atMost} mm`;
}

function nearestEnd(wanted: Measure, min: Measure | undefined, max: Measure | undefined): [Measure, "longer" | "shorter"] | undefined {
  const length = lengthIn(wanted, "mm");
  if (min !== undefined && compareExact(length, lengthIn(min, "mm")) < 0) return [min, "longer"];
  if (max !== undefined && compareExact(length, lengthIn(max, "mm")) > 0) return [max, "shorter"];
  return undefined;
}
