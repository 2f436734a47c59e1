import { existsSync, readFileSync, statSync } from "node:fs";
import type { Command } from "commander";
import { EMPTY_REGISTERS, type Registers } from "../../core/entry/index.ts";
import { judge } from "../../core/judge/index.ts";
import type { Finding, Judgement, JudgementInput } from "../../core/model.ts";
import { dayIn, systemClock } from "../clock.ts";
import { UsageError } from "../errors.ts";
import { sha256 } from "../files.ts";
import { loadMaps, readMapFile } from "../maps.ts";
import { checkWireWarnings, findingsOfRows, liveFindings, type ReadFileOptions, readFile } from "../read-file.ts";
import { defaultSettings, findLab } from "../settings/settings.ts";
import { loadLibrary } from "../specifications.ts";
import { type CheckAnswer, judgedAnswer, refusedAnswer } from "./check-json.ts";
import { checkedToday, type LabFlags, labCommand, say, withToday } from "./context.ts";

interface CheckFlags extends LabFlags {
  readonly alone?: boolean;
  readonly map?: string;
}

export function checkCommand(): Command {
  return withToday(labCommand("check", "reads and judges workbooks and writes nothing", "coilbook check day-book.xlsx --json"))
    .argument("<file...>", "workbooks (.xlsx)")
    .option("--alone", "pass over the lab's registers")
    .option("--map <file>", "read workbooks of another layout by this intake map (JSON)")
    .action(async (files: string[], flags: CheckFlags) => {
      let worst = 0;
      for (const file of files) {
        if (!existsSync(file)) throw new UsageError(`${file}: does not exist; accepted is the path of a workbook`);
        if (statSync(file).isDirectory()) throw new UsageError(`${file}: is a folder; accepted is the path of a workbook`);
      }
      const known = await knowledge(flags);
      for (const file of files) {
        const checked = await checkFile(file, known);
        worst = Math.max(worst, exitCodeOf(checked));
        say(flags.json ? JSON.stringify(checked) : asText(checked));
      }
      process.exitCode = worst;
    });
}

/** What there is to judge with: the lab's registers and rows, or nothing but the built-in specifications. */
interface Knowledge {
  readonly context: "lab" | "alone";
  readonly today: string;
  readonly decimalMark: "." | ",";
  readonly freeLengthTolerance: string;
  readonly library: ReturnType<typeof loadLibrary>;
  readonly maps: Pick<ReadFileOptions, "map" | "maps">;
  readonly registers: Registers;
  readonly isAdopted: (specification: string, edition: string) => boolean;
  /** Rows the ledger holds of these coils, without those of the test pieces named. */
  readonly earlier: (coils: readonly string[]) => Promise<Pick<JudgementInput, "tests" | "unread" | "settlements">>;
}

async function knowledge(flags: CheckFlags): Promise<Knowledge> {
  const lab = flags.alone ? undefined : findLab(flags, process.env);
  const settings = lab?.settings ?? defaultSettings();
  const base = {
    today: checkedToday(flags.today) ?? dayIn(settings.timeZone, systemClock.now()),
    decimalMark: settings.entry.decimalMark,
    freeLengthTolerance: settings.judgement.freeLengthTolerance,
    library: loadLibrary(lab?.folder),
    maps: flags.map === undefined ? { maps: loadMaps(lab?.folder) } : { map: readMapFile(flags.map) },
  };
  const nothing = { registers: EMPTY_REGISTERS, isAdopted: () => false, earlier: async () => ({ tests: [], unread: [], settlements: [] }) };
  if (lab === undefined) return { ...base, context: "alone", ...nothing };
  // The store is opened only where there is one: a check must be quick, and it writes nothing.
  const { hasLedger, openWorkshop } = await import("../workshop.ts");
  if (!hasLedger(lab)) return { ...base, context: "lab", ...nothing };
  const { readRegisters, earlierRows } = await import("../judge-lab.ts");
  const { adoptionOf } = await import("../specifications.ts");
  const workshop = await openWorkshop(lab, systemClock, { readOnly: true, today: base.today });
  return {
    ...base,
    context: "lab",
    registers: await readRegisters(workshop.ledger),
    isAdopted: await adoptionOf(workshop.ledger, base.library),
    earlier: (coils) => earlierRows(workshop.ledger, coils),
  };
}

