import { convertNumber, type Measure } from "../quantity.ts";
import { stressOn } from "./stress.ts";

export const DISTRIBUTIONS = ["rectangular", "triangular", "u-shaped", "normal"] as const;
export type Distribution = (typeof DISTRIBUTIONS)[number];

export interface UncertaintySource {
  readonly name: string;
  readonly of: "force" | "diameter";
  /** Standard uncertainty, or half the width of the distribution (for `normal`: U, k = 2). */
  readonly sd?: Measure;
  readonly halfWidth?: Measure;
  readonly distribution: Distribution;
}

export interface TensileUncertainty {
  readonly tensileStrength: number;
  readonly u: number;
  /** k = 2. */
  readonly U: number;
  /** In the order given; `share` is the part of u squared, left out where u is zero. */
  readonly contributions: readonly { readonly name: string; readonly u: number; readonly share?: number }[];
}

/** What half a width is divided by. @source JCGM 100:2008 (GUM), 4.3 (memory, elementary) */
const DIVISORS: Readonly<Record<Distribution, number>> = {
  rectangular: Math.sqrt(3),
  triangular: Math.sqrt(6),
  "u-shaped": Math.sqrt(2),
  normal: 2,
};

/**
 * Uncertainty of the tensile strength of a round wire, in MPa or ksi: u^2 is the sum of (c u)^2 of uncorrelated sources,
 * with c = R / F for the force and 2 R / d for the diameter.
 * @source JCGM 100:2008 (GUM), 5.1.2
 */
export function tensileUncertainty(
  force: Measure,
  diameter: Measure,
  sources: readonly UncertaintySource[],
  unit: "MPa" | "ksi",
): TensileUncertainty {
  const tensileStrength = stressOn(force, diameter, unit);
  const parts = sources.map((source) => {
    const [figure, base, power] = source.of === "force" ? ([force, "N", 1] as const) : ([diameter, "mm", 2] as const);
    const standard = source.sd
      ? convertNumber(source.sd, base)
      : source.halfWidth
        ? convertNumber(source.halfWidth, base) / DIVISORS[source.distribution]
        : 0;
    return { name: source.name, u: (power * tensileStrength * standard) / convertNumber(figure, base) };
  });
  const u = Math.hypot(...parts.map((part) => part.u));
  return {
    tensileStrength,
    u,
    U: 2 * u,
    contributions: parts.map((part) => (u === 0 ? part : { ...part, share: (part.u / u) ** 2 })),
  };
}
