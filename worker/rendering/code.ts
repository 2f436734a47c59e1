/** Two-dimensional codes as plain SVG. */

import QRCode from "qrcode";
import { escapeMarkup } from "../../templates/escape-markup.ts";

/** Modules of white around a code. @source ISO/IEC 18004, quiet zone (memory) */
const QUIET = 4;

/** One black path, a picture with a name. @throws Error where the text is too long for a code */
export function codeSvg(text: string, label: string): string {
  const { modules } = QRCode.create(text, { errorCorrectionLevel: "M" });
  let path = "";
  for (let row = 0; row < modules.size; row += 1)
    for (let column = 0; column < modules.size; column += 1) {
      if (modules.get(row, column) === 0) continue;
      // Neighbours in a row are drawn as one, so that no hair of white runs between them.
      let end = column + 1;
      while (end < modules.size && modules.get(row, end) !== 0) end += 1;
      path += `M${column + QUIET} ${row + QUIET}h${end - column}v1h-${end - column}z`;
      column = end;
    }
  const side = modules.size + 2 * QUIET;
  return `<svg class="code2d" role="img" aria-label="${escapeMarkup(label)}" viewBox="0 0 ${side} ${side}"><path d="${path}" fill="#000"/></svg>`;
}
