import { expect, test } from "vitest";
import { fuzz } from "./fuzz.ts";

test("2,000 mutated workbooks: no crash, no hang, one meaning, and copies that read as before", { timeout: 300_000 }, () => {
  const summary = fuzz(1, 2_000);
  expect(summary.inputs).toBe(2_000);
  // Neither all of them nor none: the mutations reach both sides.
  expect(summary.read).toBeGreaterThan(100);
  expect(summary.refused).toBeGreaterThan(500);
});
