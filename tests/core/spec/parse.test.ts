/** A laboratory's own specification: an invented one is taken, and each kind of slip gives one line with its JSON path. */
import { describe, expect, test } from "vitest";
import { BUILT_IN, canonicalContent, createSpecificationLibrary, limitsFor, parseSpecification } from "../../../core/spec/index.ts";

const findBase = (id: string, edition?: string) => BUILT_IN.find((s) => s.id === id && (edition === undefined || s.edition === edition));
const parse = (json: unknown) => parseSpecification(json, findBase);

// SPEC-EXAMPLE, its grades and all its figures are invented.
const EXAMPLE = {
  id: "SPEC-EXAMPLE",
  edition: "2020",
  title: "Invented hoop wire",
  grades: ["P", "Q"],
  tables: [
    {
      property: "tensile-strength",
      clause: "table 1",
      unit: "MPa",
      diameterUnit: "mm",
      between: "bands",
      rows: [
        { grades: ["P"], from: "1.00", upTo: "2.00", min: "1500", max: "1700", provenance: "own" },
        { grades: ["P"], over: "2.00", upTo: "3.00", min: "1400", max: "1600", provenance: "own" },
        { grades: ["Q"], from: "1.00", below: "2.00", min: "1700", provenance: "own" },
        { grades: ["Q"], from: "2.00", upTo: "3.00", min: "1600", provenance: "own" },
      ],
    },
    {
      property: "breaking-force",
      clause: "table 2",
      unit: "N",
      diameterUnit: "mm",
      between: "linear",
      rows: [
        { size: "1.00", min: "1000", provenance: "own" },
        { size: "2.00", min: "4000", provenance: "own" },
        { size: "3.00", min: "9000", provenance: "own" },
      ],
    },
    {
      property: "torsion",
      clause: "table 3",
      unit: "turns",
      diameterUnit: "mm",
      between: "bands",
      places: 2,
      freeLength: { times: "100", atMost: "300 mm" },
      rows: [
        { from: "1.00", upTo: "1.99", min: "20", provenance: "own" },
        { from: "2.00", upTo: "3.00", min: "15", provenance: "own" },
      ],
    },
  ],
  chemistry: [{ element: "C", min: "0.60", max: "0.80", provenance: "own" }],
  required: [{ property: "tensile-strength" }, { property: "torsion", grades: ["P"], from: "1.00 mm" }],
  retest: [{ properties: ["torsion"], pieces: 2, mustConform: "all", clause: "7", provenance: "own" }],
  conduct: { torsionGripDistance: { length: "4.0 mm" } },
};
type Json = Record<string, unknown>;

/** The example with one place changed; undefined removes the key. */
function changed(path: string, value: unknown, source: unknown = EXAMPLE): Json {
  const copy = structuredClone(source) as Json;
  const keys = path.replaceAll("[", ".").replaceAll("]", "").split(".");
  const last = keys.pop() ?? "";
  const parent = keys.reduce<Json>((at, key) => at[key] as Json, copy);
  if (value === undefined) delete parent[last];
  else parent[last] = value;
  return copy;
}

describe("an invented specification", () => {
  const parsed = parse(EXAMPLE);
  test("is accepted", () => {
    expect(parsed).toMatchObject({ ok: true, specification: { id: "SPEC-EXAMPLE", edition: "2020" } });
  });
  test.for([
    ["P", "tensile-strength", "2.00", { min: "1500", max: "1700", unit: "MPa", provenance: "own" }],
    ["P", "tensile-strength", "2.01", { min: "1400", max: "1600" }],
    ["Q", "tensile-strength", "2.00", { min: "1600" }],
    ["Q", "breaking-force", "2.50", { min: "6500", unit: "N", rule: "linear between 2.00 and 3.00 mm" }],
    ["P", "torsion", "1.994", { min: "20", unit: "turns", conditions: { freeLength: { value: 199.4, unit: "mm" } } }],
    ["P", "chemistry:C", "2.00", { min: "0.60", max: "0.80", unit: "%" }],
  ] as const)("grade %s answers %s at %s mm: %o", ([grade, property, text, expected]) => {
    if (!parsed.ok) throw new Error("not accepted");
    const library = createSpecificationLibrary([parsed.specification, ...BUILT_IN]);
    expect(limitsFor({ specification: "SPEC-EXAMPLE:2020", grade, property, diameter: { text, unit: "mm" } }, library)).toMatchObject(
      expected,
    );
  });
});

