/** Statistics of values given as decimal text. Results enter through `usableValues`, torsion counts through `summarizeTorsion`: stopped counts stay out. */
export { attributesAcceptanceProbability } from "./acceptance-by-attributes.ts";
export { acceptByDeviation, acceptByRange, variablesAcceptanceProbability, variablesPlan } from "./acceptance-by-variables.ts";
export { capability } from "./capability.ts";
export { checkReadings } from "./check-readings.ts";
export { checkSeries, checkWarnings, checkWireFindings } from "./check-wire.ts";
export { controlChartFactors } from "./control-chart-factors.ts";
export { cusumChart } from "./cusum-chart.ts";
export { describe } from "./describe.ts";
export { ewmaChart } from "./ewma-chart.ts";
export { grubbs } from "./grubbs.ts";
export { individualsChart, runSignals } from "./individuals-chart.ts";
export { movingRangeChart } from "./moving-range-chart.ts";
export { toleranceFactor } from "./tolerance-factor.ts";
export { toleranceInterval } from "./tolerance-interval.ts";
export { summarizeTorsion, turnsPer100Diameters } from "./torsion-counts.ts";
export { usableValues } from "./usable-values.ts";
