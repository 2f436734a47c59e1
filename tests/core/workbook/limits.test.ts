import { deflateRawSync } from "node:zlib";
import { describe, expect, test, vi } from "vitest";
import { LIMITS, readWorkbook } from "../../../core/workbook/index.ts";
import { type RawEntry, rawZip } from "./raw-zip.ts";
import { cellsOf, expectRefusal, MAIN_NAMESPACE, read, smallBook, smallParts } from "./small-book.ts";

const ONE = '<row r="1"><c r="A1"><v>7</v></c></row>';
const MEBIBYTE = 1024 * 1024;
// How long an answer takes is measured beside a baseline (npm run bench), never here: a loaded machine proves nothing.
vi.setConfig({ testTimeout: 300_000 });

/** Zeros packed about 1000 to 1. */
const zeros = (name: string, mebibytes: number): RawEntry => ({ name, content: new Uint8Array(mebibytes * MEBIBYTE) });
/** Noise whose ratio stays below the limit: packed by itself it keeps its size. */
const spread = (name: string, mebibytes: number): RawEntry => {
  const content = new Uint8Array(mebibytes * MEBIBYTE);
  for (let i = 0; i < content.length; i += 100) content[i] = (i * 2_654_435_761) >>> 24;
  return { name, content };
};

// Source: the entry workbook's limits (64 MiB a file, 256 MiB a part, 512 MiB in all, ratio 200 from 1 MiB, 2,000 entries, nesting 256).
describe("a package beyond the limits is refused in bounded time", () => {
  test("a bomb by ratio in a part nobody reads", () => {
    expectRefusal(smallBook({ data: ONE, parts: [zeros("xl/media/image1.png", 64)] }), "too-dense");
  });
  test("a bomb by ratio in the sheet", () => {
    const content = `<worksheet xmlns="${MAIN_NAMESPACE}"><sheetData>${" ".repeat(64 * MEBIBYTE)}</sheetData></worksheet>`;
    expectRefusal(smallBook({ parts: [{ name: "xl/worksheets/sheet1.xml", content }] }), "too-dense");
  });
  test("dense content below 1 MiB is read", () => {
    expect(cellsOf(read(smallBook({ data: ONE, parts: [{ name: "xl/a.bin", content: new Uint8Array(MEBIBYTE) }] })))).toHaveLength(1);
    expectRefusal(smallBook({ data: ONE, parts: [{ name: "xl/a.bin", content: new Uint8Array(MEBIBYTE + 1) }] }), "too-dense");
  });
  test("a part that says it is small and is not stops where it lies", () => {
    expectRefusal(smallBook({ data: ONE, parts: [{ ...zeros("xl/a.bin", 64), size: 100 }] }), "damaged-package");
  });
  test("a part above 256 MiB, true or not", () => {
    const part = { name: "xl/a.bin", content: "x", size: LIMITS.partBytes + 1 };
    expectRefusal(smallBook({ data: ONE, parts: [part] }), "too-large");
  });
  test("more than 512 MiB in all, each part within its own limit", () => {
    const part = spread("xl/a.bin", 1);
    const packed = deflateRawSync(part.content as Uint8Array);
    const parts = [1, 2, 3].map((n) => ({ name: `xl/${n}.bin`, content: "", packed, size: 200 * MEBIBYTE }));
    expectRefusal(smallBook({ data: ONE, parts }), "too-large");
  });
  test("2,001 entries", () => {
    const parts = Array.from({ length: LIMITS.entries - 5 }, (_, n) => ({ name: `xl/${n}.bin`, content: "x", method: 0 }));
    expect(cellsOf(read(smallBook({ data: ONE, parts })))).toHaveLength(1);
    expectRefusal(smallBook({ data: ONE, parts: [...parts, { name: "xl/one-more.bin", content: "x" }] }), "too-many-entries");
  });
  test("a directory of 65,535 entries that are not there", () => {
    expectRefusal(smallBook({ data: ONE, options: { count: 65_535 } }), "too-many-entries");
  });
  test("a quine: an archive in an archive is a part like any other", () => {
    expect(
      cellsOf(read(smallBook({ data: ONE, parts: [{ name: "xl/inner.xlsx", content: rawZip(smallParts({ data: ONE })) }] }))),
    ).toHaveLength(1);
  });
});

