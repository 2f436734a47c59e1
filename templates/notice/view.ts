import { bilingual } from "../bilingual.ts";
import { editionText, type Issue } from "../certificate/view.ts";
import { dateText } from "../dates.ts";
import { limitText, nominalText, unitText, wordText } from "../phrases.ts";
import { figure, propertyWord, type Say, secondWords, words } from "../wording.ts";
import type { NoticeRecord } from "./record.ts";

export interface NoticeView {
  readonly language: string;
  readonly number: string;
  readonly title: string;
  readonly typeTitle: string;
  readonly footer: string;
  readonly draft: string;
  /** False in the purchaser's form: where the laboratory read a figure concerns nobody else. */
  readonly showsPlace: boolean;
  readonly labName: string;
  readonly labAddress: readonly string[];
  readonly head: readonly { readonly label: string; readonly value: string }[];
  readonly product: readonly { readonly label: string; readonly value: string }[];
  readonly labels: Readonly<Record<string, string>>;
  readonly findings: readonly {
    readonly coil: string;
    readonly property: string;
    readonly piece: string;
    readonly required: string;
    readonly result: string;
    readonly excess: string;
    readonly place: string;
    readonly reason: string;
  }[];
  readonly touches: readonly string[];
  readonly held: string;
  readonly may: readonly string[];
  readonly who: readonly string[];
  readonly blank: string;
}

/** In the language of the record; where it names two, each text that differs holds both. */
export function toNoticeView(record: NoticeRecord, issue: Issue): NoticeView {
  const second = secondWords(record.language);
  const first = viewIn(words(record.language), record, issue);
  return { ...bilingual(first, second === undefined ? undefined : viewIn(second, record, issue)), language: first.language };
}

const WAYS = ["regrade", "concession", "return", "scrap"];
const CUSTOMER_WAYS = ["customer.concession", "customer.replacement", "customer.regrade", "customer.none"];

function viewIn(say: Say, record: NoticeRecord, issue: Issue): NoticeView {
  const customer = record.audience === "customer";
  const label = (name: string): string => say(`notice.${name}`);
  const touches = [
    ...record.sameHeat.map(({ heat, coils }) => say("notice.touches.heat", { heat, coils: coils.join(", ") })),
    ...record.sameUnit.map(({ unit, coils }) => say("notice.touches.unit", { unit, coils: coils.join(", ") })),
    ...(record.documents ?? []).map(({ number, coil, property, before, now }) =>
      say("notice.touches.document", {
        ...{ number, coil, before, now },
        property: property === "" ? say("document.verdict") : propertyWord(say, property),
      }),
    ),
  ];
  return {
    language: say.language,
    number: issue.number,
    title: `${label(customer ? "customerTitle" : "title")} ${issue.number}`,
    typeTitle: label(customer ? "customerTitle" : "title"),
    footer: record.lab.footer ?? "",
    draft: say.draft ? say("document.draftTranslation") : "",
    showsPlace: !customer,
    labName: record.lab.name,
    labAddress: record.lab.address,
    head: [
      { label: say("document.number"), value: issue.number },
      { label: label("raisedOn"), value: dateText(say, issue.issuedOn) },
      ...(record.answerBy === undefined ? [] : [{ label: label("answerBy"), value: dateText(say, record.answerBy) }]),
      { label: say("document.order"), value: `${record.order} / ${record.item}` },
      { label: say("document.customer"), value: record.customer },
    ],
    product: [
      { label: say("document.specification"), value: editionText(record.specification, record.edition) },
      { label: say("document.grade"), value: record.grade === "" ? say("document.oneGrade") : record.grade },
      { label: say("document.nominalDiameter"), value: nominalText(say, record.nominalDiameter as Parameters<typeof nominalText>[1]) },
    ],
    labels: Object.fromEntries([
      ...["found", "touches", "held", "may", "who", "coil", "property", "required", "result", "excess", "piece", "place"].map((name) => [
        name,
        label(name),
      ]),
      ...["page", "of", "end", "check"].map((name) => [name, say(`document.${name}`)]),
      ["logo", say("document.logo", { name: record.lab.name })],
      ["code", say("document.code", { number: issue.number })],
    ]),
    findings: record.findings.map((finding) => {
      const unit = finding.requirement.unit;
      const word = Number.isNaN(Number(finding.compared));
      return {
        coil: finding.coil,
        property: propertyWord(say, finding.property),
        piece: finding.testPiece,
        required: limitText(say, finding.requirement),
        result: word
          ? wordText(say, finding.compared)
          : `${figure(say, finding.compared)} ${unit === "turns" || unit === "bends" ? say(`unit.${unit}`) : unit}`.trim(),
        excess: finding.excess === undefined ? "" : excessText(say, finding.excess, unit),
        place: customer ? "" : `${finding.sheet}!${finding.cell}`,
        reason: finding.reason === "" ? "" : say(`reason.${finding.reason}`),
      };
    }),
    touches: touches.length > 0 ? touches : [label("touches.alone")],
    held: say(customer ? "notice.held.customer" : "notice.held.text", { coils: record.held.join(", ") }),
    may: (customer ? CUSTOMER_WAYS : WAYS).map((way) => label(`may.${way}`)),
    who:
      record.decisions === undefined || record.decisions.length === 0
        ? [label("who.nobody")]
        : record.decisions.map(({ decision, coils, why, by, on }) =>
            say("notice.decided", { decision: label(`decision.${decision}`), coils: coils.join(", "), why, by, on: dateText(say, on) }),
          ),
    blank: label(customer ? "blank.customer" : "blank"),
  };
}

/** "3 turns below" */
function excessText(say: Say, excess: string, unit: string): string {
  const size = excess.replace(/^-/, "");
  const amount =
    `${figure(say, size)} ${size === "1" && (unit === "turns" || unit === "bends") ? say(`unit.${unit}.one`) : unitText(say, unit)}`.trim();
  return say(excess.startsWith("-") ? "notice.below" : "notice.above", { value: amount });
}
