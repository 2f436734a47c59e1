import { VERDICTS, type Verdict } from "../model.ts";

/** The worst verdict of a list; of none, `conforms`. */
export const worst = (verdicts: Iterable<Verdict>): Verdict => {
  let rank: number = VERDICTS.length - 1;
  for (const verdict of verdicts) rank = Math.min(rank, VERDICTS.indexOf(verdict));
  return VERDICTS[rank] ?? "conforms";
};
