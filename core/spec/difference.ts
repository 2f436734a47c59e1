/** What differs between two specifications, row by row. */
import { exact, toDecimalText } from "../decimal.ts";
import { specificationOfGrade } from "./grade.ts";
import { canonicalContent } from "./parse.ts";
import { aboutText, EDGES, limitsText, rulesText, sizeText, wordsOf } from "./row-text.ts";
import type { SpecificationData, Table, TableRow } from "./schema.ts";

/** One thing that stands in one specification and not, or otherwise, in the other. */
export interface SpecificationDifference {
  readonly part: "head" | "row" | "table" | "chemistry" | "required" | "sampling" | "retest" | "conduct" | "order-of-rows";
  readonly property?: string;
  /** The grades concerned; empty where there is one only. */
  readonly grades: readonly string[];
  /** For people: "over 2.00 up to 2.10 mm"; of conduct the name of the rule. */
  readonly row?: string;
  /** What the first holds; absent where it holds nothing. */
  readonly a?: string;
  readonly b?: string;
  /** False where only the words about it differ (provenance, source, note, clause): no verdict can turn. */
  readonly judged: boolean;
}

interface Line {
  readonly part: SpecificationDifference["part"];
  readonly property?: string;
  readonly grade: string;
  readonly row?: string;
  /** What verdicts depend on, as text for people. */
  readonly judged: string;
  /** What is said about it. */
  readonly about: string;
}
type Lines = Map<string, Line>;

/**
 * Everything that differs, in the order of `a` and then of what only `b` holds. Two specifications without a difference have the
 * same verdicts. Where one extends a single grade of the other, it is compared with that grade.
 */
export function specificationDifferences(a: SpecificationData, b: SpecificationData): readonly SpecificationDifference[] {
  const [first, second] = [comparable(a, b), comparable(b, a)];
  const [linesA, linesB] = [linesOf(first), linesOf(second)];
  const found: SpecificationDifference[] = [];
  for (const key of new Set([...linesA.keys(), ...linesB.keys()])) {
    const difference = differenceOf(linesA.get(key), linesB.get(key));
    if (difference !== undefined) found.push(difference);
  }
  const same = a.id === b.id && a.edition === b.edition;
  if (same) for (const key of ["title", "note"] as const) if (a[key] !== b[key]) found.push(headDifference(key, a[key], b[key]));
  if (found.length === 0 && canonicalContent(content(first)) !== canonicalContent(content(second)))
    found.push({ part: "order-of-rows", grades: [], judged: false, a: "the same rows", b: "in another order or writing" });
  return together(found);
}

const headDifference = (row: string, a: string | undefined, b: string | undefined): SpecificationDifference => ({
  part: "head",
  grades: [],
  row,
  ...(a === undefined ? {} : { a }),
  ...(b === undefined ? {} : { b }),
  judged: false,
});

const content = ({ id: _id, edition: _edition, title: _title, note: _note, extends: _extends, ...rest }: SpecificationData): object => rest;

/** The part of a specification that the other one stands on. */
function comparable(data: SpecificationData, other: SpecificationData): SpecificationData {
  const grade = other.extends?.specification === data.id && other.grades.length === 0 ? other.extends.grade : undefined;
  return grade === undefined ? data : specificationOfGrade(data, grade);
}

function differenceOf(a: Line | undefined, b: Line | undefined): SpecificationDifference | undefined {
  const line = a ?? b;
  if (line === undefined || (a !== undefined && b !== undefined && a.judged === b.judged && a.about === b.about)) return undefined;
  const judged = a?.judged !== b?.judged;
  const text = (side: Line | undefined): string | undefined => (side === undefined ? undefined : judged ? side.judged : side.about);
  const [textA, textB] = [text(a), text(b)];
  return {
    part: line.part,
    ...(line.property === undefined ? {} : { property: line.property }),
    grades: line.grade === "" ? [] : [line.grade],
    ...(line.row === undefined ? {} : { row: line.row }),
    ...(textA === undefined ? {} : { a: textA }),
    ...(textB === undefined ? {} : { b: textB }),
    judged,
  };
}

/** Differences that are alike for several grades are one. */
function together(found: readonly SpecificationDifference[]): readonly SpecificationDifference[] {
  const groups = new Map<string, SpecificationDifference>();
  for (const difference of found) {
    const key = canonicalContent({ ...difference, grades: [] });
    const earlier = groups.get(key);
    groups.set(key, earlier === undefined ? difference : { ...earlier, grades: [...earlier.grades, ...difference.grades] });
  }
  return [...groups.values()];
}

function linesOf(data: SpecificationData): Lines {
  const lines: Lines = new Map();
  const add = (key: string, line: Line): void => {
    // A key that stands twice keeps both, in the order of the file.
    let unique = key;
    for (let turn = 2; lines.has(unique); turn += 1) unique = `${key}#${turn}`;
    lines.set(unique, line);
  };
  const all = data.grades.length === 0 ? [""] : data.grades;
  const of = (...limits: (readonly string[] | undefined)[]): readonly string[] => limits.find((grades) => grades !== undefined) ?? all;
  for (const table of data.tables) {
    const { property } = table;
    for (const grade of of(table.grades))
      add(`table|${property}|${table.diameterUnit}|${grade}`, {
        part: "table",
        property,
        grade,
        ...tableTexts(table),
        row: table.diameterUnit,
      });
    for (const row of table.rows)
      for (const grade of of(row.grades, table.grades))
        add(`row|${property}|${table.diameterUnit}|${grade}|${edgesKey(row)}`, {
          part: "row",
          property,
          grade,
          row: sizeText(row, table.diameterUnit),
          judged: limitsText(row, table.unit),
          about: aboutText(row),
        });
  }
  for (const row of data.chemistry)
    for (const grade of of(row.grades))
      add(`chemistry|${row.element}|${grade}`, {
        part: "chemistry",
        property: `chemistry:${row.element}`,
        grade,
        judged: limitsText(row, "%"),
        about: aboutText(row),
      });
  for (const { property, grades, ...rest } of data.required)
    for (const grade of of(grades))
      add(`required|${property}|${rest.diameterUnit ?? ""}|${grade}`, {
        part: "required",
        property,
        grade,
        judged: `required${wordsOf(rest)}`,
        about: "",
      });
  if (data.sampling !== undefined) {
    const { clause, provenance, ...rule } = data.sampling;
    add("sampling", { part: "sampling", grade: "", judged: wordsOf(rule).trim(), about: `${clause}, ${provenance}` });
  }
  for (const { properties, pieces, mustConform, clause, provenance } of data.retest)
    for (const property of properties)
      add(`retest|${property}`, {
        part: "retest",
        property,
        grade: "",
        judged: `${pieces} pieces, ${mustConform} must conform`,
        about: `${clause}, ${provenance}`,
      });
  for (const [rule, value] of Object.entries(data.conduct))
    if (value !== undefined)
      add(`conduct|${rule}`, {
        part: "conduct",
        grade: "",
        row: rule,
        judged: typeof value === "object" ? wordsOf(value).trim() : String(value),
        about: "",
      });
  return lines;
}

const tableTexts = (table: Table): { judged: string; about: string } => ({
  judged: rulesText(table),
  about: [table.clause, table.betweenProvenance].filter((text) => text !== undefined).join(", "),
});

/** 2.0 and 2.00 are one edge. */
const edgesKey = (row: TableRow): string => EDGES.map((edge) => (row[edge] === undefined ? "" : toDecimalText(exact(row[edge])))).join("|");
