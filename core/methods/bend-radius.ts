import type { Measure, Provenance } from "../model.ts";
import { lengthIn, rowOf } from "./bands.ts";
import { BEND_RADII } from "./data/bend-radius.ts";

export interface BendRadius {
  /** Radius of the cylinders, mm. */
  readonly radius: Measure;
  /** From the cylinders' top to the guide, mm. */
  readonly distance: Measure;
  readonly provenance: Provenance;
}

/**
 * Cylinder radius and guide distance of the reverse bend test. The table is in mm; other units are converted exactly.
 * @throws CalcError `outside-scope`
 * @source ISO 7801:1984 table 2 (memory, high)
 */
export function bendRadius(diameter: Measure): BendRadius {
  const row = rowOf(BEND_RADII, lengthIn(diameter, "mm"), "ISO 7801, reverse bend", diameter);
  return { radius: { text: row.radius, unit: "mm" }, distance: { text: row.distance, unit: "mm" }, provenance: row.provenance };
}
