import type { InstrumentRange } from "../../core/model.ts";

/** The day of the newest calibration up to a day; undefined where there is none: then nothing bounds what it touched. */
export function lastCalibration(ranges: readonly InstrumentRange[], day: string): string | undefined {
  return ranges
    .flatMap(({ calibratedOn }) => (calibratedOn !== undefined && calibratedOn <= day ? [calibratedOn] : []))
    .sort()
    .at(-1);
}
