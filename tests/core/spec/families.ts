/** Every reference table of a specification that is held, as families of cells; the source of each cell stands in its line. */
import { type Cell, type Family, type Provenance, type Row, readReference } from "./reference.ts";

const optional = <K extends string>(key: K, text: string | undefined): { [P in K]?: string } =>
  (text === undefined || text === "" ? {} : { [key]: text }) as { [P in K]?: string };

const base = (row: Row, grade: string): Pick<Cell, "line" | "grade" | "provenance"> => ({
  line: row.line,
  grade,
  provenance: row["provenance"] as Provenance,
});

/** SUS302/304/304N1/316-WPA stands for four grades. */
function stainlessGrades(text: string): readonly string[] {
  const [names = "", temper = ""] = text.split("-");
  return names.split("/").map((name) => `${name.startsWith("SUS") ? name : `SUS${name}`}-${temper}`);
}

const tensileCell = (row: Row, grade: string): Cell => ({
  ...base(row, grade),
  ...optional("size", row["d_nominal"]),
  ...optional("low", row["d_over"]),
  ...optional("high", row["d_upto"]),
  lowIncluded: false,
  highIncluded: true,
  ...optional("min", row["tensile_min"]),
  ...optional("max", row["tensile_max"]),
});

interface Tensile {
  readonly file: string;
  readonly specification: string;
  readonly diameterUnit: "mm" | "in";
  readonly between: Family["between"];
  readonly rule?: Provenance;
  readonly grades: (row: Row) => readonly string[];
}
const byGrade = (row: Row): readonly string[] => [row["grade"] ?? ""];
const byClass = (row: Row): readonly string[] => [row["class_or_condition"] ?? ""];
const noGrade = (): readonly string[] => [""];

/** Between-sizes rules and their provenance: product-requirements.md, A0. */
const TENSILE: readonly Tensile[] = [
  { file: "tensile-astm-a227", specification: "ASTM A227", diameterUnit: "in", between: "linear", rule: "memory", grades: byClass },
  { file: "tensile-astm-a228", specification: "ASTM A228", diameterUnit: "in", between: "linear", rule: "memory", grades: noGrade },
  { file: "tensile-astm-a229", specification: "ASTM A229", diameterUnit: "in", between: "linear", rule: "memory", grades: byClass },
  { file: "tensile-astm-a231-a232", specification: "ASTM A231", diameterUnit: "in", between: "linear", rule: "read", grades: noGrade },
  { file: "tensile-astm-a231-a232", specification: "ASTM A231", diameterUnit: "mm", between: "linear", rule: "read", grades: noGrade },
  { file: "tensile-astm-a231-a232", specification: "ASTM A232", diameterUnit: "mm", between: "linear", rule: "memory", grades: noGrade },
  { file: "tensile-astm-a313-302", specification: "ASTM A313", diameterUnit: "in", between: "bands", grades: () => ["302", "304"] },
  { file: "tensile-en10270-1", specification: "EN 10270-1", diameterUnit: "mm", between: "bands", grades: byGrade },
  { file: "tensile-en10270-2-partial", specification: "EN 10270-2", diameterUnit: "mm", between: "listed", grades: byGrade },
  { file: "tensile-en10270-3", specification: "EN 10270-3", diameterUnit: "mm", between: "bands", grades: byGrade },
  { file: "tensile-jis-g3521", specification: "JIS G 3521", diameterUnit: "mm", between: "next-larger", rule: "memory", grades: byGrade },
  { file: "tensile-jis-g3522", specification: "JIS G 3522", diameterUnit: "mm", between: "next-larger", rule: "read", grades: byGrade },
  {
    file: "tensile-jis-g4314",
    specification: "JIS G 4314",
    diameterUnit: "mm",
    between: "bands",
    grades: (row) => stainlessGrades(row["grade"] ?? ""),
  },
];

const tensileFamilies: readonly Family[] = TENSILE.map(({ file, specification, diameterUnit, between, rule, grades }) => ({
  name: `${file} (${diameterUnit})`,
  specification,
  property: "tensile-strength",
  unit: diameterUnit === "in" ? "ksi" : "MPa",
  diameterUnit,
  between,
  ...(rule === undefined ? {} : { betweenProvenance: rule }),
  cells: readReference(file)
    .filter((row) => row["standard"] === specification && row["d_unit"] === diameterUnit)
    .flatMap((row) => grades(row).map((grade) => tensileCell(row, grade))),
}));

const EN_10270_1_GRADES = ["SL", "SM", "SH", "DM", "DH"];
const allGrades = (specification: string): readonly string[] =>
  ({
    "EN 10270-1": EN_10270_1_GRADES,
    "ASTM A227": ["I", "II"],
    "ASTM A229": ["I", "II"],
    "JIS G 3522": ["SWP-A", "SWP-B", "SWP-V"],
    "JIS G 4314": [...stainlessGrades("SUS302/304/304N1/316-WPA"), ...stainlessGrades("SUS302/304/304N1-WPB"), "SUS631J1-WPC"],
  })[specification] ?? [""];

const range = (
  row: Row,
  from: string,
  fromIncluded: string,
  to: string,
  toIncluded: string,
): Omit<Cell, "line" | "grade" | "provenance"> => ({
  ...optional("low", row[from]),
  lowIncluded: row[fromIncluded] === "yes",
  ...optional("high", row[to]),
  highIncluded: row[toIncluded] === "yes",
});

