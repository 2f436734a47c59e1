import { LIMITS, refuse, SAVE_AS } from "./limits.ts";

const startsWith = (bytes: Uint8Array, signature: readonly number[]): boolean => signature.every((value, index) => bytes[index] === value);

const OLE = [0xd0, 0xcf, 0x11, 0xe0, 0xa1, 0xb1, 0x1a, 0xe1];

/**
 * Refuses everything that does not begin like a ZIP, saying what it is.
 * @throws RefusedWorkbook
 */
export function refuseOtherKinds(bytes: Uint8Array): void {
  if (bytes.length === 0) refuse("empty-file", "The file is empty; an Excel workbook (.xlsx) is accepted. Save the workbook again.");
  if (bytes.length > LIMITS.fileBytes)
    refuse("too-large", `The file has ${bytes.length} bytes; at most ${LIMITS.fileBytes} (64 MiB) are accepted.`);
  if (startsWith(bytes, OLE)) {
    // A workbook with a password is an old container around the encrypted package; names in it are UTF-16.
    if (holdsWide(bytes, "EncryptedPackage")) refuse("password-protected", `The workbook is protected with a password. ${SAVE_AS}`);
    refuse("old-format", `The file is an old .xls workbook. ${SAVE_AS}`);
  }
  if (startsWith(bytes, [0x50, 0x4b])) return;
  const head = headText(bytes);
  if (/^<(?:!doctype html|html|head|body|table|meta)\b/.test(head) || head.startsWith("mime-version:"))
    refuse("html-file", `The file is a web page under an .xlsx name. ${SAVE_AS}`);
  if (head.startsWith("<")) refuse("xml-file", `The file is plain XML under an .xlsx name. ${SAVE_AS}`);
  if (!/[\u0000-\u0008\u000e-\u001f]/.test(head) && /[;,\t]/.test(head))
    refuse("csv-file", `The file is a text table (CSV) under an .xlsx name. ${SAVE_AS}`);
  refuse("not-a-workbook", `The file is no .xlsx workbook. ${SAVE_AS}`);
}

/** The first characters in lower case, without byte order mark and blanks before them. */
function headText(bytes: Uint8Array): string {
  const wide = startsWith(bytes, [0xff, 0xfe]) ? "utf-16le" : startsWith(bytes, [0xfe, 0xff]) ? "utf-16be" : undefined;
  return new TextDecoder(wide ?? "latin1")
    .decode(bytes.subarray(0, 512))
    .replace(/^(?:\u00ef\u00bb\u00bf|[\ufeff\s])+/, "")
    .toLowerCase();
}

function holdsWide(bytes: Uint8Array, text: string): boolean {
  const first = text.charCodeAt(0);
  for (let at = bytes.indexOf(first); at >= 0; at = bytes.indexOf(first, at + 1)) {
    let k = 0;
    while (k < text.length && bytes[at + 2 * k] === text.charCodeAt(k) && bytes[at + 2 * k + 1] === 0) k += 1;
    if (k === text.length) return true;
  }
  return false;
}
