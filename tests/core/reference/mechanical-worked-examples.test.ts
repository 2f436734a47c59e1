/** All worked examples of mechanical-tests-worked-examples.csv: inputs and answers as the file holds them, sums by the project's own functions. */
import { describe, expect, test } from "vitest";
import { forceAtShare } from "../../../core/formulas/stress.ts";
import { builtInLibrary } from "../../../core/spec/index.ts";
import { row as entryRow } from "../../helpers/judge.ts";
import { ask, codeOf, numberAt } from "../calc/answers.ts";
import { type Row, readReference } from "../spec/reference.ts";
import { figures, halfPlace, judgedProperty } from "./worked.ts";

const ROWS = readReference("mechanical-tests-worked-examples");

/** Examples, or parts of them, that nothing in the project works out; the rest of such a row is run all the same. */
const NOT_EXPRESSED: Readonly<Record<string, string>> = {
  T22: "no calculation gives the time of a torsion test; its speed limit is judged with the row",
  W17: "no calculation gives the length wound; the cut length of a set-up adds a turn and the ends",
  W18: "as W17",
  W19: "as W17",
  W20: "no calculation gives the time of a wrap test",
  S8: "the rule that regroups a failed lot by fifty coils is not held: the standard's text was cut off there",
  S9: "ropes are not judged: the allowance of API 9A for single wires out of a rope is not held",
  S10: "as S9",
  S11: "rope wire of EN 10264-1 is not held",
};
/** The second figure of these rows: EN 50182 takes two turns off after stranding, and wire after stranding is not judged. */
const AFTER_STRANDING = ["M9", "M10", "M11", "M12", "M13"];

type Given = Readonly<Record<string, string>>;

/** `d=2.0 mm; grade A; SWP-B` as d, grade and the rest under `first`. */
function givenOf(row: Row): Given {
  const parts = (row["input"] ?? "").split(";").map((part) => part.trim());
  return Object.fromEntries(
    parts.map((part) => {
      const [, name, value] = /^([^=]+?)=(.+)$/.exec(part) ?? /^(grade) (\S+)$/.exec(part) ?? [];
      return name === undefined ? ["first", part] : [name, value ?? ""];
    }),
  );
}

const byId = (id: string): Row => ROWS.find((row) => row["id"] === id) ?? missing(id);
function missing(id: string): never {
  throw new Error(`no row ${id}`);
}

/** What the project answers to the printed figures, in order. */
type Sum = (given: Given, row: Row) => readonly number[];

const torsionLength =
  (standard: string): Sum =>
  ({ d }) => [numberAt(ask("torsion-length", { standard, diameter: d }), "freeLength.value")];
const strain =
  (field: string): Sum =>
  (given, row) => {
    // The second and third lines of an example carry on from its first.
    const first = given["d"] === undefined ? givenOf(byId(row["id"]?.replace(/[bc]$/, "") ?? "")) : given;
    return [numberAt(ask("torsion-strain", { diameter: first["d"], turns: first["N"], length: first["L"] }), field)];
  };
const stress = ({ d, T }: Given, kind: "elastic" | "plastic"): number =>
  numberAt(ask("torsion-stress", { diameter: d, torque: T }), `${kind}.value`);
const cap =
  (share: number): Sum =>
  (given) => [forceAtShare(measureOf(given["Rm nominal"]), measureOf(given["d"]), share, "N")];
const measureOf = (printed = ""): { text: string; unit: "mm" | "MPa" } => {
  const [text = "", unit] = printed.split(" ");
  return { text, unit: unit as "mm" | "MPa" };
};
const samples =
  (standard: string): Sum =>
  (given) => {
    const [coils, heats] = figures(`${given["first"]}`.replace("one heat", "1"));
    return [numberAt(ask("samples-required", { standard, coils: Number(coils), heats: heats === undefined ? null : 1 }), "samples")];
  };
const minimumTurns = (specification: string, grade: string | undefined, diameter: string | undefined): readonly number[] => {
  const answer = ask("limits", { specification, grade: grade ?? null, property: "torsion", diameter });
  return [Number(answer["min"])];
};

