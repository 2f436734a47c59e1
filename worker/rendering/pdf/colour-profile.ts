/**
 * The colour profile that gives the figures of a page their meaning: sRGB as an ICC profile of version 2, made here so that its every
 * byte is known.
 * @source IEC 61966-2-1 (transfer curve), ICC.1:2001-04 (layout); primaries adapted to D50 as commonly published, from memory
 */
const XYZ: Readonly<Record<string, readonly [number, number, number]>> = {
  wtpt: [0.9642, 1, 0.8249],
  rXYZ: [0.43607, 0.22249, 0.01392],
  gXYZ: [0.38515, 0.71687, 0.09708],
  bXYZ: [0.14307, 0.06061, 0.7141],
};
const CURVE_POINTS = 1024;
const HEADER = 128;

export function colourProfile(): Buffer {
  const tags: { readonly name: string; readonly data: Buffer }[] = [
    { name: "desc", data: description("sRGB IEC61966-2.1") },
    { name: "cprt", data: Buffer.concat([Buffer.from("text\0\0\0\0"), Buffer.from("No rights reserved\0")]) },
    ...Object.entries(XYZ).map(([name, value]) => ({ name, data: xyz(value) })),
  ];
  const curve = transferCurve();
  const count = tags.length + 3;
  const table = Buffer.alloc(4 + count * 12);
  table.writeUInt32BE(count, 0);
  const bodies: Buffer[] = [];
  let at = HEADER + table.length;
  let entry = 4;
  const put = (name: string, offset: number, size: number): void => {
    table.write(name, entry, "latin1");
    table.writeUInt32BE(offset, entry + 4);
    table.writeUInt32BE(size, entry + 8);
    entry += 12;
  };
  const add = (names: readonly string[], data: Buffer): void => {
    for (const name of names) put(name, at, data.length);
    const padded = Buffer.alloc(Math.ceil(data.length / 4) * 4);
    data.copy(padded);
    bodies.push(padded);
    at += padded.length;
  };
  for (const { name, data } of tags) add([name], data);
  // One curve serves the three channels.
  add(["rTRC", "gTRC", "bTRC"], curve);
  const head = Buffer.alloc(HEADER);
  head.writeUInt32BE(at, 0);
  head.writeUInt32BE(0x02100000, 8);
  head.write("mntrRGB XYZ ", 12, "latin1");
  // A fixed day: the profile never changes.
  [2000, 1, 1, 0, 0, 0].forEach((part, index) => {
    head.writeUInt16BE(part, 24 + index * 2);
  });
  head.write("acsp", 36, "latin1");
  xyzNumbers([0.9642, 1, 0.8249]).copy(head, 68);
  return Buffer.concat([head, table, ...bodies]);
}

function xyzNumbers(values: readonly number[]): Buffer {
  const data = Buffer.alloc(12);
  values.forEach((value, index) => {
    data.writeInt32BE(Math.round(value * 65_536), index * 4);
  });
  return data;
}

const xyz = (values: readonly number[]): Buffer => Buffer.concat([Buffer.from("XYZ \0\0\0\0"), xyzNumbers(values)]);

/** ASCII, then an empty Unicode and an empty script text. */
function description(text: string): Buffer {
  const data = Buffer.alloc(12 + text.length + 1 + 8 + 70);
  data.write("desc", 0, "latin1");
  data.writeUInt32BE(text.length + 1, 8);
  data.write(text, 12, "latin1");
  return data;
}

function transferCurve(): Buffer {
  const data = Buffer.alloc(12 + CURVE_POINTS * 2);
  data.write("curv", 0, "latin1");
  data.writeUInt32BE(CURVE_POINTS, 8);
  for (let point = 0; point < CURVE_POINTS; point += 1) {
    const value = point / (CURVE_POINTS - 1);
    const linear = value <= 0.04045 ? value / 12.92 : ((value + 0.055) / 1.055) ** 2.4;
    data.writeUInt16BE(Math.round(linear * 65_535), 12 + point * 2);
  }
  return data;
}
