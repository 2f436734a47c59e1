/** What test methods and sampling standards ask for: lengths, tensions, mandrels, radii, weights, numbers of pieces, gauges. */
export { acceptancePlan } from "./acceptance-plan.ts";
export { bendRadius } from "./bend-radius.ts";
export { counterweights } from "./counterweights.ts";
export { LEVELS } from "./data/iso-2859-1.ts";
export { GAUGE_SYSTEMS, gaugeDiameter, isGaugeNumber } from "./gauge-diameter.ts";
export { samplesRequired } from "./samples-required.ts";
export { torsionLength } from "./torsion-length.ts";
export { torsionTension } from "./torsion-tension.ts";
export { wrapMandrel } from "./wrap-mandrel.ts";
