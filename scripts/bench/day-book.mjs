// A day book as a spreadsheet program would save it: shared texts, styles, dates, a formula column, validations. Names and figures are invented.
import { deflateRawSync } from "node:zlib";

const MAIN = "http://schemas.openxmlformats.org/spreadsheetml/2006/main";
const OFFICE = "http://schemas.openxmlformats.org/officeDocument/2006/relationships";
const PACKAGE = "http://schemas.openxmlformats.org/package/2006";
const TYPE = "application/vnd.openxmlformats-officedocument.spreadsheetml";
const HEAD = '<?xml version="1.0" encoding="UTF-8" standalone="yes"?>\n';

const letters = (number) =>
  (number > 26 ? String.fromCharCode(64 + Math.floor((number - 1) / 26)) : "") + String.fromCharCode(65 + ((number - 1) % 26));
const escaped = (text) => text.replaceAll("&", "&amp;").replaceAll("<", "&lt;");

/** The columns of each sheet: label, style (1 two decimals, 2 day, 0 as it is) and how row `n` fills it; 15 on each test sheet. */
const PIECE = [
  ["Test piece", 0, (n, s) => `${s}${String(n).padStart(6, "0")}`],
  ["Coil", 0, (n) => coilOf(n)],
  ["End", 0, (n) => (n % 2 ? "outer" : "inner")],
];
const LAST = [
  ["Role", 0, () => "acceptance"],
  ["Instrument", 0, (n) => `tester-${n % 3}`],
  ["Date", 2, (n) => 46_000 + Math.floor(spread(n + 31, 0.06))],
  ["Tester", 0, (n) => `Tester ${n % 7}`],
  ["Remark", 0, (n) => (n % 25 ? undefined : "held back for a second look")],
];
const PIECES_A_COIL = 4;
const coilOf = (n) => `C-${String(Math.floor(n / PIECES_A_COIL) + 1).padStart(6, "0")}`;
/** Readings scatter: one of a thousand values, in no order that packing could use. */
const spread = (n, step) => {
  let hash = Math.imul(n + 1, 0x9e3779b1);
  hash = Math.imul(hash ^ (hash >>> 15), 0x85ebca6b);
  return (((hash ^ (hash >>> 13)) >>> 0) % 1000) * step;
};

const SHEETS = [
  {
    name: "Torsion",
    columns: [
      ...PIECE,
      ["Diameter, mm", 1, (n) => 2 + spread(n, 0.00001)],
      ["Free length, mm", 1, () => 200],
      ["Tension, N", 0, (n) => 60 + spread(n + 7, 0.005)],
      ["Speed, r/min", 0, () => 30],
      ["Turns", 0, (n) => 24 + Math.floor(spread(n, 0.009))],
      ["Fracture type", 0, () => "1a"],
      ["Line turns", 0, (n) => ({ formula: (row) => `H${row}`, value: 24 + Math.floor(spread(n, 0.009)) })],
      ...LAST,
    ],
  },
  {
    name: "Tensile",
    columns: [
      ...PIECE,
      ["Diameter, mm", 1, (n) => 2 + spread(n, 0.00001)],
      ["Maximum force, N", 0, (n) => 5900 + spread(n, 0.2)],
      ["Proof force, N", 0, (n) => 5000 + spread(n + 11, 0.2)],
      ["Gauge length, mm", 0, () => 100],
      ["Elongation, %", 1, (n) => 2 + spread(n + 13, 0.001)],
      ["Diameter after, mm", 1, (n) => 1.4 + spread(n + 17, 0.0001)],
      ["Break at", 0, () => "clear"],
      ...LAST,
    ],
  },
  {
    name: "Wrap",
    columns: [
      ...PIECE,
      ["Purpose", 0, () => "ductility"],
      ["Diameter, mm", 1, (n) => 2 + spread(n, 0.00001)],
      ["Mandrel diameter, mm", 1, () => 2],
      ["Wraps", 0, () => 8],
      ["Rate, r/min", 0, () => 12],
      ["Cracks", 0, (n) => (n % 97 ? "none" : "visible")],
      ["Coating", 0, () => "sound"],
      ...LAST,
    ],
  },
  {
    name: "Diameter",
    columns: [
      ...PIECE,
      ["Position", 0, () => "1"],
      ["Largest diameter, mm", 1, (n) => 2.002 + spread(n, 0.00001)],
      ["Smallest diameter, mm", 1, (n) => 1.99 + spread(n + 19, 0.00001)],
      ["Gauge", 0, () => "bench micrometer"],
      ["Shift", 0, (n) => n % 3],
      ["Humidity", 1, (n) => 40 + spread(n + 23, 0.01)],
      ["Room", 1, (n) => 20 + spread(n + 29, 0.002)],
      ...LAST,
    ],
  },
];

