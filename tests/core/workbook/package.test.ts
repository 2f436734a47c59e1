import { describe, expect, test } from "vitest";
import { isCompletePackage, LIMITS } from "../../../core/workbook/index.ts";
import { type RawEntry, rawZip } from "./raw-zip.ts";
import { cellsOf, expectRefusal, read, type SmallBook, smallBook, smallParts } from "./small-book.ts";

const ONE = '<row r="1"><c r="A1"><v>7</v></c></row>';
const extra = (name: string, more: Partial<RawEntry> = {}): SmallBook => ({ data: ONE, parts: [{ name, content: "x", ...more }] });
const sheet = (more: Partial<RawEntry>): SmallBook => ({
  parts: [{ ...(smallParts({ data: ONE }).find((p) => p.name.endsWith("sheet1.xml")) as RawEntry), ...more }],
});

// Source of every row: the entry workbook's rule for packages; the ways to break it are common practice, no source.
describe("a package that is refused", () => {
  test.for([
    ["a step up in a name", extra("xl/../../evil.xml"), "bad-entry-name"],
    ["a step up at the end", extra("xl/.."), "bad-entry-name"],
    ["a drive", extra("C:evil.xml"), "bad-entry-name"],
    ["a drive and a slash", extra("c:/evil.xml"), "bad-entry-name"],
    ["NUL in a name", extra("xl/a\u0000.xml"), "bad-entry-name"],
    ["a back-slash", extra("xl\\a.xml"), "bad-entry-name"],
    ["an absolute name", extra("/xl/a.xml"), "bad-entry-name"],
    ["no name", extra(""), "bad-entry-name"],
    ["a line break in a name", extra("xl/a\n.xml"), "bad-entry-name"],
    ["a symbolic link", extra("xl/a.xml", { attributes: (0o120777 << 16) >>> 0 }), "bad-entry-name"],
    [
      "the same name twice",
      {
        data: ONE,
        parts: [
          { name: "xl/a.xml", content: "1" },
          { name: "xl/a.xml", content: "2" },
        ],
      },
      "doubled-entry",
    ],
    [
      "the same name in other case",
      {
        data: ONE,
        parts: [
          { name: "xl/a.xml", content: "1" },
          { name: "XL/A.xml", content: "2" },
        ],
      },
      "doubled-entry",
    ],
    [
      "a folder of a part's name",
      {
        data: ONE,
        parts: [
          { name: "xl/a", content: "1" },
          { name: "xl/a/", content: "" },
        ],
      },
      "doubled-entry",
    ],
    ["two names on the same bytes", extra("xl/a.xml", { place: 0, localName: "xl/a.xml" }), "damaged-package"],
    ["an encrypted entry", extra("xl/a.xml", { flags: 0x801 }), "encrypted-entry"],
    ["an entry encrypted by its own header only", extra("xl/a.xml", { localFlags: 1 }), "encrypted-entry"],
    ["a strongly encrypted entry", extra("xl/a.xml", { flags: 0x841 }), "encrypted-entry"],
    ["method 9 (deflate64)", extra("xl/a.xml", { method: 9 }), "unknown-method"],
    ["method 12 (bzip2)", extra("xl/a.xml", { method: 12 }), "unknown-method"],
    ["method 99 (AES)", extra("xl/a.xml", { method: 99 }), "unknown-method"],
    ["another name in the own header", extra("xl/a.xml", { localName: "xl/b.xml" }), "damaged-package"],
    ["a wrong checksum of a sheet", sheet({ crc: 1 }), "wrong-checksum"],
    ["a wrong checksum of a part nobody reads", extra("xl/media/image1.png", { crc: 1 }), "wrong-checksum"],
    ["a wrong checksum of a stored part", extra("xl/media/image1.png", { crc: 1, method: 0 }), "wrong-checksum"],
    ["a sheet longer than it says", sheet({ size: 10 }), "damaged-package"],
    ["a sheet shorter than it says", sheet({ size: 100_000 }), "damaged-package"],
    ["a size of 4 GiB less one", sheet({ size: 0xfffffffe }), "too-large"],
    ["packed bytes cut off", sheet({ packedSize: 20 }), "damaged-package"],
    ["packed bytes into the directory", sheet({ packedSize: 1_000_000 }), "damaged-package"],
    ["bytes that are no deflate stream", extra("xl/a.xml", { packed: Buffer.from([7, 255, 255, 255, 1]) }), "damaged-package"],
    ["junk before the first entry, offsets true", { data: ONE, options: { before: Buffer.from("PKjunk") } }, "junk-before-package"],
    [
      "junk before the first entry, offsets shifted",
      { data: ONE, options: { before: Buffer.from("PKjunk"), shifted: true } },
      "junk-before-package",
    ],
    [
      "junk that hides the signature",
      { data: ONE, options: { before: Buffer.from("MZ\u0000junk"), shifted: true } },
      "junk-before-package",
    ],
    ["a count above the truth", { data: ONE, options: { count: 6 } }, "damaged-package"],
    ["a count below the truth", { data: ONE, options: { count: 4 } }, "damaged-package"],
    ["no sheet part", { without: ["xl/worksheets/sheet1.xml"] }, "missing-part"],
    ["no workbook part", { data: ONE, without: ["xl/workbook.xml"] }, "not-a-workbook"],
    ["no relationships of the workbook", { data: ONE, without: ["xl/_rels/workbook.xml.rels"] }, "missing-part"],
    ["no relationships at all", { data: ONE, without: ["_rels/.rels"] }, "missing-part"],
    ["no content types", { data: ONE, without: ["[Content_Types].xml"] }, "not-a-workbook"],
    ["macros", extra("xl/vbaProject.bin"), "macro-carrying"],
    ["a macro sheet", extra("xl/macrosheets/sheet1.xml"), "macro-carrying"],
    [
      "an OpenDocument file",
      { data: ONE, parts: [{ name: "mimetype", method: 0, content: "application/vnd.oasis.opendocument.spreadsheet" }] },
      "opendocument",
    ],
    ["a package in a package for a password", extra("EncryptedPackage"), "password-protected"],
  ] as const satisfies readonly (readonly [string, SmallBook, string])[])("%s", ([, book, code]) => {
    expectRefusal(smallBook(book), code);
  });

  test("entries that overlap", () => {
    // The second name's local header is the first one's content: a stored copy of a header inside a stored part.
    const inner = rawZip([{ name: "xl/b.xml", content: "x", method: 0 }]).subarray(0, 30 + 8 + 1);
    const parts = smallParts({ data: ONE });
    let place = 0;
    for (const part of parts) place += rawZip([part]).length - (46 + Buffer.byteLength(part.name)) - 22;
    expectRefusal(
      rawZip([
        ...parts,
        { name: "xl/a.xml", content: inner, method: 0 },
        { name: "xl/b.xml", content: "x", method: 0, place: place + 30 + 8 },
      ]),
      "overlapping-entry",
    );
  });

  test("macro content type without a macro part", () => {
    const types = (smallParts({})[0] as RawEntry).content as string;
    const content = types.replace("openxmlformats-officedocument.spreadsheetml.sheet.main", "ms-excel.sheet.macroEnabled.main");
    expect(content).not.toBe(types);
    expectRefusal(smallBook({ data: ONE, parts: [{ name: "[Content_Types].xml", content }] }), "macro-carrying");
  });

  test("truncation at any place", () => {
    const whole = smallBook({ data: ONE });
    for (let length = 0; length < whole.length; length += 1) {
      const result = whole.subarray(0, length);
      expect(isCompletePackage(result)).toBe(false);
      expectRefusal(result, length === 0 ? "empty-file" : length === 1 ? "not-a-workbook" : "truncated");
    }
    expect(isCompletePackage(whole)).toBe(true);
  });

  test("any byte changed: refused or read, never thrown, and the cell never another one", () => {
    const whole = smallBook({ data: ONE });
    for (let at = 0; at < whole.length; at += 1) {
      const changed = whole.slice();
      changed[at] = (changed[at] as number) ^ 0x41;
      let cells: readonly { raw: string }[] = [];
      try {
        cells = cellsOf(read(changed));
      } catch (error) {
        expect(String(error)).toMatch(/^Error: [a-z-]+: [A-Z]/);
        continue;
      }
      expect(cells.map((c) => c.raw)).toEqual(["7"]);
    }
  });
});

