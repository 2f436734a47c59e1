/** Register rows of a workbook to the records of the judgement; a value that differs from the register is an error and changes nothing. */
import { compareExact, exact, isDecimalText } from "../decimal.ts";
import type {
  AgreedRequirement,
  Coil,
  EntryRow,
  FieldValue,
  Finding,
  Heat,
  InstrumentRange,
  Measure,
  OrderItem,
  SpecificationLibrary,
} from "../model.ts";
import { convertExact, isUnit } from "../quantity.ts";
import { ELEMENTS } from "./columns.ts";
import type { EntryFindingCode } from "./finding-codes.ts";
import { propertyNamed } from "./properties.ts";

export interface Registers {
  readonly orders: readonly OrderItem[];
  readonly agreed: readonly AgreedRequirement[];
  readonly coils: readonly Coil[];
  readonly heats: readonly Heat[];
  readonly instruments: readonly InstrumentRange[];
}

export const EMPTY_REGISTERS: Registers = { orders: [], agreed: [], coils: [], heats: [], instruments: [] };

export interface MergedRegisters {
  /** The register with what the workbook adds. */
  readonly all: Registers;
  /** Only what the workbook adds. */
  readonly added: Registers;
  readonly findings: readonly Finding[];
}

const textOf = (row: EntryRow, field: string): string | undefined => row.fields[field]?.text;
const optional = <K extends string, V>(key: K, value: V | undefined): { [P in K]?: V } =>
  value === undefined ? {} : ({ [key]: value } as { [P in K]?: V });
const amountOf = (value: FieldValue | undefined): Measure | undefined =>
  value?.unit === undefined ? undefined : { text: value.text, unit: value.unit };

/** Two records with the same content are one, in whatever order a store gives their fields back. */
const identityOf = (record: object): string => JSON.stringify(Object.entries(record).sort(([a], [b]) => (a < b ? -1 : 1)));

/**
 * The register with what the workbook adds; an order whose specification or grade is not held is left out and reported at its cell.
 * Codes: differs-from-register, unknown-specification, unknown-edition, unknown-grade, unknown-order.
 */
export function mergeRegisters(registered: Registers, rows: readonly EntryRow[], library: SpecificationLibrary): MergedRegisters {
  const findings: Finding[] = [];
  const added = {
    orders: [] as OrderItem[],
    agreed: [] as AgreedRequirement[],
    coils: [] as Coil[],
    heats: [] as Heat[],
    instruments: [] as InstrumentRange[],
  };
  const known = {
    orders: new Map(registered.orders.map((o) => [itemKey(o.order, o.item), o])),
    coils: new Map(registered.coils.map((c) => [c.coil, c])),
    heats: new Map(registered.heats.map((h) => [`${h.heat}\u0000${h.analysis}`, h])),
    instruments: new Set(registered.instruments.map((range) => identityOf(range))),
    instrumentNames: new Set(registered.instruments.map((i) => i.instrument)),
  };
  const registeredItems = new Set(known.orders.keys());
  for (const row of rows) {
    switch (row.sheet) {
      case "orders": {
        const key = itemKey(textOf(row, "order"), textOf(row, "item"));
        const before = known.orders.get(key);
        const made = toOrderItem(row, library, findings, before);
        if (made === undefined) break;
        merge(row, key, made, known.orders, added.orders, findings, ORDER_FIELDS);
        // A designation may carry its year, which then is the edition.
        if (before?.specification === made.specification && before.edition !== made.edition && row.fields["edition"] === undefined)
          findings.push(differs(row, "specification", `${before.specification}:${before.edition}`));
        break;
      }
      case "coils":
        merge(row, textOf(row, "coil") ?? "", toCoil(row), known.coils, added.coils, findings, COIL_FIELDS);
        break;
      case "heats": {
        const heat = toHeat(row);
        merge(row, `${heat.heat}\u0000${heat.analysis}`, heat, known.heats, added.heats, findings, HEAT_FIELDS);
        break;
      }
      case "agreed":
        mergeAgreed(row, registered.agreed, registeredItems, added.agreed, findings);
        break;
      case "instruments": {
        const range = toInstrumentRange(row);
        const same = identityOf(range);
        if (known.instruments.has(same)) break;
        // A workbook may register an unknown instrument, and never change the calibrations of a registered one.
        if (known.instrumentNames.has(range.instrument)) findings.push(differs(row, "instrument", "the calibrations of the register"));
        else {
          known.instruments.add(same);
          added.instruments.push(range);
        }
        break;
      }
      default:
    }
  }
  const all: Registers = {
    orders: [...registered.orders, ...added.orders],
    agreed: [...registered.agreed, ...added.agreed],
    coils: [...registered.coils, ...added.coils],
    heats: [...registered.heats, ...added.heats],
    instruments: [...registered.instruments, ...added.instruments],
  };
  reportLooseCoils(rows, all, findings);
  return { all, added, findings };
}

