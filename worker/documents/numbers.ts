/** Numbers of documents: one series a pattern, unique in the lab across all kinds, never given twice. */
import { dayIn } from "../clock.ts";
import type { LedgerTransaction } from "../ports/ledger.ts";
import type { Settings } from "../settings/settings.ts";

export interface GivenNumber {
  readonly number: string;
  /** The pattern with the year filled in: what a counter belongs to. */
  readonly series: string;
  readonly counter: number;
}

/**
 * The next free number, to be written in the same transaction. A pattern without {year} counts on over the years;
 * a number that another pattern gave before is passed over.
 */
export async function nextNumber(tx: LedgerTransaction, settings: Settings, now: Date): Promise<GivenNumber> {
  const series = settings.documents.numberPattern.replace("{year}", dayIn(settings.timeZone, now).slice(0, 4));
  let counter = (await tx.get<{ last: number }>("series", series))?.last ?? 0;
  let number: string;
  do {
    counter += 1;
    number = series.replace(/\{number:(\d)\}/, (_, digits: string) => String(counter).padStart(Number(digits), "0"));
  } while ((await tx.get("number", number)) !== undefined);
  return { number, series, counter };
}
