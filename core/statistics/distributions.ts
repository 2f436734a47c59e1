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
export const tQuantile = (p: number, degrees: number): number => jStat.studentt.inv(p, degrees);

export const binomialCdf = (k: number, n: number, p: number): number => jStat.binomial.cdf(k, n, p);
export const poissonCdf = (k: number, mean: number): number => jStat.poisson.cdf(k, mean);

/** Above so many degrees the library's series takes too long, and the cube root of a chi-square is normal to eight places. */
const MANY_DEGREES = 20_000;

/** @source Wilson and Hilferty's cube-root approximation, for many degrees only (memory) */
export function chiSquareCdf(x: number, degrees: number): number {
  if (degrees <= MANY_DEGREES) return jStat.chisquare.cdf(x, degrees);
  const spread = 2 / (9 * degrees);
  return normalCdf((Math.cbrt(x / degrees) - (1 - spread)) / Math.sqrt(spread));
}