const itemKey = (order: string | undefined, item: string | undefined): string => `${order ?? ""}\u0000${item ?? ""}`;

/** An order's extra requirements are fixed when it is registered, like the order itself. */
function mergeAgreed(
  row: EntryRow,
  registered: readonly AgreedRequirement[],
  registeredItems: ReadonlySet<string>,
  added: AgreedRequirement[],
  findings: Finding[],
): void {
  const agreed = toAgreed(row);
  if (!registeredItems.has(itemKey(agreed.order, agreed.item))) {
    added.push(agreed);
    return;
  }
  const held = registered.filter((a) => a.order === agreed.order && a.item === agreed.item && a.property === agreed.property);
  // An empty cell says nothing against the register.
  const offences = held.map((a) => AGREED_FIELDS.filter((field) => agreed[field] !== undefined && a[field] !== agreed[field]));
  const nearest = offences.toSorted((a, b) => a.length - b.length)[0];
  if (nearest === undefined) findings.push(differs(row, "property", "no such agreed requirement"));
  else for (const field of nearest) findings.push(differs(row, field, shown(held[offences.indexOf(nearest)]?.[field])));
}

const ORDER_FIELDS = [
  "customer",
  "contact",
  "customerOrder",
  "product",
  "specification",
  "edition",
  "grade",
  "nominalDiameter",
  "coatingClass",
  "documentType",
  "decisionRule",
  "decisionRuleAgreed",
  "language",
  "documentUnits",
  "documentDecimalMark",
  "remark",
];
const AGREED_FIELDS = ["min", "max", "unit", "conditions", "agreedIn"] as const;
const HEAT_FIELDS = ["source", "process", ...ELEMENTS];
const INSTRUMENT_FIELDS = [
  "instrument",
  "kind",
  "rangeMin",
  "rangeMax",
  "rangeUnit",
  "class",
  "calibratedOn",
  "dueOn",
  "uncertainty",
  "uncertaintyUnit",
  "coverageFactor",
];
const COIL_FIELDS = ["order", "item", "heat", "testUnit", "motherCoil", "drawnOn", "mass", "length"];

function merge<T extends object>(
  row: EntryRow,
  key: string,
  made: T,
  known: Map<string, T>,
  added: T[],
  findings: Finding[],
  fields: readonly string[],
): void {
  const before = known.get(key);
  if (before === undefined) {
    known.set(key, made);
    added.push(made);
    return;
  }
  // An empty cell says nothing against the register.
  for (const field of fields) {
    if (row.fields[field] === undefined) continue;
    const [a, b] = [valueIn(before, field), valueIn(made, field)];
    if (!same(a, b)) findings.push(differs(row, field, shown(a)));
  }
}

/** A field of a register record; the elements of a heat lie one level down. */
function valueIn(record: object, field: string): unknown {
  const { elements, ...rest } = record as Readonly<Record<string, unknown>> & Partial<Pick<Heat, "elements">>;
  return elements !== undefined && Object.hasOwn(elements, field) ? elements[field] : (rest as Readonly<Record<string, unknown>>)[field];
}

