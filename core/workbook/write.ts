/** Fresh workbooks from a plain description: the same description gives the same bytes. */
import { columnLetters, escapeXml } from "./xml.ts";
import { writePackage } from "./zip-write.ts";

export interface CellStyle {
  readonly bold?: boolean;
  readonly italic?: boolean;
  /** Points. */
  readonly size?: number;
  /** Six hexadecimal digits. */
  readonly color?: string;
  readonly fill?: string;
  readonly border?: boolean;
  readonly wrap?: boolean;
  readonly align?: "left" | "center" | "right";
  readonly format?: string;
  /** Free for input on a protected sheet. */
  readonly unlocked?: boolean;
}

export interface DescribedCell {
  readonly value?: string | number | boolean;
  /** An error value such as `#DIV/0!`, stored instead of `value`. */
  readonly error?: string;
  /** Without the equals sign. `value` is its stored result. */
  readonly formula?: string;
  /** A key of the description's styles. */
  readonly style?: string;
}

export interface Validation {
  readonly range: string;
  readonly kind: "list" | "decimal" | "whole" | "date";
  /** Words of a list; none may hold a comma or a quotation mark. */
  readonly words?: readonly string[];
  readonly min?: number;
  readonly max?: number;
  readonly title: string;
  readonly message: string;
}

export interface DescribedSheet {
  readonly name: string;
  readonly hidden?: boolean;
  /** Widths in characters by column number from 1. */
  readonly widths?: Readonly<Record<number, number>>;
  readonly freezeRows?: number;
  readonly freezeColumns?: number;
  /** Cells by row number from 1, then by column number from 1. */
  readonly rows: ReadonlyMap<number, ReadonlyMap<number, DescribedCell>>;
  readonly heights?: Readonly<Record<number, number>>;
  readonly hiddenRows?: readonly number[];
  readonly merges?: readonly string[];
  readonly validations?: readonly Validation[];
  /** A range painted with `style` where `formula` is true; `show` is displayed instead of the text stored in the cell. */
  readonly conditions?: readonly {
    readonly range: string;
    readonly formula: string;
    readonly style: "strong" | "pale" | "none";
    readonly show?: string;
  }[];
  /** Protected without a password; sorting and filtering stay allowed. */
  readonly protect?: boolean;
  readonly filter?: string;
  readonly print?: {
    readonly paper: "A4" | "Letter";
    readonly landscape?: boolean;
    readonly onePage?: boolean;
    readonly repeatRows?: string;
    readonly footer?: string;
    /** Rows after which a new page begins. */
    readonly breaks?: readonly number[];
  };
}

export interface WorkbookDescription {
  readonly styles: Readonly<Record<string, CellStyle>>;
  readonly sheets: readonly DescribedSheet[];
}

const HEAD = '<?xml version="1.0" encoding="UTF-8" standalone="yes"?>\n';
const MAIN = "http://schemas.openxmlformats.org/spreadsheetml/2006/main";
const RELATIONS = "http://schemas.openxmlformats.org/officeDocument/2006/relationships";
const PACKAGE_RELATIONS = "http://schemas.openxmlformats.org/package/2006/relationships";

export function writeWorkbook(book: WorkbookDescription): Uint8Array {
  const encoder = new TextEncoder();
  const styleIds = new Map(Object.keys(book.styles).map((name, index) => [name, index + 1]));
  const painted = [...new Set(book.sheets.flatMap((sheet) => (sheet.conditions ?? []).map(differenceXml)))];
  const part = (name: string, text: string): { name: string; content: Uint8Array } => ({ name, content: encoder.encode(HEAD + text) });
  const overrides = book.sheets.map(
    (_, i) =>
      `<Override PartName="/xl/worksheets/sheet${i + 1}.xml" ContentType="application/vnd.openxmlformats-officedocument.spreadsheetml.worksheet+xml"/>`,
  );
  return writePackage([
    part(
      "[Content_Types].xml",
      `<Types xmlns="http://schemas.openxmlformats.org/package/2006/content-types"><Default Extension="rels" ContentType="application/vnd.openxmlformats-package.relationships+xml"/><Default Extension="xml" ContentType="application/xml"/><Override PartName="/xl/workbook.xml" ContentType="application/vnd.openxmlformats-officedocument.spreadsheetml.sheet.main+xml"/>${overrides.join("")}<Override PartName="/xl/styles.xml" ContentType="application/vnd.openxmlformats-officedocument.spreadsheetml.styles+xml"/></Types>`,
    ),
    part(
      "_rels/.rels",
      `<Relationships xmlns="${PACKAGE_RELATIONS}"><Relationship Id="rId1" Type="${RELATIONS}/officeDocument" Target="xl/workbook.xml"/></Relationships>`,
    ),
    part("xl/workbook.xml", workbookXml(book)),
    part(
      "xl/_rels/workbook.xml.rels",
      `<Relationships xmlns="${PACKAGE_RELATIONS}">${book.sheets.map((_, i) => `<Relationship Id="rId${i + 1}" Type="${RELATIONS}/worksheet" Target="worksheets/sheet${i + 1}.xml"/>`).join("")}<Relationship Id="rId${book.sheets.length + 1}" Type="${RELATIONS}/styles" Target="styles.xml"/></Relationships>`,
    ),
    part("xl/styles.xml", stylesXml(Object.values(book.styles), painted)),
    ...book.sheets.map((sheet, i) => part(`xl/worksheets/sheet${i + 1}.xml`, sheetXml(sheet, styleIds, painted, i === 0))),
  ]);
}