/** `max` holds the tolerance; the test turns it into nominal minus and plus. */
const toleranceFamilies: readonly Family[] = ["diameter-tolerance-astm", "diameter-tolerance-jis", "diameter-tolerance-en10270-1"].flatMap(
  (file) =>
    ["ASTM A227", "ASTM A228", "ASTM A229", "ASTM A231", "JIS G 3522", "JIS G 4314", "EN 10270-1"].flatMap((specification) => {
      // The supplier's own values for EN 10270-1 are a check of the table, not the table.
      const rows = readReference(file).filter(
        (row) => row["standard"] === specification || row["standard"] === `${specification} (producer table)`,
      );
      if (rows.length === 0) return [];
      const diameterUnit = rows[0]?.["d_unit"] as "mm" | "in";
      const cells = rows.flatMap((row) =>
        allGrades(specification).map(
          (grade): Cell => ({
            ...base(row, grade),
            ...range(row, "d_from", "from_inclusive", "d_to", "to_inclusive"),
            ...optional("max", row["plus_minus"]),
          }),
        ),
      );
      // Out of round equals the one-sided tolerance in every one of these tables (column out_of_round_max).
      return ["diameter", "out-of-round"].map(
        (property): Family => ({
          name: `${file}, ${specification}`,
          specification,
          property,
          unit: diameterUnit,
          diameterUnit,
          between: "bands",
          cells,
        }),
      );
    }),
);

const gradesOfTorsion = (text: string): readonly string[] => /\((.*)\)/.exec(text)?.[1]?.split(", ") ?? [text.split(",")[0] ?? ""];

const torsionFamilies: readonly Family[] = (
  [
    ["torsion-minimum-en10270-1", "EN 10270-1", "0.01"],
    ["torsion-minimum-jis-g3522", "JIS G 3522", undefined],
    ["torsion-minimum-conductor-steel", "EN 50189", undefined],
  ] as const
).map(([file, specification, step]) => ({
  name: file,
  specification,
  property: "torsion",
  unit: "turns",
  diameterUnit: "mm",
  between: "bands",
  ...(step === undefined ? {} : { step }),
  cells: readReference(file)
    .filter((row) => row["standard"] === specification)
    .flatMap((row) =>
      gradesOfTorsion(row["grade"] ?? "").map(
        (grade): Cell => ({
          ...base(row, grade),
          // A turn count means nothing without its free length: where that is from memory, so is the requirement.
          provenance: /memory/.test(row["gauge_length"] ?? "") ? "memory" : (row["provenance"] as Provenance),
          ...range(row, "d_min_mm", "d_min_inclusive", "d_max_mm", "d_max_inclusive"),
          ...optional("min", row["min_turns"]),
        }),
      ),
    ),
}));

const zincFamilies: readonly Family[] = [
  {
    name: "zinc-en10244-2",
    specification: "EN 10244-2",
    property: "coating-mass",
    unit: "g/m2",
    diameterUnit: "mm",
    between: "bands",
    cells: readReference("zinc-en10244-2").map((row) => ({
      ...base(row, row["class"] ?? ""),
      ...optional("low", row["d_from_mm"]),
      lowIncluded: true,
      ...optional("high", row["d_to_mm"]),
      highIncluded: false,
      ...optional("min", row["min_mass_g_m2"]),
    })),
  },
  {
    name: "zinc-astm-a641",
    specification: "ASTM A641",
    property: "coating-mass",
    unit: "oz/ft2",
    diameterUnit: "in",
    between: "next-smaller",
    betweenProvenance: "read",
    cells: readReference("zinc-astm-a641").flatMap((row) =>
      (row["class"] ?? "")
        .split(" = ")
        .map(
          (grade): Cell => ({ ...base(row, grade), ...optional("size", row["wire_diameter_in"]), ...optional("min", row["min_oz_ft2"]) }),
        ),
    ),
  },
];

/** Reduction of area stands beside single sizes; equal figures of neighbouring sizes are one range, the change between two is a hole. */
const areaFamilies: readonly Family[] = TENSILE.filter(({ file }) => file === "tensile-astm-a231-a232").map(
  ({ file, specification, diameterUnit }) => {
    const rows = readReference(file).filter(
      (row) => row["standard"] === specification && row["d_unit"] === diameterUnit && row["reduction_of_area_min_pct"] !== "",
    );
    const cells = ["45", "40"].map((min): Cell => {
      const own = rows.filter((row) => row["reduction_of_area_min_pct"] === min);
      const sizes = own.map((row) => row["d_nominal"] ?? "");
      // "not under 0.092 in (2.50 mm)" is the text's own start of the 45 % range; the table's first inch size in it is 0.105.
      const low = min === "45" ? (diameterUnit === "in" ? "0.092" : "2.50") : sizes[0];
      return {
        line: own[0]?.line ?? 0,
        grade: "",
        provenance: "read",
        ...optional("low", low),
        lowIncluded: true,
        ...optional("high", sizes.at(-1)),
        highIncluded: true,
        min,
      };
    });
    return {
      name: `${file}, area (${diameterUnit})`,
      specification,
      property: "reduction-of-area",
      unit: "%",
      diameterUnit,
      between: "bands",
      cells,
    };
  },
);

export const FAMILIES: readonly Family[] = [...tensileFamilies, ...areaFamilies, ...toleranceFamilies, ...torsionFamilies, ...zincFamilies];
