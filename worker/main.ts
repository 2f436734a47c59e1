/** The command line: puts the commands together and turns every failure into one line and an exit code. */
import { Command, CommanderError } from "commander";
import { backupCommand, restoreCommand } from "./cli/backup.ts";
import { checkCommand } from "./cli/check.ts";
import { doctorCommand } from "./cli/doctor.ts";
import { certificateCommand, signCommand } from "./cli/documents.ts";
import { exportCommand, importCommand } from "./cli/export.ts";
import { extentCommand } from "./cli/extent.ts";
import { initCommand } from "./cli/init.ts";
import { jobsCommand } from "./cli/jobs.ts";
import { keyCommand } from "./cli/key.ts";
import { layoutCommand } from "./cli/layout.ts";
import { amendCommand, confirmCommand, sendCommand, withdrawCommand } from "./cli/life.ts";
import { mapCommand } from "./cli/map.ts";
import { noticeCommand } from "./cli/notice.ts";
import { prepareCommand } from "./cli/prepare.ts";
import { printCommand } from "./cli/print.ts";
import { proveCommand } from "./cli/prove.ts";
import { auditCommand, nightlyCommand, rebuildCommand, registerCommand, rejudgeCommand, settleCommand } from "./cli/quality.ts";
import { customerCommand, instrumentCommand, orderCommand, personCommand } from "./cli/registers.ts";
import { calcCommand, codesCommand } from "./cli/simple.ts";
import { specCommand } from "./cli/spec.ts";
import { verifyCommand } from "./cli/verify.ts";
import { whyCommand } from "./cli/why.ts";
import { concessionCommand, holdCommand, releaseCommand, shipCommand } from "./cli/wire.ts";
import { workCommand } from "./cli/work.ts";
import { CoilbookError, isDisk } from "./errors.ts";
import { VERSION } from "./version.ts";

const WRONG_USE = 64;
const DISK_AWAY = 69;
const OWN_FAULT = 70;

// A reader that has seen enough (`| head`) ends the program quietly.
process.stdout.on("error", (error: NodeJS.ErrnoException) => {
  if (error.code === "EPIPE") process.exit();
  throw error;
});

/** Commander does not hand its exit rule to commands added later, so every command gets it here. */
function prepared(command: Command): Command {
  for (const below of command.commands) prepared(below);
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
  const commands = [
    initCommand,
    prepareCommand,
    checkCommand,
    workCommand,
    nightlyCommand,
    certificateCommand,
    signCommand,
    printCommand,
    sendCommand,
    confirmCommand,
    amendCommand,
    withdrawCommand,
    noticeCommand,
    holdCommand,
    releaseCommand,
    concessionCommand,
    shipCommand,
    personCommand,
    customerCommand,
    instrumentCommand,
    orderCommand,
    settleCommand,
    whyCommand,
    extentCommand,
    rejudgeCommand,
    registerCommand,
    verifyCommand,
    keyCommand,
    jobsCommand,
    backupCommand,
    restoreCommand,
    auditCommand,
    rebuildCommand,
    exportCommand,
    importCommand,
    proveCommand,
    specCommand,
    calcCommand,
    layoutCommand,
    mapCommand,
    doctorCommand,
    codesCommand,
  ];
  for (const make of commands) coilbook.addCommand(prepared(make()));
  return coilbook;
}

function report(error: unknown, debug: boolean): number {
  if (error instanceof CommanderError) return error.exitCode === 0 ? 0 : WRONG_USE;
  const text = error instanceof Error ? error.message : String(error);
  process.stderr.write(`coilbook: ${text.replaceAll("\n", " ")}\n`);
  if (debug && error instanceof Error) process.stderr.write(`${error.stack}\n`);
  if (error instanceof CoilbookError) return error.exitCode;
  return isDisk(error) ? DISK_AWAY : OWN_FAULT;
}

const coilbook = program();
try {
  await coilbook.parseAsync(process.argv);
} catch (error) {
  process.exitCode = report(error, coilbook.opts<{ debug?: boolean }>().debug === true);
}
