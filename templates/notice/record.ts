/** A nonconformance notice as data, under its five headings. @source ISO 9001:2015, 8.7 (memory) */
import { exact, subtractExact, toDecimalText } from "../../core/decimal.ts";
import type { OrderItem, OrderVerdict, Requirement } from "../../core/model.ts";
import type { LabParty } from "../certificate/record.ts";

export const NOTICE_TEMPLATE = "notice/1";

export interface NoticeFinding {
  readonly coil: string;
  readonly property: string;
  readonly requirement: Omit<Requirement, "rounding" | "evaluate" | "indicative" | "listedOnly">;
  readonly testPiece: string;
  readonly compared: string;
  readonly value: string;
  readonly reason: string;
  /** By how much the compared figure misses its limit, decimal text. */
  readonly excess?: string;
  readonly sheet: string;
  readonly cell: string;
}

/** What a named person decided about coils of the notice. @source ISO 9001:2015, 8.7.2 (memory) */
export interface NoticeDecision {
  readonly decision: "scrap" | "concession" | "regrade" | "return" | "release";
  readonly coils: readonly string[];
  readonly why: string;
  readonly by: string;
  /** `YYYY-MM-DD` */
  readonly on: string;
}

export interface NoticeRecord {
  readonly schema: "notice-record/1";
  readonly template: string;
  readonly language: string;
  readonly lab: LabParty;
  readonly order: string;
  readonly item: string;
  readonly customer: string;
  readonly specification: string;
  readonly edition: string;
  readonly grade: string;
  readonly nominalDiameter: { readonly text: string; readonly unit: string };
  readonly findings: readonly NoticeFinding[];
  readonly sameHeat: readonly { readonly heat: string; readonly coils: readonly string[] }[];
  readonly sameUnit: readonly { readonly unit: string; readonly coils: readonly string[] }[];
  readonly held: readonly string[];
  /** Absent: for the laboratory itself. The purchaser's form leaves out what concerns the laboratory alone. */
  readonly audience?: "customer";
  /** `YYYY-MM-DD` */
  readonly answerBy?: string;
  readonly decisions?: readonly NoticeDecision[];
  /** Issued documents that say what is not so any more. */
  readonly documents?: readonly NoticeDocument[];
}

/** One thing an issued document says, and what is known now: a figure with its outcome, a limit or a verdict, as codes. */
export interface NoticeDocument {
  readonly number: string;
  readonly coil: string;
  readonly property: string;
  readonly before: string;
  readonly now: string;
}

/** What turns a notice into the purchaser's, or tells what was decided. */
export type NoticeAdditions = Pick<NoticeRecord, "audience" | "answerBy" | "decisions" | "documents">;

/** @param facts which coil and property the notice is about */
export function toNoticeRecord(
  order: OrderItem,
  verdict: OrderVerdict,
  facts: readonly { readonly coil: string; readonly property: string }[],
  lab: LabParty,
  additions: NoticeAdditions = {},
): NoticeRecord {
  const failing = verdict.coils.filter((coil) => facts.some((fact) => fact.coil === coil.coil));
  const findings = failing.flatMap((coil) =>
    coil.requirements
      .filter((r) => facts.some((fact) => fact.coil === coil.coil && fact.property === r.property))
      .flatMap((r) =>
        r.results
          .filter((result) => result.counts && result.outcome === "does-not-conform")
          .map((result): NoticeFinding => {
            const { rounding: _r, evaluate: _e, indicative: _i, listedOnly: _l, ...requirement } = r.requirement;
            const limit = result.reason === "below-min" ? requirement.min : result.reason === "above-max" ? requirement.max : undefined;
            const excess =
              limit === undefined || typeof result.value === "string"
                ? undefined
                : toDecimalText(subtractExact(exact(result.compared), exact(limit)));
            return {
              coil: coil.coil,
              property: r.property,
              requirement,
              testPiece: result.testPiece,
              compared: result.compared,
              value: String(result.value),
              reason: result.reason ?? "",
              ...(excess === undefined ? {} : { excess }),
              sheet: result.sheet,
              cell: result.cell,
            };
          }),
      ),
  );
  const together = (key: "heat" | "testUnit"): { name: string; coils: string[] }[] =>
    [...new Set(failing.map((coil) => coil[key]))]
      .map((name) => ({
        name,
        coils: verdict.coils.filter((coil) => coil[key] === name && !failing.includes(coil)).map((coil) => coil.coil),
      }))
      .filter((group) => group.coils.length > 0);
  return {
    schema: "notice-record/1",
    template: NOTICE_TEMPLATE,
    language: order.language,
    lab,
    order: order.order,
    item: order.item,
    customer: order.customer,
    specification: verdict.specification,
    edition: verdict.edition,
    grade: verdict.grade,
    nominalDiameter: order.nominalDiameter,
    findings,
    sameHeat: together("heat").map(({ name, coils }) => ({ heat: name, coils })),
    sameUnit: together("testUnit").map(({ name, coils }) => ({ unit: name, coils })),
    held: failing.map((coil) => coil.coil),
    ...additions,
  };
}
