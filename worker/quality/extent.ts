/** The size of a fault: every coil, verdict, document and delivery that it touches. Asking changes nothing. */
import { judge } from "../../core/judge/index.ts";
import type { Coil, InstrumentRange, Judgement, OrderVerdict } from "../../core/model.ts";
import { correctedRow, type InstrumentError } from "../../core/quality/instrument-error.ts";
import type { DocumentState } from "../documents/life.ts";
import type { MailState } from "../documents/send.ts";
import { UsageError } from "../errors.ts";
import { itemKey, type KeptRow, loadJudgementInput } from "../judge-lab.ts";
import type { LedgerReader } from "../ports/ledger.ts";
import type { Workshop } from "../workshop.ts";
import { lastCalibration } from "./calibration.ts";
import { type Shipment, usesInstrument } from "./standing.ts";

export interface ExtentQuestion {
  readonly scope: "coil" | "heat" | "instrument";
  readonly id: string;
  /** Test days, `YYYY-MM-DD`; absent for an instrument: since its last good calibration. */
  readonly from?: string;
  readonly to?: string;
  /** Of an instrument: only the verdicts that turn. */
  readonly error?: InstrumentError;
}

export interface Turn {
  readonly property: string;
  readonly before: string;
  readonly now: string;
  /** What was held against the limit, by test piece, where it turned. */
  readonly results: readonly { readonly testPiece: string; readonly before: string; readonly now: string }[];
}

export interface TouchedCoil {
  readonly coil: string;
  readonly order: string;
  readonly item: string;
  readonly heat: string;
  readonly motherCoil?: string;
  /** "not judged" where nothing was. */
  readonly verdict: string;
  readonly tests: readonly { readonly sheet: string; readonly testPiece: string; readonly date: string }[];
  readonly shipped?: { readonly note: string; readonly on: string };
  readonly documents: readonly { readonly number: string; readonly status: string; readonly sentTo: readonly string[] }[];
  readonly turns?: readonly Turn[];
}

export interface Extent {
  readonly from?: string;
  readonly to?: string;
  readonly coils: readonly TouchedCoil[];
  /** Coils that have not left, that left, and whose document was sent: the last may be either. */
  readonly here: readonly string[];
  readonly shipped: readonly string[];
  readonly documentSent: readonly string[];
}

/** @throws UsageError where nothing of that name is known */
export async function extentOf(workshop: Workshop, question: ExtentQuestion): Promise<Extent> {
  const { ledger } = workshop;
  const window = await windowOf(ledger, question, workshop.today());
  const named = await namedCoils(ledger, await candidates(ledger, question));
  const rows = new Map<string, readonly KeptRow[]>();
  for (const { coil } of named) {
    const own = (await ledger.list<KeptRow>("row", coil)).map(({ value }) => value);
    rows.set(
      coil,
      own.filter((kept) => isTouched(kept, question, window)),
    );
  }
  const bounded = question.scope === "instrument" || question.from !== undefined || question.to !== undefined;
  const coils = named.filter(({ coil }) => !bounded || (rows.get(coil) ?? []).length > 0);
  const turns = question.error === undefined ? undefined : await turnsOf(workshop, question, question.error, window, coils);
  const touched: TouchedCoil[] = [];
  for (const coil of turns === undefined ? coils : await namedCoils(ledger, [...turns.keys()])) {
    const tests = (rows.get(coil.coil) ?? []).map(({ row }) => ({
      sheet: row.sheetName,
      testPiece: row.fields["testPiece"]?.text ?? "",
      date: row.fields["date"]?.text ?? "",
    }));
    touched.push({ ...(await standingOfCoil(ledger, coil)), tests, ...(turns === undefined ? {} : { turns: turns.get(coil.coil) ?? [] }) });
  }
  const names = (holds: (coil: TouchedCoil) => boolean): readonly string[] => touched.filter(holds).map(({ coil }) => coil);
  return {
    ...window,
    coils: touched,
    here: names((coil) => coil.shipped === undefined),
    shipped: names((coil) => coil.shipped !== undefined),
    documentSent: names((coil) => coil.documents.some((document) => document.sentTo.length > 0)),
  };
}

interface Window {
  readonly from?: string;
  readonly to?: string;
}

async function windowOf(reader: LedgerReader, { scope, id, from, to }: ExtentQuestion, today: string): Promise<Window> {
  const entry = scope === "instrument" ? await reader.get<{ ranges: readonly InstrumentRange[] }>("instrument", id) : undefined;
  const since = from ?? (entry === undefined ? undefined : lastCalibration(entry.ranges, to ?? today));
  return { ...(since === undefined ? {} : { from: since }), ...(to === undefined ? {} : { to }) };
}

const within = (day: string, { from, to }: Window): boolean => (from === undefined || day >= from) && (to === undefined || day <= to);

/** A row without a day cannot be left out. */
const isTouched = (kept: KeptRow, { scope, id }: ExtentQuestion, window: Window): boolean =>
  within(kept.row.fields["date"]?.text ?? window.from ?? "", window) && (scope !== "instrument" || usesInstrument(kept, id));

