import type { Finding, Refusal } from "../core/model.ts";
import { type DescribedCell, writeWorkbook } from "../core/workbook/index.ts";
import type { Say } from "./wording.ts";

/** One page that says why a file was refused, for somebody who opens everything in the spreadsheet program. */
export function refusalWorkbook(name: string, refusal: Refusal, findings: readonly Finding[], say: Say): Uint8Array {
  const rows = new Map<number, ReadonlyMap<number, DescribedCell>>();
  const line = (row: number, text: string, style: string): void => {
    rows.set(row, new Map([[1, { value: text, style }]]));
  };
  line(1, say("refusal.title", { name }), "title");
  line(3, refusal.text, "text");
  findings.slice(0, 40).forEach((finding, index) => {
    line(5 + index, `${finding.sheet}!${finding.cell}: ${finding.text}`, "text");
  });
  line(6 + Math.min(findings.length, 40), say("refusal.kept"), "small");
  line(7 + Math.min(findings.length, 40), `${say("findings.code")}: ${refusal.code}`, "small");
  return writeWorkbook({
    styles: { title: { bold: true, size: 14, wrap: true }, text: { size: 11, wrap: true }, small: { italic: true, wrap: true } },
    sheets: [{ name: say("refusal.sheet"), widths: { 1: 100 }, rows, print: { paper: "A4", onePage: true } }],
  });
}
