import type { Band, Sourced } from "../bands.ts";

/** A mandrel as a multiple of the wire's diameter. */
export interface WrapMandrelRow extends Band, Sourced {
  readonly purpose: "ductility" | "adherence";
  readonly grades?: readonly string[];
  readonly times: string;
  readonly wraps?: string;
}

/** Rows for sizes in mm, and for sizes in inches where the standard prints its own edges. */
export interface WrapMandrelTable {
  readonly mm: readonly WrapMandrelRow[];
  readonly in?: readonly WrapMandrelRow[];
}

const A877_A = { purpose: "ductility", grades: ["A"], source: "[S13] ASTM A877-17 6.3.1", provenance: "read" } as const;
const A877_B = { purpose: "ductility", grades: ["B", "C", "D"], source: "[S13] ASTM A877-17 6.3.2", provenance: "read" } as const;
const B498_WRAP = { purpose: "ductility", times: "1", wraps: "8", source: "ASTM B498 wrap clause", provenance: "memory" } as const;
const B498_ZINC = { purpose: "adherence", grades: ["A"], source: "ASTM B498 adherence clause", provenance: "memory" } as const;
const BS_443 = { purpose: "adherence", wraps: "6", source: "BS 443:1982 table 3", provenance: "memory" } as const;

/** The rules of standards that are no specification here; those of specifications stand in their own tables. */
export const WRAP_MANDRELS: Readonly<Record<string, WrapMandrelTable>> = {
  "ASTM A877": {
    mm: [
      { upTo: "4.00", times: "1", ...A877_A },
      { over: "4.00", upTo: "8.00", times: "2", ...A877_A },
      { upTo: "4.00", times: "2", ...A877_B },
      { over: "4.00", upTo: "8.00", times: "3", ...A877_B },
    ],
    in: [
      { upTo: "0.157", times: "1", ...A877_A },
      { over: "0.157", upTo: "0.315", times: "2", ...A877_A },
      { upTo: "0.1575", times: "2", ...A877_B },
      { over: "0.1575", upTo: "0.315", times: "3", ...A877_B },
    ],
  },
  "ASTM A818": {
    mm: [{ purpose: "adherence", times: "1", source: "[S14] ASTM A818-06(R2021) 8.2 (coppered wire)", provenance: "read" }],
  },
  "ASTM B498": {
    mm: [B498_WRAP, { upTo: "3.55", times: "4", ...B498_ZINC }, { over: "3.55", times: "5", ...B498_ZINC }],
    in: [B498_WRAP, { upTo: "0.1399", times: "4", ...B498_ZINC }, { over: "0.1399", times: "5", ...B498_ZINC }],
  },
  "BS 443": {
    mm: [
      { upTo: "3.8", times: "4", ...BS_443 },
      { over: "3.8", times: "5", ...BS_443 },
    ],
  },
  "EN 10223-3": {
    mm: [{ purpose: "adherence", times: "4", wraps: "6", source: "[P24] [P24b] gabion wire", provenance: "read" }],
  },
};