function workbookXml(book: WorkbookDescription): string {
  const quoted = (name: string): string => `'${name.replaceAll("'", "''")}'`;
  const names = book.sheets.flatMap((sheet, index) => [
    ...(sheet.print?.repeatRows
      ? [
          `<definedName name="_xlnm.Print_Titles" localSheetId="${index}">${escapeXml(`${quoted(sheet.name)}!${sheet.print.repeatRows}`)}</definedName>`,
        ]
      : []),
    ...(sheet.filter
      ? [
          `<definedName name="_xlnm._FilterDatabase" localSheetId="${index}" hidden="1">${escapeXml(`${quoted(sheet.name)}!${absolute(sheet.filter)}`)}</definedName>`,
        ]
      : []),
  ]);
  const sheets = book.sheets.map(
    (sheet, i) => `<sheet name="${escapeXml(sheet.name)}" sheetId="${i + 1}"${sheet.hidden ? ' state="hidden"' : ""} r:id="rId${i + 1}"/>`,
  );
  return `<workbook xmlns="${MAIN}" xmlns:r="${RELATIONS}"><bookViews><workbookView activeTab="0"/></bookViews><sheets>${sheets.join("")}</sheets>${names.length > 0 ? `<definedNames>${names.join("")}</definedNames>` : ""}<calcPr calcId="191029" fullCalcOnLoad="1"/></workbook>`;
}

const absolute = (range: string): string => range.replaceAll(/([A-Z]+)(\d+)/g, "$$$1$$$2");

/** What a condition changes in a cell, as the styles part lists it. */
function differenceXml({ style, show }: { readonly style: "strong" | "pale" | "none"; readonly show?: string }): string {
  const font = style === "strong" ? "<font><b/></font>" : style === "pale" ? '<font><color rgb="FF6B6B6B"/></font>' : "";
  const format =
    show === undefined ? "" : `<numFmt numFmtId="${SHOWN_FORMATS}" formatCode="${escapeXml(`;;;"${show.replaceAll('"', "")}"`)}"/>`;
  const fill = style === "strong" ? '<fill><patternFill patternType="solid"><bgColor rgb="FFE3E3E3"/></patternFill></fill>' : "";
  return `<dxf>${font}${format}${fill}</dxf>`;
}
/** Number of the first format that only conditions use; each gets its own. */
const SHOWN_FORMATS = 400;

