/** The one door to the statistics library: what the rest of the core needs of it, typed. */
import jstatPackage from "jstat";

interface JStat {
  normal: { cdf(x: number, mean: number, sd: number): number; inv(p: number, mean: number, sd: number): number };
  studentt: { inv(p: number, dof: number): number };
  chisquare: { inv(p: number, dof: number): number; cdf(x: number, dof: number): number };
  noncentralt: { cdf(x: number, dof: number, ncp: number): number };
}
const { jStat } = jstatPackage as unknown as { jStat: JStat };

export const normalCdf = (x: number): number => jStat.normal.cdf(x, 0, 1);
export const normalQuantile = (p: number): number => jStat.normal.inv(p, 0, 1);
export const tQuantile = (p: number, degrees: number): number => jStat.studentt.inv(p, degrees);
export const chiSquareQuantile = (p: number, degrees: number): number => jStat.chisquare.inv(p, degrees);
export const noncentralTCdf = (x: number, degrees: number, noncentrality: number): number =>
  jStat.noncentralt.cdf(x, degrees, noncentrality);
