import type { Command } from "commander";
import { isIsoDay } from "../../core/workbook/dates.ts";
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
      const until = endOf(flags.asOf);
      await inWorkshop(flags, async ({ ledger }) => {
        const found = await why(ledger, coil, flags.property, until);
        if (found === undefined)
          throw new UsageError(
            `why: coil ${coil} is not known${flags.asOf === undefined ? "" : ` on ${flags.asOf}`}; "coilbook order list" names the orders`,
          );
        answer(flags, { schema: "why/1", ...found }, () => asText(found));
      });
    });
}

/** The end of a day in UTC, or the time as given. */
function endOf(asOf: string | undefined): string | undefined {
  if (asOf === undefined) return undefined;
  if (isIsoDay(asOf)) return `${asOf}T23:59:59.999Z`;
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
    const limit = property.limit as { min?: string; max?: string; unit?: string };
    lines.push("", `${property.property}: ${property.verdict}${property.reason ? ` (${property.reason})` : ""}`);
    lines.push(
      `  rule: ${rule.specification} ${rule.edition}, ${rule.clause}; ${property.row}; provenance ${rule.provenance}, ${rule.adopted ? "adopted" : "not adopted"}`,
    );
    lines.push(
      `  limit: ${[limit.min && `at least ${limit.min}`, limit.max && `at most ${limit.max}`].filter(Boolean).join(", ") || "in words"} ${limit.unit ?? ""}; rounding ${JSON.stringify(property.rounding)}`,
    );
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
