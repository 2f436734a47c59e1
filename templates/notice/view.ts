import { editionText, type Issue } from "../certificate/view.ts";
import { dateText } from "../dates.ts";
import { limitText, nominalText, unitText, wordText } from "../phrases.ts";
import { figure, propertyWord, type Say, words } from "../wording.ts";
import type { NoticeRecord } from "./record.ts";

export interface NoticeView {
  readonly language: string;
  readonly number: string;
  readonly title: string;
  readonly labName: string;
  readonly labAddress: readonly string[];
  readonly head: readonly { readonly label: string; readonly value: string }[];
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
  readonly who: string;
  readonly blank: string;
}

export function toNoticeView(record: NoticeRecord, issue: Issue): NoticeView {
  const say = words(record.language);
  const label = (name: string): string => say(`notice.${name}`);
  const touches = [
    ...record.sameHeat.map(({ heat, coils }) => say("notice.touches.heat", { heat, coils: coils.join(", ") })),
    ...record.sameUnit.map(({ unit, coils }) => say("notice.touches.unit", { unit, coils: coils.join(", ") })),
  ];
  return {
    language: say.language,
    number: issue.number,
    title: `${label("title")} ${issue.number}`,
    labName: record.lab.name,
    labAddress: record.lab.address,
    head: [
      { label: say("document.number"), value: issue.number },
      { label: label("raisedOn"), value: dateText(say, issue.issuedOn) },
      { label: say("document.order"), value: `${record.order} / ${record.item}` },
      { label: say("document.customer"), value: record.customer },
      { label: say("document.specification"), value: editionText(record.specification, record.edition) },
      { label: say("document.grade"), value: record.grade === "" ? say("document.oneGrade") : record.grade },
      { label: say("document.nominalDiameter"), value: nominalText(say, record.nominalDiameter as Parameters<typeof nominalText>[1]) },
    ],
    labels: Object.fromEntries([
      ...["found", "touches", "held", "may", "who", "coil", "property", "required", "result", "excess", "piece", "place"].map((name) => [
        name,
        label(name),
      ]),
      ...["page", "of", "end"].map((name) => [name, say(`document.${name}`)]),
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
        place: `${finding.sheet}!${finding.cell}`,
        reason: finding.reason === "" ? "" : say(`reason.${finding.reason}`),
      };
    }),
    touches: touches.length > 0 ? touches : [label("touches.alone")],
    held: say("notice.held.text", { coils: record.held.join(", ") }),
    may: ["regrade", "concession", "return", "scrap"].map((way) => label(`may.${way}`)),
    who: label("who.nobody"),
    blank: label("blank"),
  };
}

/** "3 turns below" */
function excessText(say: Say, excess: string, unit: string): string {
  const amount = `${figure(say, excess.replace(/^-/, ""))} ${unitText(say, unit)}`.trim();
  return say(excess.startsWith("-") ? "notice.below" : "notice.above", { value: amount });
}
