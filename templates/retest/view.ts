import { bilingual } from "../bilingual.ts";
import { editionText, type Field, type Issue } from "../certificate/view.ts";
import { dateText } from "../dates.ts";
import { conditionsText, limitText, nominalText } from "../phrases.ts";
import { propertyWord, type Say, secondWords, words } from "../wording.ts";
import type { RetestRecord } from "./record.ts";

export interface RetestView {
  readonly language: string;
  readonly number: string;
  readonly title: string;
  readonly typeTitle: string;
  readonly labName: string;
  readonly labAddress: readonly string[];
  readonly footer: string;
  readonly draft: string;
  readonly head: readonly Field[];
  readonly product: readonly Field[];
  readonly labels: Readonly<Record<string, string>>;
  readonly steps: readonly {
    readonly coil: string;
    readonly heat: string;
    readonly property: string;
    readonly todo: string;
    readonly pieces: string;
    readonly end: string;
    readonly limit: string;
    readonly conditions: string;
    readonly because: string;
    readonly standsFor: string;
  }[];
  readonly note: string;
}

/** In the language of the record; where it names two, each text that differs holds both. */
export function toRetestView(record: RetestRecord, issue: Issue): RetestView {
  const second = secondWords(record.language, record.decimalMark);
  const first = viewIn(words(record.language, record.decimalMark), record, issue);
  return { ...bilingual(first, second === undefined ? undefined : viewIn(second, record, issue)), language: first.language };
}

function viewIn(say: Say, record: RetestRecord, issue: Issue): RetestView {
  const label = (name: string): string => say(`retest.${name}`);
  const order = `${record.order} / ${record.item}`;
  return {
    language: say.language,
    number: issue.number,
    title: `${label("title")} ${issue.number}`,
    typeTitle: label("title"),
    labName: record.lab.name,
    labAddress: record.lab.address,
    footer: record.lab.footer ?? "",
    draft: say.draft ? say("document.draftTranslation") : "",
    head: [
      { label: say("document.number"), value: issue.number, code: "" },
      { label: say("document.issuedOn"), value: dateText(say, issue.issuedOn), code: "" },
      { label: say("document.order"), value: order, code: "" },
      { label: say("document.customer"), value: record.customer, code: "" },
    ],
    product: [
      { label: say("document.specification"), value: editionText(record.specification, record.edition), code: "" },
      { label: say("document.grade"), value: record.grade === "" ? say("document.oneGrade") : record.grade, code: "" },
      {
        label: say("document.nominalDiameter"),
        value: nominalText(say, record.nominalDiameter as Parameters<typeof nominalText>[1]),
        code: "",
      },
    ],
    labels: {
      ...Object.fromEntries(["steps", "do", "pieces", "because", "stands", "marked", "done"].map((name) => [name, label(name)])),
      ...Object.fromEntries(
        ["coil", "heat", "property", "limit", "conditions", "page", "of", "check"].map((name) => [name, say(`document.${name}`)]),
      ),
      wireEnd: label("end"),
      end: say("document.end"),
      logo: say("document.logo", { name: record.lab.name }),
      code: say("retest.code", { order }),
    },
    steps: record.steps.map((step) => ({
      coil: step.coil,
      heat: step.heat,
      property: propertyWord(say, step.property),
      todo: label(`do.${step.do}`),
      pieces: String(step.pieces),
      end: say(`bench.end.${step.end ?? "any"}`),
      limit: limitText(say, step.requirement),
      conditions: conditionsText(say, step.requirement.conditions),
      because: step.reason === undefined ? "" : say(`reason.${step.reason}`),
      standsFor: step.standsFor.join(", "),
    })),
    note: label("note"),
  };
}
