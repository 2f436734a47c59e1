import type { Command } from "commander";
import type { Conditions } from "../../core/model.ts";
import type { Rounding } from "../../core/rounding.ts";
import { conditionsJson, requirementText } from "../../core/spec/index.ts";
import { isIsoDay } from "../../core/workbook/dates.ts";
import { endOfDay } from "../clock.ts";
import { UsageError } from "../errors.ts";
import type { Why } from "../why.ts";
import { answer, inWorkshop, type LabFlags, labCommand } from "./context.ts";

export function whyCommand(): Command {
  return labCommand("why", "every step from the cell to the verdict and the documents", "coilbook why C-1042 --property torsion")
    .argument("<coil>", "coil")
    .option("--property <name>", "one property only")
    .option("--as-of <date>", "as it was known at the end of this day, or at this time (ISO)")
    .action(async (coil: string, flags: LabFlags & { property?: string; asOf?: string }) => {
      const { why } = await import("../why.ts");
      await inWorkshop(flags, async ({ ledger, lab }) => {
        const until = endOf(flags.asOf, lab.settings.timeZone);
        const found = await why(ledger, coil, flags.property, until);
        if (found === undefined)
          throw new UsageError(
            `why: coil ${coil} is not known${flags.asOf === undefined ? "" : ` on ${flags.asOf}`}; "coilbook order list" names the orders`,
          );
        answer(flags, { schema: "why/1", ...found }, () => asText(found));
      });
    });
}

/** The end of a day of the lab, or the time as given. */
function endOf(asOf: string | undefined, timeZone: string): string | undefined {
  if (asOf === undefined) return undefined;
  if (isIsoDay(asOf)) return endOfDay(timeZone, asOf).toISOString();
  if (Number.isNaN(Date.parse(asOf))) throw new UsageError(`--as-of: found "${asOf}", accepted is a day such as 2026-03-02 or an ISO time`);
  return new Date(asOf).toISOString();
}

interface ResultLines {
  readonly testPiece: string;
  readonly role: string;
  readonly sheet: string;
  readonly cell: string;
  readonly raw: string;
  readonly formula?: string;
  readonly file: string;
  readonly fileName: string;
  readonly instrument?: string;
  readonly tester?: string;
  readonly date?: string;
  readonly steps: readonly string[];
}
interface RuleLines {
  readonly specification: string;
  readonly edition: string;
  readonly clause: string;
  readonly provenance: string;
  readonly adopted: boolean;
}

function asText(found: Why): string {
  const lines = [
    `Coil ${found.coil}, order ${found.order} item ${found.item}: ${found.verdict ?? "not judged"}${found.judgedAt ? ` (judged ${found.judgedAt})` : ""}`,
  ];
  for (const property of found.properties) {
    const rule = property.rule as RuleLines;
    const limit = property.limit as { min?: string; max?: string; unit?: string; word?: string; conditions: Conditions };
    lines.push("", `${property.property}: ${property.verdict}${property.reason ? ` (${property.reason})` : ""}`);
    lines.push(
      `  rule: ${rule.specification} ${rule.edition}, ${rule.clause}; ${property.row}; provenance ${rule.provenance}, ${rule.adopted ? "adopted" : "not adopted"}`,
    );
    const figures = [limit.min && `at least ${limit.min}`, limit.max && `at most ${limit.max}`].filter(Boolean).join(", ");
    const conditions = Object.entries(conditionsJson(limit.conditions)).map(
      ([name, value]) => `${name} ${typeof value === "string" ? value : `${value.value} ${value.unit}`}`,
    );
    const asked =
      figures === "" ? (limit.word === undefined ? "as agreed" : requirementText(limit.word)) : `${figures} ${limit.unit ?? ""}`;
    lines.push(`  limit: ${[asked.trim(), ...conditions].join("; ")}${roundingText(property.rounding as Rounding)}`);
    for (const result of property.results as readonly ResultLines[]) {
      lines.push(
        `  piece ${result.testPiece} (${result.role}): cell ${result.sheet}!${result.cell}${result.fileName ? ` of ${result.fileName}` : ""}, kept/${result.file}.xlsx, typed "${result.raw}"${result.formula ? `, formula =${result.formula}` : ""}`,
      );
      lines.push(
        `    ${[result.date && `on ${result.date}`, result.tester && `by ${result.tester}`, result.instrument && `with ${result.instrument}`].filter(Boolean).join(", ")}`,
      );
      for (const step of result.steps) lines.push(`    - ${step}`);
    }
  }
  lines.push("", "History:");
  for (const step of found.history) lines.push(`  ${step.at} ${step.by}: ${step.text} [fact ${step.fact}]`);
  return lines.join("\n");
}

function roundingText({ method, step, ties }: Rounding): string {
  if (method === "absolute") return "";
  if (method === "whole") return "; whole counts";
  return `; rounded to ${step}, ties ${ties === "even" ? "to even" : "away from zero"}`;
}
