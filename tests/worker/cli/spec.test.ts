/** The commands about specifications, as their users run them. All people, firms and limits are invented, unless named. */
import { cpSync, mkdirSync, readFileSync, rmSync, writeFileSync } from "node:fs";
import { join } from "node:path";
import { afterAll, beforeAll, describe, expect, test } from "vitest";
import { BUILT_IN } from "../../../core/spec/index.ts";
import { readSpecificationForm, specificationForm } from "../../../templates/specification/index.ts";
import { contentHash } from "../../../worker/specifications.ts";
import { coilbook, expectRun, jsonLines, type Run, temporaryFolder } from "../../helpers/cli.ts";
import { ADMIN, makeSampleLab, samplePath } from "../../helpers/sample-lab.ts";
import { filledForm } from "../../templates/specification/filled-form.ts";

const folder = temporaryFolder();
const lab = join(folder.path, "lab");
const at = (...path: string[]): string => join(folder.path, ...path);
const spec = (...args: string[]): Run => coilbook(["spec", ...args, "--lab", lab]);
const json = (run: Run): Record<string, never> => jsonLines(run.out)[0] as Record<string, never>;

/** EN 10270-1 SM, but torsion at least 28. */
const TORSION_28 = filledForm({
  Specification: { Designation: "TX 28", Edition: "2026", Title: "Invented", Extends: "EN 10270-1", "Extends: grade": "SM" },
  Tables: [
    {
      Table: "1",
      Property: "torsion",
      Clause: "letter",
      Unit: "turns",
      "Diameter unit": "mm",
      "Between sizes": "bands",
      "Free length: times d": "100",
      "Free length: at most": "300 mm",
    },
  ],
  Limits: [{ Table: "1", Minimum: "28", Provenance: "own" }],
});

beforeAll(() => {
  makeSampleLab(lab);
  expectRun([0], ["person", "add", "Ida Clerkson", "--role", "clerk", "--by", ADMIN, "--lab", lab]);
});
afterAll(() => folder.remove());

describe("without a lab", () => {
  const alone = (...args: string[]): Run => coilbook(["spec", ...args], { cwd: folder.path, env: { COILBOOK_LAB: at("none") } });
  test("list marks every specification as not adopted, with its provenance", () => {
    const { schema, specifications } = json(alone("list", "--json")) as unknown as {
      schema: string;
      specifications: { id: string; adopted: boolean; adoption: object; provenance: string; content: string }[];
    };
    expect(schema).toBe("spec-list/1");
    expect(specifications.map((s) => s.id)).toEqual(BUILT_IN.map((s) => s.id));
    for (const s of specifications)
      expect(s).toMatchObject({ adopted: false, adoption: { state: "not-adopted" }, provenance: expect.stringMatching(/read|memory/) });
    expect(specifications.map((s) => s.content)).toEqual(BUILT_IN.map(contentHash));
    const text = alone("list").out.trim().split("\n");
    expect(text).toHaveLength(BUILT_IN.length);
    for (const line of text) expect(line).toMatch(/not adopted; (read|\d+ rows read)/);
  });
  test("show tells the same of one, and every row with its origin", () => {
    expect(json(alone("show", "EN 50189", "--json"))).toMatchObject({
      schema: "spec-show/1",
      adopted: false,
      id: "EN 50189",
      provenance: expect.any(String),
    });
    const { out } = alone("show", "EN 50189:2000", "--rows");
    expect(out).toContain("not adopted");
    // EN 50189 table 3, read: over 2.25 up to 2.75 mm 16 turns.
    expect(out).toContain("over 2.25 up to 2.75 mm: min 16 turns (read, [S12] EN 50189 table 3)");
  });
  test.for([
    [["show", "XY 1"], 64, /found "XY 1", which is not held/],
    [["show", "EN 10270-1", "--edition", "2001"], 64, /which is not held/],
    [["check", "nowhere.json"], 64, /nowhere.json: does not exist/],
    [["form", "--out", "own.csv"], 64, /accepted is a name that ends in .xlsx/],
    [["form", "--out", "x.xlsx", "--grade", "SM"], 64, /--grade: found without --extends/],
    [["form", "--out", "x.xlsx", "--extends", "XY 1"], 64, /--extends: found "XY 1", which is not held/],
    [["form", "--out", "x.xlsx", "--extends", "EN 10270-1", "--grade", "SX"], 64, /--grade: found "SX", accepted are SL, SM, SH, DM, DH/],
    [["diff", "EN 10270-1", "XY 1"], 64, /found "XY 1", accepted is a held specification/],
    [["diff", "EN 10270-1"], 64, /nobody adopted; accepted are two/],
  ] as const)("%j ends with %i", ([args, status, error]) => {
    const run = alone(...args);
    expect([run.status, run.out]).toEqual([status, ""]);
    expect(run.err).toMatch(error);
    expect(run.err.trim().split("\n")).toHaveLength(1);
  });
});