const COILS_AN_ORDER = 100;
const orderOf = (coil) => `O-${String(Math.floor(coil / COILS_AN_ORDER) + 1).padStart(4, "0")}`;

/**
 * @param rows test rows in all, over four test sheets of 15 columns
 * @returns the bytes of an .xlsx file
 */
export function dayBook(rows) {
  const each = Math.ceil(rows / SHEETS.length);
  const coils = Math.ceil(each / PIECES_A_COIL);
  const orders = Math.ceil(coils / COILS_AN_ORDER);
  const strings = new Map();
  const text = (value) => {
    const known = strings.get(value);
    if (known !== undefined) return known;
    strings.set(value, strings.size);
    return strings.size - 1;
  };
  const cell = (value, column, row, style) => {
    if (value === undefined) return "";
    const place = `r="${letters(column)}${row}"${style === 0 ? "" : ` s="${style}"`}`;
    if (typeof value === "string") return `<c ${place} t="s"><v>${text(value)}</v></c>`;
    if (typeof value === "object") return `<c ${place}><f>${value.formula(row)}</f><v>${value.value}</v></c>`;
    return `<c ${place}><v>${Number(value.toPrecision(12))}</v></c>`;
  };
  const sheet = ({ columns, name }, count) => {
    const lines = [];
    for (let r = 0; r <= count; r += 1) {
      const cells = columns.map(([label, style, fill], c) =>
        cell(r === 0 ? label : fill(r - 1, name[0]), c + 1, r + 1, r === 0 ? 0 : style),
      );
      lines.push(`<row r="${r + 1}" spans="1:${columns.length}">${cells.join("")}</row>`);
    }
    const last = letters(columns.length);
    return `${HEAD}<worksheet xmlns="${MAIN}"><dimension ref="A1:${last}${count + 1}"/><sheetViews><sheetView workbookViewId="0"><pane ySplit="1" topLeftCell="A2" activePane="bottomLeft" state="frozen"/></sheetView></sheetViews><sheetFormatPr defaultRowHeight="15"/><sheetData>${lines.join("")}</sheetData><conditionalFormatting sqref="H2:H${count + 1}"><cfRule type="expression" priority="1" dxfId="0"><formula>H2&lt;20</formula></cfRule></conditionalFormatting><dataValidations count="1"><dataValidation type="list" allowBlank="1" sqref="C2:C${count + 1}"><formula1>"outer,inner,between"</formula1></dataValidation></dataValidations></worksheet>`;
  };
  const described = [
    {
      name: "Orders",
      count: orders,
      columns: [
        ["Order", 0, (n) => orderOf(n * COILS_AN_ORDER)],
        ["Item", 0, () => "1"],
        ["Customer", 0, (n) => `Example Springs ${n % 9}`],
        ["Specification", 0, () => "EN 10270-1"],
        ["Grade", 0, () => "SH"],
        ["Nominal diameter, mm", 0, () => 2],
      ],
    },
    {
      name: "Coils",
      count: coils,
      columns: [
        ["Coil", 0, (n) => coilOf(n * PIECES_A_COIL)],
        ["Order", 0, (n) => orderOf(n)],
        ["Item", 0, () => "1"],
        ["Heat", 0, (n) => `H-${Math.floor(n / 50) + 1}`],
      ],
    },
    {
      name: "Instruments",
      count: 3,
      columns: [
        ["Instrument", 0, (n) => `tester-${n}`],
        ["Calibrated on", 2, () => 45_900],
        ["Due on", 2, () => 46_200],
      ],
    },
    ...SHEETS.map((one) => ({ ...one, count: each })),
  ];
  const parts = described.map((one, i) => [`xl/worksheets/sheet${i + 1}.xml`, sheet(one, one.count)]);
  const names = described.map((one) => one.name);
  const count = names.length;
  return zip([
    [
      "[Content_Types].xml",
      `${HEAD}<Types xmlns="${PACKAGE}/content-types"><Default Extension="rels" ContentType="application/vnd.openxmlformats-package.relationships+xml"/><Default Extension="xml" ContentType="application/xml"/><Override PartName="/xl/workbook.xml" ContentType="${TYPE}.sheet.main+xml"/>${names.map((_, i) => `<Override PartName="/xl/worksheets/sheet${i + 1}.xml" ContentType="${TYPE}.worksheet+xml"/>`).join("")}<Override PartName="/xl/styles.xml" ContentType="${TYPE}.styles+xml"/><Override PartName="/xl/sharedStrings.xml" ContentType="${TYPE}.sharedStrings+xml"/></Types>`,
    ],
    [
      "_rels/.rels",
      `${HEAD}<Relationships xmlns="${PACKAGE}/relationships"><Relationship Id="rId1" Type="${OFFICE}/officeDocument" Target="xl/workbook.xml"/></Relationships>`,
    ],
    [
      "xl/workbook.xml",
      `${HEAD}<workbook xmlns="${MAIN}" xmlns:r="${OFFICE}"><sheets>${names.map((name, i) => `<sheet name="${name}" sheetId="${i + 1}" r:id="rId${i + 1}"/>`).join("")}</sheets></workbook>`,
    ],
    [
      "xl/_rels/workbook.xml.rels",
      `${HEAD}<Relationships xmlns="${PACKAGE}/relationships">${names.map((_, i) => `<Relationship Id="rId${i + 1}" Type="${OFFICE}/worksheet" Target="worksheets/sheet${i + 1}.xml"/>`).join("")}<Relationship Id="rId${count + 1}" Type="${OFFICE}/styles" Target="styles.xml"/><Relationship Id="rId${count + 2}" Type="${OFFICE}/sharedStrings" Target="sharedStrings.xml"/></Relationships>`,
    ],
    [
      "xl/styles.xml",
      `${HEAD}<styleSheet xmlns="${MAIN}"><fonts count="1"><font><sz val="11"/><name val="Calibri"/></font></fonts><fills count="2"><fill><patternFill patternType="none"/></fill><fill><patternFill patternType="gray125"/></fill></fills><borders count="1"><border/></borders><cellStyleXfs count="1"><xf numFmtId="0" fontId="0" fillId="0" borderId="0"/></cellStyleXfs><cellXfs count="3"><xf numFmtId="0" fontId="0" fillId="0" borderId="0" xfId="0"/><xf numFmtId="2" fontId="0" fillId="0" borderId="0" xfId="0" applyNumberFormat="1"/><xf numFmtId="14" fontId="0" fillId="0" borderId="0" xfId="0" applyNumberFormat="1"/></cellXfs><dxfs count="1"><dxf><font><b/></font></dxf></dxfs></styleSheet>`,
    ],
    ...parts,
    [
      "xl/sharedStrings.xml",
      `${HEAD}<sst xmlns="${MAIN}" count="${strings.size}" uniqueCount="${strings.size}">${[...strings.keys()].map((value) => `<si><t>${escaped(value)}</t></si>`).join("")}</sst>`,
    ],
  ]);
}

