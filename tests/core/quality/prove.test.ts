/** The proving cases: expected by the rule of each limit, found by the judgement. Limits of the first table are invented. */
import { describe, expect, it } from "vitest";
import type { Requirement } from "../../../core/model.ts";
import { prove } from "../../../core/quality/prove.ts";
import { casesOf } from "../../../core/quality/prove-cases.ts";
import { builtInLibrary, createSpecificationLibrary, type SpecificationData, specificationSchema } from "../../../core/spec/index.ts";
import { OWN_SPECIFICATION } from "../../../templates/example/scenario.ts";

const own = (change: object = {}): SpecificationData => specificationSchema.parse({ ...OWN_SPECIFICATION, ...change });
const held = (data: SpecificationData) => {
  const [view] = createSpecificationLibrary([data]).list();
  if (view === undefined) throw new Error("not held");
  return view;
};
const view = held(own());
const nominal = { text: "2.00", unit: "mm" } as const;
const points = (property: string, grade = "Q2"): readonly string[] => {
  const requirement = view.requirement(property, grade, nominal);
  if ("problem" in requirement) throw new Error(requirement.text);
  return casesOf(requirement, nominal, view.conduct(nominal)).map(
    ({ name, fields, expected }) => `${name}: ${fields["turns"]?.text ?? fields["largest"]?.text ?? fields["cracks"]?.text} ${expected}`,
  );
};

describe("cases", () => {
  it("of a count", () =>
    expect(points("torsion")).toEqual([
      "min, on the limit: 22 conforms",
      "min, one step outside: 21 does-not-conform",
      "min, one step inside: 23 conforms",
      "min, part of a count outside: 21.25 does-not-conform",
      "min, on the limit, broke at the grip: 22 conforms",
      "min, one below, broke at the grip: 21 void: grip-break",
    ]));
  // 1.980 and 2.020 are even multiples of 0.001: the tie beyond them goes back to them.
  it("of a rounded figure with two limits", () =>
    expect(points("diameter")).toEqual([
      "min, on the limit: 1.98 conforms",
      "min, one step outside: 1.979 does-not-conform",
      "min, one step inside: 1.981 conforms",
      "min, on the tie: 1.9795 conforms",
      "min, just inside the tie: 1.97951 conforms",
      "min, just outside the tie: 1.97949 does-not-conform",
      "max, on the limit: 2.02 conforms",
      "max, one step outside: 2.021 does-not-conform",
      "max, one step inside: 2.019 conforms",
      "max, on the tie: 2.0205 conforms",
      "max, just inside the tie: 2.02049 conforms",
      "max, just outside the tie: 2.02051 does-not-conform",
    ]));
  it("of a word", () =>
    expect(points("wrap")).toEqual([
      "cracks none: none conforms",
      "cracks visible: visible does-not-conform",
      "cracks broken: broken does-not-conform",
    ]));
  // 1801 is odd: the tie below it goes to 1800.
  it.each([
    { ties: "even", min: "1801", tie: "does-not-conform" },
    { ties: "even", min: "1800", tie: "conforms" },
    { ties: "away", min: "1801", tie: "conforms" },
  ] as const)("ties $ties at $min", ({ ties, min, tie }) => {
    const requirement = { property: "other:x", min, unit: "MPa", rounding: { method: "round", step: "1", ties } } as unknown as Requirement;
    expect(casesOf(requirement, nominal, view.conduct(nominal)).find((c) => c.name === "min, on the tie")?.expected).toBe(tie);
  });
});

describe("the judgement", () => {
  it("says of every case of the invented specification what its rule says", () => {
    const { cases, notProved } = prove(view, "2026-03-03");
    expect(cases.filter((c) => c.expected !== c.found)).toEqual([]);
    expect(cases.length).toBeGreaterThan(100);
    expect(notProved).toEqual([]);
  });
  it("is found out where a limit is another than the cases were made for", () => {
    const other = held(own({ id: "QW 101" }));
    const wrong = {
      ...view,
      requirement: (...asked: Parameters<typeof view.requirement>) => ({
        ...other.requirement(...asked),
        ...(asked[0] === "torsion" ? { min: "22.5" } : {}),
      }),
    };
    const { cases } = prove(wrong as typeof view, "2026-03-03");
    expect(cases.filter((c) => c.expected !== c.found).map((c) => c.property)).toContain("torsion");
  });
  it.each(
    builtInLibrary()
      .list()
      .map((specification) => [specification.id, specification] as const),
  )("of %s is what its rules say", (_, specification) => {
    const differing = prove(specification, "2026-03-03").cases.filter((c) => c.expected !== c.found);
    expect(differing.slice(0, 3)).toEqual([]);
  });
});
