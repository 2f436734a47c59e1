import { bilingual } from "../bilingual.ts";
import { editionText, type Issue } from "../certificate/view.ts";
import { nominalText } from "../phrases.ts";
import { figure, type Say, secondWords, words } from "../wording.ts";
import type { LabelsRecord } from "./record.ts";

export interface LabelsView {
  readonly language: string;
  readonly number: string;
  readonly title: string;
  readonly labName: string;
  readonly labels: Readonly<Record<string, string>>;
  readonly coils: readonly {
    readonly coil: string;
    readonly fields: readonly { readonly label: string; readonly value: string }[];
    /** What the code on the label holds, a line each. */
    readonly code: string;
    readonly codeLabel: string;
  }[];
}

/** In the language of the record; where it names two, each text that differs holds both. */
export function toLabelsView(record: LabelsRecord, issue: Issue): LabelsView {
  const second = secondWords(record.language, record.decimalMark);
  const first = viewIn(words(record.language, record.decimalMark), record, issue);
  return { ...bilingual(first, second === undefined ? undefined : viewIn(second, record, issue)), language: first.language };
}

function viewIn(say: Say, record: LabelsRecord, issue: Issue): LabelsView {
  const label = (name: string): string => say(`document.${name}`);
  const amount = (value: { readonly text: string; readonly unit: string } | undefined): string =>
    value === undefined ? "" : `${figure(say, value.text)} ${value.unit}`;
  const order = `${record.order} / ${record.item}`;
  return {
    language: say.language,
    number: issue.number,
    title: `${say("label.title")} ${order}`,
    labName: record.lab.name,
    labels: { coil: label("coil") },
    coils: record.coils.map((coil) => ({
      coil: coil.coil,
      fields: [
        { label: label("customer"), value: record.customer },
        { label: label("customerOrder"), value: record.customerOrder ?? "" },
        { label: label("order"), value: order },
        { label: label("product"), value: record.product ?? "" },
        {
          label: label("specification"),
          value: [editionText(record.specification, record.edition), record.grade, record.coatingClass ?? ""]
            .filter((p) => p !== "")
            .join(" · "),
        },
        { label: label("nominalDiameter"), value: nominalText(say, record.nominalDiameter as Parameters<typeof nominalText>[1]) },
        { label: label("heat"), value: coil.heat },
        { label: label("mass"), value: amount(coil.mass) },
        { label: say("label.length"), value: amount(coil.length) },
        { label: say("label.document"), value: coil.document ?? "" },
      ].filter((field) => field.value !== ""),
      code: [coil.coil, record.order, record.item, coil.document ?? ""].join("\n"),
      codeLabel: say("label.code", { coil: coil.coil }),
    })),
  };
}
