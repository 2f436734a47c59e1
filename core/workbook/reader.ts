import type { CellRecord, Finding, Refusal, SheetRecord, WorkbookRecord } from "../model.ts";
import { decodeXml, inflateEntry, LIMITS, type PackageEntry, RefusedWorkbook, readDirectory } from "./package.ts";
import { attribute, columnLetters, columnNumber, decodeEscapes, isTrue, parseXml } from "./xml.ts";

export type ReadWorkbook = { readonly ok: true; readonly workbook: WorkbookRecord } | { readonly ok: false; readonly refusal: Refusal };

const MAX_ROW = 1_048_576;
const MAX_COLUMN = 16_384;
const MAX_FILLED_ROWS = 200_000;
const MAX_FILLED_CELLS = 2_000_000;

/** Every filled cell of every sheet, or why the file is refused. Never throws for what is in the file. */
export function readWorkbook(bytes: Uint8Array): ReadWorkbook {
  try {
    return { ok: true, workbook: readPackage(bytes) };
  } catch (error) {
    if (error instanceof RefusedWorkbook) return { ok: false, refusal: error.refusal };
    throw error;
  }
}

/** Parts by name, each inflated once and counted against the limit for all of them. */
export class PackageParts {
  readonly entries: readonly PackageEntry[];
  readonly bytes: Uint8Array;
  readonly #byName: ReadonlyMap<string, PackageEntry>;
  #total = 0;
  constructor(bytes: Uint8Array) {
    this.bytes = bytes;
    this.entries = readDirectory(bytes);
    this.#byName = new Map(this.entries.map((entry) => [entry.name.toLowerCase(), entry]));
  }
  has(name: string): boolean {
    return this.#byName.has(name.toLowerCase());
  }
  content(name: string): Uint8Array {
    const entry = this.#byName.get(name.toLowerCase());
    if (entry === undefined) throw new RefusedWorkbook("missing-part", `The workbook lacks its part ${name}. Save it again.`);
    const content = inflateEntry(this.bytes, entry);
    this.#total += content.length;
    if (this.#total > LIMITS.allBytes) throw new RefusedWorkbook("too-large", "The workbook unpacks to more than 512 MiB.");
    return content;
  }
  text(name: string): string {
    return decodeXml(this.content(name), name);
  }
}

export interface SheetReference {
  readonly name: string;
  readonly part: string;
  readonly hidden: boolean;
}

export interface WorkbookParts {
  readonly workbookPart: string;
  readonly sheets: readonly SheetReference[];
  readonly date1904: boolean;
  readonly sharedStrings?: string;
  readonly styles?: string;
  readonly externalLinks: boolean;
}

interface Relationship {
  readonly id: string;
  readonly type: string;
  readonly target: string;
}

/** Follows the relationships: sheets are found by them, never by the names of their parts. */
export function locateParts(parts: PackageParts): WorkbookParts {
  refuseMacroTypes(parts);
  const root = relationships(parts, "_rels/.rels", "");
  const workbookPart = root.find((r) => r.type.endsWith("/officeDocument"))?.target;
  if (workbookPart === undefined)
    throw new RefusedWorkbook("not-a-workbook", "The package names no workbook. Save it as Excel workbook (.xlsx).");
  const slash = workbookPart.lastIndexOf("/");
  const folder = workbookPart.slice(0, slash + 1);
  const related = relationships(parts, `${folder}_rels/${workbookPart.slice(slash + 1)}.rels`, folder);
  const sheets: SheetReference[] = [];
  let date1904 = false;
  const used = new Set<string>();
  parseXml(parts.text(workbookPart), workbookPart, {
    open(name, attributes) {
      if (name === "workbookPr") date1904 = isTrue(attribute(attributes, "date1904"));
      if (name !== "sheet") return;
      const id = Object.entries(attributes).find(([key]) => key.endsWith(":id"))?.[1];
      const relation = related.find((r) => r.id === id);
      const label = attributes["name"] ?? "";
      if (relation === undefined || !parts.has(relation.target))
        throw new RefusedWorkbook("missing-part", `The sheet ${label} has no content. Save the workbook again.`);
      if (!relation.type.endsWith("/worksheet")) return;
      if (used.has(relation.target)) throw new RefusedWorkbook("doubled-sheet", `Two sheets share the content ${relation.target}.`);
      used.add(relation.target);
      sheets.push({ name: decodeEscapes(label), part: relation.target, hidden: (attributes["state"] ?? "visible") !== "visible" });
    },
  });
  const folded = sheets.map((sheet) => sheet.name.trim().toLowerCase());
  const twice = folded.findIndex((name, index) => folded.indexOf(name) !== index);
  if (twice >= 0)
    throw new RefusedWorkbook(
      "doubled-sheet",
      `There are two sheets named ${sheets[twice]?.name}; the names differ only by case or blanks. Rename or delete one.`,
    );
  if (sheets.length === 0) throw new RefusedWorkbook("no-sheets", "The workbook holds no sheet with cells.");
  const target = (kind: string): string | undefined => related.find((r) => r.type.endsWith(kind))?.target;
  const [sharedStrings, styles] = [target("/sharedStrings"), target("/styles")];
  return {
    workbookPart,
    sheets,
    date1904,
    ...(sharedStrings === undefined ? {} : { sharedStrings }),
    ...(styles === undefined ? {} : { styles }),
    externalLinks: related.some((r) => r.type.endsWith("/externalLink")),
  };
}

function refuseMacroTypes(parts: PackageParts): void {
  parseXml(parts.text("[Content_Types].xml"), "[Content_Types].xml", {
    open(_, attributes) {
      if (/macroEnabled|vbaProject/i.test(attributes["ContentType"] ?? ""))
        throw new RefusedWorkbook("macro-carrying", "The workbook carries macros. Save it as Excel workbook (.xlsx) without macros.");
    },
  });
}

function relationships(parts: PackageParts, name: string, folder: string): readonly Relationship[] {
  const found: Relationship[] = [];
  if (!parts.has(name)) throw new RefusedWorkbook("missing-part", `The package lacks ${name}. Save the workbook again.`);
  parseXml(parts.text(name), name, {
    open(element, attributes) {
      if (element !== "Relationship") return;
      const target = attributes["Target"] ?? "";
      const external = attributes["TargetMode"] === "External";
      found.push({ id: attributes["Id"] ?? "", type: attributes["Type"] ?? "", target: external ? target : resolve(folder, target) });
    },
  });
  return found;
}

function resolve(folder: string, target: string): string {
  if (target.startsWith("/")) return target.slice(1);
  const path = folder.split("/").filter((part) => part !== "");
  for (const part of target.split("/")) {
    if (part === "..") path.pop();
    else if (part !== "." && part !== "") path.push(part);
  }
  return path.join("/");
}

function readPackage(bytes: Uint8Array): WorkbookRecord {
  const parts = new PackageParts(bytes);
  const located = locateParts(parts);
  const strings = located.sharedStrings === undefined ? [] : readSharedStrings(parts, located.sharedStrings);
  const formats = located.styles === undefined ? [] : readFormats(parts, located.styles);
  const findings: Finding[] = [];
  const sheets = located.sheets.map((sheet) => readSheet(parts, sheet, strings, formats, findings));
  if (parts.entries.some((entry) => entry.name.startsWith("_xmlsignatures/")))
    findings.push(packageWarning("signature-dropped", "The workbook carries a digital signature; the returned copy cannot keep it."));
  if (located.externalLinks && !findings.some((f) => f.code === "external-link"))
    findings.push(packageWarning("external-link", "The workbook links to another workbook; the link is never followed."));
  return { sheets, date1904: located.date1904, findings };
}

const packageWarning = (code: string, text: string): Finding => ({ code, severity: "warning", sheet: "", cell: "", text });

function readSharedStrings(parts: PackageParts, part: string): readonly string[] {
  const strings: string[] = [];
  let current: string | undefined;
  let inText = false;
  let phonetic = 0;
  parseXml(parts.text(part), part, {
    open(name) {
      if (name === "si") current = "";
      else if (name === "rPh") phonetic += 1;
      else if (name === "t") inText = phonetic === 0;
    },
    close(name) {
      if (name === "si" && current !== undefined) {
        strings.push(decodeEscapes(current));
        current = undefined;
      } else if (name === "rPh") phonetic -= 1;
      else if (name === "t") inText = false;
    },
    text(text) {
      if (inText && current !== undefined) current += text;
    },
  });
  return strings;
}

/** The built-in number formats that matter for dates and percentages. @source ECMA-376 part 1, 18.8.30 */
const BUILT_IN_FORMATS: Readonly<Record<number, string>> = {
  1: "0",
  2: "0.00",
  3: "#,##0",
  4: "#,##0.00",
  9: "0%",
  10: "0.00%",
  11: "0.00E+00",
  14: "mm-dd-yy",
  15: "d-mmm-yy",
  16: "d-mmm",
  17: "mmm-yy",
  18: "h:mm AM/PM",
  19: "h:mm:ss AM/PM",
  20: "h:mm",
  21: "h:mm:ss",
  22: "m/d/yy h:mm",
  45: "mm:ss",
  46: "[h]:mm:ss",
  47: "mmss.0",
  48: "##0.0E+0",
  49: "@",
};

/** Number format code by style index; undefined is General. */
function readFormats(parts: PackageParts, part: string): readonly (string | undefined)[] {
  const codes = new Map<number, string>();
  const formats: (string | undefined)[] = [];
  let inCellFormats = false;
  parseXml(parts.text(part), part, {
    open(name, attributes) {
      if (name === "numFmt") codes.set(Number(attributes["numFmtId"]), attributes["formatCode"] ?? "");
      else if (name === "cellXfs") inCellFormats = true;
      else if (name === "xf" && inCellFormats) {
        const id = Number(attributes["numFmtId"] ?? 0);
        formats.push(
          codes.get(id) ??
            BUILT_IN_FORMATS[id] ??
            (id >= 27 && id <= 58 && id !== 37 && id !== 38 && id !== 39 && id !== 40 ? "yyyy-mm-dd" : undefined),
        );
      }
    },
    close(name) {
      if (name === "cellXfs") inCellFormats = false;
    },
  });
  return formats;
}

interface OpenCell {
  row: number;
  column: number;
  type: string;
  style: number;
  value?: string;
  inline?: string;
  formula?: string;
  hasFormula: boolean;
}

function readSheet(
  parts: PackageParts,
  sheet: SheetReference,
  strings: readonly string[],
  formats: readonly (string | undefined)[],
  findings: Finding[],
): SheetRecord {
  const rows = new Map<number, CellRecord[]>();
  const seenRows = new Set<number>();
  const hiddenRows = new Set<number>();
  const hiddenColumns = new Set<number>();
  const merged: string[] = [];
  const sharedFormulas = new Map<string, string>();
  let filtered = false;
  let row = 0;
  let lastColumn = 0;
  let columns = new Set<number>();
  let cell: OpenCell | undefined;
  let reading: "v" | "f" | "t" | undefined;
  let phonetic = 0;
  let inData = false;
  let filled = 0;
  let sharedIndex: string | undefined;
  const damaged = (text: string): never => {
    throw new RefusedWorkbook("malformed-sheet", `Sheet ${sheet.name}: ${text}. Save the workbook again.`);
  };
  const openRow = (attributes: Readonly<Record<string, string>>): void => {
    row =
      attributes["r"] === undefined
        ? row + 1
        : wholeNumber(attributes["r"], MAX_ROW, () => damaged(`a row is numbered "${attributes["r"]}"`));
    if (row > MAX_ROW) damaged(`there are more than ${MAX_ROW} rows`);
    if (seenRows.has(row)) throw new RefusedWorkbook("doubled-row", `Sheet ${sheet.name} holds row ${row} twice.`);
    seenRows.add(row);
    if (isTrue(attributes["hidden"])) hiddenRows.add(row);
    lastColumn = 0;
    columns = new Set();
  };
  const openCell = (attributes: Readonly<Record<string, string>>): void => {
    const reference = attributes["r"];
    let column = lastColumn + 1;
    if (reference !== undefined) {
      const found = /^([A-Za-z]{1,3})(\d{1,7})$/.exec(reference) ?? damaged(`a cell is named "${reference}"`);
      column = columnNumber(found[1] ?? "");
      if (Number(found[2]) !== row) damaged(`the cell ${reference} stands in row ${row}`);
    }
    if (column > MAX_COLUMN) damaged(`there are more than ${MAX_COLUMN} columns`);
    if (columns.has(column))
      throw new RefusedWorkbook("doubled-cell", `Sheet ${sheet.name} holds the cell ${columnLetters(column)}${row} twice.`);
    columns.add(column);
    lastColumn = column;
    cell = { row, column, type: attributes["t"] ?? "n", style: Number(attributes["s"] ?? 0), hasFormula: false };
  };
  const closeCell = (open: OpenCell): void => {
    const record = toRecord(open, sheet, strings, formats, findings);
    if (record === undefined) return;
    filled += 1;
    if (filled > MAX_FILLED_CELLS)
      throw new RefusedWorkbook("too-many-cells", `Sheet ${sheet.name} holds more than ${MAX_FILLED_CELLS} filled cells.`);
    const list = rows.get(open.row);
    if (list) list.push(record);
    else {
      rows.set(open.row, [record]);
      if (rows.size > MAX_FILLED_ROWS)
        throw new RefusedWorkbook("too-many-rows", `Sheet ${sheet.name} holds more than ${MAX_FILLED_ROWS} filled rows.`);
    }
  };
  parseXml(parts.text(sheet.part), sheet.part, {
    open(name, attributes) {
      switch (name) {
        case "sheetData":
          inData = true;
          return;
        case "row":
          if (inData) openRow(attributes);
          return;
        case "c":
          if (inData) openCell(attributes);
          return;
        case "v":
          reading = "v";
          if (cell) cell.value = "";
          return;
        case "f":
          if (cell) {
            cell.hasFormula = true;
            cell.formula = "";
            sharedIndex = attributes["t"] === "shared" ? attributes["si"] : undefined;
            reading = "f";
          }
          return;
        case "rPh":
          phonetic += 1;
          return;
        case "t":
          if (cell && phonetic === 0) {
            cell.inline ??= "";
            reading = "t";
          }
          return;
        case "col":
          if (isTrue(attributes["hidden"]))
            for (let c = Number(attributes["min"]); c <= Math.min(Number(attributes["max"]), MAX_COLUMN); c += 1) hiddenColumns.add(c);
          return;
        case "autoFilter":
          filtered = true;
          return;
        case "mergeCell":
          if (attributes["ref"]) merged.push(attributes["ref"]);
          return;
        default:
      }
    },
    close(name) {
      if (name === "sheetData") inData = false;
      else if (name === "c" && cell) {
        closeCell(cell);
        cell = undefined;
      } else if (name === "f" && cell) {
        if (sharedIndex !== undefined) {
          if (cell.formula !== "" && cell.formula !== undefined) sharedFormulas.set(sharedIndex, cell.formula);
          else cell.formula = sharedFormulas.get(sharedIndex) ?? "";
        }
        reading = undefined;
      } else if (name === "rPh") phonetic -= 1;
      else if (name === "v" || name === "t") reading = undefined;
    },
    text(text) {
      if (!cell || reading === undefined) return;
      if (reading === "v") cell.value = (cell.value ?? "") + text;
      else if (reading === "f") cell.formula = (cell.formula ?? "") + text;
      else cell.inline = (cell.inline ?? "") + text;
    },
  });
  emptyMergedCells(rows, merged);
  const ordered = new Map(
    [...rows.entries()].sort(([a], [b]) => a - b).map(([number, list]) => [number, list.sort((a, b) => a.column - b.column)] as const),
  );
  return { name: sheet.name, hidden: sheet.hidden, hiddenRows, hiddenColumns, filtered, rows: ordered, merged };
}

function wholeNumber(text: string, most: number, otherwise: () => never): number {
  const trimmed = text.trim();
  if (!/^\d{1,7}$/.test(trimmed)) return otherwise();
  const number = Number(trimmed);
  return number >= 1 && number <= most ? number : otherwise();
}

/** Links to other workbooks and DDE: `[1]Sheet!A1`, `'[Book.xlsx]Sheet'!A1`, `app|topic!item`. */
const EXTERNAL = /\[[^\][]+\][^!]*!|\|[^!|]*!/;

function toRecord(
  open: OpenCell,
  sheet: SheetReference,
  strings: readonly string[],
  formats: readonly (string | undefined)[],
  findings: Finding[],
): CellRecord | undefined {
  const name = `${columnLetters(open.column)}${open.row}`;
  const formula = open.hasFormula ? (open.formula ?? "") : undefined;
  if (formula !== undefined && EXTERNAL.test(formula.replaceAll(/"[^"]*"/g, "")))
    findings.push({
      code: "external-link",
      severity: "warning",
      sheet: sheet.name,
      cell: name,
      actual: `=${formula}`,
      text: `The formula in ${name} refers to another workbook or program; the link is never followed, its stored value is read.`,
    });
  let format: string | undefined;
  if (open.style !== 0 || formats.length > 0) {
    format = formats[open.style];
    if (open.style >= formats.length && formats.length > 0 && isFilled(open))
      findings.push({
        code: "style-out-of-range",
        severity: "warning",
        sheet: sheet.name,
        cell: name,
        text: `The cell ${name} names a format that the workbook does not hold; it is read as General.`,
      });
  }
  const rest = {
    cell: name,
    row: open.row,
    column: open.column,
    ...(format === undefined ? {} : { format }),
    ...(formula === undefined ? {} : { formula }),
  };
  const value = storedValue(open, name, sheet.name, strings);
  if (value === undefined) return formula === undefined ? undefined : { ...rest, type: "empty", raw: "", unevaluated: true };
  return { ...rest, ...value };
}

const isFilled = (open: OpenCell): boolean => (open.value ?? open.inline ?? "") !== "";

function storedValue(
  open: OpenCell,
  name: string,
  sheet: string,
  strings: readonly string[],
): { type: CellRecord["type"]; raw: string } | undefined {
  const text = (raw: string): { type: "text"; raw: string } | undefined =>
    raw === "" && !open.hasFormula ? undefined : { type: "text", raw };
  if (open.type === "inlineStr") return open.inline === undefined ? undefined : text(decodeEscapes(open.inline));
  if (open.value === undefined) return open.inline === undefined ? undefined : text(decodeEscapes(open.inline));
  const value = open.value;
  switch (open.type) {
    case "s": {
      const index = value.trim();
      const found = /^\d+$/.test(index) ? strings[Number(index)] : undefined;
      if (found === undefined)
        throw new RefusedWorkbook(
          "string-out-of-range",
          `Sheet ${sheet}, cell ${name}: the shared text ${index} does not exist. Save the workbook again.`,
        );
      return text(found);
    }
    case "str":
      return text(decodeEscapes(value));
    case "b":
      return { type: "boolean", raw: value.trim() };
    case "e":
      return { type: "error", raw: value.trim() };
    case "d":
      return { type: "date-text", raw: value.trim() };
    default: {
      const trimmed = value.trim();
      return trimmed === "" ? undefined : { type: "number", raw: trimmed };
    }
  }
}

/** In a merged range only the first cell holds anything; nothing is filled down. */
function emptyMergedCells(rows: Map<number, CellRecord[]>, merged: readonly string[]): void {
  for (const range of merged) {
    const found = /^\$?([A-Za-z]{1,3})\$?(\d+):\$?([A-Za-z]{1,3})\$?(\d+)$/.exec(range);
    if (!found) continue;
    const [left, top, right, bottom] = [columnNumber(found[1] ?? ""), Number(found[2]), columnNumber(found[3] ?? ""), Number(found[4])];
    for (const [row, cells] of rows) {
      if (row < top || row > bottom) continue;
      const kept = cells.filter((c) => c.column < left || c.column > right || (row === top && c.column === left));
      if (kept.length === cells.length) continue;
      if (kept.length === 0) rows.delete(row);
      else rows.set(row, kept);
    }
  }
}
