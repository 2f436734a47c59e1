import type { Sourced } from "../bands.ts";

/** How many test pieces of a lot. */
export interface SamplesRow extends Sourced {
  /** One of each so many coils or part. */
  readonly every: number;
  readonly atMost?: number;
  /** From both ends of each coil that is sampled. */
  readonly bothEnds: boolean;
  /** Every heat of the lot gives at least one. */
  readonly eachHeat: boolean;
}

export const SAMPLES: Readonly<Record<string, SamplesRow>> = {
  "ASTM A818": {
    every: 10,
    atMost: 7,
    bothEnds: false,
    eachHeat: false,
    source: "[S14] ASTM A818-06(R2021) 10.2",
    provenance: "read",
  },
  "ASTM A1000": { every: 5, bothEnds: false, eachHeat: true, source: "[S20] ASTM A1000-11 7.2.4", provenance: "read" },
  "ASTM A877": { every: 1, bothEnds: true, eachHeat: false, source: "[S13] ASTM A877-17 6.2.4", provenance: "read" },
};
