import { chiSquareCdf, normalCdf, normalQuantile } from "./distributions.ts";

export interface ToleranceQuestion {
  /** At least two. */
  readonly n: number;
  /** Share of the population to be covered, between 0 and 1. */
  readonly coverage: number;
  readonly confidence: number;
  readonly sides: 1 | 2;
}

/**
 * The factor k of a normal tolerance interval, mean ∓ k s, exact (not Howe's or Natrella's approximation).
 * @throws RangeError outside the ranges of the question
 * @source ISO 16269-6 (the exact factors; memory); NIST/SEMATECH e-Handbook 7.2.6.3. One-sided: t quantile, non-central,
 *   over root n. Two-sided: the integral over the sample mean, solved for k
 */
export function toleranceFactor({ n, coverage, confidence, sides }: ToleranceQuestion): number {
  if (n < 2 || !between0And1(coverage) || !between0And1(confidence)) throw new RangeError("n from 2, coverage and confidence in (0, 1)");
  const reached = sides === 1 ? oneSidedConfidence(n, coverage) : twoSided(n, coverage);
  return solve(reached, confidence, normalQuantile(sides === 1 ? coverage : (1 + coverage) / 2));
}

const between0And1 = (share: number): boolean => share > 0 && share < 1;

/**
 * Confidence reached by the one-sided factor k: P(T ≤ k √n), T non-central t with n − 1 degrees and noncentrality z √n. As the mean of
 * Φ(k √n S − z √n) over S = √(χ² / ν); with S = e^v the integrand is smooth and the trapezoidal rule converges exponentially.
 * @param n at least two
 */
export function oneSidedConfidence(n: number, coverage: number): (k: number) => number {
  const degrees = n - 1;
  const delta = normalQuantile(coverage) * Math.sqrt(n);
  const step = 0.3 / Math.sqrt(2 * degrees + delta * delta + 1);
  const logWeight = (v: number): number => degrees * (v - (Math.exp(2 * v) - 1) / 2);
  const nodes: { s: number; weight: number }[] = [];
  const add = (v: number): boolean => {
    const weight = Math.exp(logWeight(v));
    if (weight < 1e-18) return false;
    nodes.push({ s: Math.exp(v), weight });
    return true;
  };
  for (let v = 0; add(v); v += step);
  for (let v = -step; add(v); v -= step);
  const total = nodes.reduce((sum, node) => sum + node.weight, 0);
  const root = Math.sqrt(n);
  return (k) => nodes.reduce((sum, { s, weight }) => sum + weight * normalCdf(k * root * s - delta), 0) / total;
}

/**
 * Confidence reached by k: over the sample mean z, P(χ² > ν (r(z) / k)²), where r(z) is the half width that covers the share
 * around z. The integrand is even and smooth, so the trapezoidal rule converges exponentially.
 */
function twoSided(n: number, coverage: number): (k: number) => number {
  const degrees = n - 1;
  const step = 0.125;
  const nodes = Array.from({ length: 73 }, (_, index) => {
    const u = index * step;
    return { weight: (index === 0 ? 1 : 2) * Math.exp((-u * u) / 2), radius: halfWidth(u / Math.sqrt(n), coverage) };
  });
  const total = nodes.reduce((sum, node) => sum + node.weight, 0);
  return (k) =>
    k <= 0
      ? 0
      : nodes.reduce((sum, { weight, radius }) => sum + weight * (1 - chiSquareCdf(degrees * (radius / k) ** 2, degrees)), 0) / total;
}

/** The r for which Φ(z + r) − Φ(z − r) is the coverage. */
function halfWidth(z: number, coverage: number): number {
  let low = 0;
  let high = z + normalQuantile((1 + coverage) / 2) + 1;
  for (let turn = 0; turn < 100 && high - low > 1e-15 * high; turn += 1) {
    const middle = (low + high) / 2;
    if (normalCdf(z + middle) - normalCdf(z - middle) < coverage) low = middle;
    else high = middle;
  }
  return (low + high) / 2;
}

/** Where the rising function reaches `wanted`: the bracket is widened from `start`, then halved. */
function solve(reached: (k: number) => number, wanted: number, start: number): number {
  let width = 1;
  let [low, high] = [start - width, start + width];
  while (reached(low) > wanted && width < 1e12) {
    width *= 2;
    low = start - width;
  }
  while (reached(high) < wanted && width < 1e12) {
    width *= 2;
    high = start + width;
  }
  for (let turn = 0; turn < 200 && high - low > 1e-13 * Math.max(1, Math.abs(high)); turn += 1) {
    const middle = (low + high) / 2;
    if (reached(middle) < wanted) low = middle;
    else high = middle;
  }
  return (low + high) / 2;
}