// Source: the entry workbook's rule for file kinds; signatures of the kinds from memory.
describe("another kind of file under an .xlsx name", () => {
  const ole = (text: string): Uint8Array =>
    Buffer.concat([Buffer.from([0xd0, 0xcf, 0x11, 0xe0, 0xa1, 0xb1, 0x1a, 0xe1]), Buffer.alloc(2_000_000), Buffer.from(text, "utf16le")]);
  test.for([
    ["an old workbook", ole("Workbook"), "old-format"],
    ["a workbook with a password, its name far inside", ole("EncryptedPackage"), "password-protected"],
    ["a text table", Buffer.from("coil;heat\r\nC1;H1\r\n"), "csv-file"],
    ["a text table with umlauts, UTF-8 with mark", Buffer.from("\ufeffRing;Prüfer\r\nC1;Müller\r\n"), "csv-file"],
    ["a text table with umlauts, one byte each", Buffer.from("Ring;Prüfer\r\n", "latin1"), "csv-file"],
    ["a text table in UTF-16", Buffer.from("\ufeffcoil\theat\r\n", "utf16le"), "csv-file"],
    ["a web page", Buffer.from("<!DOCTYPE html><html><table/></html>"), "html-file"],
    ["a bare table of a web page", Buffer.from("<table><tr><td>1</td></tr></table>"), "html-file"],
    ["a web page as mail", Buffer.from("MIME-Version: 1.0\r\nContent-Type: multipart/related"), "html-file"],
    ["XML", Buffer.from('\ufeff<?xml version="1.0"?><Workbook/>'), "xml-file"],
    ["a picture", Buffer.from([0x89, 0x50, 0x4e, 0x47, 13, 10, 26, 10, 0, 0]), "not-a-workbook"],
    ["nothing", Buffer.alloc(0), "empty-file"],
    ["an empty archive", rawZip([]), "not-a-workbook"],
    ["an archive of other things", rawZip([{ name: "readme.txt", content: "x" }]), "not-a-workbook"],
    ["64 MiB and a byte", Buffer.alloc(LIMITS.fileBytes + 1), "too-large"],
  ] as const satisfies readonly (readonly [string, Uint8Array, string])[])("%s", ([, bytes, code]) => expectRefusal(bytes, code));
});

