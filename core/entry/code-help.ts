/** For every finding and refusal: the rule behind it and what a person does about it. The page docs/cells.md is made from this list. */
export interface CodeHelp {
  readonly rule: string;
  readonly todo: string;
}

const help = (rule: string, todo: string): CodeHelp => ({ rule, todo });
const SAVE = "Open it in the spreadsheet program and save it as Excel workbook (.xlsx).";
const SAVE_AGAIN = "Save the workbook again in the spreadsheet program and drop the new file.";
const COPY_AGAIN = "Copy the file again; where that does not help, save the workbook again.";
const TYPE_AGAIN = "Type the cell again.";
const NOTHING = "Nothing; check that it was meant.";
const SPLIT = "Split the workbook, or delete what no longer belongs in it.";

export const CODE_HELP: Readonly<Record<string, CodeHelp>> = {
  // ---- cells
  "ambiguous-number": help(
    "`1,234`, and `1.234` where the point is not the decimal mark, mean different numbers in different countries; neither is guessed.",
    "Type the figure as a number, not as text.",
  ),
  "blanks-trimmed": help("Blanks around a name or word are dropped, those inside stay.", NOTHING),
  "contradicting-entry": help(
    "Two cells of a row must fit each other: forward and reverse turns the total, a stopped piece its break, a smaller figure the larger.",
    "Look at the named cells and correct the wrong one.",
  ),
  "control-character": help("Characters that cannot be printed become \ufffd in free text.", NOTHING),
  "date-ahead": help("A date must not lie after today, except where something falls due.", "Correct the date."),
  "date-too-early": help("Dates before 1990 are slips of the pen, or a number that was taken for a day.", "Correct the date."),
  "error-value": help("A cell with `#DIV/0!` or the like has no value.", "Mend the formula, or type the value."),
  "formula-without-value": help("Formulas are not calculated here; their stored value is read.", "Recalculate and save the workbook."),
  "hidden-character": help("Direction marks, zero-width and control characters make two names that look alike.", TYPE_AGAIN),
  "identifier-as-number": help(
    "A whole number below 10^15 is taken as its digits; leading zeros would be lost.",
    "Format the column as text where names begin with zeros.",
  ),
  "identifier-too-long": help("Names hold at most 64 characters.", "Shorten the name."),
  implausible: help(
    "Each column has a range of plausible figures, and a measured diameter lies within 20 % of the order's.",
    "Check figure, unit and order; a figure that is right needs a change of the order or the setting.",
  ),
  "missing-value": help("A required cell of a filled row must not be empty.", "Fill the cell, or clear the row."),
  "not-a-date": help("A date cell, or text as YYYY-MM-DD.", "Type the date again; format the column as date."),
  "not-a-number": help(
    "A number cell, or text with the lab's decimal mark; no unit, no thousands mark, no `~`, `±`, fraction or exponent. `>N` only for turns, wraps and bends.",
    "Type the bare figure; the unit stands in the header.",
  ),
  "not-allowed": help("Some columns have listed words; others are not understood.", "Choose a word from the drop-down."),
  "not-an-identifier": help(
    "A name is text; dates, logical values and numbers that would lose digits are none.",
    "Format the cell as text and type the name again.",
  ),
  "not-whole": help("Counts are whole numbers.", "Type the whole number; 24 and three quarters is 24."),
  "number-as-text": help("A figure stored as text is taken where it can mean one number only.", "Format the column as number."),
  "percent-cell": help(
    "A cell formatted as per cent holds a hundredth of what it shows; only columns of percentages may be.",
    "Take the per cent format off and type the figure again.",
  ),
  "slip-suspected": help(
    "The line drawn on the wire and the counter agree within one turn unless the wire slips.",
    "Look at the piece; where it slipped, set it aside and test another.",
  ),
  "taken-as-text": help("A number, day or logical value in a text column is kept as its text.", NOTHING),
  "text-shortened": help("Free text holds at most 500 characters.", "Shorten the text where its end matters."),
  "volatile-formula": help("A formula that changes by itself would give another value tomorrow.", "Type the value."),
  "word-respelled": help("A listed word is taken in any case.", NOTHING),
  // ---- rows beside each other
  "conflicting-result": help(
    "A reading that came before stays unless the new one gives a reason for the correction.",
    "Write the reason into the column for it, or restore the earlier figure.",
  ),
  "doubled-registration": help(
    "A coil, order item, heat analysis or agreed requirement stands in one row.",
    "Delete the rows that are wrong.",
  ),
  "doubled-result": help("One reading for each property, test piece and position.", "Name the test pieces apart, or delete the wrong row."),
  "near-match": help(
    "Names that differ only by case, look-alike characters or blanks are told apart by nobody; a new one that resembles a known one is not taken.",
    "Correct the name, or register the new one under a name of its own.",
  ),
  "unlinked-retest": help(
    "After a valid failure a new piece changes something only as a retest that names the piece it retests.",
    "Fill role `retest` and the test piece it retests.",
  ),
  // ---- columns and sheets
  "doubled-column": help("Each label stands once in a header row; the sheet is not judged.", "Delete or rename one of the columns."),
  "hidden-data": help("Hidden rows, columns and sheets are read like the others.", "Show them, to see what was read."),
  "missing-column": help(
    "The sheet lacks a column that its rows need; it is not judged.",
    "Add the column, under a label of the entry workbook.",
  ),
  "mixed-units": help("One workbook has one unit system; the sheet is not judged.", "Convert the column, and name its unit in the header."),
  "no-header": help(
    "The labels are looked for in the first 20 rows, in 40 with an intake map; the sheet is not judged.",
    "Restore the header row.",
  ),
  "sheet-name": help("Names of sheets are found without regard to case and blanks.", NOTHING),
  "unknown-column": help("Columns that nobody knows are kept and not read.", "Nothing; correct the label where the column should be read."),
  "unknown-sheet": help("Sheets that nobody knows are kept and not read.", "Nothing; correct the name where the sheet should be read."),
  // ---- registers and specifications
  "differs-from-register": help(
    "Registers win over workbooks; the workbook changes nothing.",
    "Correct the workbook, or change the register by command.",
  ),
  "limit-without-unit": help("A limit means nothing without a unit that fits its property.", "Add the unit to the agreed requirement."),
  "unknown-coil": help("A row of a coil that nobody registered judges nothing.", "Enter the coil in the sheet Coils, or correct its name."),
  "unknown-edition": help("An order names an edition that is held.", "Correct the edition, or add the specification."),
  "unknown-grade": help("The grade must be one of the specification.", "Correct the grade."),
  "unknown-order": help("A coil belongs to an order item that is known.", "Enter the order in the sheet Orders, or correct its number."),
  "unknown-specification": help("An order names a specification that is held.", "Correct the name, or add the specification."),
  "wrong-json": help("An order list as JSON has the fields of the entry workbook.", "Correct the place that is named."),
  // ---- tests
  "instrument-missing": help("A result without an instrument counts; its uncertainty is not known.", "Name the instrument."),
  "live-verdict-differs": help(
    "The verdict shown while typing is a preview; the judgement counts.",
    "Recalculate the workbook; where it still differs, report it.",
  ),
  "speed-advised": help("Above the usual speed a piece heats up and breaks early.", "Test slower."),
  "check-wire-signal": help(
    "A wire of known strength is tested at intervals; a signal on its chart says that the machine, the operator or the wire has changed.",
    "Look for the cause on the machine before the results count on.",
  ),
  "contradictory-limits": help(
    "A requirement whose minimum is above its maximum can be met by nothing.",
    "Correct the agreed requirement or the specification.",
  ),
  "no-limit": help(
    "A reading is judged against a limit; where there is none it is kept and judges nothing.",
    "Agree a limit, or leave the test out.",
  ),
  "outside-table": help(
    "A limit is taken from the row of the table that holds the ordered size.",
    "Check the ordered size; agree a limit where the table has none.",
  ),
  "programme-not-asked": help(
    "Turns forward and back are judged where the specification or the order asks for them.",
    "Nothing; check what was ordered.",
  ),
  "tested-before-drawn": help(
    "A coil cannot be tested before it was drawn.",
    "Correct the date of the test, or the day the coil was drawn.",
  ),
  "straightened-otherwise": help("How a piece is straightened changes what it bears.", "Straighten as the standard says."),
  // ---- the file around them
  "external-link": help(
    "Links to other workbooks and programs are never followed; the stored value is read.",
    "Break the links, or check that the stored values are the present ones.",
  ),
  "signature-dropped": help(
    "A signed package cannot be changed without breaking its signature; the returned copy has none.",
    "Keep the original where the signature matters.",
  ),
  "style-out-of-range": help("A cell that names a format the workbook does not hold is read as General.", SAVE_AGAIN),
  // ---- refusals: another kind of file
  "ambiguous-map": help(
    "One intake map reads a workbook; between two that fit alike nobody guesses.",
    "Take one of the maps out of the folder, or rename a sheet in it.",
  ),
  "binary-workbook": help("Only .xlsx is read; this is .xlsb.", SAVE),
  "csv-file": help("Only .xlsx is read; text tables lose what is a number and what is text.", SAVE),
  "empty-file": help("The file has no bytes.", COPY_AGAIN),
  "html-file": help("Some programs export web pages under an .xlsx name.", SAVE),
  "lock-file": help(
    "Files that begin with `~$` or a dot belong to a program that has the workbook open.",
    "Nothing; drop the workbook itself.",
  ),
  "macro-carrying": help("Workbooks with macros are not opened.", "Save it as Excel workbook (.xlsx), which has none."),
  "not-a-workbook": help("The file is none that a spreadsheet program saves as .xlsx.", SAVE),
  "old-format": help("Only .xlsx is read; this is the format before it (.xls).", SAVE),
  opendocument: help("Only .xlsx is read; this is .ods.", SAVE),
  "password-protected": help("A workbook with a password cannot be read.", "Save it without password. Sheet protection may stay."),
  "wrong-extension": help("A workbook is taken under the extension .xlsx.", "Rename the file."),
  "xml-file": help("Only .xlsx is read; this is the XML of another format.", SAVE),
  // ---- refusals: the package
  "bad-entry-name": help("Names with `..`, a drive, a back-slash, a NUL, an absolute path, or links are refused.", SAVE_AGAIN),
  "damaged-package": help("The parts of the package do not fit its directory.", COPY_AGAIN),
  "doubled-entry": help("Each part stands once, whatever the case of its name.", SAVE_AGAIN),
  "encrypted-entry": help("Parts must not be encrypted.", "Save it without password."),
  "junk-before-package": help("A workbook begins with its first part.", SAVE_AGAIN),
  "missing-part": help("Every part that the workbook names must be there.", SAVE_AGAIN),
  "overlapping-entry": help("Parts must not share bytes.", SAVE_AGAIN),
  truncated: help("The end of the package is missing.", COPY_AGAIN),
  "unknown-method": help("Parts are stored or deflated.", SAVE_AGAIN),
  "unsupported-package": help("The package uses a feature that no spreadsheet program writes.", SAVE_AGAIN),
  "wrong-checksum": help("The content of a part is not what was saved.", COPY_AGAIN),
  // ---- refusals: its XML and its cells
  doctype: help("A document type declaration can make a reader fetch or fill endlessly; no workbook needs one.", SAVE_AGAIN),
  "doubled-cell": help("A cell stands once; of two nobody knows which is meant.", SAVE_AGAIN),
  "doubled-row": help("A row stands once; of two nobody knows which is meant.", SAVE_AGAIN),
  "doubled-sheet": help(
    "Names of sheets differ by more than case and blanks, and each has its own content.",
    "Rename or delete one of the sheets.",
  ),
  "malformed-sheet": help("A sheet holds rows, rows hold cells, and both have names that fit.", SAVE_AGAIN),
  "malformed-text": help("Texts are UTF-8 or UTF-16 without a fault.", SAVE_AGAIN),
  "malformed-xml": help("The parts are well-formed XML.", SAVE_AGAIN),
  "no-orders": help(
    "Rows need an order: from this workbook, or registered before.",
    "Add the sheets Orders and Coils, or enter the orders first.",
  ),
  "no-sheets": help(
    "At least one sheet of the entry workbook is needed, or an intake map that fits.",
    "Use a workbook made by `coilbook prepare`, or make a map with `coilbook map propose`.",
  ),
  "string-out-of-range": help("A cell names a shared text that is in the list.", SAVE_AGAIN),
  // ---- refusals: beyond the limits
  "gave-up": help("Reading may take 5 seconds and 2 more for each MiB of the file.", `${SAVE_AGAIN} Where that does not help, split it.`),
  "text-too-long": help("A cell holds at most 32,767 characters.", "Shorten the text."),
  "too-deep": help("XML is nested 256 deep at most.", SAVE_AGAIN),
  "too-dense": help(
    "A part of 1 MiB and more unpacks to at most 200 times its packed size.",
    `${SAVE_AGAIN} Delete empty formatted rows below the data.`,
  ),
  "too-large": help("64 MiB a file, 256 MiB a part, 512 MiB in all; 400 MiB of memory and 16 bytes more for each byte of the file.", SPLIT),
  "too-many-cells": help("2,000,000 filled cells a sheet, 4,000,000 a workbook.", SPLIT),
  "too-many-entries": help("2,000 parts a package.", SPLIT),
  "too-many-merged-cells": help("200,000 merged ranges a sheet.", "Take merged cells apart."),
  "too-many-rows": help("200,000 filled rows a sheet.", SPLIT),
  "too-many-texts": help("2,000,000 shared texts a workbook.", SPLIT),
};
