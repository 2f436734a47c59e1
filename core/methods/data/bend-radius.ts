import type { Band, Sourced } from "../bands.ts";

/** Cylinder radius and distance to the guide, in mm as printed; sizes in mm. */
export interface BendRadiusRow extends Band, Sourced {
  readonly radius: string;
  readonly distance: string;
}

const ISO_7801 = { source: "ISO 7801:1984 table 2", provenance: "memory" } as const;

export const BEND_RADII: readonly BendRadiusRow[] = [
  { from: "0.3", upTo: "0.5", radius: "1.25", distance: "15", ...ISO_7801 },
  { over: "0.5", upTo: "0.7", radius: "1.75", distance: "15", ...ISO_7801 },
  { over: "0.7", upTo: "1.0", radius: "2.5", distance: "15", ...ISO_7801 },
  { over: "1.0", upTo: "1.5", radius: "3.75", distance: "20", ...ISO_7801 },
  { over: "1.5", upTo: "2.0", radius: "5.0", distance: "20", ...ISO_7801 },
  { over: "2.0", upTo: "3.0", radius: "7.5", distance: "25", ...ISO_7801 },
  { over: "3.0", upTo: "4.0", radius: "10.0", distance: "35", ...ISO_7801 },
  { over: "4.0", upTo: "6.0", radius: "15.0", distance: "50", ...ISO_7801 },
  { over: "6.0", upTo: "8.0", radius: "20.0", distance: "75", ...ISO_7801 },
  { over: "8.0", upTo: "10.0", radius: "25.0", distance: "100", ...ISO_7801 },
];
