import type { Finding, Judgement } from "../model.ts";

/** A provisional verdict stored by a live formula of the bench workbook. */
export interface LiveVerdict {
  readonly sheetName: string;
  readonly row: number;
  readonly cell: string;
  readonly text: string;
}

/** Warns where the provisional verdict in a row differs from ours; an empty one says nothing. */
export function liveVerdictFindings(
  live: readonly LiveVerdict[],
  judgement: Judgement,
  words: Readonly<Record<string, string>>,
): readonly Finding[] {
  const ours = new Map<string, string>();
  for (const order of judgement.orders)
    for (const coil of order.coils)
      for (const requirement of coil.requirements)
        for (const result of requirement.results) {
          const key = `${result.sheet}\u0000${result.row}`;
          const said = result.voidReason !== undefined ? "void" : result.outcome;
          if (said !== undefined && said !== "undecided" && ours.get(key) !== "does-not-conform") ours.set(key, said);
        }
  return live.flatMap((cell) => {
    const said = words[cell.text.trim().toLowerCase()];
    const own = ours.get(`${cell.sheetName}\u0000${cell.row}`);
    if (said === undefined || own === undefined || said === own) return [];
    return [
      {
        code: "live-verdict-differs",
        severity: "warning" as const,
        sheet: cell.sheetName,
        cell: cell.cell,
        actual: cell.text,
        expected: own,
        text: `The workbook's own preview says "${cell.text}", the judgement says ${own}; the judgement counts.`,
      },
    ];
  });
}
