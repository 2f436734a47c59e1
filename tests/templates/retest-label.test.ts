/** Orders for the bench and labels, made from what the samples were judged to be. */
import { describe, expect, it } from "vitest";
import { toLabelsRecord } from "../../templates/label/record.ts";
import { toLabelsView } from "../../templates/label/view.ts";
import { toRetestRecord } from "../../templates/retest/record.ts";
import { toRetestView } from "../../templates/retest/view.ts";
import { ISSUE } from "../helpers/invented-records.ts";
import { judgeSample, LAB } from "../helpers/records.ts";

function sample(name: string) {
  const { judgement, registers } = judgeSample(name);
  const [verdict, order] = [judgement.orders[0], registers.orders[0]];
  if (verdict === undefined || order === undefined) throw new Error("no order");
  return { verdict, order, coils: registers.coils };
}

describe("a retest order", () => {
  const { verdict, order } = sample("02-day-book.xlsx");
  const record = toRetestRecord(order, verdict, LAB);

  it("holds every step of the bench, and no step of anybody else", () => {
    const asked = verdict.coils.flatMap((coil) =>
      coil.requirements.flatMap((r) =>
        r.next
          .filter((step) => ["test", "repeat", "retest"].includes(step.do))
          .map((step) => `${coil.coil} ${r.property} ${step.do} ${step.pieces ?? 1}`),
      ),
    );
    expect(asked.length).toBeGreaterThan(0);
    expect(record.steps.map((step) => `${step.coil} ${step.property} ${step.do} ${step.pieces}`)).toEqual(asked);
  });

  it("a retest names the piece it stands for", () => {
    const retests = record.steps.filter((step) => step.do === "retest");
    expect(retests.length).toBeGreaterThan(0);
    for (const step of retests) expect(step.standsFor).not.toEqual([]);
  });

  it("reads in words", () => {
    const [first] = toRetestView(record, ISSUE).steps;
    expect(Object.values(first ?? {}).every((text) => !text.includes("undefined"))).toBe(true);
  });
});

describe("coil labels", () => {
  const { verdict, order, coils } = sample("01-return-springs.xlsx");
  const record = toLabelsRecord(order, verdict, coils, LAB, new Map([["71001", "2026-00042"]]));

  it("one a coil, with the document where it has one", () => {
    expect(record.coils).toHaveLength(coils.length);
    const [first, second] = toLabelsView(record, ISSUE).coils;
    expect(first?.code).toBe("71001\nQM-2601\n10\n2026-00042");
    expect(second?.code).toBe("71002\nQM-2601\n10\n");
  });

  it("says nothing where nothing is known", () => {
    for (const coil of toLabelsView(record, ISSUE).coils) for (const field of coil.fields) expect(field.value).not.toBe("");
  });
});
