import type { Band, Sourced } from "../bands.ts";

/** A free length as a multiple of the diameter, at most `atMost` mm, or fixed (mm, and in where it is printed so). Sizes in mm. */
export interface TorsionLengthRow extends Band, Sourced {
  readonly times?: string;
  readonly atMost?: string;
  readonly fixed?: { readonly mm: string; readonly in?: string };
  /** The rule exists and its figure is not held. */
  readonly unseen?: boolean;
}

export interface TorsionLengthRule {
  /** What the standard allows where a tester cannot hold the rule's length: another length with turns in proportion. */
  readonly scaling: "none" | "shorter" | "any";
  readonly rows: readonly TorsionLengthRow[];
}

const ISO_7800 = { source: "ISO 7800:2012 length table", provenance: "memory" } as const;

export const TORSION_LENGTHS: Readonly<Record<string, TorsionLengthRule>> = {
  "ISO 7800": {
    scaling: "none",
    rows: [
      { from: "0.1", below: "1", times: "200", ...ISO_7800 },
      { from: "1", below: "5", times: "100", ...ISO_7800 },
      { from: "5", upTo: "10", times: "50", ...ISO_7800, note: "100 d may be agreed" },
      { over: "10", upTo: "14", times: "22", ...ISO_7800 },
    ],
  },
  "EN 10270-1": {
    scaling: "none",
    rows: [{ times: "100", atMost: "300", source: "[S1] paraphrase of the EN 10270-1 test clauses", provenance: "read" }],
  },
  "EN 50189": {
    scaling: "none",
    rows: [
      {
        over: "1.24",
        upTo: "5.50",
        times: "100",
        source: "[S12] EN 50189 table 3 (sizes read, length from memory)",
        provenance: "memory",
      },
    ],
  },
  "JIS G 3522": {
    scaling: "none",
    rows: [
      {
        from: "0.70",
        upTo: "6.00",
        times: "100",
        source: "[S8] JIS G 3522:2014 table 3 (sizes read, length from memory)",
        provenance: "memory",
      },
    ],
  },
  "ASTM A938": {
    scaling: "none",
    rows: [{ fixed: { mm: "203", in: "8" }, source: "[S2] ASTM A938-97(2003) 6.2", provenance: "read", note: "recommended" }],
  },
  "API 9A": {
    scaling: "shorter",
    rows: [
      {
        fixed: { mm: "203", in: "8" },
        source: "[S3] handbook p. 565, after API 9A",
        provenance: "read",
        note: "may be shorter for small wire",
      },
    ],
  },
  "IEC 61232": { scaling: "none", rows: [{ times: "100", source: "[S4] paraphrase of IEC 61232", provenance: "read" }] },
  "ASTM B415": { scaling: "none", rows: [{ times: "100", source: "[S5] ASTM B415-16(R2021) 9.1", provenance: "read" }] },
  "JIS C 3110": {
    scaling: "any",
    rows: [
      {
        times: "100",
        source: "[S6] JIS C 3110:2019 8.1.4",
        provenance: "read",
        note: '"about" 100 d; another spacing with turns in proportion',
      },
    ],
  },
  "GOST 1545": {
    scaling: "none",
    rows: [
      { from: "0.20", upTo: "0.25", fixed: { mm: "50" }, source: "[S7] GOST 1545-80 table 1", provenance: "read" },
      {
        over: "0.25",
        upTo: "10",
        unseen: true,
        source: "[S7] GOST 1545-80 scope; the larger size rows were not visible",
        provenance: "read",
      },
    ],
  },
};