// Source: the entry workbook's rule "an archive comment is harmless"; PKWARE APPNOTE 6.3, 4.3.9 (descriptor), 4.5.3 (64-bit sizes).
describe("unusual and harmless", () => {
  test.for([
    ["an archive comment", { options: { comment: "saved by hand" } }],
    ["a comment that looks like an end record", { options: { comment: "PK\u0005\u0006 and more, quite long, to hold a record" } }],
    ["data descriptors", { parts: smallParts({ data: ONE }).map((part) => ({ ...part, descriptor: true })) }],
    ["stored parts", { parts: smallParts({ data: ONE }).map((part) => ({ ...part, method: 0 })) }],
    ["64-bit sizes that are small", { parts: smallParts({ data: ONE }).map((part) => ({ ...part, zip64: true })) }],
    ["a 64-bit end record", { options: { zip64End: true } }],
    ["a folder entry", extra("xl/media/", { content: "" })],
    ["an unknown part", extra("customXml/item1.xml")],
  ] as const satisfies readonly (readonly [string, SmallBook])[])("%s", ([, book]) => {
    const bytes = smallBook({ data: ONE, ...book });
    expect(isCompletePackage(bytes)).toBe(true);
    expect(cellsOf(read(bytes)).map((c) => c.raw)).toEqual(["7"]);
  });

  test("64-bit figures that lead out of the file are refused", () => {
    const broken = smallBook({ data: ONE, options: { zip64End: true } });
    new DataView(broken.buffer).setUint32(broken.length - 22 - 20 + 12, 1, true);
    expectRefusal(broken, "damaged-package");
  });
});
