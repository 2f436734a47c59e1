/** The register's pages: what came in, what may go, what waits. Plain HTML for a browser on a share; text only, everything escaped. */

import { join } from "node:path";
import type { OrderItem, OrderVerdict } from "../core/model.ts";
import { type CellStyle, columnLetters, type DescribedCell, type DescribedSheet, writeWorkbook } from "../core/workbook/index.ts";
import { escapeMarkup } from "../templates/escape-markup.ts";
import { dayIn } from "./clock.ts";
import { type DocumentState, isEnded } from "./documents/life.ts";
import type { MailState } from "./documents/send.ts";
import { writeAtomically } from "./files.ts";
import type { WaitingFile } from "./intake/inbox.ts";
import type { FileState } from "./process-file.ts";
import { noticeLines } from "./quality/notice-life.ts";
import { holdText, openProperties, standingOf, type WireStanding } from "./quality/standing.ts";
import type { Workshop } from "./workshop.ts";

const STYLE = `body{font:15px/1.5 system-ui,sans-serif;color:#161616;max-width:70rem;margin:2rem auto;padding:0 1rem}h1{font-size:1.5rem;border-bottom:2px solid #161616;padding-bottom:.4rem}h2{font-size:1.05rem;margin:1.6rem 0 .3rem}table{border-collapse:collapse;width:100%}th,td{text-align:left;padding:.3rem .6rem .3rem 0;border-bottom:1px solid #ccc;vertical-align:top}p.small{color:#444;font-size:.9rem}`;

function page(title: string, body: string): string {
  return `<!doctype html><html lang="en"><head><meta charset="utf-8"><meta name="viewport" content="width=device-width"><meta http-equiv="Content-Security-Policy" content="default-src 'none'; style-src 'unsafe-inline'"><title>${escapeMarkup(title)}</title><style>${STYLE}</style></head><body>${body}</body></html>\n`;
}

const clockTime = (timeZone: string, at: Date): string =>
  new Intl.DateTimeFormat("en-GB", { timeZone, hour: "2-digit", minute: "2-digit" }).format(at);

const SHAPES: Readonly<Record<OrderVerdict["verdict"], string>> = {
  conforms: "■",
  "does-not-conform": "✕",
  "retest-due": "□",
  undecided: "□",
  "not-tested": "□",
};

export async function writePages(workshop: Workshop, waiting: readonly WaitingFile[]): Promise<void> {
  const { ledger, lab, clock } = workshop;
  const now = clock.now();
  const files = (await ledger.list<FileState>("file")).map((state) => state.value).sort((a, b) => (a.receivedAt < b.receivedAt ? 1 : -1));
  const documents = (await ledger.list<DocumentState>("document")).map((state) => state.value);
  const zone = lab.settings.timeZone;
  const alive = `worker alive ${clockTime(zone, now)}, ${dayIn(zone, now)}`;
  const drafts = documents.filter((document) => document.status === "draft");
  const questioned = documents.filter((document) => document.status === "in-question");
  const unsure = (await ledger.list<MailState>("mail")).map((state) => state.value).filter(isUnsure);
  const notices = (await noticeLines(ledger, workshop.today())).filter((line) => line.status !== "closed");
  const seal = await lastFactText(workshop);
  const nowBody = `<h1>${escapeMarkup(lab.settings.lab.name)}: what came in</h1><p class="small">${alive}</p>
${waiting.length > 0 ? `<h2>Waits</h2><ul>${waiting.map((file) => `<li>${escapeMarkup(file.name)} ${escapeMarkup(file.why)}</li>`).join("")}</ul>` : ""}
${drafts.length > 0 ? `<h2>Drafts without a signature</h2><ul>${drafts.map((draft) => `<li>${escapeMarkup(draft.id)}: ${draft.coils.length} coils of ${escapeMarkup(draft.owner)}${lab.settings.documents.signer === "" ? ", no signer is named in the settings" : ""}</li>`).join("")}</ul>` : ""}
${listOf(
  "Documents in question",
  questioned.map(
    (d) =>
      `${d.number ?? ""} of ${d.owner}: ${(d.question?.differences ?? []).map((x) => `coil ${x.coil} ${x.property} ${x.before} → ${x.now}`).join("; ")}. Confirm, amend or withdraw it.`,
  ),
)}
${listOf(
  "Open notices",
  notices.map(
    (n) =>
      `${n.number} of ${n.order}, coils ${n.coils.join(", ")}: ${n.status}${n.answerBy === undefined ? "" : `, answer by ${n.answerBy}`}. ${n.next}`,
  ),
)}
${listOf(
  "Mail that may have arrived",
  unsure.map((m) => `${m.number} to ${m.to}: say "coilbook send ${m.number} --to ${m.to}" with --again or --done.`),
)}
<h2>Files</h2><table><thead><tr><th scope="col">Received</th><th scope="col">File</th><th scope="col">Taken as</th><th scope="col">Errors</th></tr></thead><tbody>${files
    .slice(0, 200)
    .map(
      (file) =>
        `<tr><td>${dayIn(zone, new Date(file.receivedAt))} ${clockTime(zone, new Date(file.receivedAt))}</td><td>${escapeMarkup(file.name)}</td><td>${file.status === "refused" ? `refused: ${escapeMarkup(file.refusal?.text ?? "")}` : "read and judged"}</td><td>${file.findings.filter((f) => f.severity === "error").length}</td></tr>`,
    )
    .join("")}</tbody></table>${seal}`;
  writeAtomically(join(lab.folder, "register", "register.xlsx"), await registerWorkbook(workshop, files, documents));
  writeAtomically(join(lab.folder, "register", "now.html"), page("What came in", nowBody));
  writeAtomically(
    join(lab.folder, "register", "index.html"),
    page("Loading list", (await loadingList(workshop, documents, `${alive} · ■ conforms □ open ✕ does not conform ▨ held`)) + seal),
  );
}

