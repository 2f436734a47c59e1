/** Large files are tried in a process of their own before the worker reads them. Rules: WORKBOOK.md, limits; DESIGN section 10. */
import { existsSync, readdirSync, readFileSync, writeFileSync } from "node:fs";
import { join } from "node:path";
import { afterAll, beforeAll, expect, it } from "vitest";
import { entryWorkbook } from "../../../templates/example/entry-workbook.ts";
import { seeded } from "../../../templates/example/scenario.ts";
import { smallBook } from "../../core/workbook/small-book.ts";
import { expectRun, temporaryFolder } from "../../helpers/cli.ts";

const folder = temporaryFolder();
const lab = join(folder.path, "lab");
beforeAll(() => expectRun([0], ["init", lab]));
afterAll(() => folder.remove());

const random = seeded(7);
const noise = (length: number): string =>
  Array.from({ length }, () => String.fromCharCode(33 + Math.floor(random() * 90)))
    .join("")
    .replaceAll(/[<>&"']/g, "x");

it("an honest day book of more than a mebibyte is read, judged and given back", () => {
  const torsion = Array.from({ length: 4000 }, (_, i) => ({
    testPiece: `60001-T${i + 1}`,
    coil: "60001",
    diameter: 2,
    freeLength: 200,
    turns: 24,
    breakAt: "clear",
    role: i === 0 ? "acceptance" : "check",
    date: "2026-03-02",
    remark: noise(320),
  }));
  const bytes = entryWorkbook({
    units: "SI",
    sheets: {
      orders: [{ order: "LG-1", item: "10", customer: "Oxlip Suspension", specification: "EN 10270-1", grade: "SH", nominalDiameter: 2 }],
      coils: [{ coil: "60001", order: "LG-1", item: "10", heat: "H1" }],
      torsion,
    },
  });
  expect(bytes.length).toBeGreaterThan(1024 * 1024);
  writeFileSync(join(lab, "inbox", "large.xlsx"), bytes);
  expectRun([0], ["work", "--drain", "--lab", lab]);
  expect(readdirSync(join(lab, "returned"))).toEqual(["large.xlsx"]);
});

it("a large hostile file is refused with its reason, and the worker goes on", () => {
  const bomb = smallBook({
    data: '<row r="1"><c r="A1"><v>7</v></c></row>',
    parts: [
      { name: "xl/media/noise.bin", content: Buffer.from(noise(1_500_000)) },
      { name: "xl/media/bomb.bin", content: new Uint8Array(64 * 1024 * 1024) },
    ],
  });
  expect(bomb.length).toBeGreaterThan(1024 * 1024);
  writeFileSync(join(lab, "inbox", "bomb.xlsx"), bomb);
  expectRun([0], ["work", "--drain", "--lab", lab]);
  expect(readFileSync(join(lab, "refused", "bomb.xlsx.why.txt"), "utf8")).toContain("too-dense");
  expect(existsSync(join(lab, "inbox", "bomb.xlsx"))).toBe(false);
});
