/** Commands that answer out of the core and need no lab. */
import { readFileSync } from "node:fs";
import { Command } from "commander";
import { UsageError } from "../errors.ts";
import { answer, say } from "./context.ts";

export function calcCommand(): Command {
  return new Command("calc")
    .description("one calculation; with -, JSON Lines in and out; without a name, the list")
    .argument("[name]", "name of the calculation")
    .argument("[input]", "a JSON object, or - for JSON Lines on standard input")
    .addHelpText("after", `\nExample:\n  coilbook calc tensile-strength '{"force":"6250 N","diameter":"2.00 mm"}'`)
    .action(async (name: string | undefined, input: string | undefined) => {
      const { calculations, isCalculation, runCalculation } = await import("../../core/calc/index.ts");
      if (name === undefined) {
        for (const c of calculations)
          say(`${c.name.padEnd(22)} ${c.description}\n${" ".repeat(22)} coilbook calc ${c.name} '${JSON.stringify(c.example)}'`);
        return;
      }
      if (!isCalculation(name)) throw new UsageError(`calc: found "${name}", accepted are ${calculations.map((c) => c.name).join(", ")}`);
      const run = (text: string): object => {
        let json: unknown;
        try {
          json = JSON.parse(text);
        } catch (error) {
          return { schema: "calc/1", error: { code: "wrong-input", text: `no valid JSON (${(error as Error).message})` } };
        }
        return runCalculation(name, json);
      };
      const lines =
        input === "-"
          ? readFileSync(0, "utf8")
              .split(/\r?\n/)
              .filter((line) => line.trim() !== "")
          : [input ?? "{}"];
      for (const line of lines) {
        const result = run(line);
        if ("error" in result) process.exitCode = 1;
        say(JSON.stringify(result));
      }
    });
}

export function codesCommand(): Command {
  return new Command("codes")
    .description("every finding, void, reason and error code with its text")
    .option("--json", "answer as one JSON object")
    .addHelpText("after", "\nExample:\n  coilbook codes --json")
    .action(async (flags: { json?: boolean }) => {
      const { CODES } = await import("../../core/codes.ts");
      answer(flags, { schema: "codes/1", codes: CODES }, () =>
        CODES.map((c) => `${c.code.padEnd(26)} ${c.kind.padEnd(10)} ${c.text}`).join("\n"),
      );
    });
}
