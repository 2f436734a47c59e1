import { Deflate, deflateSync } from "fflate";
import { crcOf } from "./crc.ts";

/**
 * Packing as someone else may do it faster than this folder can: the program that runs on a machine hands over what the machine has.
 * The limits, lengths and checksums are held here all the same.
 */
export interface Codec {
  /**
   * The whole content of deflated bytes.
   * @param size what the content should come to, bytes
   * @returns undefined where the bytes are damaged or come to more than `size`
   */
  inflate?(packed: Uint8Array, size: number): Uint8Array | undefined;
  /**
   * Blocks that end on a whole byte, so that those of one content can be strung together.
   * @param level 1 fast to 9 small
   * @param last true for the block that ends the content
   */
  deflate?(content: Uint8Array, level: number, last: boolean): Uint8Array;
  /** CRC-32 going on from that of the bytes before; 0 before any. */
  crc32(bytes: Uint8Array, before: number): number;
}

/** What runs everywhere. */
export const PORTABLE: Codec = { crc32: crcOf };

/** One deflated content. */
export function deflateWhole(codec: Codec, content: Uint8Array, level: number): Uint8Array {
  return codec.deflate === undefined
    ? deflateSync(content, { level: level as 1 | 2 | 3 | 4 | 5 | 6 | 7 | 8 | 9 })
    : codec.deflate(content, level, true);
}

/** Blocks shorter than this would cost more than they save. */
const BLOCK = 1024 * 1024;

/** Deflates content as it comes. @param sink gets the packed pieces and may keep them */
export function startDeflating(
  codec: Codec,
  level: number,
  sink: (piece: Uint8Array) => void,
): { push(piece: Uint8Array): void; end(): void } {
  const { deflate } = codec;
  if (deflate === undefined) {
    const stream = new Deflate({ level: level as 1 | 2 | 3 | 4 | 5 | 6 | 7 | 8 | 9 }, (piece) => sink(piece));
    return { push: (piece) => stream.push(piece.slice()), end: () => stream.push(new Uint8Array(0), true) };
  }
  const block = new Uint8Array(BLOCK);
  let filled = 0;
  return {
    push(piece) {
      for (let at = 0; at < piece.length; ) {
        const taken = piece.subarray(at, at + BLOCK - filled);
        block.set(taken, filled);
        filled += taken.length;
        at += taken.length;
        if (filled < BLOCK) continue;
        sink(deflate(block, level, false));
        filled = 0;
      }
    },
    end: () => sink(deflate(block.subarray(0, filled), level, true)),
  };
}
