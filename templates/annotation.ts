/** What is written beside each row of a returned workbook, and its sheet of findings. Pure. */
import type {
  CoilVerdict,
  Entry,
  EntryRow,
  Finding,
  Judgement,
  RequirementVerdict,
  Result,
  UnfilledRow,
  UnreadRow,
} from "../core/model.ts";
import type { Annotation, Mark, MarkStyle, SheetMarks } from "../core/workbook/index.ts";
import { limitText, resultText } from "./phrases.ts";
import { nextSentence, propertyWord, type Say } from "./wording.ts";

interface Line {
  readonly verdict: Mark;
  readonly why: string;
  readonly next: string;
}

const SHEET_PROPERTIES: Readonly<Record<string, readonly string[]>> = {
  diameter: ["diameter", "out-of-round"],
  tensile: ["tensile-strength", "proof-strength", "breaking-force", "elongation", "reduction-of-area"],
  torsion: ["torsion", "fracture-appearance"],
  wrap: ["wrap", "adherence"],
  coiling: ["coiling"],
  "reverse-bend": ["reverse-bend"],
  "coating-mass": ["coating-mass"],
};

/** @param entry what the workbook said; the marks go beside its own rows, wherever the ledger first read them */
export function toAnnotation(entry: Entry, judgement: Judgement, findings: readonly Finding[], say: Say): Annotation {
  const coils = new Map(judgement.orders.flatMap((order) => order.coils.map((coil) => [coil.coil, coil] as const)));
  const lines = new Map<string, Map<number, Line>>();
  const put = (sheet: string, row: number, line: Line): void => {
    const rows = lines.get(sheet) ?? new Map<number, Line>();
    rows.set(row, line);
    lines.set(sheet, rows);
  };
  // One row may hold several tests where the laboratory's own sheet is read by a map.
  const add = (sheet: string, row: number, line: Line): void => {
    const before = lines.get(sheet)?.get(row);
    put(sheet, row, before === undefined ? line : joined(before, line));
  };
  for (const row of entry.tests) add(row.sheetName, row.row, testLine(row, coils.get(row.fields["coil"]?.text ?? ""), say));
  for (const row of entry.unfilled) add(row.sheetName, row.row, unfilledLine(row, coils.get(row.coil ?? ""), say));
  for (const row of entry.unread) if (row.row > 0) add(row.sheetName, row.row, unreadLine(row, findings, say));
  for (const finding of findings) {
    const row = Number(/\d+$/.exec(finding.cell)?.[0]);
    const before = lines.get(finding.sheet)?.get(row);
    // An error the judgement found (a contradiction, a doubled reading) makes the row unread as well.
    if (
      finding.severity === "error" &&
      before !== undefined &&
      before.verdict.style !== "error" &&
      entry.tests.some((t) => t.sheetName === finding.sheet && t.row === row)
    )
      put(finding.sheet, row, { verdict: { text: `! ${say("row.unread")}`, style: "error" }, why: finding.text, next: "" });
  }
  return {
    sheets: [...new Map(entry.sheets.map((sheet) => [sheet.sheetName, sheet])).values()].map((sheet): SheetMarks => {
      const rows = lines.get(sheet.sheetName) ?? new Map<number, Line>();
      const column = (field: "verdict" | "why" | "next", width: number): SheetMarks["columns"][number] => ({
        header: say(`column.${field}`),
        ...(sheet.columns[field] === undefined ? {} : { column: sheet.columns[field] }),
        width,
        cells: new Map(
          [...rows].map(([row, line]) => [row, field === "verdict" ? line.verdict : { text: line[field], style: "plain" as const }]),
        ),
      });
      return { name: sheet.sheetName, headerRow: sheet.headerRow, columns: [column("verdict", 22), column("why", 90), column("next", 70)] };
    }),
    findings: findingsSheet(findings, say),
  };
}

