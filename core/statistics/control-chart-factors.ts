/** Factors for charts of subgroups, as printed. The means and spreads of range and standard deviation of n normal values are behind them. */
export interface ControlChartFactors {
  /** Limits of means from the mean range, and from the mean standard deviation. */
  readonly A2: string;
  readonly A3: string;
  /** Mean standard deviation over sigma. */
  readonly c4: string;
  /** Limits of standard deviations. */
  readonly B3: string;
  readonly B4: string;
  /** Mean range over sigma, and the range's own standard deviation over sigma. */
  readonly d2: string;
  readonly d3: string;
  /** Limits of ranges. */
  readonly D3: string;
  readonly D4: string;
  /** Limits of individual values from the mean range: 3 / d2. */
  readonly E2: string;
}

const NAMES = ["A2", "A3", "c4", "B3", "B4", "d2", "d3", "D3", "D4", "E2"] as const;

/**
 * Rows of n = 2 … 10, in the order of NAMES.
 * @source table of factors for constructing control charts (read in a secondary copy; E2 worked out as 3 / d2)
 */
const ROWS: Readonly<Record<number, readonly string[]>> = {
  2: ["1.880", "2.659", "0.7979", "0", "3.267", "1.128", "0.853", "0", "3.267", "2.660"],
  3: ["1.023", "1.954", "0.8862", "0", "2.568", "1.693", "0.888", "0", "2.574", "1.772"],
  4: ["0.729", "1.628", "0.9213", "0", "2.266", "2.059", "0.880", "0", "2.282", "1.457"],
  5: ["0.577", "1.427", "0.9400", "0", "2.089", "2.326", "0.864", "0", "2.114", "1.290"],
  6: ["0.483", "1.287", "0.9515", "0.030", "1.970", "2.534", "0.848", "0", "2.004", "1.184"],
  7: ["0.419", "1.182", "0.9594", "0.118", "1.882", "2.704", "0.833", "0.076", "1.924", "1.109"],
  8: ["0.373", "1.099", "0.9650", "0.185", "1.815", "2.847", "0.820", "0.136", "1.864", "1.054"],
  9: ["0.337", "1.032", "0.9693", "0.239", "1.761", "2.970", "0.808", "0.184", "1.816", "1.010"],
  10: ["0.308", "0.975", "0.9727", "0.284", "1.716", "3.078", "0.797", "0.223", "1.777", "0.975"],
};

/**
 * The printed factors for subgroups of `n`, decimal texts.
 * @param n 2 to 10
 * @throws RangeError outside that
 */
export function controlChartFactors(n: number): ControlChartFactors {
  const row = ROWS[n];
  if (row === undefined) throw new RangeError(`control chart factors are held for n from 2 to 10, got ${n}`);
  return Object.fromEntries(NAMES.map((name, at) => [name, row[at]])) as unknown as ControlChartFactors;
}
