export { type GuardOptions, readFileGuarded, tryReading } from "./guard.ts";
export { type GuardLimits, limitsFor } from "./limits.ts";