function testLine(row: EntryRow, coil: CoilVerdict | undefined, say: Say): Line {
  const properties =
    row.sheet === "other"
      ? [row.fields["property"]?.text ?? "", `other:${row.fields["property"]?.text ?? ""}`]
      : (SHEET_PROPERTIES[row.sheet] ?? []);
  const [piece, position] = [row.fields["testPiece"]?.text, row.fields["position"]?.text];
  const found = (coil?.requirements ?? [])
    .filter((requirement) => properties.includes(requirement.property))
    .flatMap((requirement) =>
      requirement.results.filter((r) => r.testPiece === piece && r.position === position).map((result) => ({ requirement, result })),
    );
  if (found.length === 0) return { verdict: { text: say("row.not-asked"), style: "plain" }, why: say("why.not-asked"), next: "" };
  const verdict = found
    .map(({ result }) => rowVerdict(result, say))
    .sort((a, b) => SEVERITY.indexOf(a.style) - SEVERITY.indexOf(b.style))[0] as Mark;
  const why = found
    .map(
      ({ requirement, result }) =>
        `${found.length > 1 ? `${propertyWord(say, requirement.property)}: ` : ""}${whyOf(requirement, result, say)}`,
    )
    .join("; ");
  const next = [...new Set(found.flatMap(({ requirement }) => requirement.next.map((step) => nextSentence(say, step))))].join(" ");
  return { verdict, why, next };
}

/** The worse verdict, and what both say. */
function joined(one: Line, other: Line): Line {
  const [worse] = [one, other].sort((a, b) => SEVERITY.indexOf(a.verdict.style) - SEVERITY.indexOf(b.verdict.style)) as [Line, Line];
  const both = (a: string, b: string, mark: string): string => (a === b || b === "" ? a : a === "" ? b : `${a}${mark}${b}`);
  return { verdict: worse.verdict, why: both(one.why, other.why, "; "), next: both(one.next, other.next, " ") };
}

const SEVERITY: readonly MarkStyle[] = ["error", "does-not-conform", "open", "void", "conforms", "plain", "header"];

function rowVerdict(result: Result, say: Say): Mark {
  if (result.role === "check") return { text: say("row.check"), style: "plain" };
  if (!result.counts) return { text: `– ${say("row.void")}`, style: "void" };
  switch (result.outcome) {
    case "conforms":
      return { text: `■ ${say("verdict.conforms")}`, style: "conforms" };
    case "does-not-conform":
      return { text: `✕ ${say("verdict.does-not-conform")}`, style: "does-not-conform" };
    default:
      return { text: `□ ${say("verdict.undecided")}`, style: "open" };
  }
}

function whyOf({ requirement }: RequirementVerdict, result: Result, say: Say): string {
  if (result.role === "check") return say("why.check");
  const limit = limitText(say, requirement);
  const said =
    typeof result.value === "number"
      ? say("why.compared", { value: resultText(say, result, "value"), compared: resultText(say, result, "compared"), limit })
      : say("why.word", { value: resultText(say, result, "value"), limit });
  if (!result.counts) return `${said}; ${say("why.void", { reason: say(`void.${result.voidReason}`) })}`;
  const more = [
    ...(result.outcome === "conforms" || result.reason === undefined ? [] : [say(`reason.${result.reason}`)]),
    ...(result.deviation?.split(" ").map((code) => say(`deviation.${code}`)) ?? []),
  ];
  return [said, ...more].join("; ");
}

function unfilledLine(row: UnfilledRow, coil: CoilVerdict | undefined, say: Say): Line {
  const properties = SHEET_PROPERTIES[row.sheet] ?? [];
  const steps = (coil?.requirements ?? [])
    .filter((requirement) => properties.includes(requirement.property))
    .flatMap((requirement) => requirement.next);
  return {
    verdict: { text: `□ ${say("row.unfilled")}`, style: "plain" },
    why: say("why.unfilled"),
    next: [...new Set(steps.map((step) => nextSentence(say, step)))].join(" "),
  };
}

function unreadLine(row: UnreadRow, findings: readonly Finding[], say: Say): Line {
  const own = findings.filter((f) => f.severity === "error" && f.sheet === row.sheetName && row.cells.includes(f.cell));
  return {
    verdict: { text: `! ${say("row.unread")}`, style: "error" },
    why: own.length > 0 ? own.map((f) => f.text).join(" ") : say("why.unread", { cells: row.cells.join(", ") }),
    next: "",
  };
}

function findingsSheet(findings: readonly Finding[], say: Say): Annotation["findings"] {
  const header = ["severity", "place", "cell", "text", "actual", "expected", "code"].map((column) => say(`findings.${column}`));
  const sorted = [...findings].sort((a, b) => (a.severity === b.severity ? 0 : a.severity === "error" ? -1 : 1));
  const rows = sorted.map((f) => [say(`findings.${f.severity}`), f.sheet, f.cell, f.text, f.actual ?? "", f.expected ?? "", f.code]);
  return {
    name: say("findings.sheet"),
    rows: [header, ...(rows.length > 0 ? rows : [["", "", "", say("findings.none"), "", "", ""]])],
    widths: [10, 16, 8, 80, 24, 32, 24],
  };
}