const SUMS: Readonly<Record<string, Sum>> = {
  "torsion gauge length ISO 7800": torsionLength("ISO 7800:2012"),
  "torsion gauge length EN 10270-1": torsionLength("EN 10270-1"),
  "turn conversion": ({ N1, L1, L2 }) => {
    // "100 d with d=3.5 mm"
    const times = /^(\d+) d with d=([\d.]+) mm$/.exec(L2 ?? "");
    const to = times === null ? L2 : `${Number(times[1]) * Number(times[2])} mm`;
    return [numberAt(ask("torsion-scale", { turns: N1, from: L1, to }), "turns")];
  },
  "turn conversion (short wire)": ({ TL, LL, LS }) => [numberAt(ask("torsion-scale", { turns: TL, from: LL, to: LS }), "turns")],
  "surface shear strain": strain("shearStrain"),
  "lay angle of surface line": strain("helixAngle"),
  "von Mises equivalent strain": strain("equivalentStrain"),
  "shear stress elastic": (given) => [stress(given, "elastic")],
  "shear stress fully plastic": (given) => [stress(given, "plastic")],
  // (3 + n) T / (2 pi a^3) is linear in n: fully plastic at n = 0, elastic at n = 1.
  "shear stress Nadai, T = C theta^n": (given) => {
    const [elastic, plastic] = [stress(given, "elastic"), stress(given, "plastic")];
    return [plastic + Number(given["n"]) * (elastic - plastic)];
  },
  "tension cap 2 %": (given, row) => {
    const [force] = cap(0.02)(given, row);
    if (row["id"]?.startsWith("B")) return [force ?? Number.NaN];
    return [
      numberAt(ask("torsion-tension", { standard: "ISO 7800", diameter: given["d"], tensileStrength: given["Rm nominal"] }), "max.value"),
    ];
  },
  "tension cap ISO 7802 5 %": cap(0.05),
  "applied tension API": ({ d }) => {
    const answer = ask("torsion-tension", { standard: "API 9A", diameter: d });
    return [numberAt(answer, "min.value"), numberAt(answer, "max.value")];
  },
  "mandrel ASTM A877": ({ d, grade }) => [
    numberAt(ask("wrap-mandrel", { standard: "ASTM A877", grade, diameter: d, purpose: "ductility" }), "mandrelDiameter.value"),
  ],
  "coiling mandrel EN 10270-1": ({ d }) => {
    const answer = ask("limits", { specification: "EN 10270-1", grade: "SM", property: "coiling", diameter: d });
    return ["mandrelDiameter", "mandrelDiameterMax"].map((name) => numberAt(answer, `conditions.${name}.value`));
  },
  "outer-fibre strain in wrap": ({ D }) => [
    // "3 d" on a wire of 2 mm
    numberAt(ask("wrap-strain", { diameter: "2 mm", mandrelDiameter: `${2 * Number(D?.split(" ")[0])} mm` }), "strain"),
  ],
  "outer-fibre strain per bend": ({ d, r }) => [numberAt(ask("bend-strain", { diameter: d, radius: r }), "strain")],
  "support radius and distance": ({ d }) => {
    const answer = ask("bend-radius", { diameter: d });
    return [numberAt(answer, "radius.value"), numberAt(answer, "distance.value")];
  },
  "minimum turns JIS G 3522": ({ first, d }) => minimumTurns("JIS G 3522", first, d),
  "minimum turns EN 50189 ST1A": ({ d }) => minimumTurns("EN 50189", "ST1A", d),
  "specimens ASTM A818": samples("ASTM A818"),
  "specimens ASTM A1000": samples("ASTM A1000"),
  counting: (_, row) => [countedBends(row["id"] ?? "")],
};

/** The bend in which the wire breaks is begun and not done: it is cut off like a part turn. */
function countedBends(id: string): number {
  const begun: Readonly<Record<string, string>> = { B14: "11.5", B15: "0.5", B16: "9" };
  return Number(ask("compare", { value: begun[id], min: "1", method: "whole" })["compared"]);
}

describe("mechanical-tests-worked-examples.csv", () => {
  test("94 rows, each run or listed with the reason why not", () => {
    expect(ROWS).toHaveLength(94);
    const listed = ROWS.filter((row) => SUMS[row["test"] ?? ""] === undefined).map((row) => row["id"]);
    expect(listed).toEqual(Object.keys(NOT_EXPRESSED));
  });

  const run = ROWS.filter((row) => SUMS[row["test"] ?? ""] !== undefined && /\d/.test(row["result"] ?? ""));
  test.for(run)("$id $test, $input: $result $unit ($source, $provenance)", (row) => {
    const printed = figures(row["result"] ?? "");
    const wanted = AFTER_STRANDING.includes(row["id"] ?? "") ? printed.slice(0, 1) : printed;
    const is = SUMS[row["test"] ?? ""]?.(givenOf(row), row) ?? [];
    expect(is).toHaveLength(wanted.length);
    wanted.forEach((figure, at) => {
      expect(Math.abs((is[at] ?? Number.NaN) - Number(figure)), `${figure} against ${is[at]}`).toBeLessThan(halfPlace(figure));
    });
  });

  const mandrel = { standard: "ASTM A877", grade: "A", diameter: "8.5 mm", purpose: "ductility" };
  const turns = (diameter: string) => ({ specification: "JIS G 3522", grade: "SWP-A", property: "torsion", diameter });
  test.for([
    // id, printed answer, calculation, input
    ["W5", "not applicable", "wrap-mandrel", mandrel],
    ["M1", "no requirement", "limits", turns("0.69 mm")],
    ["M8", "no requirement", "limits", turns("6.01 mm")],
  ] as const)("%s %s: outside the rule", ([id, printed, name, input]) => {
    expect(byId(id)["result"]).toBe(printed);
    expect(codeOf(name, input)).toBe("outside-scope");
  });
  test("every row without a figure is among those", () => {
    expect(ROWS.filter((row) => !/\d/.test(row["result"] ?? "") && SUMS[row["test"] ?? ""] !== undefined).map((row) => row["id"])).toEqual([
      "W5",
      "M1",
      "M8",
    ]);
  });
  test.for(["0.69", "6.01"])("M1, M8: torsion is not among what JIS G 3522 requires at %s mm", (text) => {
    expect(builtInLibrary().find("JIS G 3522")?.requiredProperties("SWP-A", { text, unit: "mm" })).not.toContain("torsion");
  });

  test("B16: a reverse bend test stopped at the required 9 conforms and is no fracture (ISO 7801, memory)", () => {
    const verdict = judgedProperty("reverse-bend", {
      specification: "JIS G 3522",
      grade: "SWP-A",
      nominal: "2.00 mm",
      agreed: { property: "reverse-bend", min: "9", unit: "bends", conditions: "radius 5 mm" },
      rows: [entryRow("reverse-bend", { diameter: "2.00", radius: "5", bends: ">9" })],
    });
    expect(verdict).toMatchObject({ verdict: "conforms", results: [{ compared: "9", censored: true }] });
  });
});