describe("one slip, one line: path, what was found, what is accepted", () => {
  const row = "tables[0].rows[0]";
  const rows = (...list: Json[]): Json =>
    changed("tables[1]", { ...EXAMPLE.tables[1], between: "bands", rows: list.map((r) => ({ min: "1", provenance: "own", ...r })) });
  const sizes = (...list: Json[]): Json =>
    changed(
      "tables[1].rows",
      list.map((r) => ({ min: "1", provenance: "own", ...r })),
    );
  test.for([
    // what                                  json                                             path                             found                accepted
    ["no object", "hoop wire", "$", "hoop wire", "object"],
    ["no id", changed("id", undefined), "id", undefined, "string"],
    ["an empty id", changed("id", ""), "id", "", "at least 1"],
    ["no tables", changed("tables", undefined), "tables", undefined, "array"],
    ["a table without rows", changed("tables[1].rows", []), "tables[1].rows", "[]", "at least 1"],
    ["a number as a number", changed(`${row}.min`, 1500), `${row}.min`, "1500", "string"],
    ["a decimal comma", changed(`${row}.min`, "1500,5"), `${row}.min`, "1500,5", "decimal text"],
    ["a length without a unit", changed("tables[2].freeLength.atMost", "300"), "tables[2].freeLength.atMost", "300", "300 mm"],
    ["a length rule without a length", changed("tables[2].freeLength", {}), "tables[2].freeLength", "{}", undefined],
    ["an unknown key of a row", changed(`${row}.minimum`, "1"), `${row}.minimum`, "minimum", "min, max"],
    ["an unknown key of a table", changed("tables[0].betwen", "bands"), "tables[0].betwen", "betwen", "between"],
    ["an unknown key of the file", changed("tabels", []), "tabels", "tabels", "tables"],
    ["an unknown word", changed("tables[0].between", "nearest"), "tables[0].between", "nearest", "bands, linear"],
    ["no provenance", changed(`${row}.provenance`, undefined), `${row}.provenance`, undefined, "read, memory, own"],
    ["an unknown unit", changed("tables[0].unit", "kp"), "tables[0].unit", "kp", "MPa, ksi"],
    ["an unknown property", changed("tables[0].property", "strength"), "tables[0].property", "strength", "tensile-strength"],
    [
      "chemistry as a table of sizes",
      changed("tables[0].property", "chemistry:C"),
      "tables[0].property",
      "chemistry:C",
      "tensile-strength",
    ],
    ["min above max", changed(`${row}.min`, "1800"), `${row}.min`, undefined, undefined],
    ["a row without a limit", changed("tables[1].rows[1].min", undefined), "tables[1].rows[1]", undefined, undefined],
    ["a limit without a unit", changed("tables[2].unit", ""), "tables[2].rows[0].min", undefined, undefined],
    ["no size in a table of sizes", changed("tables[1].rows[1].size", undefined), "tables[1].rows[1].size", undefined, undefined],
    ["a grade that is not listed", changed(`${row}.grades`, ["p"]), `${row}.grades[0]`, "p", "P, Q"],
    ["a grade of a table that is not listed", changed("tables[1].grades", ["R"]), "tables[1].grades[0]", "R", "P, Q"],
    ["a grade of an analysis that is not listed", changed("chemistry[0].grades", ["R"]), "chemistry[0].grades[0]", "R", "P, Q"],
    ["a required grade that is not listed", changed("required[1].grades", ["R"]), "required[1].grades[0]", "R", "P, Q"],
    ["a required word that is no property", changed("required[1].property", "torsions"), "required[1].property", "torsions", "torsion"],
    ["a required property without a table", changed("required[1].property", "wrap"), "required[1].property", "wrap", "a table"],
    ["a required size without a unit", changed("required[1].from", "1.00"), "required[1].from", "1.00", "300 mm"],
    ["half a piece", changed("retest[0].pieces", 1.5), "retest[0].pieces", "1.5", "int"],
    ["a retest rule without properties", changed("retest[0].properties", []), "retest[0].properties", "[]", "at least 1"],
    [
      "a grip distance of neither kind",
      changed("conduct.torsionGripDistance", { mm: 4 }),
      "conduct.torsionGripDistance",
      '{"mm":4}',
      "timesDiameter or length",
    ],
    ["a negative diameter", rows({ from: "-1.00", upTo: "2.00" }), "tables[1].rows[0].from", "-1.00", "zero or more"],
    [
      "over and from together",
      rows({ over: "1.00", from: "1.00", upTo: "2.00" }),
      "tables[1].rows[0]",
      "over 1.00, from 1.00",
      "at most one",
    ],
    ["a size and an edge together", sizes({ size: "1.00", upTo: "2.00" }), "tables[1].rows[0]", "size 1.00, upTo 2.00", "size alone"],
    ["a range upside down", rows({ from: "2.00", upTo: "1.00" }), "tables[1].rows[0]", "from 2.00 upTo 1.00", "start below"],
    ["an empty range", rows({ over: "2.00", upTo: "2.00" }), "tables[1].rows[0]", "over 2.00 upTo 2.00", "start below"],
    [
      "an overlap",
      rows({ from: "1.00", upTo: "2.00" }, { from: "1.50", upTo: "3.00" }),
      "tables[1].rows[1]",
      "from 1.50 upTo 3.00",
      "without overlap",
    ],
    [
      "an edge held twice",
      rows({ from: "1.00", upTo: "2.00" }, { from: "2.00", upTo: "3.00" }),
      "tables[1].rows[1]",
      "from 2.00 upTo 3.00",
      "without overlap",
    ],
    [
      "a range inside another",
      rows({ from: "1.00", upTo: "9.00" }, { from: "2.00", upTo: "3.00" }, { over: "9.00", upTo: "10.00" }),
      "tables[1].rows[1]",
      "from 2.00 upTo 3.00",
      "without overlap",
    ],
    ["a size twice", sizes({ size: "1.0" }, { size: "1.00" }), "tables[1].rows[1]", "size 1.00", "each size once"],
    ["a row that shows and hides", changed(`${row}.undecided`, true), `${row}.undecided`, undefined, undefined],
    ["extends what is not held", { ...EXAMPLE, extends: { specification: "EN 1" } }, "extends.specification", "EN 1", "held"],
    [
      "extends an edition that is not held",
      { ...EXAMPLE, extends: { specification: "EN 10270-1", edition: "1999" } },
      "extends.specification",
      "EN 10270-1:1999",
      "held",
    ],
    ["extends itself", { ...EXAMPLE, extends: { specification: "SPEC-EXAMPLE" } }, "extends.specification", "SPEC-EXAMPLE", "another"],
    [
      "extends a grade that is not there",
      { ...EXAMPLE, extends: { specification: "EN 10270-1", grade: "SX" } },
      "extends.grade",
      "SX",
      "SL, SM",
    ],
  ] as const)("%s", ([, json, path, found, accepted]) => {
    const parsed = parse(json);
    if (parsed.ok) throw new Error("accepted");
    const [problem] = parsed.problems;
    expect(problem?.path).toBe(path);
    if (found !== undefined) expect(problem?.found).toContain(found);
    if (accepted !== undefined) expect(problem?.accepted).toContain(accepted);
    // A limit without a unit concerns every row of the table; every other slip is named once, or at one place.
    const places = path === "tables[2].rows[0].min" ? 2 : 1;
    expect([...new Set(parsed.problems.map((p) => p.path))]).toHaveLength(places);
    for (const { text, found: given, accepted: allowed } of parsed.problems) {
      expect(text).toMatch(/^\S/);
      expect(`${text}${given ?? ""}${allowed ?? ""}`).not.toContain("\n");
    }
  });
});

