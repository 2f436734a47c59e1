/** What the tests of the worked examples share: figures out of a printed answer, and rows judged by the built-in specifications. */
import { judge } from "../../../core/judge/index.ts";
import type { AgreedRequirement, EntryRow, Heat, OrderItem, RequirementVerdict } from "../../../core/model.ts";
import { builtInLibrary } from "../../../core/spec/index.ts";

/** Every number of a printed answer; digits of units and of designations are none. */
export function figures(printed: string): readonly string[] {
  return printed.replaceAll(/\b(?:ft2|m2|mm2|H2|V0|EN \d+-\d+)\b/g, "").match(/(?<![\d.])-?\d+(?:\.\d+)?/g) ?? [];
}

/** Half a step of the last printed place, a little widened for the figure's own rounding. */
export const halfPlace = (printed: string): number => 0.51 * 10 ** -(printed.split(".")[1]?.length ?? 0);

export interface Judged {
  readonly specification: string;
  readonly grade?: string;
  /** `3.00 mm` */
  readonly nominal: string;
  readonly coatingClass?: string;
  readonly rows?: readonly EntryRow[];
  readonly heats?: readonly Heat[];
  readonly agreed?: Pick<AgreedRequirement, "property" | "min" | "max" | "unit" | "conditions">;
}

/** The verdict on one property of one coil, by the built-in specification. Order, coil and heat are invented. */
export function judgedProperty(property: string, given: Judged): RequirementVerdict {
  const library = builtInLibrary();
  const [text = "", unit = "mm"] = given.nominal.split(" ");
  const order: OrderItem = {
    order: "O1",
    item: "1",
    customer: "Invented customer",
    specification: given.specification,
    edition: library.find(given.specification)?.edition ?? "",
    grade: given.grade ?? "",
    nominalDiameter: { text, unit: unit as "mm" | "in" },
    ...(given.coatingClass === undefined ? {} : { coatingClass: given.coatingClass }),
    documentType: "2.2",
    decisionRule: "simple",
    language: "en",
  };
  const judgement = judge({
    orders: [order],
    agreed: given.agreed === undefined ? [] : [{ order: "O1", item: "1", ...given.agreed }],
    coils: [{ coil: "C1", order: "O1", item: "1", heat: "H1" }],
    heats: given.heats ?? [],
    instruments: [{ instrument: "M1", calibratedOn: "2026-01-01", dueOn: "2026-12-31" }],
    tests: given.rows ?? [],
    unread: [],
    settlements: [],
    specifications: library,
    isAdopted: () => true,
    today: "2026-03-03",
    freeLengthTolerance: "0.01",
  });
  const found = judgement.orders[0]?.coils[0]?.requirements.find((each) => each.property === property);
  if (found === undefined) throw new Error(`${given.specification}: ${property} was not judged`);
  return found;
}
