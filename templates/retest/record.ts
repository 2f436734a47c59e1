/** An order for the bench: which pieces to cut and test again, and why. Data only. */
import type { NextStep, OrderItem, OrderVerdict } from "../../core/model.ts";
import type { Amount, CertificateRequirement, LabParty } from "../certificate/record.ts";

export interface RetestStep {
  readonly coil: string;
  readonly heat: string;
  readonly property: string;
  readonly do: "test" | "repeat" | "retest";
  readonly pieces: number;
  readonly end?: NonNullable<NextStep["end"]>;
  readonly requirement: CertificateRequirement;
  readonly reason?: string;
  /** Pieces that failed or were void. */
  readonly standsFor: readonly string[];
}

export interface RetestRecord {
  readonly schema: "retest-order-record/1";
  readonly template: string;
  readonly language: string;
  readonly decimalMark?: string;
  readonly lab: LabParty;
  readonly order: string;
  readonly item: string;
  readonly customer: string;
  readonly specification: string;
  readonly edition: string;
  readonly grade: string;
  readonly nominalDiameter: Amount;
  readonly steps: readonly RetestStep[];
}

export const RETEST_TEMPLATE = "retest-order/1";

const isBench = (step: NextStep): step is NextStep & { readonly do: RetestStep["do"] } =>
  step.do === "test" || step.do === "repeat" || step.do === "retest";

/** Every step of the item that the bench does; a record without steps where there is none. */
export function toRetestRecord(order: OrderItem, verdict: OrderVerdict, lab: LabParty): RetestRecord {
  return {
    schema: "retest-order-record/1",
    template: RETEST_TEMPLATE,
    language: order.language,
    ...(order.documentDecimalMark === undefined ? {} : { decimalMark: order.documentDecimalMark }),
    lab,
    order: order.order,
    item: order.item,
    customer: order.customer,
    specification: verdict.specification,
    edition: verdict.edition,
    grade: verdict.grade,
    nominalDiameter: order.nominalDiameter,
    steps: verdict.coils.flatMap((coil) =>
      coil.requirements.flatMap(({ property, requirement, next, reason, results }) =>
        next.filter(isBench).map((step): RetestStep => {
          const { rounding: _r, evaluate: _e, indicative: _i, listedOnly: _l, ...rest } = requirement;
          const undone = results.filter((result) => !result.counts || result.outcome === "does-not-conform");
          return {
            coil: coil.coil,
            heat: coil.heat,
            property,
            do: step.do,
            pieces: step.pieces ?? 1,
            ...(step.end === undefined ? {} : { end: step.end }),
            requirement: rest,
            ...(reason === undefined ? {} : { reason }),
            standsFor: step.do === "test" ? [] : [...new Set(undone.map((result) => result.testPiece))],
          };
        }),
      ),
    ),
  };
}