/** Names of coils that may be touched: by the instrument, the heat with everything cut from it, or the family of a coil. */
async function candidates(reader: LedgerReader, { scope, id }: ExtentQuestion): Promise<readonly string[]> {
  const named = async (kind: "tested-with" | "coil-of-heat"): Promise<readonly string[]> =>
    (await reader.list<{ coil: string }>(kind, id)).map(({ value }) => value.coil);
  const found =
    scope === "instrument" ? await named("tested-with") : await family(reader, scope === "heat" ? await named("coil-of-heat") : [id]);
  // A mother coil need not be registered itself, nor an instrument: daughters and rows name them.
  const known = found.length > (scope === "coil" ? 1 : 0) || (scope !== "heat" && (await reader.get(scope, id)) !== undefined);
  if (!known)
    throw new UsageError(`extent: ${scope} ${id} is not known; "coilbook order list" and "coilbook instrument list" name what is`);
  return found;
}

/** Everything that was cut from the same wire, up and down. */
async function family(reader: LedgerReader, start: readonly string[]): Promise<readonly string[]> {
  const all = new Set(start);
  // A set walks on over what is added to it meanwhile.
  for (const name of all) {
    const mother = (await reader.get<Coil>("coil", name))?.motherCoil;
    if (mother !== undefined) all.add(mother);
    for (const { value } of await reader.list<{ coil: string }>("daughter", name)) all.add(value.coil);
  }
  return [...all];
}

async function namedCoils(reader: LedgerReader, names: readonly string[]): Promise<readonly Coil[]> {
  const coils: Coil[] = [];
  for (const name of [...names].sort()) {
    const coil = await reader.get<Coil>("coil", name);
    if (coil !== undefined) coils.push(coil);
  }
  return coils;
}

async function standingOfCoil(reader: LedgerReader, coil: Coil): Promise<Omit<TouchedCoil, "tests" | "turns">> {
  const key = itemKey(coil.order, coil.item);
  const kept = await reader.get<{ verdict: OrderVerdict }>("verdict", key);
  const shipment = await reader.get<Shipment>("shipment", coil.coil);
  const documents: TouchedCoil["documents"][number][] = [];
  for (const { value } of await reader.list<DocumentState>("document", key)) {
    if (value.number === undefined || !value.coils.includes(coil.coil)) continue;
    const mails = (await reader.list<MailState>("mail", value.number)).filter((mail) => mail.value.status !== "failed");
    documents.push({ number: value.number, status: value.status, sentTo: mails.map((mail) => mail.value.to) });
  }
  return {
    ...{ coil: coil.coil, order: coil.order, item: coil.item, heat: coil.heat },
    ...(coil.motherCoil === undefined ? {} : { motherCoil: coil.motherCoil }),
    verdict: kept?.verdict.coils.find((c) => c.coil === coil.coil)?.verdict ?? "not judged",
    ...(shipment === undefined ? {} : { shipped: { note: shipment.note, on: shipment.on } }),
    documents: documents.sort((a, b) => (a.number < b.number ? -1 : 1)),
  };
}

/** Judged twice in memory, as read and as it would have been read; by coil, what turns. Coils of the same test unit turn with it. */
async function turnsOf(
  workshop: Workshop,
  question: ExtentQuestion,
  error: InstrumentError,
  window: Window,
  coils: readonly Coil[],
): Promise<ReadonlyMap<string, readonly Turn[]>> {
  const turns = new Map<string, readonly Turn[]>();
  for (const key of [...new Set(coils.map((coil) => itemKey(coil.order, coil.item)))].sort()) {
    const input = await loadJudgementInput(workshop.ledger, [key], workshop.judgeOptions());
    const correct = (row: KeptRow["row"]): KeptRow["row"] =>
      isTouched({ coil: "", row }, question, window) ? correctedRow(row, question.id, error) : row;
    for (const [coil, turned] of turnsBetween(judge(input), judge({ ...input, tests: input.tests.map(correct) }))) turns.set(coil, turned);
  }
  return turns;
}

function turnsBetween(before: Judgement, now: Judgement): ReadonlyMap<string, readonly Turn[]> {
  const turns = new Map<string, readonly Turn[]>();
  const after = new Map(now.orders.flatMap((order) => order.coils.map((coil) => [coil.coil, coil] as const)));
  for (const coil of before.orders.flatMap((order) => order.coils)) {
    const other = after.get(coil.coil);
    if (other === undefined) continue;
    const own = coil.requirements.flatMap((requirement, i): readonly Turn[] => {
      const then = other.requirements[i];
      if (then === undefined || then.verdict === requirement.verdict) return [];
      const results = requirement.results.flatMap(({ testPiece, compared }, j) => {
        const changed = then.results[j]?.compared;
        return changed === undefined || changed === compared ? [] : [{ testPiece, before: compared, now: changed }];
      });
      return [{ property: requirement.property, before: requirement.verdict, now: then.verdict, results }];
    });
    if (own.length > 0) turns.set(coil.coil, own);
    else if (coil.verdict !== other.verdict)
      turns.set(coil.coil, [{ property: "", before: coil.verdict, now: other.verdict, results: [] }]);
  }
  return turns;
}
