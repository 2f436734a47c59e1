/** core/README.md shows the specifications as they are held. */
import { readFileSync } from "node:fs";
import { expect, test } from "vitest";
import { builtInLibrary } from "../../../core/spec/index.ts";
import { readmePath, specificationTable, withTable } from "../../../scripts/core-readme.ts";

test("the table of specifications is the one the script writes", () => {
  const page = readFileSync(readmePath(), "utf8");
  expect(page, "stale: run node scripts/build.mjs && node dist/scripts/core-readme.js").toBe(withTable(page));
});
test("every specification held has a row with its edition", () => {
  const table = specificationTable();
  for (const { id, edition } of builtInLibrary().list()) expect(table).toContain(`| ${id} | ${edition} |`);
});
test("a page without the marks is refused", () => {
  expect(() => withTable("# The core\n")).toThrow(/specifications: begin/);
});
