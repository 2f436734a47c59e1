const MEBIBYTE = 1024 * 1024;

/** What reading one file may take before it is given up. */
export interface GuardLimits {
  /** Milliseconds from the start of the reading process. */
  readonly timeMs: number;
  /** Memory of the reading process as a whole, buffers included, bytes. */
  readonly memoryBytes: number;
}

/** An honest file of the same size stays far below, also on a busy machine. */
const [BASE_MS, MS_A_MEBIBYTE] = [5_000, 2_000] as const;
const [BASE_BYTES, BYTES_A_BYTE] = [400 * MEBIBYTE, 16] as const;

/** @param size of the file, bytes */
export const limitsFor = (size: number): GuardLimits => ({
  timeMs: BASE_MS + Math.ceil((size / MEBIBYTE) * MS_A_MEBIBYTE),
  memoryBytes: BASE_BYTES + size * BYTES_A_BYTE,
});
