export { type GuardOptions, readFileGuarded, tryReading } from "./guard.ts";
export { limitsFor } from "./limits.ts";