/** @param parts name and content, text or bytes */
export function zip(parts) {
  const chunks = [];
  const directory = [];
  let offset = 0;
  for (const [name, content] of parts) {
    const bytes = Buffer.from(content);
    const packed = deflateRawSync(bytes, { level: 6 });
    const label = Buffer.from(name);
    const common = Buffer.alloc(22);
    common.writeUInt16LE(20, 0);
    common.writeUInt16LE(0x800, 2);
    common.writeUInt16LE(8, 4);
    common.writeUInt32LE(0x00210000, 6);
    common.writeUInt32LE(crc32(bytes), 10);
    common.writeUInt32LE(packed.length, 14);
    common.writeUInt32LE(bytes.length, 18);
    const sizes = Buffer.alloc(4);
    sizes.writeUInt16LE(label.length, 0);
    chunks.push(Buffer.from("PK\u0003\u0004"), common, sizes, label, packed);
    const tail = Buffer.alloc(14);
    tail.writeUInt32LE(offset, 10);
    directory.push(Buffer.from("PK\u0001\u0002\u0014\u0000"), common, sizes, tail, label);
    offset += 30 + label.length + packed.length;
  }
  const size = directory.reduce((sum, chunk) => sum + chunk.length, 0);
  const end = Buffer.alloc(18);
  end.writeUInt16LE(parts.length, 4);
  end.writeUInt16LE(parts.length, 6);
  end.writeUInt32LE(size, 8);
  end.writeUInt32LE(offset, 12);
  return Buffer.concat([...chunks, ...directory, Buffer.from("PK\u0005\u0006"), end]);
}

const TABLE = Int32Array.from({ length: 256 }, (_, n) => {
  let c = n;
  for (let k = 0; k < 8; k += 1) c = c & 1 ? 0xedb88320 ^ (c >>> 1) : c >>> 1;
  return c;
});

function crc32(bytes) {
  let c = -1;
  for (const byte of bytes) c = TABLE[(c ^ byte) & 0xff] ^ (c >>> 8);
  return (c ^ -1) >>> 0;
}
