/**
 * Header labels by language. A header is found by any of them, by the field name itself, and with or without its unit behind a comma.
 * English and German are complete; a field without a label here is found by its English label or its name.
 */
import type { UnitSystem } from "../model.ts";
import { joinBlanks } from "./cell.ts";
import { type Column, type EntrySheet, unitOf } from "./columns.ts";

export const LABEL_LANGUAGES = ["en", "de"] as const;

const EN: Readonly<Record<string, string>> = {
  order: "Order",
  item: "Item",
  customer: "Customer",
  contact: "Contact",
  customerOrder: "Customer order",
  product: "Product",
  specification: "Specification",
  edition: "Edition",
  grade: "Grade",
  nominalDiameter: "Nominal diameter",
  coatingClass: "Coating class",
  documentType: "Document type",
  decisionRule: "Decision rule",
  decisionRuleAgreed: "Decision rule agreed in",
  language: "Language",
  documentUnits: "Document units",
  documentDecimalMark: "Document decimal mark",
  remark: "Remark",
  property: "Property",
  min: "Minimum",
  max: "Maximum",
  unit: "Unit",
  conditions: "Conditions",
  agreedIn: "Agreed in",
  coil: "Coil",
  heat: "Heat",
  testUnit: "Test unit",
  motherCoil: "Mother coil",
  drawnOn: "Drawn on",
  mass: "Mass",
  length: "Length",
  analysis: "Analysis",
  source: "Source",
  process: "Process",
  instrument: "Instrument",
  kind: "Kind",
  rangeMin: "Range from",
  rangeMax: "Range to",
  rangeUnit: "Range unit",
  class: "Class",
  calibratedOn: "Calibrated on",
  dueOn: "Due on",
  uncertainty: "Uncertainty U",
  uncertaintyUnit: "Uncertainty unit",
  coverageFactor: "Coverage factor k",
  testPiece: "Test piece",
  end: "End",
  position: "Position",
  largest: "Largest diameter",
  smallest: "Smallest diameter",
  diameter: "Diameter",
  maximumForce: "Maximum force",
  proofForce: "Proof force",
  gaugeLength: "Gauge length",
  elongation: "Elongation",
  diameterAfter: "Diameter after",
  breakAt: "Break at",
  diameterInstrument: "Diameter instrument",
  freeLength: "Free length",
  tension: "Tension",
  speed: "Speed",
  forwardTurns: "Forward turns",
  reverseTurns: "Reverse turns",
  cycles: "Cycles",
  turns: "Turns",
  fractureFromGrip: "Fracture from grip",
  fractureType: "Fracture type",
  lineTurns: "Line turns",
  straightened: "Straightened",
  purpose: "Purpose",
  mandrelDiameter: "Mandrel diameter",
  wraps: "Wraps",
  rate: "Rate",
  cracks: "Cracks",
  firstCrackTurn: "First crack in turn",
  coating: "Coating",
  secondLook: "Second look",
  evenPitch: "Even pitch",
  radius: "Bend radius",
  bends: "Bends",
  method: "Method",
  strippedDiameter: "Stripped diameter",
  massBefore: "Mass before",
  massAfter: "Mass after",
  hydrogen: "Hydrogen",
  temperature: "Temperature",
  pressure: "Pressure",
  value: "Value",
  word: "Word",
  role: "Role",
  retestOf: "Retest of",
  cutBack: "Cut back",
  setAside: "Set aside",
  date: "Date",
  tester: "Tester",
  correctionReason: "Correction reason",
  verdict: "Verdict",
  why: "Why",
  next: "Next",
};

