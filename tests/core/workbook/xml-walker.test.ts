import fc from "fast-check";
import { SaxesParser } from "saxes";
import { describe, expect, test } from "vitest";
import { RefusedWorkbook } from "../../../core/workbook/limits.ts";
import { XmlWalker } from "../../../core/workbook/xml-walker.ts";

type Event = readonly [string, string, Readonly<Record<string, string>>?];

const joined = (events: Event[]): Event[] => {
  const out: Event[] = [];
  for (const event of events) {
    const last = out.at(-1);
    if (event[0] === "text" && last?.[0] === "text") out[out.length - 1] = ["text", last[1] + event[1]];
    else if (event[0] !== "text" || event[1] !== "") out.push(event);
  }
  return out;
};

const NAMES = ["a", "r", "id", "xml:space", "p:id", "xmlns:p", "xmlns"];

function ours(xml: string | Uint8Array, step = Number.MAX_SAFE_INTEGER): Event[] | string {
  const events: Event[] = [];
  const walker = new XmlWalker("part", {
    open: (name, attributes) => {
      const found: Record<string, string> = {};
      for (const key of NAMES) {
        const value = attributes.get(key);
        if (value !== undefined) found[key] = value;
      }
      events.push(["open", name, found]);
    },
    close: (name) => events.push(["close", name]),
    text: (text) => events.push(["text", text]),
  });
  const bytes = typeof xml === "string" ? new TextEncoder().encode(xml) : xml;
  try {
    for (let at = 0; at < bytes.length; at += step) walker.push(bytes.subarray(at, at + step));
    walker.end();
  } catch (error) {
    if (error instanceof RefusedWorkbook) return error.refusal.code;
    throw error;
  }
  return joined(events);
}

/** The same walk by a library that is known to be right. */
function theirs(xml: string): Event[] | string {
  const events: Event[] = [];
  const parser = new SaxesParser({ xmlns: true });
  let wrong = false;
  parser.on("error", () => {
    wrong = true;
  });
  parser.on("doctype", () => {
    wrong = true;
  });
  let depth = 0;
  parser.on("opentag", (tag) => {
    depth += 1;
    const found: Record<string, string> = {};
    for (const key of NAMES) {
      const own = tag.attributes[key] ?? Object.values(tag.attributes).find((a) => a.local === key && a.prefix !== "");
      if (own !== undefined) found[key] = own.value;
    }
    events.push(["open", tag.local, found]);
  });
  parser.on("closetag", (tag) => {
    depth -= 1;
    events.push(["close", tag.local]);
  });
  const text = (value: string): void => {
    if (depth > 0) events.push(["text", value]);
  };
  parser.on("text", text);
  parser.on("cdata", text);
  parser.write(xml).close();
  return wrong ? "wrong" : joined(events);
}

describe("well-formed XML gives the events another parser gives", () => {
  test.for([
    "<a/>",
    "<a></a >",
    "\ufeff<?xml version='1.0' encoding=\"utf-8\" standalone='yes' ?>\n<a/>",
    "<a r='1' id = \"2\"\n/>",
    "<a r='\"' id=\"'\"/>",
    "<a r=' x\ty\nz &#10;&#9; '/>",
    "<p:a xmlns:p='u' p:id='3'><p:b/></p:a>",
    "<a><![CDATA[<b> & ]] ]]]]><![CDATA[>]]></a>",
    "<a><!-- <b> & - -->x<!----></a><!-- after -->",
    "<a><?go <b> ?>x<?go?></a>",
    "<a>&amp;&lt;&gt;&quot;&apos;&#65;&#x1F600;</a>",
    "<a>x\r\ny\rz</a>",
    "<a>&#13;</a>",
    "<a>]] > ]]&gt;</a>",
    "<ä ö='1'>ü€😀</ä>",
    "<a>\u007f\u0085\u2028\ud7ff\ue000\ufffd</a>",
    "<a r='>'>x</a>",
    " \n<a/>\n ",
  ])("%j", (xml) => {
    const expected = theirs(xml.replace(/^\ufeff/, ""));
    expect(expected).not.toBe("wrong");
    expect(ours(xml)).toEqual(expected);
    for (const step of [1, 2, 3, 7]) expect(ours(xml, step)).toEqual(expected);
  });
});

