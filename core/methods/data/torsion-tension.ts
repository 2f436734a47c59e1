/** One size of API 9A in both unit systems; the printed sizes leave gaps (0.016 / 0.017 in). */
export interface AppliedTensionRow {
  readonly in: { readonly from: string; readonly upTo: string; readonly lbf: string };
  readonly mm: { readonly from: string; readonly upTo: string; readonly N: string };
}

/**
 * Least tension on the wire in a torsion test; the most is twice the figure.
 * @source [S3] handbook p. 566, table 4-13 (from API 9A), read
 */
export const API_9A_TENSIONS: readonly AppliedTensionRow[] = [
  { in: { from: "0.011", upTo: "0.016", lbf: "1" }, mm: { from: "0.28", upTo: "0.42", N: "4" } },
  { in: { from: "0.017", upTo: "0.020", lbf: "2" }, mm: { from: "0.43", upTo: "0.52", N: "9" } },
  { in: { from: "0.021", upTo: "0.030", lbf: "4" }, mm: { from: "0.53", upTo: "0.77", N: "18" } },
  { in: { from: "0.031", upTo: "0.040", lbf: "6" }, mm: { from: "0.78", upTo: "1.02", N: "27" } },
  { in: { from: "0.041", upTo: "0.050", lbf: "8" }, mm: { from: "1.03", upTo: "1.28", N: "36" } },
  { in: { from: "0.051", upTo: "0.060", lbf: "9" }, mm: { from: "1.29", upTo: "1.53", N: "40" } },
  { in: { from: "0.061", upTo: "0.070", lbf: "11" }, mm: { from: "1.54", upTo: "1.79", N: "49" } },
  { in: { from: "0.071", upTo: "0.080", lbf: "13" }, mm: { from: "1.80", upTo: "2.04", N: "58" } },
  { in: { from: "0.081", upTo: "0.090", lbf: "16" }, mm: { from: "2.05", upTo: "2.30", N: "71" } },
  { in: { from: "0.091", upTo: "0.100", lbf: "19" }, mm: { from: "2.31", upTo: "2.55", N: "85" } },
  { in: { from: "0.101", upTo: "0.110", lbf: "21" }, mm: { from: "2.56", upTo: "2.80", N: "93" } },
  { in: { from: "0.111", upTo: "0.120", lbf: "23" }, mm: { from: "2.81", upTo: "3.06", N: "102" } },
  { in: { from: "0.121", upTo: "0.130", lbf: "25" }, mm: { from: "3.07", upTo: "3.31", N: "111" } },
];

/** Rules that allow a share of the nominal breaking force and set no least tension. Sizes in mm, where the standard has a scope. */
export const TENSION_SHARES: Readonly<
  Record<
    string,
    {
      readonly share: string;
      readonly from?: string;
      readonly upTo?: string;
      readonly source: string;
      readonly provenance: "read" | "memory";
    }
  >
> = {
  "ISO 7800": { share: "0.02", from: "0.1", upTo: "14", source: "ISO 7800 procedure clause; scope [S23]", provenance: "memory" },
  "IEC 61232": { share: "0.02", source: "[S4] paraphrase of IEC 61232", provenance: "read" },
};
