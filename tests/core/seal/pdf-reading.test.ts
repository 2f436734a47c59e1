/** PDF syntax as the seal reads it, and what it refuses rather than guesses. Examples of ISO 32000-1 where named, the rest invented. */
import { zlibSync } from "fflate";
import { describe, expect, it } from "vitest";
import { fromLatin1, latin1, utf8 } from "../../../core/seal/bytes.ts";
import { differences } from "../../../core/seal/compare.ts";
import { PdfFile } from "../../../core/seal/pdf-file.ts";
import { isKind, PdfLexer, PdfProblem, serialize } from "../../../core/seal/pdf-objects.ts";
import { readCodeMap } from "../../../core/seal/to-unicode.ts";

const read = (text: string) => new PdfLexer(fromLatin1(text)).read(true);
const textOf = (text: string): string => {
  const value = read(text);
  return isKind(value, "text") ? latin1(value.bytes) : "no text";
};

describe("values", () => {
  it.each([
    // ISO 32000-1, 7.3.4.2: literal texts.
    ["(This is a string)", "This is a string"],
    [
      "(Strings may contain balanced parentheses ( ) and\nspecial characters ( * ! & } ^ % and so on) .)",
      "Strings may contain balanced parentheses ( ) and\nspecial characters ( * ! & } ^ % and so on) .",
    ],
    ["()", ""],
    ["(These \\\ntwo strings \\\nare the same.)", "These two strings are the same."],
    ["(a\\245b\\307c)", "a\u00a5b\u00c7c"],
    ["(\\0053)", "\u00053"],
    ["(\\053)", "+"],
    ["(\\53)", "+"],
    // 7.3.4.3: hexadecimal texts; an odd last digit counts as if followed by 0.
    ["<901FA>", "\u0090\u001f\u00a0"],
    ["<4E 6F\n76>", "Nov"],
  ])("%s", (given, wanted) => expect(textOf(given)).toBe(wanted));

  it.each([
    // ISO 32000-1, 7.3.3 and 7.3.5.
    ["123", "123"],
    ["-.002", "-0.002"],
    ["4.", "4"],
    ["/Lime#20Green", "/Lime#20Green"],
    ["/A;Name_With-Various***Characters?", "/A;Name_With-Various***Characters?"],
    ["[549 3.14 false (Ralph) /SomeName]", "[549 3.14 false <52616c7068> /SomeName]"],
    ["<</A 12 0 R /B [1 0 R 7 0 R] /C null>>", "<</A 12 0 R /B [1 0 R 7 0 R] /C null>>"],
    ["[1 0 Rx]", "[1 0 Rx]"],
    ["% a remark\n true", "true"],
  ])("%s", (given, wanted) => expect(serialize(read(given) ?? null)).toBe(wanted));

  it.each(["<<", "[1 2", "(open", "<</A 1 /A 2>>", "<<1 2>>", "<zz>", ">>", `${"[".repeat(300)}`])("%s is refused", (given) => {
    expect(() => read(given)).toThrow(PdfProblem);
  });
});

describe("files", () => {
  const file = (body: string, trailer = ""): Uint8Array => {
    const head = "%PDF-1.7\n";
    const at = head.length + body.length;
    return fromLatin1(
      `${head}${body}xref\n1 1\n${String(head.length).padStart(10, "0")} 00000 n \ntrailer\n<</Size 2 /Root 1 0 R ${trailer}>>\nstartxref\n${at}\n%%EOF\n`,
    );
  };

  it("finds an object where the table says, and nowhere else", () => {
    expect(
      serialize(new PdfFile(file("1 0 obj\n<</Type /Catalog>>\nendobj\n")).resolve({ kind: "reference", number: 1, generation: 0 })),
    ).toBe("<</Type /Catalog>>");
    expect(() => new PdfFile(file("2 0 obj\n5\nendobj\n")).resolve({ kind: "reference", number: 1, generation: 0 })).toThrow(
      /not where the file says/,
    );
  });

  it.each([
    ["encrypted", "1 0 obj\n1\nendobj\n", "/Encrypt 9 0 R", /encrypted/],
    ["tables in a circle", "1 0 obj\n1\nendobj\n", "/Prev 25", /circle/],
    ["a table that is none", "1 0 obj\n1\nendobj\n", "/Prev 3", /./],
  ])("%s: refused", (_, body, trailer, why) => {
    expect(() => new PdfFile(file(body, trailer))).toThrow(why);
  });

  it("follows streams, with their lengths and predictors", () => {
    // PNG predictor Up (RFC 2083, 6.4): each byte is the difference to the one above.
    const rows = Uint8Array.from([2, 1, 2, 3, 2, 1, 1, 1]);
    const packed = latin1(zlibSync(rows));
    const body = `1 0 obj\n<</Length ${packed.length} /Filter /FlateDecode /DecodeParms <</Predictor 12 /Columns 3>>>>\nstream\n${packed}\nendstream\nendobj\n`;
    const found = new PdfFile(file(body));
    const stream = found.resolve({ kind: "reference", number: 1, generation: 0 });
    expect(isKind(stream, "stream") && [...found.decode(stream)]).toEqual([1, 2, 3, 2, 3, 4]);
    const short = file(body.replace(`/Length ${packed.length}`, `/Length ${packed.length - 1}`));
    expect(() => new PdfFile(short).resolve({ kind: "reference", number: 1, generation: 0 })).toThrow(
      /does not end where it says|no length/,
    );
  });
});

describe("letters of a font", () => {
  it("single codes, ranges, lists, ligatures", () => {
    // ISO 32000-1, 9.10.3, example 2, shortened, and a ligature.
    const map = readCodeMap(
      utf8(
        "1 begincodespacerange <0000> <FFFF> endcodespacerange 2 beginbfrange <0000> <005E> <0020> <005F> <0061> [<00660066> <00660069> <00660066006C>] endbfrange 1 beginbfchar <3A51> <D840DC3E> endbfchar",
      ),
    );
    expect(map.width).toBe(2);
    expect([0x0000, 0x0013, 0x005f, 0x0061, 0x3a51].map((code) => map.texts.get(code))).toEqual([" ", "3", "ff", "ffl", "\ud840\udc3e"]);
  });
});

describe("differences of two lists", () => {
  it.each([
    ["a b c", "a b c", ""],
    ["a b c", "a x c", "1:b>x"],
    ["a b c", "a c", "1:b>"],
    ["a c", "a b c", "1:>b"],
    ["a b c d e", "a x c y e", "1:b>x 3:d>y"],
    ["a a b", "a b", "1:a>"],
    ["", "a", "0:>a"],
  ])("%s / %s", (a, b, wanted) => {
    const list = (text: string): readonly string[] => (text === "" ? [] : text.split(" "));
    expect(
      differences(list(a), list(b))
        .map((run) => `${run.issuedAt}:${run.issued.join("+")}>${run.found.join("+")}`)
        .join(" "),
    ).toBe(wanted);
  });
});