describe("gaps between the rows of a table are named", () => {
  const base = EXAMPLE.tables[1];
  const table = (extra: Json, ...list: Json[]): Json =>
    changed("tables[1]", { ...base, between: "bands", ...extra, rows: list.map((r) => ({ min: "1", provenance: "own", ...r })) });
  const undecided = (range: Json): Json => ({ ...range, min: undefined, undecided: true });
  const clean = (json: Json): Json => JSON.parse(JSON.stringify(json)) as Json;

  test.for([
    ["over after up to", table({}, { from: "1.00", upTo: "2.00" }, { over: "2.05", upTo: "3.00" }), "over 2.00 up to 2.05 mm"],
    ["from after up to", table({}, { from: "1.00", upTo: "1.99" }, { from: "2.00", upTo: "3.00" }), "over 1.99 below 2.00 mm"],
    ["from after below", table({}, { from: "1.00", below: "1.90" }, { from: "2.00", upTo: "3.00" }), "from 1.90 below 2.00 mm"],
    ["over after below leaves one diameter out", table({}, { from: "1.00", below: "2.00" }, { over: "2.00", upTo: "3.00" }), "at 2.00 mm"],
    ["in any order of rows", table({}, { over: "2.05", upTo: "3.00" }, { from: "1.00", upTo: "2.00" }), "over 2.00 up to 2.05 mm"],
    [
      "more than a printed step",
      table({ places: 2 }, { from: "1.00", upTo: "1.98" }, { from: "2.00", upTo: "3.00" }),
      "over 1.98 below 2.00 mm",
    ],
    ["between single sizes", table({}, { size: "1.00" }, { size: "2.00" }), "over 1.00 below 2.00 mm"],
    ["in inches", table({ diameterUnit: "in" }, { from: "0.01", upTo: "0.02" }, { over: "0.03", upTo: "0.04" }), "over 0.02 up to 0.03 in"],
    [
      "of one grade only",
      table({}, { upTo: "2.00" }, { grades: ["P"], over: "2.00", upTo: "3.00" }, { over: "3.00", upTo: "4.00" }),
      "over 2.00 up to 3.00 mm",
    ],
  ] as const)("%s", ([, json, gap]) => {
    const parsed = parse(json);
    if (parsed.ok) throw new Error("accepted");
    expect(parsed.problems).toHaveLength(1);
    expect(parsed.problems[0]?.path).toMatch(/^tables\[1\]\.rows\[\d\]$/);
    expect(parsed.problems[0]?.found).toBe(`a gap ${gap}`);
    expect(parsed.problems[0]?.accepted).toContain('"undecided": true');
    expect(parsed.problems[0]?.text).toMatch(/no row holds these sizes( for grade Q)?, between rows\[\d\] and rows\[\d\]/);
  });

  test.for([
    ["up to, then over", table({}, { from: "1.00", upTo: "2.00" }, { over: "2.00", upTo: "3.00" })],
    ["below, then from", table({}, { from: "1.00", below: "2.00" }, { from: "2.00", upTo: "3.00" })],
    ["one printed step", table({ places: 2 }, { from: "1.00", upTo: "1.99" }, { from: "2.00", upTo: "3.00" })],
    ["a single size, then over it", table({}, { size: "0.50" }, { over: "0.50", upTo: "1.00" })],
    ["grades that share no size", table({}, { grades: ["P"], upTo: "1.00" }, { grades: ["Q"], over: "2.00" })],
    ["a gap that is stated", table({}, { upTo: "2.00" }, undecided({ over: "2.00", below: "3.00" }), { from: "3.00" })],
    ["open at both ends", table({}, { upTo: "2.00" }, { over: "2.00" })],
  ] as const)("no gap: %s", ([, json]) => {
    expect(parse(clean(json))).toMatchObject({ ok: true });
  });

  test("a stated gap answers no-rule, its neighbours answer", () => {
    const parsed = parse(clean(table({}, { upTo: "2.00" }, undecided({ over: "2.00", below: "3.00" }), { from: "3.00" })));
    if (!parsed.ok) throw new Error("not accepted");
    const library = createSpecificationLibrary([parsed.specification]);
    const ask = (text: string) =>
      limitsFor({ specification: "SPEC-EXAMPLE", grade: "P", property: "breaking-force", diameter: { text, unit: "mm" } }, library);
    expect(ask("2.00").min).toBe("1");
    expect(ask("3.00").min).toBe("1");
    expect(() => ask("2.5")).toThrowError(expect.objectContaining({ code: "no-rule" }));
  });

  test("a table of sizes: a grade with an empty cell between two of its own", () => {
    const rows = [
      { size: "1.00", min: "1", provenance: "own" },
      { grades: ["P"], size: "2.00", min: "2", provenance: "own" },
      { size: "3.00", min: "3", provenance: "own" },
    ];
    const parsed = parse(changed("tables[1].rows", rows));
    expect(parsed).toMatchObject({
      ok: false,
      problems: [
        { path: "tables[1].rows[2]", found: "a gap at 2.00 mm", text: "this size has no row for grade Q, between rows[0] and rows[2]" },
      ],
    });
    const stated = [...rows, { grades: ["Q"], size: "2.00", undecided: true, provenance: "own" }];
    expect(parse(changed("tables[1].rows", stated))).toMatchObject({ ok: true });
  });
});

