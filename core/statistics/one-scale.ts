import { exact } from "../decimal.ts";

/** Decimal texts as whole numbers of one common unit: each value is `numbers[i] / scale`. Sums and products stay exact and short. */
export function onOneScale(values: readonly string[]): { readonly numbers: readonly bigint[]; readonly scale: bigint } {
  const exacts = values.map(exact);
  let scale = 1n;
  // Denominators of decimal text are powers of ten, so the largest is a multiple of each.
  for (const { denominator } of exacts) if (denominator > scale) scale = denominator;
  return { numbers: exacts.map((value) => value.numerator * (scale / value.denominator)), scale };
}
