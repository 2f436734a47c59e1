/**
 * A long fuzz run of the workbook reader: mutated packages and XML until the time is up or enough inputs were held.
 * `node dist/scripts/fuzz-workbook.js [--minutes 10] [--inputs 50000] [--from 1]`; ends with 1 and the number of the input that broke it.
 */
import { parseArgs } from "node:util";
import { fuzz } from "../tests/core/workbook/fuzz.ts";

const { values } = parseArgs({
  options: {
    minutes: { type: "string", default: "10" },
    inputs: { type: "string", default: "50000" },
    from: { type: "string", default: "1" },
  },
});
/** Above it something is kept that should have been let go. */
const MOST_MEBIBYTES = 400;
const ends = performance.now() + Number(values.minutes) * 60_000;
try {
  const summary = fuzz(Number(values.from), Number(values.inputs), () => performance.now() > ends);
  const peak = process.resourceUsage().maxRSS / 1024;
  process.stdout.write(
    `${summary.inputs} inputs: ${summary.read} read, ${summary.refused} refused; slowest ${summary.slowestMs.toFixed(0)} ms; peak ${peak.toFixed(0)} MiB\n`,
  );
  if (peak > MOST_MEBIBYTES) throw new Error(`the peak of ${peak.toFixed(0)} MiB is above ${MOST_MEBIBYTES} MiB`);
} catch (error) {
  process.stderr.write(`${(error as Error).message}\n`);
  process.exitCode = 1;
}
