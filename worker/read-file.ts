/** A workbook's bytes to an entry, with the lab's registers beside it. Used alike by `check` and by the worker. */
import { type EntryOptions, type MergedRegisters, mergeRegisters, parseEntry, type Registers } from "../core/entry/index.ts";
import { liveVerdictFindings } from "../core/judge/index.ts";
import { chooseMap, type IntakeMap } from "../core/map/index.ts";
import type { Entry, EntryRow, Finding, Judgement, Refusal } from "../core/model.ts";
import type { HeldLibrary } from "../core/spec/index.ts";
import { checkSeries, checkWarnings, checkWireFindings } from "../core/statistics/index.ts";
import { readWorkbook } from "../core/workbook/index.ts";
import { languages, words } from "../templates/wording.ts";
import { ZLIB } from "./zlib-codec.ts";

export interface ReadFile {
  readonly entry: Entry;
  readonly merged: MergedRegisters;
  readonly findings: readonly Finding[];
  /** Coils the workbook speaks of. */
  readonly coils: readonly string[];
}
export type FileReading =
  | { readonly ok: true; readonly read: ReadFile }
  | { readonly ok: false; readonly refusal: Refusal; readonly findings: readonly Finding[] };

export interface ReadFileOptions {
  readonly name: string;
  readonly sha256: string;
  readonly today: string;
  readonly decimalMark: "." | ",";
  readonly registers: Registers;
  readonly library: HeldLibrary;
  /** Intake maps of the laboratory; the one that fits the workbook is used. */
  readonly maps?: readonly IntakeMap[];
  /** The map to use, whether it fits or not. */
  readonly map?: IntakeMap;
}

export function readFile(bytes: Uint8Array, options: ReadFileOptions): FileReading {
  const base = options.name.split(/[/\\]/).at(-1) ?? options.name;
  if (base.startsWith("~$") || base.startsWith("."))
    return refused("lock-file", `${base} is a lock file or a hidden file of the spreadsheet program, no workbook.`);
  const workbook = readWorkbook(bytes, ZLIB);
  if (!workbook.ok) return { ok: false, refusal: workbook.refusal, findings: [] };
  if (!base.toLowerCase().endsWith(".xlsx"))
    return refused("wrong-extension", `${base} is a workbook under another name; save it as Excel workbook (.xlsx).`);
  const chosen = options.map === undefined ? chooseMap(workbook.workbook, options.maps ?? []) : { ok: true as const, map: options.map };
  if (!chosen.ok) return { ok: false, refusal: chosen.refusal, findings: [] };
  const parsed = parseEntry(workbook.workbook, entryOptions(options, chosen.map));
  if (!parsed.ok) return parsed;
  const { entry } = parsed;
  const merged = mergeRegisters(options.registers, entry.registers, options.library);
  return { ok: true, read: { entry, merged, findings: [...entry.findings, ...merged.findings], coils: coilsOf(entry) } };
}

const refused = (code: string, text: string): FileReading => ({ ok: false, refusal: { code, text }, findings: [] });

function entryOptions({ sha256, today, decimalMark, registers }: ReadFileOptions, map: IntakeMap | undefined): EntryOptions {
  const items = new Map(registers.orders.map((order) => [`${order.order}/${order.item}`, order]));
  const coils = new Map(registers.coils.map((coil) => [coil.coil, coil]));
  return {
    file: sha256,
    today,
    decimalMark,
    registered: {
      orders: new Set(registers.orders.map((order) => order.order)),
      coils: new Set(coils.keys()),
      heats: new Set(registers.heats.map((heat) => heat.heat)),
      instruments: new Set(registers.instruments.map((range) => range.instrument)),
    },
    nominalDiameterOf(name) {
      const coil = coils.get(name);
      return coil === undefined ? undefined : items.get(`${coil.order}/${coil.item}`)?.nominalDiameter;
    },
    nominalDiameterOfItem: (order, item) => items.get(`${order}/${item}`)?.nominalDiameter,
    coilsOfHeat: (heat) => registers.coils.filter((coil) => coil.heat === heat).map((coil) => coil.coil),
    agreedProperties: registers.agreed.map((agreed) => agreed.property),
    ...(map === undefined ? {} : { map }),
  };
}

function coilsOf(entry: Entry): readonly string[] {
  const names = [...entry.tests, ...entry.registers].map((row) => row.fields["coil"]?.text);
  return [
    ...new Set(
      [...names, ...entry.unread.map((row) => row.coil), ...entry.unfilled.map((row) => row.coil)].filter((name) => name !== undefined),
    ),
  ];
}

/**
 * What the judgement found in rows of one workbook; rows of others were told when they came.
 * A finding without a cell is about the order itself (a diameter outside the table, a grade that is not held).
 */
export function findingsOfRows(findings: readonly Finding[], rows: readonly EntryRow[]): readonly Finding[] {
  const places = new Set(rows.map((row) => `${row.sheetName}\u0000${row.row}`));
  return findings.filter((f) => f.cell === "" || places.has(`${f.sheet}\u0000${Number(/\d+$/.exec(f.cell)?.[0])}`));
}

/**
 * Warnings for rows tested on a machine whose check wire signalled.
 * @param rows those of this workbook
 * @param known every row held of the coils it speaks of, these included once
 */
export const checkWireWarnings = (rows: readonly EntryRow[], known: readonly EntryRow[]): readonly Finding[] =>
  checkWireFindings(rows, checkWarnings(checkSeries(known)));

/** The words of a live verdict in every language, to the code they stand for. */
const LIVE_WORDS: Readonly<Record<string, string>> = Object.fromEntries(
  languages().flatMap((language) => {
    const say = words(language);
    return [
      ["conforms", say("verdict.conforms")],
      ["does-not-conform", say("verdict.does-not-conform")],
      ["void", say("row.void")],
    ].flatMap(([code, word]) => [
      [(word as string).toLowerCase(), code as string],
      [code as string, code as string],
    ]);
  }),
);

export const liveFindings = (entry: Entry, judgement: Judgement): readonly Finding[] =>
  liveVerdictFindings(entry.live, judgement, LIVE_WORDS);