function same(a: unknown, b: unknown): boolean {
  if (isMeasure(a) && isMeasure(b)) {
    if (!isUnit(a.unit) || !isUnit(b.unit)) return a.text === b.text;
    return compareExact(convertExact(exact(a.text), a.unit, b.unit), exact(b.text)) === 0;
  }
  return (a ?? "") === (b ?? "");
}

const isMeasure = (value: unknown): value is Measure => typeof value === "object" && value !== null && "text" in value && "unit" in value;
const shown = (value: unknown): string =>
  isMeasure(value) ? `${value.text} ${value.unit}` : value === undefined || value === "" ? "nothing" : String(value);

function differs(row: EntryRow, field: string, registered: string): Finding {
  const value = row.fields[field];
  return {
    code: "differs-from-register",
    severity: "error",
    sheet: row.sheetName,
    cell: value?.cell ?? `A${row.row}`,
    actual: value?.raw ?? "",
    expected: registered,
    text: `${value?.cell ?? `row ${row.row}`} says "${value?.raw ?? ""}" for ${field}; the register holds ${registered}. The register counts; nothing was changed.`,
  };
}

/**
 * The order item of a row, or undefined with a finding.
 * @param registered the item as registered: its edition stands as long as the row names none
 */
function toOrderItem(row: EntryRow, library: SpecificationLibrary, findings: Finding[], registered?: OrderItem): OrderItem | undefined {
  const designation = textOf(row, "specification") ?? "";
  const edition = textOf(row, "edition") ?? (registered?.specification === designation ? registered.edition : undefined);
  const specification = library.find(designation, edition);
  const problem = (field: string, code: EntryFindingCode, expected: string, text: string): undefined => {
    const value = row.fields[field];
    findings.push({
      code,
      severity: "error",
      sheet: row.sheetName,
      cell: value?.cell ?? `A${row.row}`,
      actual: value?.raw ?? "",
      expected,
      text,
    });
    return undefined;
  };
  if (specification === undefined) {
    const held = library.list();
    const editions = held.filter((s) => s.id === designation || designation.startsWith(`${s.id}:`)).map((s) => s.edition);
    if (editions.length === 0)
      return problem(
        "specification",
        "unknown-specification",
        [...new Set(held.map((s) => s.id))].join(", "),
        `${designation} is not held; "coilbook spec list" names what is.`,
      );
    const list = editions.join(", ");
    const asked = textOf(row, "edition") === undefined ? designation : `${designation} in the edition ${textOf(row, "edition")}`;
    return problem(
      row.fields["edition"] === undefined ? "specification" : "edition",
      "unknown-edition",
      list,
      `${asked} is not held; held ${editions.length === 1 ? "is the edition" : "are the editions"} ${list}.`,
    );
  }
  const grade = gradeOf(textOf(row, "grade"), specification.grades);
  if (grade === undefined)
    return problem(
      "grade",
      "unknown-grade",
      specification.grades.length === 0 ? "empty or -" : specification.grades.join(", "),
      `${specification.id} has no grade "${textOf(row, "grade") ?? ""}".`,
    );
  const nominal = amountOf(row.fields["nominalDiameter"]);
  if (nominal === undefined) return undefined;
  return {
    order: textOf(row, "order") ?? "",
    item: textOf(row, "item") ?? "",
    customer: textOf(row, "customer") ?? "",
    ...optional("contact", textOf(row, "contact")),
    ...optional("customerOrder", textOf(row, "customerOrder")),
    ...optional("product", textOf(row, "product")),
    specification: specification.id,
    edition: specification.edition,
    grade,
    nominalDiameter: nominal,
    ...optional("coatingClass", textOf(row, "coatingClass")),
    documentType: (textOf(row, "documentType") ?? "2.2") as OrderItem["documentType"],
    decisionRule: (textOf(row, "decisionRule") ?? "simple") as OrderItem["decisionRule"],
    ...optional("decisionRuleAgreed", textOf(row, "decisionRuleAgreed")),
    language: textOf(row, "language") ?? "en",
    ...optional("documentUnits", textOf(row, "documentUnits")),
    ...optional("documentDecimalMark", textOf(row, "documentDecimalMark")),
    ...optional("remark", textOf(row, "remark")),
  };
}