function stylesXml(styles: readonly CellStyle[], painted: readonly string[]): string {
  const formats = [...new Set(styles.map((s) => s.format).filter((f) => f !== undefined))];
  const fonts = ['<font><sz val="10"/><name val="Calibri"/></font>'];
  const fills = ['<fill><patternFill patternType="none"/></fill>', '<fill><patternFill patternType="gray125"/></fill>'];
  const index = (list: string[], xml: string): number => {
    const at = list.indexOf(xml);
    return at >= 0 ? at : list.push(xml) - 1;
  };
  const cells = styles.map((style) => {
    const font = index(
      fonts,
      `<font>${style.bold ? "<b/>" : ""}${style.italic ? "<i/>" : ""}<sz val="${style.size ?? 10}"/>${style.color ? `<color rgb="FF${style.color}"/>` : ""}<name val="Calibri"/></font>`,
    );
    const fill = style.fill
      ? index(fills, `<fill><patternFill patternType="solid"><fgColor rgb="FF${style.fill}"/><bgColor indexed="64"/></patternFill></fill>`)
      : 0;
    const format = style.format === undefined ? 0 : 164 + formats.indexOf(style.format);
    const alignment = `<alignment vertical="top"${style.wrap ? ' wrapText="1"' : ""}${style.align ? ` horizontal="${style.align}"` : ""}/>`;
    return `<xf numFmtId="${format}" fontId="${font}" fillId="${fill}" borderId="${style.border ? 1 : 0}" xfId="0" applyNumberFormat="1" applyFont="1" applyFill="1" applyBorder="1" applyAlignment="1" applyProtection="1">${alignment}<protection locked="${style.unlocked ? 0 : 1}"/></xf>`;
  });
  const side = (name: string): string => `<${name} style="thin"><color rgb="FF8A8A8A"/></${name}>`;
  return `<styleSheet xmlns="${MAIN}">${formats.length > 0 ? `<numFmts count="${formats.length}">${formats.map((f, i) => `<numFmt numFmtId="${164 + i}" formatCode="${escapeXml(f)}"/>`).join("")}</numFmts>` : ""}<fonts count="${fonts.length}">${fonts.join("")}</fonts><fills count="${fills.length}">${fills.join("")}</fills><borders count="2"><border><left/><right/><top/><bottom/><diagonal/></border><border>${["left", "right", "top", "bottom"].map(side).join("")}<diagonal/></border></borders><cellStyleXfs count="1"><xf numFmtId="0" fontId="0" fillId="0" borderId="0"/></cellStyleXfs><cellXfs count="${cells.length + 1}"><xf numFmtId="0" fontId="0" fillId="0" borderId="0" xfId="0"/>${cells.join("")}</cellXfs><cellStyles count="1"><cellStyle name="Normal" xfId="0" builtinId="0"/></cellStyles><dxfs count="${painted.length}">${painted.map((xml, i) => xml.replace(`numFmtId="${SHOWN_FORMATS}"`, `numFmtId="${SHOWN_FORMATS + i}"`)).join("")}</dxfs></styleSheet>`;
}

function sheetXml(sheet: DescribedSheet, styleIds: ReadonlyMap<string, number>, painted: readonly string[], active: boolean): string {
  const out: string[] = [`<worksheet xmlns="${MAIN}" xmlns:r="${RELATIONS}">`];
  if (sheet.print) out.push(`<sheetPr><pageSetUpPr fitToPage="1"/></sheetPr>`);
  out.push(
    `<dimension ref="${dimension(sheet)}"/><sheetViews><sheetView${active ? ' tabSelected="1"' : ""} workbookViewId="0">${pane(sheet)}</sheetView></sheetViews><sheetFormatPr defaultRowHeight="14"/>`,
  );
  const widths = Object.entries(sheet.widths ?? {});
  if (widths.length > 0)
    out.push(
      `<cols>${widths.map(([column, width]) => `<col min="${column}" max="${column}" width="${width}" customWidth="1"/>`).join("")}</cols>`,
    );
  out.push("<sheetData>");
  for (const [row, cells] of [...sheet.rows].sort(([a], [b]) => a - b)) {
    const height = sheet.heights?.[row];
    out.push(
      `<row r="${row}"${height === undefined ? "" : ` ht="${height}" customHeight="1"`}${sheet.hiddenRows?.includes(row) ? ' hidden="1"' : ""}>`,
    );
    for (const [column, cell] of [...cells].sort(([a], [b]) => a - b)) out.push(cellXml(`${columnLetters(column)}${row}`, cell, styleIds));
    out.push("</row>");
  }
  out.push("</sheetData>");
  if (sheet.protect)
    out.push('<sheetProtection sheet="1" objects="1" scenarios="1" formatColumns="0" formatRows="0" sort="0" autoFilter="0"/>');
  if (sheet.filter) out.push(`<autoFilter ref="${sheet.filter}"/>`);
  if (sheet.merges && sheet.merges.length > 0)
    out.push(`<mergeCells count="${sheet.merges.length}">${sheet.merges.map((ref) => `<mergeCell ref="${ref}"/>`).join("")}</mergeCells>`);
  (sheet.conditions ?? []).forEach((condition, i) => {
    out.push(
      `<conditionalFormatting sqref="${condition.range}"><cfRule type="expression" dxfId="${painted.indexOf(differenceXml(condition))}" priority="${i + 1}"><formula>${escapeXml(condition.formula)}</formula></cfRule></conditionalFormatting>`,
    );
  });
  if (sheet.validations && sheet.validations.length > 0)
    out.push(`<dataValidations count="${sheet.validations.length}">${sheet.validations.map(validationXml).join("")}</dataValidations>`);
  if (sheet.print) {
    const { paper, landscape, onePage, footer } = sheet.print;
    out.push(
      `<pageMargins left="0.4" right="0.4" top="0.5" bottom="0.6" header="0.3" footer="0.3"/><pageSetup paperSize="${paper === "A4" ? 9 : 1}" orientation="${landscape ? "landscape" : "portrait"}" fitToWidth="1" fitToHeight="${onePage ? 1 : 0}"/>`,
    );
    if (footer !== undefined)
      out.push(`<headerFooter><oddFooter>${escapeXml(`&L${footer.replaceAll("&", "&&")}&RPage &P of &N`)}</oddFooter></headerFooter>`);
    const breaks = sheet.print.breaks ?? [];
    if (breaks.length > 0)
      out.push(
        `<rowBreaks count="${breaks.length}" manualBreakCount="${breaks.length}">${breaks.map((row) => `<brk id="${row}" max="16383" man="1"/>`).join("")}</rowBreaks>`,
      );
  }
  out.push("</worksheet>");
  return out.join("");
}

