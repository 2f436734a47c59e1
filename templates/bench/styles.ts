/** Cell styles of the bench workbook. Ink and shape carry the meaning, so that a black and white print says the same. */
import type { CellStyle } from "../../core/workbook/index.ts";

export const STYLES: Readonly<Record<string, CellStyle>> = {
  title: { bold: true, size: 14 },
  note: { italic: true, color: "555555" },
  count: { bold: true, border: true, align: "center" },
  header: { bold: true, fill: "E9E7E0", border: true, wrap: true },
  headerRequired: { bold: true, fill: "D8D4C6", border: true, wrap: true },
  headerOurs: { bold: true, color: "FFFFFF", fill: "3A3A3A", border: true, wrap: true },
  entry: { border: true, unlocked: true },
  entryDate: { border: true, unlocked: true, format: "yyyy-mm-dd" },
  entryText: { border: true, unlocked: true, format: "@" },
  ours: { border: true, fill: "F2F2F2", wrap: true },
  label: { bold: true, border: true, fill: "F5F4F0", wrap: true },
  text: { border: true, wrap: true },
  strong: { border: true, wrap: true, bold: true },
  caution: { border: true, wrap: true, italic: true },
  cardTitle: { bold: true, size: 13, fill: "E9E7E0" },
  limit: { border: true, format: '[>=1E+89]"–";[<=-1E+89]"–";General' },
  limitText: { border: true },
  box: { border: true },
  plain: { wrap: true },
};
