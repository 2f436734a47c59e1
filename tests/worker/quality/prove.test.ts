/** The proof of fitness of a lab: what is adopted, signed, and what an update changed. Limits and the lab are invented. */
import { mkdtempSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { afterEach, expect, it } from "vitest";
import { isSignedBy, readJws } from "../../../core/seal/jws.ts";
import { OWN_SPECIFICATION } from "../../../templates/example/scenario.ts";
import { proofText, proveLab, signedProof } from "../../../worker/quality/prove.ts";
import { publicKeyText, readPublicKey } from "../../../worker/seal/keys.ts";
import { nodeCryptography } from "../../../worker/seal/node-cryptography.ts";
import { adopt, type TestLab, testLab } from "../work/lab.ts";

let lab: TestLab;
const folder = mkdtempSync(join(tmpdir(), "coilbook-proof-"));
afterEach(async () => {
  await lab.remove();
  rmSync(folder, { recursive: true, force: true });
});

it("covers what is adopted, and nothing else unless it is named", async () => {
  lab = await testLab();
  const report = await proveLab(lab.workshop, {});
  expect(report).toMatchObject({ schema: "prove/1", ok: true, on: "2026-03-03" });
  expect(report.specifications.map((s) => [s.specification, s.edition, s.adopted, s.differing])).toEqual([["QW 100", "2026", true, []]]);
  const named = await proveLab(lab.workshop, { specification: "EN 50189" });
  expect(named.specifications.map((s) => [s.specification, s.adopted])).toEqual([["EN 50189", false]]);
  expect(proofText(named)).toContain("(not adopted)");
  // The same lab on the same day gives the same report.
  expect((await proveLab(lab.workshop, {})).hash).toBe(report.hash);
});

it("is refused where nothing is adopted", async () => {
  lab = await testLab({}, false);
  await expect(proveLab(lab.workshop, {})).rejects.toThrow("prove: no specification is adopted");
});

it("is signed with the key of the lab", async () => {
  lab = await testLab();
  const report = await proveLab(lab.workshop, {});
  const jws = readJws(await signedProof(lab.workshop, report));
  const { publicKey } = readPublicKey(publicKeyText(lab.workshop.lab.data, jws.kid), "key");
  expect(jws.payload["hash"]).toBe(report.hash);
  expect(await isSignedBy(nodeCryptography, jws, publicKey)).toBe(true);
  const [head, , signature] = (await signedProof(lab.workshop, { ...report, ok: false })).split(".");
  const forged = readJws([head, (await signedProof(lab.workshop, report)).split(".")[1], signature].join("."));
  expect(await isSignedBy(nodeCryptography, forged, publicKey)).toBe(false);
});

it("names exactly what an update changed", async () => {
  lab = await testLab();
  const file = join(folder, "..", `proof-${process.pid}.json`);
  writeFileSync(file, JSON.stringify(await proveLab(lab.workshop, {})));
  expect((await proveLab(lab.workshop, { against: file })).against?.changes).toEqual([]);
  const tables = OWN_SPECIFICATION.tables.map((table) =>
    table.property === "torsion" ? { ...table, rows: [{ ...table.rows[0], min: "23" }, ...table.rows.slice(1)] } : table,
  );
  await lab.reopen({}, { ...OWN_SPECIFICATION, tables });
  await adopt(lab.workshop);
  const changes = (await proveLab(lab.workshop, { against: file })).against?.changes ?? [];
  rmSync(file);
  // Six cases of one row, for each of the two grades.
  expect(changes.map((change) => change.case.split(" | ").slice(1, 4).join(" "))).toEqual([
    ...Array.from({ length: 6 }, () => "Q1 2.00 mm torsion"),
    ...Array.from({ length: 6 }, () => "Q2 2.00 mm torsion"),
  ]);
  expect(changes[0]).toMatchObject({ before: "limit 22.. turns, compared 22: conforms", now: "limit 23.. turns, compared 23: conforms" });
});
