export interface EwmaQuestion {
  /** Decimal texts, in order. */
  readonly values: readonly string[];
  /** The level the average starts from and is held against. */
  readonly target: number;
  /** Standard deviation of one value, above zero. */
  readonly sigma: number;
  /** Weight of the newest value, above 0 to 1. Usual: 0.2 to 0.3. */
  readonly lambda: number;
  /** Limits in standard deviations of the average. Usual: 3, and 2.7 to 2.8 for lambda to 0.1 (memory). */
  readonly width?: number;
  /** `asymptotic`: one pair of limits; `exact-time`: the narrower ones of the first points. */
  readonly limits?: "asymptotic" | "exact-time";
}

export interface EwmaPoint {
  /** From 1. */
  readonly index: number;
  readonly ewma: number;
  readonly lower: number;
  readonly upper: number;
  /** Present where the average lies strictly outside its limits. */
  readonly signal?: "above" | "below";
}

export interface EwmaChart {
  readonly target: number;
  readonly points: readonly EwmaPoint[];
}

/**
 * Chart of the exponentially weighted moving average: z = lambda x + (1 - lambda) z before, z0 = target,
 * limits target ∓ L s √(lambda / (2 - lambda)), at point t times √(1 - (1 - lambda)^2t) for `exact-time`.
 * In doubles, for the limits hold a root; an average on a limit, which only lambda 1 makes likely, is no signal.
 * @throws RangeError where sigma or the width is not above zero or lambda is not above 0 to 1
 * @source NIST/SEMATECH e-Handbook 6.3.2.4 (asymptotic limits, read); exact-time limits (memory)
 */
export function ewmaChart({ values, target, sigma, lambda, width = 3, limits = "asymptotic" }: EwmaQuestion): EwmaChart {
  if (!(sigma > 0) || !(width > 0)) throw new RangeError(`sigma and width must be above zero, got ${sigma} and ${width}`);
  if (!(lambda > 0 && lambda <= 1)) throw new RangeError(`lambda must be above 0 to 1, got ${lambda}`);
  const asymptotic = width * sigma * Math.sqrt(lambda / (2 - lambda));
  let ewma = target;
  const points = values.map((value, at): EwmaPoint => {
    ewma = lambda * Number(value) + (1 - lambda) * ewma;
    const half = limits === "asymptotic" ? asymptotic : asymptotic * Math.sqrt(1 - (1 - lambda) ** (2 * (at + 1)));
    const [lower, upper] = [target - half, target + half];
    const signal = ewma > upper ? "above" : ewma < lower ? "below" : undefined;
    return { index: at + 1, ewma, lower, upper, ...(signal === undefined ? {} : { signal }) };
  });
  return { target, points };
}
