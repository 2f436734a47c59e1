import { existsSync, readFileSync } from "node:fs";
import { basename } from "node:path";
import { Command } from "commander";
import { mapProblemText, type ProposedMap, proposeMap } from "../../core/map/index.ts";
import { readWorkbook } from "../../core/workbook/index.ts";
import { InputRefused, UsageError } from "../errors.ts";
import { writeAtomically } from "../files.ts";
import { checkMapFile } from "../maps.ts";
import { ZLIB } from "../zlib-codec.ts";
import { answer } from "./context.ts";

interface MapFlags {
  readonly json?: boolean;
  readonly out?: string;
}

/** `coilbook map`: how a workbook of the laboratory's own is read. */
export function mapCommand(): Command {
  const propose = new Command("propose")
    .description("an intake map for an unknown workbook, by its labels, and what could not be placed")
    .argument("<workbook>", "a workbook (.xlsx) of the laboratory's own layout")
    .option("--out <file>", "write the map there, to be read and completed by a person")
    .option("--json", "answer as one JSON object")
    .addHelpText("after", "\nExample:\n  coilbook map propose day-book.xlsx --out lab/maps/day-book.json")
    .action((file: string, flags: MapFlags) => {
      if (!existsSync(file)) throw new UsageError(`${file}: does not exist; accepted is the path of a workbook`);
      const read = readWorkbook(new Uint8Array(readFileSync(file)), ZLIB);
      if (!read.ok) throw new InputRefused(`${file}: ${read.refusal.text}`);
      const proposed = proposeMap(read.workbook, nameOf(file));
      if (flags.out !== undefined) writeAtomically(flags.out, `${JSON.stringify(proposed.map, undefined, 2)}\n`);
      answer(flags, { schema: "map/1", file, ...proposed }, () => asText(proposed, flags.out));
      process.exitCode = isComplete(proposed) ? 0 : 1;
    });
  const check = new Command("check")
    .description("whether an intake map is accepted, and every problem with its place")
    .argument("<file>", "an intake map (JSON)")
    .option("--json", "answer as one JSON object")
    .addHelpText("after", "\nExample:\n  coilbook map check lab/maps/day-book.json")
    .action((file: string, flags: MapFlags) => {
      const found = checkMapFile(file);
      const problems = found.ok ? [] : found.problems;
      answer(flags, { schema: "map/1", file, ok: found.ok, problems }, () =>
        found.ok
          ? `${file}: accepted, ${found.map.sheets.length} sheets`
          : problems.map((problem) => mapProblemText(file, problem)).join("\n"),
      );
      process.exitCode = found.ok ? 0 : 2;
    });
  return new Command("map").description("intake maps: how workbooks of another layout are read").addCommand(propose).addCommand(check);
}

/** The file's name as a map may be called. */
const nameOf = (file: string): string =>
  basename(file)
    .replace(/\.[^.]*$/, "")
    .replaceAll(/[^A-Za-z0-9._-]+/g, "-")
    .replace(/^[^A-Za-z0-9]+/, "")
    .slice(0, 64) || "map";

const isComplete = (proposed: ProposedMap): boolean =>
  proposed.map.sheets.length > 0 &&
  proposed.missing.length === 0 &&
  proposed.unplacedLabels.length === 0 &&
  proposed.unplacedSheets.length === 0;

function asText(proposed: ProposedMap, out: string | undefined): string {
  const lines = [
    ...proposed.placed.map(
      ({ sheet, cell, label, as, field, unit }) =>
        `${sheet}!${cell} "${label}" is ${as}.${field}${unit === undefined ? "" : ` in ${unit}`}`,
    ),
    ...proposed.missing.map(
      ({ sheet, as, field }) => `${sheet}: no label found for ${as}.${field}, which is required: name one, or a fixed value`,
    ),
    ...proposed.unplacedLabels.map(
      ({ sheet, cell, label }) => `${sheet}!${cell} "${label}" was not placed: name its field, or put it under ignore`,
    ),
    ...proposed.unplacedSheets.map((sheet) => `${sheet}: no header was recognised: name its labels, or put it under ignoreSheets`),
  ];
  return [
    ...lines,
    out === undefined ? JSON.stringify(proposed.map, undefined, 2) : `${out}: written; read and complete it before it is used`,
  ].join("\n");
}