function pane({ freezeRows = 0, freezeColumns = 0 }: DescribedSheet): string {
  if (freezeRows === 0 && freezeColumns === 0) return "";
  const corner = `${columnLetters(freezeColumns + 1)}${freezeRows + 1}`;
  const which = freezeRows > 0 && freezeColumns > 0 ? "bottomRight" : freezeRows > 0 ? "bottomLeft" : "topRight";
  return `<pane${freezeColumns > 0 ? ` xSplit="${freezeColumns}"` : ""}${freezeRows > 0 ? ` ySplit="${freezeRows}"` : ""} topLeftCell="${corner}" activePane="${which}" state="frozen"/>`;
}

function dimension(sheet: DescribedSheet): string {
  let [lastRow, lastColumn] = [1, 1];
  for (const [row, cells] of sheet.rows) {
    lastRow = Math.max(lastRow, row);
    for (const column of cells.keys()) lastColumn = Math.max(lastColumn, column);
  }
  return `A1:${columnLetters(lastColumn)}${lastRow}`;
}

function cellXml(reference: string, cell: DescribedCell, styleIds: ReadonlyMap<string, number>): string {
  const style = cell.style === undefined ? 0 : styleIds.get(cell.style);
  if (style === undefined) throw new RangeError(`no style named ${cell.style}`);
  const open = `<c r="${reference}"${style === 0 ? "" : ` s="${style}"`}`;
  const formula = cell.formula === undefined ? "" : `<f>${escapeXml(cell.formula)}</f>`;
  if (cell.error !== undefined) return `${open} t="e">${formula}<v>${escapeXml(cell.error)}</v></c>`;
  if (typeof cell.value === "boolean") return `${open} t="b">${formula}<v>${cell.value ? 1 : 0}</v></c>`;
  if (cell.formula !== undefined) {
    return typeof cell.value === "number"
      ? `${open}>${formula}<v>${cell.value}</v></c>`
      : `${open} t="str">${formula}<v>${escapeXml(cell.value ?? "")}</v></c>`;
  }
  if (cell.value === undefined || cell.value === "") return `${open}/>`;
  return typeof cell.value === "number"
    ? `${open}><v>${cell.value}</v></c>`
    : `${open} t="inlineStr"><is><t xml:space="preserve">${escapeXml(cell.value)}</t></is></c>`;
}

function validationXml(v: Validation): string {
  const prompt = `allowBlank="1" showInputMessage="1" showErrorMessage="1" errorTitle="${escapeXml(v.title.slice(0, 32))}" error="${escapeXml(v.message.slice(0, 225))}" sqref="${v.range}"`;
  if (v.kind === "list")
    return `<dataValidation type="list" ${prompt}><formula1>${escapeXml(`"${(v.words ?? []).join(",")}"`)}</formula1></dataValidation>`;
  return `<dataValidation type="${v.kind}" operator="between" ${prompt}><formula1>${v.min ?? 0}</formula1><formula2>${v.max ?? 0}</formula2></dataValidation>`;
}