/** The grade as held; "" where there is only one. */
function gradeOf(written: string | undefined, held: readonly string[]): string | undefined {
  const given = written ?? "";
  if (held.includes(given)) return given;
  const none = given === "" || given === "-";
  if (held.length === 0) return none ? "" : undefined;
  return none && held.length === 1 ? held[0] : undefined;
}

function toCoil(row: EntryRow): Coil {
  return {
    coil: textOf(row, "coil") ?? "",
    order: textOf(row, "order") ?? "",
    item: textOf(row, "item") ?? "",
    heat: textOf(row, "heat") ?? "",
    ...optional("testUnit", textOf(row, "testUnit")),
    ...optional("motherCoil", textOf(row, "motherCoil")),
    ...optional("drawnOn", textOf(row, "drawnOn")),
    ...optional("mass", amountOf(row.fields["mass"])),
    ...optional("length", amountOf(row.fields["length"])),
  };
}

function toHeat(row: EntryRow): Heat {
  const filled = ELEMENTS.flatMap((element) => {
    const value = row.fields[element];
    return value === undefined ? [] : [[element, value] as const];
  });
  return {
    heat: textOf(row, "heat") ?? "",
    analysis: (textOf(row, "analysis") ?? "heat") as Heat["analysis"],
    source: (textOf(row, "source") ?? "supplier") as Heat["source"],
    ...optional("process", textOf(row, "process")),
    elements: Object.fromEntries(filled.map(([element, value]) => [element, value.text])),
    cells: Object.fromEntries(filled.map(([element, value]) => [element, { sheet: row.sheetName, cell: value.cell, raw: value.raw }])),
  };
}

function toInstrumentRange(row: EntryRow): InstrumentRange {
  const filled = INSTRUMENT_FIELDS.flatMap((field) => {
    const text = textOf(row, field);
    return text === undefined ? [] : [[field, text] as const];
  });
  return { ...Object.fromEntries(filled), instrument: textOf(row, "instrument") ?? "" };
}

function toAgreed(row: EntryRow): AgreedRequirement {
  const unit = textOf(row, "unit");
  return {
    order: textOf(row, "order") ?? "",
    item: textOf(row, "item") ?? "",
    property: propertyNamed(textOf(row, "property") ?? ""),
    ...optional("min", decimalOf(row, "min")),
    ...optional("max", decimalOf(row, "max")),
    ...optional("unit", unit),
    ...optional("conditions", textOf(row, "conditions")),
    ...optional("agreedIn", textOf(row, "agreedIn")),
  };
}

const decimalOf = (row: EntryRow, field: string): string | undefined => {
  const text = textOf(row, field);
  return text !== undefined && isDecimalText(text) ? text : undefined;
};

/** A coil of an order item that nobody entered judges nothing, so it is said. */
function reportLooseCoils(rows: readonly EntryRow[], all: Registers, findings: Finding[]): void {
  const items = new Set(all.orders.map((o) => `${o.order}\u0000${o.item}`));
  for (const row of rows) {
    const order = row.fields["order"];
    if ((row.sheet !== "coils" && row.sheet !== "agreed") || order === undefined) continue;
    if (items.has(`${order.text}\u0000${textOf(row, "item")}`)) continue;
    findings.push({
      code: "unknown-order",
      severity: "error",
      sheet: row.sheetName,
      cell: order.cell,
      actual: `${order.raw} / ${textOf(row, "item") ?? ""}`,
      expected: "an order item of the sheet Orders or of the register",
      text: `Order ${order.text} item ${textOf(row, "item") ?? ""} is not known; what stands in this row is judged for no order.`,
    });
  }
}
