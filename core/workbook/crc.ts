/** Eight tables, so that eight bytes are taken at a time. */
const TABLES = (() => {
  const tables = new Int32Array(8 * 256);
  for (let n = 0; n < 256; n += 1) {
    let c = n;
    for (let k = 0; k < 8; k += 1) c = c & 1 ? 0xedb88320 ^ (c >>> 1) : c >>> 1;
    tables[n] = c;
  }
  for (let n = 256; n < tables.length; n += 1) {
    const before = tables[n - 256] as number;
    tables[n] = (tables[before & 0xff] as number) ^ (before >>> 8);
  }
  return tables;
})();

/**
 * CRC-32 as ZIP uses it, going on from that of the bytes before (0 before any).
 * @source PKWARE APPNOTE 6.3, 4.4.7 (reflected polynomial 0xedb88320, start and end complemented)
 */
export function crcOf(bytes: Uint8Array, before: number): number {
  const t = TABLES;
  let c = ~before;
  let i = 0;
  for (const end = bytes.length - 7; i < end; i += 8) {
    c ^= (bytes[i] as number) | ((bytes[i + 1] as number) << 8) | ((bytes[i + 2] as number) << 16) | ((bytes[i + 3] as number) << 24);
    c =
      (t[1792 + (c & 0xff)] as number) ^
      (t[1536 + ((c >>> 8) & 0xff)] as number) ^
      (t[1280 + ((c >>> 16) & 0xff)] as number) ^
      (t[1024 + (c >>> 24)] as number) ^
      (t[768 + (bytes[i + 4] as number)] as number) ^
      (t[512 + (bytes[i + 5] as number)] as number) ^
      (t[256 + (bytes[i + 6] as number)] as number) ^
      (t[bytes[i + 7] as number] as number);
  }
  for (; i < bytes.length; i += 1) c = (t[(c ^ (bytes[i] as number)) & 0xff] as number) ^ (c >>> 8);
  return ~c >>> 0;
}
