import type { EntryRow, Finding } from "../model.ts";

export interface Registered {
  readonly orders: ReadonlySet<string>;
  readonly coils: ReadonlySet<string>;
  readonly heats: ReadonlySet<string>;
  readonly instruments: ReadonlySet<string>;
}

export const NOTHING_REGISTERED: Registered = { orders: new Set(), coils: new Set(), heats: new Set(), instruments: new Set() };

/** Letters and digits that look alike in the usual typefaces, Greek and Cyrillic capitals included. */
const LOOK_ALIKE: Readonly<Record<string, string>> = {
  o: "0",
  q: "0",
  i: "1",
  l: "1",
  "|": "1",
  z: "2",
  s: "5",
  b: "8",
  а: "a",
  в: "8",
  е: "e",
  к: "k",
  м: "m",
  н: "h",
  о: "0",
  р: "p",
  с: "c",
  т: "t",
  у: "y",
  х: "x",
  α: "a",
  β: "8",
  ο: "0",
  ρ: "p",
  ν: "v",
};

/** What two identifiers share when they resemble each other: case, look-alikes and inner blanks do not count. */
const skeleton = (text: string): string =>
  [
    ...text
      .normalize("NFKC")
      .toLowerCase()
      .replaceAll(/[\s\u00a0_-]+/g, ""),
  ]
    .map((c) => LOOK_ALIKE[c] ?? c)
    .join("");

const KINDS: readonly { readonly field: string; readonly register: keyof Registered; readonly definedOn: EntryRow["sheet"] }[] = [
  { field: "order", register: "orders", definedOn: "orders" },
  { field: "coil", register: "coils", definedOn: "coils" },
  { field: "heat", register: "heats", definedOn: "heats" },
  { field: "instrument", register: "instruments", definedOn: "instruments" },
];

/**
 * An identifier that is not registered but resembles one that is: error at its cell. Two registered ones that resemble each other: one
 * warning. What the workbook itself registers counts as registered for its own test rows.
 */
export function nearMatches(
  registers: readonly EntryRow[],
  tests: readonly EntryRow[],
  registered: Registered,
  findings: Finding[],
): ReadonlyMap<EntryRow, string> {
  const doubtful = new Map<EntryRow, string>();
  for (const { field, register, definedOn } of KINDS) {
    const own = new Set(registers.filter((row) => row.sheet === definedOn).map((row) => row.fields[field]?.text ?? ""));
    const known = new Map<string, string>();
    for (const name of [...registered[register], ...own]) {
      const bones = skeleton(name);
      const other = known.get(bones);
      if (other !== undefined && other !== name && registered[register].has(other) && registered[register].has(name))
        warnOfTwins(registers, tests, field, name, other, findings);
      if (other === undefined || registered[register].has(name)) known.set(bones, name);
    }
    for (const row of [...registers, ...tests]) {
      const value = row.fields[field];
      if (value === undefined || registered[register].has(value.text)) continue;
      const like = known.get(skeleton(value.text));
      if (like === undefined || like === value.text) continue;
      findings.push({
        code: "near-match",
        severity: "error",
        sheet: row.sheetName,
        cell: value.cell,
        actual: value.raw,
        expected: like,
        text: `${value.text} is not known, but resembles ${like}; which is meant?`,
      });
      doubtful.set(row, value.cell);
    }
  }
  return doubtful;
}

function warnOfTwins(
  registers: readonly EntryRow[],
  tests: readonly EntryRow[],
  field: string,
  name: string,
  other: string,
  findings: Finding[],
): void {
  const used = [...registers, ...tests]
    .map((row) => ({ row, value: row.fields[field] }))
    .find(({ value }) => value?.text === name || value?.text === other);
  if (used?.value === undefined) return;
  findings.push({
    code: "near-match",
    severity: "warning",
    sheet: used.row.sheetName,
    cell: used.value.cell,
    actual: used.value.raw,
    text: `${name} and ${other} are both registered and resemble each other.`,
  });
}
