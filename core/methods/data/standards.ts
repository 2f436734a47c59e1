/** Standards of which a method or a product rule is held here, beside the specifications. */
export interface MethodStandard {
  readonly id: string;
  /** As printed behind the designation, the newest last; empty where the reference names none. */
  readonly editions: readonly string[];
  /** Grades or classes that choose a rule; empty where there is one only. */
  readonly grades: readonly string[];
}

/** @source the reference's source list: [S1] to [S31]; an edition is listed where its text, or its table, is the one held */
export const METHOD_STANDARDS: readonly MethodStandard[] = [
  { id: "ISO 7800", editions: ["2012"], grades: [] },
  { id: "ISO 7801", editions: ["1984"], grades: [] },
  { id: "ISO 7802", editions: ["2013"], grades: [] },
  { id: "ASTM A370", editions: [], grades: [] },
  { id: "ASTM A818", editions: ["06(R2021)"], grades: [] },
  { id: "ASTM A856", editions: ["03(2020)"], grades: [] },
  { id: "ASTM A877", editions: ["17"], grades: ["A", "B", "C", "D"] },
  { id: "ASTM A938", editions: ["97(2003)"], grades: [] },
  { id: "ASTM A1000", editions: ["11"], grades: [] },
  { id: "ASTM B415", editions: ["16(R2021)"], grades: [] },
  { id: "ASTM B498", editions: [], grades: ["A"] },
  { id: "API 9A", editions: [], grades: [] },
  { id: "BS 443", editions: ["1982"], grades: [] },
  { id: "EN 10223-3", editions: ["2013"], grades: [] },
  { id: "GOST 1545", editions: ["80"], grades: [] },
  { id: "IEC 61232", editions: [], grades: [] },
  { id: "JIS C 3110", editions: ["2019"], grades: [] },
];
