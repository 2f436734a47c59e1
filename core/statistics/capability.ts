import { compareExact, divideExact, exact, multiplyExact, subtractExact, toNumber } from "../decimal.ts";

export interface Capability {
  /** Only with both limits. */
  readonly Cp?: number;
  readonly Cpk: number;
}

/**
 * Capability indices: Cp = (upper − lower) / 6 s, Cpk = the smaller of (upper − mean) / 3 s and (mean − lower) / 3 s. Exact to the last division.
 * @param limits decimal texts, at least one
 * @throws RangeError where no limit is given or sd is zero
 * @source NIST/SEMATECH e-Handbook 6.1.6
 */
export function capability(
  mean: string,
  sd: string,
  limits: { readonly lower?: string | undefined; readonly upper?: string | undefined },
): Capability {
  const [m, s] = [exact(mean), exact(sd)];
  const in3 = multiplyExact(s, exact("3"));
  const [lower, upper] = [limits.lower, limits.upper].map((limit) => (limit === undefined ? undefined : exact(limit)));
  const sides = [upper && divideExact(subtractExact(upper, m), in3), lower && divideExact(subtractExact(m, lower), in3)].filter(
    (side) => side !== undefined,
  );
  const least = sides.reduce((a, b) => (compareExact(b, a) < 0 ? b : a), sides[0] ?? missing());
  return {
    ...(lower && upper ? { Cp: toNumber(divideExact(subtractExact(upper, lower), multiplyExact(s, exact("6")))) } : {}),
    Cpk: toNumber(least),
  };
}

function missing(): never {
  throw new RangeError("capability needs a lower or an upper limit");
}
