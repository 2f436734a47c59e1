import type { FieldValue, Finding } from "../model.ts";
import { blame } from "./doubles.ts";
import type { ReadRow } from "./rows.ts";

export interface Registered {
  readonly orders: ReadonlySet<string>;
  readonly coils: ReadonlySet<string>;
  readonly heats: ReadonlySet<string>;
  readonly instruments: ReadonlySet<string>;
}

export const NOTHING_REGISTERED: Registered = { orders: new Set(), coils: new Set(), heats: new Set(), instruments: new Set() };

/** What looks alike in the usual typefaces, Greek and Cyrillic included; capitals where their small letters look otherwise. */
const LOOK_ALIKE: Readonly<Record<string, string>> = {
  ...{ o: "0", q: "0", i: "1", l: "1", "|": "1", z: "2", s: "5", b: "8" },
  ...{ "\u2010": "-", "\u2011": "-", "\u2012": "-", "\u2013": "-", "\u2014": "-", "\u2212": "-" },
  ...{ а: "a", е: "e", і: "1", ј: "j", о: "0", р: "p", с: "c", ѕ: "5", у: "y", х: "x" },
  ...{ А: "a", В: "8", Е: "e", І: "1", Ј: "j", К: "k", М: "m", Н: "h", О: "0", Р: "p", С: "c", Ѕ: "5", Т: "t", У: "y", Х: "x" },
  ...{ α: "a", ι: "1", κ: "k", ν: "v", ο: "0", ρ: "p", χ: "x" },
  ...{ Α: "a", Β: "8", Ε: "e", Ζ: "2", Η: "h", Ι: "1", Κ: "k", Μ: "m", Ν: "n", Ο: "0", Ρ: "p", Τ: "t", Υ: "y", Χ: "x" },
};

/** What two identifiers share when they resemble each other: case, look-alikes and inner blanks do not count; `-` and `_` do. */
function skeleton(text: string): string {
  let bones = "";
  for (const c of text.normalize("NFKC").replaceAll(/\s+/g, "")) {
    const small = c.toLowerCase();
    bones += LOOK_ALIKE[c] ?? LOOK_ALIKE[small] ?? small;
  }
  return bones;
}

interface Kind {
  readonly register: keyof Registered;
  readonly definedOn: string;
  /** The columns that name one, the defining one first. */
  readonly fields: readonly string[];
}

const KINDS: readonly Kind[] = [
  { register: "orders", definedOn: "orders", fields: ["order"] },
  { register: "coils", definedOn: "coils", fields: ["coil", "motherCoil"] },
  { register: "heats", definedOn: "heats", fields: ["heat"] },
  { register: "instruments", definedOn: "instruments", fields: ["instrument", "diameterInstrument"] },
];

/**
 * An identifier that is not registered but resembles one that is: error at its cell. Two registered ones that resemble each other: one
 * warning. What the workbook itself registers counts as registered for its own rows. Code: near-match.
 */
export function findNearMatches(
  registers: readonly ReadRow[],
  tests: readonly ReadRow[],
  registered: Registered,
  findings: Finding[],
): void {
  const rows = [...registers, ...tests];
  for (const kind of KINDS) {
    const [defining = ""] = kind.fields;
    const held = registered[kind.register];
    const own = registers.flatMap(({ row }) => (row.sheet === kind.definedOn ? (row.fields[defining]?.text ?? []) : []));
    const twins: (readonly [string, string])[] = [];
    const known = new Map<string, string>();
    for (const name of held) {
      const bones = skeleton(name);
      const other = known.get(bones);
      if (other === undefined) known.set(bones, name);
      else twins.push([other, name]);
    }
    for (const name of own) {
      const bones = skeleton(name);
      if (!known.has(bones)) known.set(bones, name);
    }
    const like = new Map<string, string | undefined>();
    const used = new Map<string, { readonly read: ReadRow; readonly value: FieldValue }>();
    for (const read of rows)
      for (const field of kind.fields) {
        const value = read.row.fields[field];
        if (value === undefined) continue;
        if (!used.has(value.text)) {
          used.set(value.text, { read, value });
          const other = held.has(value.text) ? undefined : known.get(skeleton(value.text));
          like.set(value.text, other === value.text ? undefined : other);
        }
        const other = like.get(value.text);
        if (other === undefined) continue;
        blame(read, value, "near-match", other, `${value.text} is not known, but resembles ${other}; which is meant?`, findings);
        if (field === "coil") read.doubtfulCoil = true;
      }
    for (const [one, other] of twins) {
      const place = used.get(other) ?? used.get(one);
      if (place === undefined) continue;
      findings.push({
        code: "near-match",
        severity: "warning",
        sheet: place.read.row.sheetName,
        cell: place.value.cell,
        actual: place.value.raw,
        text: `${one} and ${other} are both registered and resemble each other.`,
      });
    }
  }
}
