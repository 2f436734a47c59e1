import { constants, crc32, deflateRawSync, inflateRawSync } from "node:zlib";
import type { Codec } from "../core/workbook/index.ts";

/** Packing by the machine's own library: four times as fast as what runs everywhere. */
export const ZLIB: Codec = {
  inflate(packed, size) {
    try {
      // A byte more than claimed, so that a longer content is noticed and never held.
      return inflateRawSync(packed, { chunkSize: Math.max(64, size + 1), maxOutputLength: Math.max(1, size) });
    } catch {
      return undefined;
    }
  },
  deflate: (content, level, last) => deflateRawSync(content, { level, finishFlush: last ? constants.Z_FINISH : constants.Z_SYNC_FLUSH }),
  crc32: (bytes, before) => crc32(bytes, before),
};
