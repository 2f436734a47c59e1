export { type BendRadius, bendRadius } from "./bend-radius.ts";
export { type Counterweights, counterweights } from "./counterweights.ts";
export { GAUGE_SYSTEMS, gaugeDiameter, isGaugeNumber } from "./gauge-diameter.ts";
export { type SamplesRequired, samplesRequired } from "./samples-required.ts";
export { type TorsionLength, type TorsionLengthQuestion, torsionLength } from "./torsion-length.ts";
export { type TorsionTension, torsionTension } from "./torsion-tension.ts";
export { type WrapMandrel, type WrapMandrelQuestion, wrapMandrel } from "./wrap-mandrel.ts";