describe("a sheet beyond the limits is refused in bounded time", () => {
  const nested = (depth: number): string => `<worksheet>${"<a>".repeat(depth - 1)}${"</a>".repeat(depth - 1)}</worksheet>`;
  test("nesting of 256 is read, of 257 is not", () => {
    expect(read(smallBook({ sheet: nested(256) })).sheets).toHaveLength(1);
    expectRefusal(smallBook({ sheet: nested(257) }), "too-deep");
    expectRefusal(
      smallBook({ sheet: `<worksheet>${Array.from({ length: 300_000 }, (_, n) => `<a${(n * 7_919) % 100_003}>`).join("")}` }),
      "too-deep",
    );
  });
  test("the last row and the last column are read, the next are not", () => {
    const at = (row: number, cell: string) => smallBook({ data: `<row r="${row}"><c r="${cell}"><v>1</v></c></row>` });
    expect(cellsOf(read(at(1_048_576, "XFD1048576"))).map((c) => c.cell)).toEqual(["XFD1048576"]);
    expectRefusal(at(1_048_577, "A1048577"), "malformed-sheet");
    expectRefusal(at(1, "XFE1"), "malformed-sheet");
    expectRefusal(at(0, "A0"), "malformed-sheet");
  });
  test("32,767 characters in a cell are read, one more is not", () => {
    const inline = (n: number) => smallBook({ data: `<row><c t="inlineStr"><is><t>${"x".repeat(n)}</t></is></c></row>` });
    expect(cellsOf(read(inline(32_767)))[0]?.raw.length).toBe(32_767);
    expectRefusal(inline(32_768), "text-too-long");
    const shared = (n: number) => smallBook({ data: '<row><c t="s"><v>0</v></c></row>', strings: `<si><t>${"x".repeat(n)}</t></si>` });
    expect(cellsOf(read(shared(32_767)))[0]?.raw.length).toBe(32_767);
    expectRefusal(shared(32_768), "text-too-long");
  });
  test("escapes count as the one character they stand for", () => {
    const bytes = smallBook({ data: `<row><c t="inlineStr"><is><t>${"_x0041_".repeat(32_767)}</t></is></c></row>` });
    expect(cellsOf(read(bytes))[0]?.raw).toBe("A".repeat(32_767));
  });
  test("200,000 filled rows are read, one more is not", () => {
    const rows = (n: number) => {
      const out: string[] = [];
      for (let r = 1; r <= n; r += 1) out.push(`<row><c><v>${(r * 7_919) % 1_000_003}</v></c></row>`);
      return smallBook({ data: out.join("") });
    };
    expect(read(rows(200_000)).sheets[0]?.rows.size).toBe(200_000);
    expectRefusal(rows(200_001), "too-many-rows");
  });
  test("2,000,001 filled cells", () => {
    const out: string[] = [];
    for (let r = 1; r <= 126; r += 1) {
      out.push("<row>");
      for (let c = 1; c <= 16_000; c += 1) out.push(`<c><v>${(r * c * 7_919) % 1_000_003}</v></c>`);
      out.push("</row>");
    }
    expectRefusal(smallBook({ data: out.join("") }), "too-many-cells");
  });
  test("a million styled empty rows cost next to nothing", () => {
    const out: string[] = [];
    for (let r = 1; r <= 1_000_000; r += 1) out.push(`<row r="${r}" s="1"><c r="A${r}" s="1"/><c r="B${r}" s="${r % 7}"/></row>`);
    const bytes = smallBook({ data: `${out.join("")}<row r="1000001"><c r="A1000001"><v>7</v></c></row>` });
    expect(cellsOf(read(bytes)).map((c) => c.cell)).toEqual(["A1000001"]);
  });
  test("200,000 filled rows under 100,000 merged ranges that all overlap", () => {
    const out: string[] = [];
    for (let r = 1; r <= 199_999; r += 1) out.push(`<row r="${r}"><c r="D${r}"><v>${r % 977}</v></c></row>`);
    const merged = Array.from({ length: 100_000 }, (_, n) => `<mergeCell ref="A${n + 1}:C1048576"/>`).join("");
    const sheet = `<worksheet><sheetData>${out.join("")}</sheetData><mergeCells>${merged}</mergeCells></worksheet>`;
    expect(read(smallBook({ sheet })).sheets[0]?.rows.size).toBe(199_999);
  });
  test("more text than one worker can hold", () => {
    const noise = (n: number): string => `${(n * 2_654_435_761) >>> 0}${"x".repeat(150)}`;
    const text = (n: number): string => Array.from({ length: 190 }, (_, i) => noise(n * 190 + i)).join("");
    const rows = Array.from({ length: 4_600 }, (_, n) => `<row><c t="inlineStr"><is><t>${text(n)}</t></is></c></row>`);
    expectRefusal(smallBook({ data: rows.join("") }), "too-large");
  });
  test("more formats and more relationships than a workbook can need", () => {
    const many = (n: number, each: (i: number) => string): string =>
      Array.from({ length: n }, (_, i) => each((i * 7_919) % 1_000_003)).join("");
    expectRefusal(smallBook({ data: ONE, formats: many(65_538, (i) => `<xf numFmtId="${i}"/>`) }), "damaged-package");
    const content = `<Relationships>${many(10_001, (i) => `<Relationship Id="r${i}"/>`)}</Relationships>`;
    expectRefusal(smallBook({ data: ONE, parts: [{ name: "xl/_rels/workbook.xml.rels", content }] }), "damaged-package");
  });
  test("column elements that repeat, or reach from minus a billion", () => {
    const sheet = (cols: string) => smallBook({ sheet: `<worksheet><cols>${cols}</cols><sheetData>${ONE}</sheetData></worksheet>` });
    expect(read(sheet('<col hidden="1" min="-1000000000" max="3"/>')).sheets[0]?.hiddenColumns).toEqual(new Set([1, 2, 3]));
    expectRefusal(sheet('<col hidden="1" min="1" max="16384"/>'.repeat(16_385)), "malformed-sheet");
  });
  test("half a million warnings become a list a clerk can read", () => {
    const out: string[] = [];
    for (let r = 1; r <= 100_000; r += 1) out.push(`<row>${`<c s="9"><v>${(r * 7_919) % 100_003}</v></c>`.repeat(5)}</row>`);
    const { findings } = read(smallBook({ data: out.join(""), formats: '<xf numFmtId="0"/>' }));
    expect(findings).toHaveLength(201);
    expect(findings.at(-1)?.text).toContain("499800");
  });
  test("a tag, a comment and a text without end", () => {
    const long = "x".repeat(8 * MEBIBYTE);
    expectRefusal(smallBook({ sheet: `<worksheet a="${long}"/>`, parts: [spread("xl/a.bin", 1)] }), "too-dense");
    const noise = Array.from({ length: 400_000 }, (_, n) => ((n * 2_654_435_761) >>> 0).toString(36)).join("");
    expectRefusal(smallBook({ sheet: `<worksheet a="${noise}"/>` }), "malformed-xml");
    expect(readWorkbook(smallBook({ sheet: `<worksheet><!-- ${noise} --></worksheet>` })).ok).toBe(true);
    expectRefusal(smallBook({ data: `<row><c t="inlineStr"><is><t>${noise}</t></is></c></row>` }), "text-too-long");
  });
});
