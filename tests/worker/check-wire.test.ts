/** Check wire of a machine: a signal is a warning on later results of that machine, and changes no verdict. Figures invented. */
import { writeFileSync } from "node:fs";
import { join } from "node:path";
import { afterAll, expect, it } from "vitest";
import { type EntryRecord, entryWorkbook } from "../../templates/example/entry-workbook.ts";
import { coilbook, jsonLines, temporaryFolder } from "../helpers/cli.ts";

const folder = temporaryFolder();
afterAll(() => folder.remove());

const order = { order: "CW-1", item: "10", customer: "Oxlip Suspension", specification: "EN 10270-1", grade: "SH", nominalDiameter: 2 };
const coils = [
  { coil: "90001", order: "CW-1", item: "10", heat: "H1" },
  { coil: "CHECK-2", order: "CW-1", item: "10", heat: "H1" },
];
const day = (n: number): string => `2026-03-${String(n).padStart(2, "0")}`;

/** Twelve daily checks; the last one far outside the others where `jumps`. */
function workbook(jumps: boolean): string {
  const torsion: EntryRecord[] = Array.from({ length: 12 }, (_, i) => ({
    testPiece: `CHECK-2-T${i + 1}`,
    coil: "CHECK-2",
    diameter: 2,
    freeLength: 200,
    turns: jumps && i === 11 ? 45 : 28 + (i % 3),
    breakAt: "clear",
    role: "check",
    instrument: "TT-1",
    date: day(i + 1),
  }));
  torsion.push({
    testPiece: "90001-T1",
    coil: "90001",
    diameter: 2,
    freeLength: 200,
    turns: 24,
    breakAt: "clear",
    instrument: "TT-1",
    date: day(13),
  });
  const file = join(folder.path, `${jumps}.xlsx`);
  const instruments = [{ instrument: "TT-1", kind: "torsion tester", calibratedOn: "2026-01-02", dueOn: "2027-01-02" }];
  writeFileSync(file, entryWorkbook({ units: "SI", sheets: { orders: [order], coils, instruments, torsion } }));
  return file;
}

const ask = (jumps: boolean) => {
  const done = coilbook(["check", workbook(jumps), "--alone", "--json"]);
  return jsonLines(done.out)[0] as unknown as {
    findings: { code: string; cell: string; severity: string }[];
    orders: { coils: { coil: string; requirements: { property: string; verdict: string }[] }[] }[];
  };
};
const torsionOf = (answer: ReturnType<typeof ask>): string | undefined =>
  answer.orders[0]?.coils.find((c) => c.coil === "90001")?.requirements.find((r) => r.property === "torsion")?.verdict;

it("a quiet check wire says nothing, a signal warns on the next result of the machine", () => {
  const [quiet, loud] = [ask(false), ask(true)];
  expect(quiet.findings.filter((f) => f.code === "check-wire-signal")).toEqual([]);
  expect(loud.findings.filter((f) => f.code === "check-wire-signal")).toMatchObject([{ severity: "warning", cell: "U17" }]);
  expect(torsionOf(quiet)).toBe("conforms");
  expect(torsionOf(loud)).toBe("conforms");
});
