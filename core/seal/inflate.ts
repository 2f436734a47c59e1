import { Unzlib } from "fflate";
import { PdfProblem } from "./pdf-objects.ts";

/** More than any document of ours unpacks to; a hostile stream ends here. */
const MOST_BYTES = 256 * 1024 * 1024;
const STEP = 64 * 1024;

/** Unpacks a zlib stream. @throws PdfProblem where it is damaged or unpacks to more than 256 MiB */
export function inflate(packed: Uint8Array): Uint8Array {
  const pieces: Uint8Array[] = [];
  let total = 0;
  const stream = new Unzlib((piece) => {
    total += piece.length;
    if (total > MOST_BYTES) throw new PdfProblem("a stream that unpacks to more than 256 MiB");
    pieces.push(piece.slice());
  });
  try {
    for (let at = 0; at < packed.length; at += STEP) stream.push(packed.subarray(at, at + STEP), at + STEP >= packed.length);
  } catch (error) {
    if (error instanceof PdfProblem) throw error;
    throw new PdfProblem("a stream that cannot be unpacked");
  }
  const whole = new Uint8Array(total);
  let at = 0;
  for (const piece of pieces) {
    whole.set(piece, at);
    at += piece.length;
  }
  return whole;
}
