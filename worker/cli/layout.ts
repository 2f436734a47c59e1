import { Command, Option } from "commander";
import type { UnitSystem } from "../../core/model.ts";

/** `coilbook layout`: the sheets, header rows and columns of the entry workbook. */
export function layoutCommand(): Command {
  return new Command("layout")
    .description("the entry workbook: its sheets, header rows and columns")
    .addOption(new Option("--units <system>", "unit system of the workbook").choices(["SI", "inch-pound"]).default("SI"))
    .option("--json", "answer as one JSON object")
    .addHelpText("after", "\nExample:\n  coilbook layout --units SI --json")
    .action(async (options: { units: UnitSystem; json?: boolean }) => {
      const { layoutJson } = await import("../../core/entry/layout.ts");
      const layout = layoutJson(options.units) as LayoutAnswer;
      process.stdout.write(options.json ? `${JSON.stringify(layout)}\n` : asText(layout));
    });
}

interface LayoutAnswer {
  readonly sheets: readonly {
    readonly name: string;
    readonly headerRow: number;
    readonly columns: readonly { readonly header: string; readonly column: string; readonly required: boolean }[];
  }[];
}

const asText = (layout: LayoutAnswer): string =>
  layout.sheets
    .map((sheet) => {
      const columns = sheet.columns.map((column) => `  ${column.column.padEnd(3)} ${column.header}${column.required ? " (required)" : ""}`);
      return `${sheet.name}, header in row ${sheet.headerRow}\n${columns.join("\n")}\n`;
    })
    .join("\n");