/** The server may have it, and only a person can find out. */
const isUnsure = ({ status }: MailState): boolean => status === "unsure" || status === "sending";

const listOf = (title: string, lines: readonly string[]): string =>
  lines.length === 0 ? "" : `<h2>${title}</h2><ul>${lines.map((line) => `<li>${escapeMarkup(line)}</li>`).join("")}</ul>`;

/** Whoever keeps a copy of this line can show later that the facts up to it were not changed. */
async function lastFactText({ ledger }: Workshop): Promise<string> {
  const anchor = await ledger.database.selectFrom("anchor").selectAll().where("id", "=", 1).executeTakeFirst();
  return `<p class="small">Last fact of the ledger: ${anchor?.facts ?? 0} ${escapeMarkup(anchor?.last_hash ?? "")}</p>`;
}

const REGISTER_STYLES: Readonly<Record<string, CellStyle>> = {
  head: { bold: true, fill: "E9E7E0", border: true, wrap: true },
  text: { border: true },
};

/** Every coil and every file as rows to sort and filter. */
async function registerWorkbook(workshop: Workshop, files: readonly FileState[], documents: readonly DocumentState[]): Promise<Uint8Array> {
  const { ledger } = workshop;
  const numbers = new Map(
    documents
      .filter((d) => d.kind === "certificate" && d.number !== undefined && !isEnded(d))
      .flatMap((d) => d.coils.map((coil) => [coil, d.number ?? ""] as const)),
  );
  const coils: (string | number)[][] = [];
  for (const { key, value } of await ledger.list<{ verdict: OrderVerdict }>("verdict")) {
    const order = await ledger.get<OrderItem>("order", key);
    const { verdict } = value;
    const standing = await standingOf(ledger, key, verdict, workshop.today());
    for (const coil of verdict.coils)
      coils.push([
        verdict.order,
        verdict.item,
        order?.customer ?? "",
        `${verdict.specification} ${verdict.grade}`.trim(),
        Number(verdict.nominalDiameter.text),
        verdict.nominalDiameter.unit,
        coil.coil,
        coil.heat,
        coil.testUnit,
        coil.verdict,
        coil.basis,
        numbers.get(coil.coil) ?? "",
        whatMayHappen(coil, verdict, standing, numbers.get(coil.coil)),
      ]);
  }
  return writeWorkbook({
    styles: REGISTER_STYLES,
    sheets: [
      registerSheet(
        "Coils",
        [
          "Order",
          "Item",
          "Customer",
          "Specification",
          "Nominal",
          "Unit",
          "Coil",
          "Heat",
          "Test unit",
          "Verdict",
          "Stands on",
          "Document",
          "Next",
        ],
        [14, 8, 24, 20, 9, 6, 14, 12, 18, 18, 14, 14, 80],
        coils,
      ),
      registerSheet(
        "Files",
        ["Received", "File", "Taken as", "Errors", "SHA-256"],
        [22, 34, 60, 8, 66],
        files.map((f) => [
          f.receivedAt,
          f.name,
          f.status === "refused" ? (f.refusal?.text ?? "refused") : "read and judged",
          f.findings.filter((finding) => finding.severity === "error").length,
          f.sha256,
        ]),
      ),
    ],
  });
}

