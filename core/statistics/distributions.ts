/** The one door to the statistics library: what the rest of the core needs of it, typed. */
import jstatPackage from "jstat";

interface JStat {
  normal: { cdf(x: number, mean: number, sd: number): number; inv(p: number, mean: number, sd: number): number };
  studentt: { inv(p: number, dof: number): number };
  chisquare: { cdf(x: number, dof: number): number };
  binomial: { cdf(k: number, n: number, p: number): number };
  poisson: { cdf(k: number, mean: number): number };
}
const { jStat } = jstatPackage as unknown as { jStat: JStat };

export const normalCdf = (x: number): number => jStat.normal.cdf(x, 0, 1);
export const normalQuantile = (p: number): number => jStat.normal.inv(p, 0, 1);

/**
 * The library's t quantile has seven digits; two of Newton's steps on the tail itself give fourteen.
 * @param p share below, between 0 and 1
 */
export function tQuantile(p: number, degrees: number): number {
  const start = jStat.studentt.inv(p, degrees);
  if (p === 0.5 || !Number.isFinite(start)) return start;
  const tail = Math.min(p, 1 - p);
  const half = tWeightAbove(0, degrees);
  let t = Math.abs(start);
  for (let step = 0; step < 2; step += 1) t += (tWeightAbove(t, degrees) / (2 * half) - tail) / (tDensity(t, degrees) / (2 * half));
  return p < 0.5 ? -t : t;
}

/** Without its constant, which falls out of every ratio. */
const tDensity = (t: number, degrees: number): number => Math.exp((-(degrees + 1) / 2) * Math.log1p((t * t) / degrees));

/** The density from `from` on: with t = from + exp(π/2 sinh v) the integrand dies at both ends, and the trapezoidal rule has fourteen digits. */
function tWeightAbove(from: number, degrees: number): number {
  const step = 1 / 64;
  let sum = 0;
  for (let v = -4.5; v <= 4.5; v += step) {
    const beyond = Math.exp((Math.PI / 2) * Math.sinh(v));
    sum += tDensity(from + beyond, degrees) * beyond * (Math.PI / 2) * Math.cosh(v);
  }
  return sum * step;
}

export const binomialCdf = (k: number, n: number, p: number): number => jStat.binomial.cdf(k, n, p);
export const poissonCdf = (k: number, mean: number): number => jStat.poisson.cdf(k, mean);

/** Above so many degrees the library's series takes too long, and the cube root of a chi-square is normal to six places. */
const MANY_DEGREES = 20_000;

/** @source Wilson and Hilferty's cube-root approximation, for many degrees only (memory) */
export function chiSquareCdf(x: number, degrees: number): number {
  if (degrees <= MANY_DEGREES) return jStat.chisquare.cdf(x, degrees);
  const spread = 2 / (9 * degrees);
  return normalCdf((Math.cbrt(x / degrees) - (1 - spread)) / Math.sqrt(spread));
}
