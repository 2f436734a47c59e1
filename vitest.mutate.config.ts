import { defineConfig } from "vitest/config";

/** The tests that hold core: pure, so they need no build and no tool. */
export default defineConfig({
  test: { include: ["tests/core/**/*.test.ts", "tests/property/**/*.test.ts"], testTimeout: 60_000, maxWorkers: 1 },
});
