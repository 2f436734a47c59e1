/** Every cell of the reference tables of every specification held, against what is answered at, inside and just past its edges. */
import { describe, expect, test } from "vitest";
import { CalcError } from "../../../core/calc-error.ts";
import { builtInLibrary, limitsFor } from "../../../core/spec/index.ts";
import { FAMILIES } from "./families.ts";
import { type Cell, type Expected, expectedAt, type Family, probes, readReference, toInteger, toText } from "./reference.ts";

type Found = { min?: string; max?: string; unit?: string; provenance: string } | { error: string };

function ask(family: Family, grade: string, d: number): Found {
  const diameter = { text: toText(d), unit: family.diameterUnit };
  try {
    const { min, max, unit, provenance } = limitsFor({
      specification: family.specification,
      ...(grade === "" ? {} : { grade }),
      property: family.property,
      diameter,
    });
    return {
      ...(min === undefined ? {} : { min }),
      ...(max === undefined ? {} : { max }),
      ...(unit === undefined ? {} : { unit }),
      provenance,
    };
  } catch (error) {
    if (!(error instanceof CalcError)) throw error;
    return { error: error.code };
  }
}

/** Numbers apart from their writing: interpolated limits are compared to 12 digits, tabulated ones exactly. */
function comparable(found: Found | (Expected & { unit?: string })): unknown {
  if ("error" in found) return found;
  const digits = (text: string | undefined): string | undefined => (text === undefined ? undefined : Number(text).toPrecision(12));
  return { min: digits(found.min), max: digits(found.max), unit: found.unit, provenance: found.provenance };
}

function expectedAnswer(family: Family, grade: string, d: number): Expected & { unit?: string } {
  const cell = expectedAt(family, grade, d);
  if ("error" in cell) return cell;
  if (family.property !== "diameter") return { ...cell, unit: family.unit };
  const tolerance = toInteger(cell.max ?? "");
  return { min: toText(d - tolerance), max: toText(d + tolerance), unit: family.unit, provenance: cell.provenance };
}

const title = (cell: Cell): string =>
  `line ${cell.line} ${cell.grade} ${cell.size ?? `${cell.low ?? ""}-${cell.high ?? ""}`}: ${cell.min ?? ""}/${cell.max ?? ""}`;

describe.each(FAMILIES)("$name: $specification $property", (family) => {
  test.for(family.cells.map((cell) => [title(cell), cell] as const))("%s", ([, cell]) => {
    for (const d of probes(family, cell)) {
      const at = `${toText(d)} ${family.diameterUnit}`;
      expect({ at, ...(comparable(ask(family, cell.grade, d)) as object) }).toEqual({
        at,
        ...(comparable(expectedAnswer(family, cell.grade, d)) as object),
      });
    }
  });

  test("a tabulated limit keeps the digits of its cell", () => {
    for (const cell of family.cells) {
      if (family.property === "diameter") continue;
      const d = toInteger(cell.size ?? (cell.lowIncluded ? cell.low : cell.high) ?? "");
      if (!cell.size && !cell.lowIncluded && !cell.highIncluded) continue;
      const found = ask(family, cell.grade, d);
      expect({ line: cell.line, ...found }).toMatchObject({
        line: cell.line,
        ...(cell.min ? { min: cell.min } : {}),
        ...(cell.max ? { max: cell.max } : {}),
      });
    }
  });

  test("the product holds these cells and no others", () => {
    const held = builtInLibrary().find(family.specification);
    const tables = (held?.data.tables ?? []).filter((t) => t.property === family.property && t.diameterUnit === family.diameterUnit);
    const all = held?.grades.length ? held.grades : [""];
    const cells = tables.flatMap((t) =>
      t.rows
        .filter((row) => row.undecided !== true)
        .flatMap((row) => all.filter((grade) => (row.grades ?? t.grades ?? all).includes(grade))),
    );
    expect(cells.sort()).toEqual(family.cells.map((cell) => cell.grade).sort());
  });
});

describe("heat analysis: chemistry-wire-grades", () => {
  const library = builtInLibrary();
  const rows = readReference("chemistry-wire-grades").filter((row) => library.find(row["standard"] ?? "") !== undefined);
  const grade = (row: Readonly<Record<string, string>>): string => (row["grade"] === "all" ? "" : (row["grade"] ?? ""));
  const isHeld = (row: Readonly<Record<string, string>>): boolean => {
    const grades = library.find(row["standard"] ?? "")?.grades ?? [];
    return grade(row) === "" || grades.some((g) => g === grade(row) || g.startsWith(`${grade(row)} `));
  };

  test.for(rows.filter(isHeld).map((row) => [`line ${row.line} ${row["standard"]} ${row["grade"]} ${row["element"]}`, row] as const))(
    "%s",
    ([, row]) => {
      const specification = row["standard"] ?? "";
      const grades = library.find(specification)?.grades ?? [];
      const asked = grade(row) === "" ? grades : grades.filter((g) => g === grade(row) || g.startsWith(`${grade(row)} `));
      for (const one of asked.length === 0 ? [""] : asked)
        expect(limitsFor({ specification, ...(one === "" ? {} : { grade: one }), property: `chemistry:${row["element"]}` })).toMatchObject({
          ...(row["min_pct"] === "" ? {} : { min: row["min_pct"] }),
          ...(row["max_pct"] === "" ? {} : { max: row["max_pct"] }),
          unit: "%",
          provenance: row["provenance"],
          conditions: {},
        });
    },
  );

  test.for(rows.filter((row) => !isHeld(row)).map((row) => [`line ${row.line} ${row["standard"]} ${row["grade"]}`, row] as const))(
    "%s is no grade that is held",
    ([, row]) => {
      const question = { specification: row["standard"] ?? "", grade: grade(row), property: `chemistry:${row["element"]}` };
      expect(() => limitsFor(question)).toThrowError(expect.objectContaining({ code: "unknown-grade" }));
    },
  );

  test("an element the table leaves out has no rule (ASTM A228 limits no chromium, P2)", () => {
    expect(() => limitsFor({ specification: "ASTM A228", property: "chemistry:Cr" })).toThrowError(
      expect.objectContaining({ code: "no-rule" }),
    );
  });
});

describe("tables of the reference that are not to be encoded, or belong to specifications that are not held", () => {
  const files = [
    "tensile-astm-a230-a401-memory",
    "tensile-en10270-2-partial",
    "zinc-astm-a475-memory",
    "zinc-adherence",
    "wrap-mandrel",
    "torsion-minimum-conductor-steel",
    "diameter-tolerance-astm",
    "diameter-tolerance-jis",
    "chemistry-wire-grades",
  ];
  const names = [...new Set(files.flatMap((file) => readReference(file).map((row) => row["standard"] ?? "")))].filter(
    (name) => builtInLibrary().find(name.replace(" (producer table)", "").replace(/^EN 10223-3 \/ /, "")) === undefined,
  );
  test("there are some, ASTM A401 and A230 among them (memory, low: do not encode without the standard)", () => {
    expect(names).toEqual(expect.arrayContaining(["ASTM A401", "ASTM A230", "JIS G 3561", "ASTM A475 / A363"]));
  });
  test.for(names)("%s is unknown", (specification) => {
    const question = { specification, property: "tensile-strength", diameter: { text: "2", unit: "mm" as const } };
    expect(() => limitsFor(question)).toThrowError(expect.objectContaining({ code: "unknown-standard" }));
  });
});
