/** What is wrong with an order or a row as a whole: named at its place, and the rest is judged. */
import type { EntryRow, Finding, OrderItem } from "../model.ts";
import type { JudgementIndex } from "./judgement-index.ts";
import type { ItemRequirements, Unanswered } from "./requirements.ts";

type Report = (finding: Finding) => void;

export function reportUnknownCoils(tests: readonly EntryRow[], index: JudgementIndex, report: Report): void {
  for (const row of tests) {
    const coil = row.fields["coil"];
    if (coil === undefined || index.coils.has(coil.text)) continue;
    report({
      code: "unknown-coil",
      severity: "error",
      sheet: row.sheetName,
      cell: coil.cell,
      actual: coil.raw,
      expected: "a coil of the sheet Coils or of the register",
      text: `Coil ${coil.text} is not known; the row judges nothing until the coil is entered.`,
    });
  }
}

export const unknownSpecification = (order: OrderItem): Finding => ({
  code: "unknown-specification",
  severity: "error",
  sheet: "Orders",
  cell: "",
  actual: `${order.specification} ${order.edition}`.trim(),
  expected: "a specification that is held (coilbook spec list)",
  text: `Order ${order.order} item ${order.item} asks for ${order.specification}, which is not held.`,
});

const CODES: Readonly<Record<Unanswered["problem"]["problem"], string>> = {
  "unknown-grade": "unknown-grade",
  "outside-scope": "outside-table",
  "no-rule": "no-limit",
  "contradictory-limits": "contradictory-limits",
  "limit-without-unit": "limit-without-unit",
};

/** Every property that no limit answers, once; a grade that is not held is named once for all of them. */
export function reportUnanswered(order: OrderItem, { specification, unanswered }: ItemRequirements, report: Report): void {
  for (const { property, problem, sheet } of unanswered) {
    const { actual, expected } = whatAndAccepted(property, problem.problem, order, specification.grades);
    report({
      code: CODES[problem.problem],
      severity: "error",
      sheet,
      cell: "",
      actual,
      expected,
      text: `Order ${order.order} item ${order.item}: ${problem.text}.`,
    });
  }
}

function whatAndAccepted(
  property: string,
  problem: Unanswered["problem"]["problem"],
  order: OrderItem,
  grades: readonly string[],
): { actual: string; expected: string } {
  switch (problem) {
    case "unknown-grade":
      return property === "coating-mass" && order.coatingClass !== undefined
        ? { actual: order.coatingClass, expected: "a coating class that is held (coilbook spec list)" }
        : { actual: order.grade, expected: grades.length === 0 ? "an empty cell: there is one grade only" : grades.join(", ") };
    case "outside-scope":
    case "no-rule":
      return {
        actual: `${order.nominalDiameter.text} ${order.nominalDiameter.unit}`,
        expected: `a size for which ${order.specification} limits ${property}`,
      };
    case "contradictory-limits":
      return { actual: property, expected: "a minimum that is not above the maximum" };
    default:
      return { actual: property, expected: "a limit in a unit of its property" };
  }
}
