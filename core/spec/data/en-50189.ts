import type { Table } from "../schema.ts";

/** Tables of the reference, row by row with provenance; `source` keys are those of the reference's source list. */
export const en50189Tables: readonly Table[] = [
  {
    property: "torsion",
    clause: "table 3",
    unit: "turns",
    diameterUnit: "mm",
    between: "bands",
    freeLength: { times: "100", provenance: "memory" },
    rows: [
      { over: "1.24", upTo: "1.50", min: "18", provenance: "read", source: "[S12] EN 50189 table 3" },
      { over: "1.50", upTo: "1.75", min: "18", provenance: "read", source: "[S12] EN 50189 table 3" },
      { over: "1.75", upTo: "2.25", min: "18", provenance: "read", source: "[S12] EN 50189 table 3" },
      { over: "2.25", upTo: "2.75", min: "16", provenance: "read", source: "[S12] EN 50189 table 3" },
      { over: "2.75", upTo: "3.00", min: "16", provenance: "read", source: "[S12] EN 50189 table 3" },
      { over: "3.00", upTo: "3.50", min: "14", provenance: "read", source: "[S12] EN 50189 table 3" },
      { over: "3.50", upTo: "4.25", min: "12", provenance: "read", source: "[S12] EN 50189 table 3" },
      { over: "4.25", upTo: "4.75", min: "12", provenance: "read", source: "[S12] EN 50189 table 3" },
      { over: "4.75", upTo: "5.50", min: "12", provenance: "read", source: "[S12] EN 50189 table 3" },
    ],
  },
  {
    property: "wrap",
    clause: "11.5.3 and table 3",
    unit: "wraps",
    diameterUnit: "mm",
    between: "bands",
    mandrel: { times: "1" },
    wraps: "8",
    rows: [{ over: "1.24", upTo: "5.50", provenance: "read", source: "S12" }],
  },
];
