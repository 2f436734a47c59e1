import { describe, expect, test } from "vitest";
import { ENTRY_SHEETS, layoutJson } from "../../../core/entry/index.ts";

interface Layout {
  readonly schema: string;
  readonly units: string;
  readonly sheets: readonly {
    readonly name: string;
    readonly headerRow: number;
    readonly firstDataRow: number;
    readonly columns: readonly {
      readonly field: string;
      readonly column: string;
      readonly unit?: string;
      readonly type: string;
      readonly required: boolean;
      readonly allowed?: readonly string[];
      readonly computed?: true;
    }[];
  }[];
}
const layout = layoutJson("SI") as Layout;
const columnsOf = (name: string) => layout.sheets.find((sheet) => sheet.name === name)?.columns ?? [];

/** Every test sheet begins and ends alike. @source WORKBOOK.md, below the table of sheets */
const BEGIN = "testPiece* coil* end";
const END = "role retestOf cutBack setAside instrument date* tester remark correctionReason verdict why next";

describe("sheets and fields as WORKBOOK.md lists them, `*` is required", () => {
  test.for([
    [
      "Orders",
      "order* item* customer* contact customerOrder product specification* edition grade* nominalDiameter* coatingClass documentType decisionRule decisionRuleAgreed language documentUnits documentDecimalMark remark",
    ],
    ["Agreed", "order* item* property* min max unit conditions agreedIn"],
    ["Coils", "coil* order* item* heat* testUnit motherCoil drawnOn mass length"],
    ["Heats", "heat* analysis source process C Si Mn P S Cr Ni Mo Cu Al V N"],
    ["Instruments", "instrument* kind rangeMin rangeMax rangeUnit class calibratedOn dueOn uncertainty uncertaintyUnit coverageFactor"],
    ["Diameter", `${BEGIN} position largest* smallest* ${END}`],
    ["Tensile", `${BEGIN} diameter* maximumForce* proofForce gaugeLength elongation diameterAfter breakAt diameterInstrument ${END}`],
    [
      "Torsion",
      `${BEGIN} diameter* freeLength* tension speed forwardTurns reverseTurns cycles turns* breakAt fractureFromGrip fractureType lineTurns straightened ${END}`,
    ],
    ["Wrap", `${BEGIN} purpose* diameter* mandrelDiameter* wraps* rate cracks* firstCrackTurn coating secondLook ${END}`],
    ["Coiling", `${BEGIN} diameter* mandrelDiameter* evenPitch cracks* ${END}`],
    ["Reverse bend", `${BEGIN} diameter* radius* bends* breakAt ${END}`],
    ["Coating mass", `${BEGIN} method* strippedDiameter* massBefore massAfter hydrogen temperature pressure length ${END}`],
    // value or word is required, which no single column can say
    ["Other", `${BEGIN} property* value word unit method ${END}`],
  ] as const)("%s", ([name, fields]) => {
    expect(
      columnsOf(name)
        .map((c) => `${c.field}${c.required ? "*" : ""}`)
        .join(" "),
    ).toBe(fields);
  });

  test("no other sheet", () => {
    expect(layout.sheets.length).toBe(13);
    expect(ENTRY_SHEETS.length).toBe(13);
  });
});

describe("columns (WORKBOOK.md, Details: layout --json)", () => {
  test("column is the letter, in order", () => {
    expect(
      columnsOf("Coils")
        .map((c) => c.column)
        .join(""),
    ).toBe("ABCDEFGHI");
    expect(columnsOf("Torsion").at(-1)?.column).toBe("AB");
  });

  test("type is text, number, whole or date; wraps, bends and cycles are whole", () => {
    const all = layout.sheets.flatMap((sheet) => sheet.columns);
    expect(new Set(all.map((c) => c.type))).toEqual(new Set(["text", "number", "whole", "date"]));
    expect(
      all
        .filter((c) => c.type === "whole")
        .map((c) => c.field)
        .sort(),
    ).toEqual(["bends", "cycles", "wraps"]);
    expect(columnsOf("Torsion").find((c) => c.field === "turns")?.type).toBe("number");
  });

  test("Verdict, Why and Next of the test sheets are computed, nothing else", () => {
    for (const { name, columns } of layout.sheets)
      expect([name, columns.filter((c) => c.computed).map((c) => c.field)]).toEqual([
        name,
        columns[0]?.field === "testPiece" ? ["verdict", "why", "next"] : [],
      ]);
  });

  test.for([
    ["Orders", "documentType", "2.1 2.2 3.1 3.2"],
    ["Orders", "decisionRule", "simple guarded guarded-open"],
    ["Heats", "analysis", "heat product"],
    ["Heats", "source", "own supplier external"],
    ["Torsion", "end", "outer inner between"],
    ["Torsion", "role", "acceptance repeat retest check"],
    ["Torsion", "setAside", "slip kink weld tool-mark misset machine"],
    ["Tensile", "breakAt", "clear grip"],
    ["Torsion", "breakAt", "clear grip none"],
    ["Torsion", "fractureType", "1a 1b 1c 2a 2b 2c 3a 3b 3c"],
    ["Torsion", "straightened", "none hand tapped rolled"],
    ["Wrap", "purpose", "ductility adherence"],
    ["Wrap", "cracks", "none visible broken"],
    ["Wrap", "coating", "sound cracked-firm dust-only comes-off uncoated"],
    ["Coiling", "evenPitch", "yes no"],
    ["Coating mass", "method", "strip gas"],
  ] as const)("%s %s: %s", ([name, field, words]) => {
    expect(
      columnsOf(name)
        .find((c) => c.field === field)
        ?.allowed?.join(" "),
    ).toBe(words);
  });

  test.for([
    ["SI", "mm N kg m g"],
    ["inch-pound", "in lbf lb ft g"],
  ] as const)("units %s: %s (WORKBOOK.md, Details: orders.json)", ([units, expected]) => {
    const sheets = (layoutJson(units) as Layout).sheets;
    const unit = (name: string, field: string) => sheets.find((s) => s.name === name)?.columns.find((c) => c.field === field)?.unit;
    expect(
      [
        unit("Diameter", "largest"),
        unit("Tensile", "maximumForce"),
        unit("Coils", "mass"),
        unit("Coils", "length"),
        unit("Coating mass", "massBefore"),
      ].join(" "),
    ).toBe(expected);
  });
});