async function checkFile(file: string, known: Knowledge): Promise<CheckAnswer> {
  const bytes = new Uint8Array(readFileSync(file));
  const reading = readFile(bytes, {
    name: file,
    sha256: sha256(bytes),
    today: known.today,
    decimalMark: known.decimalMark,
    registers: known.registers,
    library: known.library,
    ...known.maps,
  });
  if (!reading.ok) return refusedAnswer(file, known.context, reading.refusal, reading.findings);
  const { entry, merged, coils, findings } = reading.read;
  const { comparedWithKept, rowKey } = await import("../record-entry.ts");
  const earlier = await known.earlier(coils);
  // As the worker would enter it: a differing reading without a reason leaves the earlier one in place and holds the requirement.
  const compared = comparedWithKept(entry.tests, new Map(earlier.tests.map((row) => [rowKey(row), row])));
  const refused = new Set(compared.conflicts.map((row) => `${row.sheetName}\u0000${row.row}`));
  const tests = entry.tests.filter((row) => !refused.has(`${row.sheetName}\u0000${row.row}`));
  const own = new Set(tests.map(rowKey));
  /** Every row held of the coils that the workbook speaks of, its own included once. */
  const held = [...tests, ...earlier.tests.filter((row) => !own.has(rowKey(row)))];
  const touched = new Set([
    ...merged.added.orders.map((o) => `${o.order}/${o.item}`),
    ...merged.all.coils.filter((c) => coils.includes(c.coil)).map((c) => `${c.order}/${c.item}`),
  ]);
  const orders = merged.all.orders.filter((o) => touched.has(`${o.order}/${o.item}`));
  const members = merged.all.coils.filter((c) => touched.has(`${c.order}/${c.item}`));
  const others = await known.earlier(members.map((c) => c.coil).filter((name) => !coils.includes(name)));
  const judgement = judge({
    orders,
    agreed: merged.all.agreed,
    coils: members,
    heats: merged.all.heats,
    instruments: merged.all.instruments,
    tests: [...held, ...others.tests],
    unread: [
      ...[...entry.unread, ...compared.conflicts].flatMap((row) =>
        row.coil === undefined ? coils.map((coil) => ({ ...row, coil })) : [row],
      ),
      ...earlier.unread,
      ...others.unread,
    ],
    settlements: [...earlier.settlements, ...others.settlements],
    specifications: known.library,
    isAdopted: known.isAdopted,
    today: known.today,
    freeLengthTolerance: known.freeLengthTolerance,
  });
  const all = [
    ...findings,
    ...compared.findings,
    ...findingsOfRows(judgement.findings, entry.tests),
    ...checkWireWarnings(entry.tests, held),
    ...liveFindings(entry, judgement),
  ];
  return judgedAnswer(file, known.context, all, judgement);
}

/** 0 yes · 1 the answer is no or open, or an error was found · 2 refused. */
function exitCodeOf(checked: CheckAnswer): number {
  if (checked.status === "refused") return 2;
  const open = (checked.orders as Judgement["orders"]).some((order) => order.verdict !== "conforms");
  return open || checked.findings.some((finding) => finding.severity === "error") ? 1 : 0;
}

const findingLine = (file: string, f: Finding): string =>
  `[${file}]${f.sheet}${f.cell === "" ? "" : `!${f.cell}`}: ${f.severity}: ${f.code}: ${f.text}${f.expected === undefined || f.expected === "" ? "" : ` Accepted: ${f.expected}.`}`;

function asText(checked: CheckAnswer): string {
  const findings = checked.findings.map((finding) => findingLine(checked.file, finding));
  if (checked.status === "refused")
    return [`${checked.file}: refused: ${checked.reason?.code}: ${checked.reason?.text}`, ...findings].join("\n");
  const orders = (checked.orders as Judgement["orders"]).flatMap((order) => [
    `${order.order}/${order.item}  ${order.specification} ${order.grade}: ${order.verdict}`,
    ...order.coils.map((coil) =>
      `  ${coil.coil.padEnd(16)} ${coil.verdict.padEnd(18)} ${coil.next.map((step) => step.text).join(" ")}`.trimEnd(),
    ),
  ]);
  return [`${checked.file}: judged (${checked.context})`, ...findings, ...orders].join("\n");
}
