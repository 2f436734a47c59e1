import { existsSync, readFileSync } from "node:fs";
import type { Command } from "commander";
import { EMPTY_REGISTERS, mergeRegisters, parseOrdersJson, type Registers } from "../../core/entry/index.ts";
import type { EntryRow, Finding, UnitSystem } from "../../core/model.ts";
import { dayIn, systemClock } from "../clock.ts";
import { InputRefused, UsageError } from "../errors.ts";
import { sha256, writeAtomically } from "../files.ts";
import { readFile } from "../read-file.ts";
import { testersOf } from "../settings/equipment.ts";
import { defaultSettings, findLab } from "../settings/settings.ts";
import { loadLibrary } from "../specifications.ts";
import { answer, checkedToday, type LabFlags, labCommand, withToday } from "./context.ts";

export function prepareCommand(): Command {
  return withToday(
    labCommand(
      "prepare",
      "the bench workbook of an order list: set-up plan, cards, cut list, live limits",
      "coilbook prepare orders.json --out bench.xlsx",
    ),
  )
    .argument("<orders>", "order list: JSON, or a workbook with Orders and Coils filled")
    .option("--out <file>", "the workbook to write", "bench.xlsx")
    .option("--language <code>", "language of labels and cards", "en")
    .action(async (file: string, flags: LabFlags & { out: string; language: string }) => {
      if (!existsSync(file)) throw new UsageError(`${file}: does not exist; accepted is an order list (JSON or .xlsx)`);
      const lab = findLab(flags, process.env);
      const settings = lab?.settings ?? defaultSettings();
      const today = checkedToday(flags.today) ?? dayIn(settings.timeZone, systemClock.now());
      const library = loadLibrary(lab?.folder);
      const read = readOrders(file, today, library);
      const merged = mergeRegisters(EMPTY_REGISTERS, read.rows, library);
      const findings = [...read.findings, ...merged.findings];
      const errors = findings.filter((f) => f.severity === "error");
      for (const f of findings)
        process.stderr.write(`[${file}]${f.cell}: ${f.severity}: ${f.code}: ${f.text}${f.expected ? ` Accepted: ${f.expected}.` : ""}\n`);
      if (merged.all.orders.length === 0 || errors.length > 0)
        throw new InputRefused(`${file}: ${errors.length} errors, no workbook was written`);
      const { prepareWorkbook } = await import("../../templates/bench/index.ts");
      const bytes = prepareWorkbook({
        ...registersOf(merged.all),
        library,
        units: read.units,
        language: flags.language,
        paper: settings.paper,
        labName: settings.lab.name,
        testers: testersOf(settings),
        today,
        freeLengthTolerance: settings.judgement.freeLengthTolerance,
      });
      writeAtomically(flags.out, bytes);
      answer(
        flags,
        { schema: "prepare/1", file: flags.out, orders: merged.all.orders.length, coils: merged.all.coils.length, findings },
        () => `${flags.out}: ${merged.all.orders.length} order items, ${merged.all.coils.length} coils`,
      );
    });
}

const registersOf = ({ orders, agreed, coils, heats, instruments }: Registers): Registers => ({
  orders,
  agreed,
  coils,
  heats,
  instruments,
});

function readOrders(
  file: string,
  today: string,
  library: ReturnType<typeof loadLibrary>,
): { rows: readonly EntryRow[]; units: UnitSystem; findings: readonly Finding[] } {
  const bytes = readFileSync(file);
  if (bytes[0] === 0x50 && bytes[1] === 0x4b) {
    const reading = readFile(new Uint8Array(bytes), {
      name: file,
      sha256: sha256(bytes),
      today,
      decimalMark: ".",
      registers: EMPTY_REGISTERS,
      library,
    });
    if (!reading.ok) throw new InputRefused(`${file}: ${reading.refusal.text}`);
    return { rows: reading.read.entry.registers, units: reading.read.entry.units, findings: reading.read.entry.findings };
  }
  let json: unknown;
  try {
    json = JSON.parse(bytes.toString("utf8"));
  } catch (error) {
    throw new InputRefused(`${file}: no valid JSON (${(error as Error).message}); accepted is an order list (JSON or .xlsx)`);
  }
  return parseOrdersJson(json, file, today);
}
