/** The command line: puts the commands together and turns every failure into one line and an exit code. */
import { Command, CommanderError } from "commander";
import { layoutCommand } from "./cli/layout.ts";
import { CoilbookError } from "./errors.ts";
import { VERSION } from "./version.ts";

const WRONG_USE = 64;
const OWN_FAULT = 70;

/** Commander does not hand its exit rule to commands added later, so every command gets it here. */
function prepared(command: Command): Command {
  return command.exitOverride().configureOutput({
    outputError: (text, write) =>
      write(
        `coilbook: ${text
          .replace(/^error: /, "")
          .trim()
          .replaceAll("\n", " ")}\n`,
      ),
  });
}

function program(): Command {
  const coilbook = prepared(new Command("coilbook"))
    .description("judges steel wire test results against the ordered specification")
    .version(VERSION)
    .option("--debug", "show where in the program an error arose");
  coilbook.addCommand(prepared(layoutCommand()));
  return coilbook;
}

function report(error: unknown, debug: boolean): number {
  if (error instanceof CommanderError) return error.exitCode === 0 ? 0 : WRONG_USE;
  const text = error instanceof Error ? error.message : String(error);
  process.stderr.write(`coilbook: ${text.replaceAll("\n", " ")}\n`);
  if (debug && error instanceof Error) process.stderr.write(`${error.stack}\n`);
  return error instanceof CoilbookError ? error.exitCode : OWN_FAULT;
}

const coilbook = program();
try {
  await coilbook.parseAsync(process.argv);
} catch (error) {
  process.exitCode = report(error, coilbook.opts<{ debug?: boolean }>().debug === true);
}