describe("a form, from handing out to a held specification", () => {
  test("form writes a workbook that names its base and never overwrites one", () => {
    const file = at("form.xlsx");
    expect(json(spec("form", "--out", file, "--extends", "EN 10270-1", "--grade", "SM", "--json"))).toEqual({
      schema: "spec-form/1",
      file,
      extends: { specification: "EN 10270-1", edition: "2011" },
    });
    const before = readFileSync(file);
    expect(readSpecificationForm(new Uint8Array(before)).json).toMatchObject({
      extends: { specification: "EN 10270-1", edition: "2011", grade: "SM" },
    });
    const again = spec("form", "--out", file);
    expect(again.status).toBe(64);
    expect(again.err).toMatch(/is there already/);
    expect(readFileSync(file)).toEqual(before);
  });
  test("check refuses the empty one with 2 and names file, sheet, cell and what is accepted", () => {
    const run = spec("check", at("form.xlsx"));
    expect(run.status).toBe(2);
    expect(run.out.split("\n")[0]).toBe('[form.xlsx]Specification!B5: missing, accepted as orders name it, such as "QW 100"');
    expect(json(spec("check", at("form.xlsx"), "--json"))).toMatchObject({
      schema: "spec-check/1",
      ok: false,
      problems: [
        { path: "id", sheet: "Specification", cell: "B5" },
        { path: "edition", sheet: "Specification", cell: "B6" },
      ],
    });
  });
  test("check accepts a filled one and writes it as JSON, which is the same specification", () => {
    writeFileSync(at("tx.xlsx"), TORSION_28);
    const fromForm = json(spec("check", at("tx.xlsx"), "--out", at("tx.json"), "--json"));
    expect(fromForm).toMatchObject({ ok: true, id: "TX 28", edition: "2026", adopted: false, adoption: { state: "not-adopted" } });
    expect(json(spec("check", at("tx.json"), "--json"))["content"]).toBe(fromForm["content"]);
    expect(spec("check", at("tx.xlsx")).out).toMatch(/TX 28 2026 is accepted; not adopted/);
  });
  test("form --from gives the file back to go on with", () => {
    expectRun([0], ["spec", "form", "--out", at("on.xlsx"), "--from", at("tx.json"), "--lab", lab]);
    expect(json(spec("check", at("on.xlsx"), "--json"))["content"]).toBe(json(spec("check", at("tx.json"), "--json"))["content"]);
  });
  test("in the lab's folder a form is held like a JSON file", () => {
    cpSync(at("tx.xlsx"), join(lab, "specifications", "tx.xlsx"));
    writeFileSync(join(lab, "specifications", "~$tx.xlsx"), "lock");
    const run = spec("show", "TX 28", "--json");
    expect(run.err).toBe("");
    expect(json(run)).toMatchObject({ id: "TX 28", adopted: false });
    expect(
      expectRun([0], ["calc", "limits", '{"specification":"EN 10270-1","grade":"SM","property":"torsion","diameter":"2.00 mm"}']).out,
    ).toContain('"min":"16"');
  });
});

