/** Labels to hang on coils. Data only. */
import type { Coil, OrderItem, OrderVerdict } from "../../core/model.ts";
import type { Amount, LabParty } from "../certificate/record.ts";

export interface LabelsRecord {
  readonly schema: "coil-labels-record/1";
  readonly template: string;
  readonly language: string;
  readonly decimalMark?: string;
  readonly lab: LabParty;
  readonly order: string;
  readonly item: string;
  readonly customer: string;
  readonly customerOrder?: string;
  readonly product?: string;
  readonly specification: string;
  readonly edition: string;
  readonly grade: string;
  readonly coatingClass?: string;
  readonly nominalDiameter: Amount;
  readonly coils: readonly {
    readonly coil: string;
    readonly heat: string;
    readonly mass?: Amount;
    readonly length?: Amount;
    /** The document that the coil goes with. */
    readonly document?: string;
  }[];
}

export const LABELS_TEMPLATE = "coil-labels/1";

/** @param documents numbers of the documents by coil */
export function toLabelsRecord(
  order: OrderItem,
  verdict: OrderVerdict,
  coils: readonly Coil[],
  lab: LabParty,
  documents: ReadonlyMap<string, string> = new Map(),
): LabelsRecord {
  return {
    schema: "coil-labels-record/1",
    template: LABELS_TEMPLATE,
    language: order.language,
    ...(order.documentDecimalMark === undefined ? {} : { decimalMark: order.documentDecimalMark }),
    lab,
    order: order.order,
    item: order.item,
    customer: order.customer,
    ...(order.customerOrder === undefined ? {} : { customerOrder: order.customerOrder }),
    ...(order.product === undefined ? {} : { product: order.product }),
    specification: verdict.specification,
    edition: verdict.edition,
    grade: verdict.grade,
    ...(order.coatingClass === undefined ? {} : { coatingClass: order.coatingClass }),
    nominalDiameter: order.nominalDiameter,
    coils: coils.map((coil) => {
      const document = documents.get(coil.coil);
      return {
        coil: coil.coil,
        heat: coil.heat,
        ...(coil.mass === undefined ? {} : { mass: coil.mass }),
        ...(coil.length === undefined ? {} : { length: coil.length }),
        ...(document === undefined ? {} : { document }),
      };
    }),
  };
}