describe("a specification on top of one that is held (invented)", () => {
  const extension = (extra: Json): Json => ({
    id: "SPEC-TIGHTER",
    edition: "1",
    title: "Invented",
    grades: ["T"],
    tables: [],
    required: [],
    ...extra,
  });
  const library = (json: Json) => {
    const parsed = parse(json);
    if (!parsed.ok) throw new Error(JSON.stringify(parsed.problems));
    return createSpecificationLibrary([parsed.specification]);
  };
  const tighter = {
    property: "tensile-strength",
    clause: "1",
    unit: "MPa",
    diameterUnit: "mm",
    between: "bands",
    rows: [{ upTo: "3.00", min: "1900", max: "1950", provenance: "own" }],
  };
  const two = { text: "2.00", unit: "mm" } as const;

  test("with one grade of the base chosen, the lab's grade stands for it", () => {
    const held = library(extension({ extends: { specification: "EN 10270-1", grade: "DM" }, tables: [tighter] }));
    const ask = (property: string) => limitsFor({ specification: "SPEC-TIGHTER", grade: "T", property, diameter: two }, held);
    expect(ask("tensile-strength")).toMatchObject({ min: "1900", max: "1950", provenance: "own" });
    expect(ask("torsion")).toMatchObject({ min: "20", provenance: "memory" }); // EN 10270-1 DM, 2.00 to 3.49 mm
    expect(ask("chemistry:P")).toMatchObject({ max: "0.020" }); // EN 10270-1 DM (P9), not the 0.035 of SM
    expect(held.list()[0]?.requiredProperties("T", two)).toEqual([
      "tensile-strength",
      "diameter",
      "out-of-round",
      "coiling",
      "wrap",
      "torsion",
    ]);
    expect(held.list()[0]?.retest("coating-mass")).toMatchObject({ pieces: 2 });
    expect(held.list()[0]?.conduct(two).torsionMaximumSpeed?.text).toBe("60");
  });

  test("without a grade the base's grades stay, each with its own rules", () => {
    const held = library(extension({ grades: [], extends: { specification: "EN 10270-1" }, tables: [tighter] }));
    const ask = (grade: string, property: string) => limitsFor({ specification: "SPEC-TIGHTER", grade, property, diameter: two }, held);
    expect(ask("SM", "torsion").min).toBe("16");
    expect(ask("DM", "torsion").min).toBe("20");
    expect(ask("SM", "chemistry:P").max).toBe("0.035");
    expect(ask("DM", "chemistry:P").max).toBe("0.020");
    expect(held.list()[0]?.requiredProperties("SL", two)).not.toContain("torsion");
    expect(held.list()[0]?.requiredProperties("SM", two)).toContain("torsion");
  });

  test("what the lab asks for replaces the base's request for the same property", () => {
    const held = library(
      extension({ extends: { specification: "ASTM A231" }, grades: [], required: [{ property: "reduction-of-area", from: "5.00 mm" }] }),
    );
    const [own] = held.list();
    expect(own?.requiredProperties("", { text: "4.00", unit: "mm" })).not.toContain("reduction-of-area");
    expect(own?.requiredProperties("", { text: "0.2", unit: "in" })).toContain("reduction-of-area");
  });

  test("a grade of the lab's own without rules in the base is named", () => {
    const parsed = parse(extension({ extends: { specification: "EN 10270-1" } }));
    expect(parsed).toMatchObject({
      ok: false,
      problems: expect.arrayContaining([expect.objectContaining({ path: "extends", found: "tensile-strength" })]),
    });
  });
});

describe("content for adoption", () => {
  test("the order of keys and absent values do not matter, every figure does", () => {
    expect(canonicalContent({ b: "1", a: [{ d: undefined, c: "2" }] })).toBe('{"a":[{"c":"2"}],"b":"1"}');
    expect(canonicalContent(changed("tables[0].rows[0].min", "1501"))).not.toBe(canonicalContent(EXAMPLE));
    expect(canonicalContent(structuredClone(EXAMPLE))).toBe(canonicalContent(EXAMPLE));
  });
});