// Source: XML 1.0, fifth edition; Namespaces in XML 1.0. The other parser is asked as well.
describe("XML that is not well-formed is refused", () => {
  test.for([
    ["", "nothing"],
    ["<a>", "never closed"],
    ["<a", "cut in a tag"],
    ["<a></b>", "closed by another name"],
    ["</a>", "closes nothing"],
    ["<a/><b/>", "two roots"],
    ["<a/>x", "text behind the root"],
    ["x<a/>", "text before the root"],
    ["<a r=1/>", "no quotation marks"],
    ["<a r/>", "no value"],
    ["<a r='1' r='2'/>", "an attribute twice"],
    ["<a r='1'id='2'/>", "no blank between attributes"],
    ["<a r='<'/>", "< in a value"],
    ["<a>&nbsp;</a>", "an unknown entity"],
    ["<a>&constructor;</a>", "an entity named like a method"],
    ["<a>&amp</a>", "a reference without end"],
    ["<a>& </a>", "an ampersand alone"],
    ["<a>&#0;</a>", "NUL by reference"],
    ["<a>&#xD800;</a>", "half a pair by reference"],
    ["<a>&#x110000;</a>", "beyond the last character"],
    ["<a>&#xFFFE;</a>", "no character"],
    ["<a>\u0001</a>", "a control character"],
    ["<a r='\u0001'/>", "a control character in a value"],
    ["<a>\ufffe</a>", "no character, raw"],
    ["<a>]]></a>", "the end of CDATA in a text"],
    ["<a><!-- -- --></a>", "two hyphens in a comment"],
    ["<a><!-- ", "a comment without end"],
    ["<a><![CDATA[ ", "CDATA without end"],
    ["<![CDATA[x]]><a/>", "CDATA outside the root"],
    ["<a><?xml version='1.0'?></a>", "a declaration inside"],
    [" <?xml version='1.0'?><a/>", "a declaration behind a blank"],
    ["<!-- --><?xml version='1.0'?><a/>", "a declaration behind a comment"],
    ["<?xml?><a/>", "a declaration without version"],
    ["<a><?go", "an instruction without end"],
    ["< a/>", "a blank before the name"],
    ["<1a/>", "a name that begins with a digit"],
    ["<a/ >", "a blank in the empty tag's end"],
    ["<p:a/>", "a prefix nobody declares"],
    ["<a p:id='1'/>", "a prefix of an attribute nobody declares"],
    ["<!ELEMENT a ANY><a/>", "a declaration of a document type alone"],
  ] as const)("%s (%s)", ([xml]) => {
    if (xml !== "") expect(theirs(xml)).toBe("wrong");
    for (const step of [Number.MAX_SAFE_INTEGER, 1, 3]) expect(ours(xml, step)).toBe("malformed-xml");
  });

  test("a document type is named as such, whatever its case", () => {
    for (const xml of ["<!DOCTYPE a><a/>", '<?xml version="1.0"?>\n<!DOCTYPE a [<!ENTITY b "c">]><a>&b;</a>', "<!doctype a><a/>"])
      for (const step of [Number.MAX_SAFE_INTEGER, 1]) expect(ours(xml, step)).toBe("doctype");
  });

  test.for([
    ["cut in a character", Buffer.from([0x3c, 0x61, 0x3e, 0xc3, 0x3c, 0x2f, 0x61, 0x3e])],
    ["an overlong form", Buffer.from([0x3c, 0x61, 0x3e, 0xc0, 0xaf, 0x3c, 0x2f, 0x61, 0x3e])],
    ["half a pair", Buffer.from([0x3c, 0x61, 0x3e, 0xed, 0xa0, 0x80, 0x3c, 0x2f, 0x61, 0x3e])],
    ["Latin-1 that says nothing", Buffer.from("<a>ü</a>", "latin1")],
    ["Latin-1 that says so", Buffer.from("<?xml version='1.0' encoding='ISO-8859-1'?><a>ü</a>", "latin1")],
    ["wrong bytes in a comment", Buffer.from("<a><!-- ü --></a>", "latin1")],
    ["wrong bytes in a value", Buffer.from("<a r='ü'/>", "latin1")],
    ["UTF-16 with half a pair", Buffer.from("\ufeff<a>\ud800</a>", "utf16le")],
    ["UTF-16 cut in a character", Buffer.from("\ufeff<a/>", "utf16le").subarray(0, 9)],
  ] as const)("text that is not what it says: %s", ([, bytes]) => {
    for (const step of [Number.MAX_SAFE_INTEGER, 1]) expect(ours(new Uint8Array(bytes), step)).toBe("malformed-text");
  });
});

const PIECES = [
  "<a>",
  "</a>",
  "<b r='1'>",
  "</b>",
  "<c/>",
  "x",
  " ",
  "&amp;",
  "&#65;",
  "<!-- c -->",
  "<![CDATA[d]]>",
  "<?p i?>",
  "]]>",
  "&",
  "<",
  ">",
  "'",
  "=",
  "é",
  "\r\n",
  "--",
];

describe("any sequence of pieces", () => {
  test("is taken or refused as another parser does, in pieces of any size", () => {
    fc.assert(
      fc.property(fc.array(fc.constantFrom(...PIECES), { maxLength: 12 }), fc.integer({ min: 1, max: 9 }), (pieces, step) => {
        const xml = `<a>${pieces.join("")}</a>`;
        const [expected, whole, stepped] = [theirs(xml), ours(xml), ours(xml, step)];
        expect(stepped).toEqual(whole);
        if (expected === "wrong") expect(whole).toBe("malformed-xml");
        else expect(whole).toEqual(expected);
      }),
      { numRuns: 20_000 },
    );
  });

  test("long texts pass through chunks unchanged", () => {
    fc.assert(
      fc.property(fc.string({ unit: "grapheme", maxLength: 40 }), fc.integer({ min: 20_000, max: 70_000 }), (piece, step) => {
        const text = piece
          .replaceAll(/[\u0000-\u001f<\ufffe\uffff]|[\ud800-\udfff]/g, "é")
          .replaceAll("&", "&amp;")
          .replaceAll(">", "&gt;");
        const long = `${text}]x&amp;`.repeat(4_000);
        const plain = long.replaceAll("&gt;", ">").replaceAll("&amp;", "&");
        expect(ours(`<a>${long}</a>`, step)).toEqual([
          ["open", "a", {}],
          ["text", plain],
          ["close", "a"],
        ]);
      }),
      { numRuns: 20 },
    );
  });
});