describe("files that cannot be taken", () => {
  const own = (name: string, content: object | string): string => {
    const file = join(lab, "specifications", name);
    writeFileSync(file, typeof content === "string" ? content : JSON.stringify(content));
    return file;
  };
  const sample = JSON.parse(readFileSync(samplePath("specifications", "QW-100.json"), "utf8")) as Record<string, unknown>;
  const named = (run: Run): string[] => (json(run)["specifications"] as unknown as { id: string }[]).map(({ id }) => id);

  test.for<[string, () => string[], RegExp, string[], string[]]>([
    ["no JSON at all", () => [own("a.json", "{")], /left out: \[.*a\.json\]\$: no valid JSON/, [], ["QW 100", "EN 50189"]],
    [
      "a bad one of a built-in name: the built-in one does not slip in for it",
      () => [own("a.json", { ...sample, id: "EN 50189", edition: "2000", tables: 7 })],
      /left out: \[.*a\.json\]tables: of the wrong type, found 7, accepted array/,
      ["EN 50189"],
      ["QW 100"],
    ],
    [
      "two of one name: neither is taken",
      () => [own("a.json", sample)],
      /left out: \[.*QW-100\.json\]id: a\.json holds this specification as well, found QW 100 2026/,
      ["QW 100"],
      ["EN 50189"],
    ],
    [
      "two that extend each other",
      () => [
        own("a.json", { ...sample, id: "RA", extends: { specification: "RB" } }),
        own("b.json", { ...sample, id: "RB", extends: { specification: "RA" } }),
      ],
      /left out: \[.*a\.json\]extends\.specification: the specifications extend each other, found RB/,
      ["RA", "RB"],
      ["QW 100", "EN 50189"],
    ],
  ])("%s", ([, make, error, gone, held]) => {
    const files = make();
    try {
      const run = spec("list", "--json");
      expect([run.status, run.err]).toEqual([0, expect.stringMatching(error)]);
      expect(new Set(run.err.split("\n")).size).toBe(run.err.split("\n").length);
      for (const id of gone) expect(named(run)).not.toContain(id);
      for (const id of held) expect(named(run)).toContain(id);
    } finally {
      for (const file of files) rmSync(file);
    }
  });

  test("one may stand on another of the lab's own, whichever is read first", () => {
    const file = own("0.json", {
      id: "QW 100-X",
      edition: "1",
      title: "Invented",
      grades: [],
      extends: { specification: "QW 100", grade: "Q1" },
      tables: [],
      required: [],
    });
    const run = spec("show", "QW 100-X", "--json");
    rmSync(file);
    expect([run.status, run.err]).toEqual([0, ""]);
    expect(json(run)["tables"]).toHaveLength(5);
  });
  test("one that is held replaces the built-in one of its name and edition", () => {
    const file = own("a.json", { ...sample, id: "EN 50189", edition: "2000" });
    const run = spec("list", "--json");
    rmSync(file);
    expect(named(run).filter((id) => id === "EN 50189")).toHaveLength(1);
  });
});

