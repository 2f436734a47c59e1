import { binomialCdf, poissonCdf } from "./distributions.ts";

/**
 * Probability that a single sampling plan by attributes accepts a large lot.
 * @param plan sample size and acceptance number
 * @param share nonconforming, 0 to 1; for `poisson` nonconformities an item, from 0
 * @param model `binomial` for nonconforming items, `poisson` for nonconformities, or items where the sample is small beside the lot
 * @throws RangeError for a share below zero, or above one with `binomial`
 * @source definition of the operating characteristic; ISO 2859-1 (binomial to AQL 10, Poisson above; memory)
 */
export function attributesAcceptanceProbability(
  plan: { readonly n: number; readonly accept: number },
  share: number,
  model: "binomial" | "poisson" = "binomial",
): number {
  if (!(share >= 0) || (model === "binomial" && share > 1)) throw new RangeError(`share from 0 to 1, got ${share}`);
  if (share === 0) return 1;
  return model === "binomial" ? binomialCdf(plan.accept, plan.n, share) : poissonCdf(plan.accept, plan.n * share);
}