function registerSheet(
  name: string,
  head: readonly string[],
  widths: readonly number[],
  rows: readonly (readonly (string | number)[])[],
): DescribedSheet {
  const line = (values: readonly (string | number)[], style: string): Map<number, DescribedCell> =>
    new Map(values.map((value, i) => [i + 1, { value, style }]));
  return {
    name,
    rows: new Map([[1, line(head, "head")], ...rows.map((row, i): [number, Map<number, DescribedCell>] => [i + 2, line(row, "text")])]),
    widths: Object.fromEntries(widths.map((width, i) => [i + 1, width])),
    freezeRows: 1,
    filter: `A1:${columnLetters(head.length)}${Math.max(2, rows.length + 1)}`,
  };
}

/** Orders, under each its coils with "may go" or their next sentence. */
async function loadingList(workshop: Workshop, documents: readonly DocumentState[], alive: string): Promise<string> {
  const { ledger, lab } = workshop;
  const sections: string[] = [];
  for (const { key, value } of await ledger.list<{ verdict: OrderVerdict }>("verdict")) {
    const order = await ledger.get<OrderItem>("order", key);
    const own = documents.filter((document) => document.owner === key && document.number !== undefined);
    const numbers = new Map(
      own.filter((d) => d.kind === "certificate" && !isEnded(d)).flatMap((d) => d.coils.map((coil) => [coil, d.number ?? ""] as const)),
    );
    const standing = await standingOf(ledger, key, value.verdict, workshop.today());
    const rows = value.verdict.coils.map((coil) => {
      const says = whatMayHappen(coil, value.verdict, standing, numbers.get(coil.coil));
      return `<tr><td>${standing.holds.has(coil.coil) ? "▨" : SHAPES[coil.verdict]}</td><td>${escapeMarkup(coil.coil)}</td><td>${escapeMarkup(says)}</td><td>${escapeMarkup(numbers.get(coil.coil) ?? "")}</td></tr>`;
    });
    const notices = own.filter((d) => d.kind === "notice").map((d) => d.number ?? "");
    sections.push(
      `<h2>${escapeMarkup(key)} · ${escapeMarkup(order?.customer ?? "")} · ${escapeMarkup(value.verdict.specification)} ${escapeMarkup(value.verdict.grade)} ${escapeMarkup(value.verdict.nominalDiameter.text)} ${escapeMarkup(value.verdict.nominalDiameter.unit)}</h2>${notices.length > 0 ? `<p class="small">Notices: ${escapeMarkup(notices.join(", "))}</p>` : ""}<table><thead><tr><th scope="col"></th><th scope="col">Coil</th><th scope="col">What may happen</th><th scope="col">Document</th></tr></thead><tbody>${rows.join("")}</tbody></table>`,
    );
  }
  return `<h1>${escapeMarkup(lab.settings.lab.name)}: loading list</h1><p class="small">${alive}</p>${sections.join("")}`;
}

/** One sentence a coil: it left, may go, or why it may not. */
function whatMayHappen(
  coil: OrderVerdict["coils"][number],
  verdict: OrderVerdict,
  standing: WireStanding,
  number: string | undefined,
): string {
  const shipped = standing.shipped.get(coil.coil);
  const questioned = standing.questioned.get(coil.coil);
  const left = shipped === undefined ? "" : `left on ${shipped.note} (${shipped.on})`;
  const steps = coil.next.map((step) => step.text).join(" ");
  const holds = (standing.holds.get(coil.coil) ?? []).map((hold) => `${holdText(hold)}.`).join(" ");
  const against = [
    holds,
    questioned === undefined ? "" : `Document ${questioned} is in question.`,
    openProperties(verdict, coil.coil, standing).length === 0 ? "" : steps || "does not conform",
  ].filter((text) => text !== "");
  if (against.length > 0) return [left === "" ? "" : `${left};`, ...against].join(" ").trim();
  if (left !== "") return left;
  return number === undefined ? "conforms; its document is not written yet" : "may go";
}
