import { describe, expect, test } from "vitest";
import { parseOrdersJson } from "../../../core/entry/index.ts";
import { codes, TODAY } from "./workbook.ts";

const ORDER = { order: "O1", item: "1", customer: "Example Springs", specification: "EN 10270-1", grade: "SH", nominalDiameter: 2 };
const COIL = { coil: "C1", order: "O1", item: "1", heat: "H1" };
const parse = (json: unknown) => parseOrdersJson(json, "orders.json", TODAY);

describe("orders given as JSON (WORKBOOK.md, Details: orders.json)", () => {
  test("a good list", () => {
    const { units, rows, findings } = parse({
      units: "SI",
      orders: [ORDER],
      coils: [COIL],
      heats: [{ heat: "H1", C: 0.72 }],
      instruments: [{ instrument: "TT-1" }],
    });
    expect([units, findings, rows.map((row) => row.sheet)]).toEqual(["SI", [], ["orders", "coils", "heats", "instruments"]]);
  });

  test.for([
    ["SI", "mm", "kg"],
    ["inch-pound", "in", "lb"],
  ] as const)("numbers are in the file's units: %s, %s, %s", ([units, length, mass]) => {
    const { rows } = parse({ units, orders: [{ ...ORDER, nominalDiameter: 0.08 }], coils: [{ ...COIL, mass: 120 }] });
    expect(rows.map((row) => (row.fields["nominalDiameter"] ?? row.fields["mass"])?.unit)).toEqual([length, mass]);
  });

  test.for([
    ["null", null],
    ["empty text", ""],
    ["blanks", "  "],
    ["nothing", undefined],
  ] as const)("a required field with %s is missing", ([, customer]) => {
    const { rows, findings } = parse({ units: "SI", orders: [{ ...ORDER, customer }] });
    expect([rows, findings.map((f) => [f.code, f.severity, f.cell])]).toEqual([[], [["missing-value", "error", "orders[0].customer"]]]);
  });

  test.for([
    [{ grade: "" }, [], 1, "an empty grade is the only one"],
    [{ contact: null }, [], 1, "null is a missing key"],
    [{ nominalDiameter: "2.00" }, [], 1, "decimal text is exact"],
    [{ nominalDiameter: "2,00" }, ["ambiguous-number"], 0, "the point is the mark"],
    [{ nominalDiameter: "2 mm" }, ["not-a-number"], 0, "no units in the figure"],
    [{ nominalDiameter: 30 }, ["implausible"], 0, "plausible ranges"],
    [{ nominalDiameter: true }, ["wrong-json"], 0, "neither text nor number"],
    [{ order: 4711 }, ["identifier-as-number?"], 1, "a number for a name is said"],
    [{ order: 47.5 }, ["not-an-identifier"], 0, "not whole"],
    [{ documentType: 2.2 }, ["taken-as-text?"], 1, "a number for a word is said"],
    [{ documentType: "4.1" }, ["not-allowed"], 0, "none of those listed"],
    [{ colour: "blue" }, ["unknown-column"], 0, "an unknown field"],
  ] as const)("an order with %j: %j (%s)", ([change, expected, rows]) => {
    const parsed = parse({ units: "SI", orders: [{ ...ORDER, ...change }] });
    expect([codes(parsed.findings), parsed.rows.length]).toEqual([expected, rows]);
  });

  test.for([
    [[], ["wrong-json"], "no object"],
    [null, ["wrong-json"], "no object"],
    [{ orders: [ORDER] }, ["wrong-json"], "no units"],
    [{ units: "metric" }, ["wrong-json"], "units of another name"],
    [{ units: "SI", orders: ORDER }, ["wrong-json"], "orders is no list"],
    [{ units: "SI", orders: ["O1"] }, ["wrong-json"], "an order is no object"],
    [{ units: "SI", tests: [] }, ["unknown-column"], "an unknown list"],
    [{ units: "SI", orders: [ORDER, ORDER] }, ["doubled-registration", "doubled-registration"], "the same key twice"],
    [{ units: "SI", coils: [COIL, { ...COIL, coil: "c1" }] }, ["near-match"], "two names that resemble each other"],
  ] as const)("%j: %j (%s)", ([json, expected]) => {
    expect(codes(parse(json).findings)).toEqual(expected);
  });
});