const DE: Readonly<Record<string, string>> = {
  order: "Auftrag",
  item: "Position im Auftrag",
  customer: "Kunde",
  contact: "Ansprechpartner",
  customerOrder: "Kundenauftrag",
  product: "Erzeugnis",
  specification: "Spezifikation",
  edition: "Ausgabe",
  grade: "Sorte",
  nominalDiameter: "Nenndurchmesser",
  coatingClass: "Überzugsklasse",
  documentType: "Bescheinigungsart",
  decisionRule: "Entscheidungsregel",
  decisionRuleAgreed: "Entscheidungsregel vereinbart in",
  language: "Sprache",
  documentUnits: "Einheiten der Bescheinigung",
  documentDecimalMark: "Dezimalzeichen der Bescheinigung",
  remark: "Bemerkung",
  property: "Eigenschaft",
  min: "Mindestwert",
  max: "Höchstwert",
  unit: "Einheit",
  conditions: "Bedingungen",
  agreedIn: "Vereinbart in",
  coil: "Ring",
  heat: "Schmelze",
  testUnit: "Prüfeinheit",
  motherCoil: "Mutterring",
  drawnOn: "Gezogen am",
  mass: "Masse",
  length: "Länge",
  analysis: "Analyse",
  source: "Herkunft",
  process: "Verfahren",
  instrument: "Prüfmittel",
  kind: "Art",
  rangeMin: "Bereich von",
  rangeMax: "Bereich bis",
  rangeUnit: "Einheit des Bereichs",
  class: "Klasse",
  calibratedOn: "Kalibriert am",
  dueOn: "Fällig am",
  uncertainty: "Unsicherheit U",
  uncertaintyUnit: "Einheit der Unsicherheit",
  coverageFactor: "Erweiterungsfaktor k",
  testPiece: "Probe",
  end: "Ende",
  position: "Messstelle",
  largest: "Größter Durchmesser",
  smallest: "Kleinster Durchmesser",
  diameter: "Durchmesser",
  maximumForce: "Höchstkraft",
  proofForce: "Kraft an der Dehngrenze",
  gaugeLength: "Messlänge",
  elongation: "Dehnung",
  diameterAfter: "Durchmesser nach Bruch",
  breakAt: "Bruch bei",
  diameterInstrument: "Prüfmittel Durchmesser",
  freeLength: "Freie Länge",
  tension: "Zugkraft",
  speed: "Drehzahl",
  forwardTurns: "Vorwärtsdrehungen",
  reverseTurns: "Rückwärtsdrehungen",
  cycles: "Zyklen",
  turns: "Verwindungen",
  fractureFromGrip: "Bruch vom Einspannende",
  fractureType: "Bruchform",
  lineTurns: "Linienumläufe",
  straightened: "Gerichtet",
  purpose: "Zweck",
  mandrelDiameter: "Dorndurchmesser",
  wraps: "Windungen",
  rate: "Wickelgeschwindigkeit",
  cracks: "Risse",
  firstCrackTurn: "Erster Riss in Windung",
  coating: "Überzug",
  secondLook: "Zweite Beurteilung",
  evenPitch: "Gleichmäßige Steigung",
  radius: "Biegeradius",
  bends: "Biegungen",
  method: "Verfahren der Prüfung",
  strippedDiameter: "Durchmesser entzinkt",
  massBefore: "Masse vorher",
  massAfter: "Masse nachher",
  hydrogen: "Wasserstoff",
  temperature: "Temperatur",
  pressure: "Druck",
  value: "Wert",
  word: "Wort",
  role: "Rolle",
  retestOf: "Wiederholungsprüfung zu",
  cutBack: "Abgelängt",
  setAside: "Ausgesondert",
  date: "Datum",
  tester: "Prüfer",
  correctionReason: "Grund der Berichtigung",
  verdict: "Urteil",
  why: "Warum",
  next: "Nächster Schritt",
};

const LABELS: Readonly<Record<string, Readonly<Record<string, string>>>> = { en: EN, de: DE };

const SHEET_NAMES: Readonly<Record<string, Readonly<Record<string, string>>>> = {
  de: {
    orders: "Aufträge",
    agreed: "Vereinbart",
    coils: "Ringe",
    heats: "Schmelzen",
    instruments: "Prüfmittel",
    diameter: "Durchmesser",
    tensile: "Zug",
    torsion: "Verwinden",
    wrap: "Wickeln",
    coiling: "Federprobe",
    "reverse-bend": "Hin- und Herbiegen",
    "coating-mass": "Überzugsmasse",
    other: "Andere",
  },
};

/** The label of a column with its unit: "Largest diameter, mm". */
export function headerOf(column: Column, system: UnitSystem, language = "en"): string {
  const label = LABELS[language]?.[column.field] ?? EN[column.field] ?? column.field;
  const unit = unitOf(column, system);
  return unit === undefined || COUNTS.has(unit) ? label : `${label}, ${unit}`;
}

/** Counts stand in their labels already. */
const COUNTS: ReadonlySet<string> = new Set(["turns", "wraps", "bends", "cycles"]);

export const sheetNameOf = (sheet: EntrySheet, language = "en"): string => SHEET_NAMES[language]?.[sheet.sheet] ?? sheet.name;

/** Labels and names are compared after NFC, trimming, joining blanks of every kind, and folding case. */
export const foldLabel = (text: string): string => joinBlanks(text.normalize("NFC")).toLowerCase();

/** The sheet of that name, in any language held. */
export function findSheet(sheets: readonly EntrySheet[], name: string): EntrySheet | undefined {
  const folded = foldLabel(name);
  return sheets.find(
    (sheet) =>
      folded === foldLabel(sheet.sheet) || [...LABEL_LANGUAGES].some((language) => foldLabel(sheetNameOf(sheet, language)) === folded),
  );
}

export interface FoundHeader {
  readonly column: Column;
  /** The unit written in the header, if any. */
  readonly unit?: string;
}

/** The column a header names; its unit may stand behind a comma or in brackets. */
export function findColumn(sheet: EntrySheet, header: string): FoundHeader | undefined {
  const folded = foldLabel(header);
  const whole = match(sheet, folded);
  if (whole) return { column: whole };
  const parts = /^(.*?)(?:\s*,\s*|\s*\(|\s*\[)([^,()[\]]+)[)\]]?$/.exec(folded);
  const column = parts === null ? undefined : match(sheet, parts[1] ?? "");
  return column === undefined ? undefined : { column, unit: (parts?.[2] ?? "").trim() };
}

function match(sheet: EntrySheet, folded: string): Column | undefined {
  return sheet.columns.find(
    (column) =>
      folded === column.field.toLowerCase() ||
      LABEL_LANGUAGES.some((language) => foldLabel(LABELS[language]?.[column.field] ?? "") === folded),
  );
}