describe("adoption is bound to a person, an edition and the content", () => {
  test.for([
    [["adopt", "QW 100", "--by", "Ida Clerkson"], 3, /Ida Clerkson has the roles clerk; this needs quality/],
    [["adopt", "QW 100", "--by", "Nobody"], 3, /Nobody is not registered/],
    [["adopt", "EN 10270-1", "--by", ADMIN, "--edition", "2001"], 3, /edition 2001 is not held; held is 2011/],
    [["adopt", "XY 1", "--by", ADMIN], 64, /found "XY 1", which is not held/],
    [["adopt", "QW 100"], 64, /--by/],
  ] as const)("%j ends with %i", ([args, status, error]) => {
    const run = spec(...args);
    expect([run.status, run.out]).toEqual([status, ""]);
    expect(run.err).toMatch(error);
  });

  test("of a table whose source named no edition, the person says which one was compared", () => {
    const done = json(spec("adopt", "ASTM A228", "--by", ADMIN, "--edition", "2018", "--json"));
    expect(done).toMatchObject({ schema: "spec-adopt/1", specification: "ASTM A228", edition: "unstated", compared: "2018", by: ADMIN });
    expect(spec("list").out).toMatch(
      new RegExp(`ASTM A228 .* adopted by ${ADMIN} on \\d{4}-\\d\\d-\\d\\d, compared with edition 2018; read`),
    );
  });

  test("a changed table is not adopted until somebody looks again, and diff says what changed and which open order it meets", () => {
    cpSync(samplePath("inbox", "01-return-springs.xlsx"), join(lab, "inbox", "01.xlsx"));
    expectRun([0, 1], ["work", "--drain", "--lab", lab]);
    const file = join(lab, "specifications", "QW-100.json");
    const before = readFileSync(file, "utf8");
    expect(spec("diff", "QW 100")).toMatchObject({ status: 0, out: expect.stringContaining("no row differs") });

    // Q2 from 1.00 up to 2.00 mm: torsion 22 to 24 turns; the order of the sample is Q2 at 2.00 mm.
    writeFileSync(file, before.replace('"min": "22"', '"min": "24"'));
    expect(json(spec("show", "QW 100", "--json"))).toMatchObject({ adopted: false, adoption: { state: "changed", by: ADMIN } });
    expect(spec("show", "QW 100").out).toContain(`not adopted: changed since ${ADMIN} adopted it`);
    const diff = spec("diff", "QW 100", "--json");
    expect(diff.status).toBe(1);
    expect(json(diff)).toMatchObject({
      schema: "spec-diff/1",
      a: { id: "QW 100", adopted: true },
      b: { id: "QW 100", adopted: false, adoption: { state: "changed" } },
      differences: [
        {
          part: "row",
          property: "torsion",
          grades: ["Q1", "Q2"],
          row: "from 1.00 up to 2.00 mm",
          a: "min 22 turns",
          b: "min 24 turns",
          judged: true,
        },
      ],
      orders: [
        {
          order: "QM-2601",
          item: "10",
          grade: "Q2",
          nominalDiameter: "2 mm",
          requirements: [{ property: "torsion", a: expect.stringContaining("min 22 turns"), b: expect.stringContaining("min 24 turns") }],
        },
      ],
    });
    const text = spec("diff", "QW 100").out;
    expect(text).toContain("torsion, Q1 Q2, from 1.00 up to 2.00 mm: A min 22 turns | B min 24 turns");
    expect(text).toMatch(/open order QM-2601 item 10, grade Q2, 2 mm:\n {2}torsion: A min 22 turns.* \| B min 24 turns/);

    expect(spec("adopt", "QW 100", "--by", ADMIN).status).toBe(0);
    expect(json(spec("show", "QW 100", "--json"))).toMatchObject({ adopted: true, adoption: { state: "adopted" } });
    expect(spec("diff", "QW 100").status).toBe(0);
  });

  test("a file written otherwise but of equal content stays adopted", () => {
    const file = join(lab, "specifications", "QW-100.json");
    const data = JSON.parse(readFileSync(file, "utf8")) as Record<string, unknown>;
    writeFileSync(file, JSON.stringify(Object.fromEntries(Object.entries(data).reverse())));
    expect(json(spec("show", "QW 100", "--json"))["adopted"]).toBe(true);
    // The same as a form: the same content, so the same adoption.
    mkdirSync(at("aside"), { recursive: true });
    cpSync(file, at("aside", "QW-100.json"));
    rmSync(file);
    writeFileSync(join(lab, "specifications", "QW-100.xlsx"), specificationForm({ filled: data as never }));
    expect(json(spec("show", "QW 100", "--json"))["adopted"]).toBe(true);
  });

  test("an order on another size of the table is not hit", () => {
    const form = json(spec("show", "QW 100", "--json"));
    const tables = structuredClone(form["tables"]) as unknown as { property: string; rows: { over?: string; min?: string }[] }[];
    for (const table of tables) if (table.property === "torsion") for (const row of table.rows) if (row.over === "2.00") row.min = "19";
    const file = at("other.json");
    const { id, edition, title, grades, required, retest, conduct } = form as Record<string, unknown>;
    writeFileSync(file, JSON.stringify({ id, edition, title, grades, tables, required, retest, conduct }));
    rmSync(join(lab, "specifications", "QW-100.xlsx"));
    cpSync(at("aside", "QW-100.json"), join(lab, "specifications", "QW-100.json"));
    const held = join(lab, "specifications", "QW-100.json");
    const moved = at("aside", "held.json");
    cpSync(held, moved);
    rmSync(held);
    const diff = spec("diff", moved, file, "--json");
    cpSync(moved, held);
    expect(json(diff)).toMatchObject({ differences: [{ row: "over 2.00 up to 4.00 mm" }], orders: [] });
  });
});
