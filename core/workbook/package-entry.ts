/** One part as the directory of its package describes it; sizes in bytes, places as offsets into the file. */
export interface PackageEntry {
  readonly name: string;
  /** 0 stored, 8 deflate. */
  readonly method: 0 | 8;
  readonly crc: number;
  readonly compressedSize: number;
  readonly size: number;
  /** Where the compressed bytes begin. */
  readonly dataStart: number;
  readonly localStart: number;
  /** Behind the compressed bytes; a data descriptor may follow. */
  readonly localEnd: number;
  /** Date and time in the archive's own form. */
  readonly time: number;
  readonly externalAttributes: number;
}
