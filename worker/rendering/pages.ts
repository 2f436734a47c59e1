/** Views to HTML. The pages loop and choose; everything is escaped, and no template reaches a prototype. */
import { createHash } from "node:crypto";
import { readdirSync, readFileSync } from "node:fs";
import Handlebars from "handlebars";
import { onOneLine, textsOf } from "../../templates/bilingual.ts";
import type { CertificateRecord } from "../../templates/certificate/record.ts";
import { type Issue, type Shape, toCertificateView } from "../../templates/certificate/view.ts";
import type { LabelsRecord } from "../../templates/label/record.ts";
import { toLabelsView } from "../../templates/label/view.ts";
import type { NoticeRecord } from "../../templates/notice/record.ts";
import { toNoticeView } from "../../templates/notice/view.ts";
import type { PrintedRecord } from "../../templates/records.ts";
import type { RetestRecord } from "../../templates/retest/record.ts";
import { toRetestView } from "../../templates/retest/view.ts";
import { secondWords } from "../../templates/wording.ts";
import { codeSvg } from "./code.ts";
import type { Look } from "./look.ts";

export interface Page {
  readonly body: string;
  /** The same for every document of a lab, so that a warm browser keeps it, with its fonts. */
  readonly style: string;
  readonly title: string;
  readonly language: string;
}

/** How and on what a document is printed. */
export interface Paper {
  readonly paper: "A4" | "Letter";
  readonly look: Look;
  /** Printed before the number in the code of a document; "" where there is none. */
  readonly codeAddress: string;
}

const folder = new URL("../../templates/", import.meta.url);
const text = (name: string): string => readFileSync(new URL(name, folder), "utf8");

const runtime = { allowProtoMethodsByDefault: false, allowProtoPropertiesByDefault: false } as const;
const PAGES = ["certificate", "notice", "retest", "label"] as const;
type PageName = (typeof PAGES)[number];

interface Templates {
  readonly pages: Readonly<Record<PageName, HandlebarsTemplateDelegate>>;
  readonly css: HandlebarsTemplateDelegate;
  readonly fonts: readonly { readonly family: string; readonly weight: string; readonly url: string }[];
}

/** Families in the order in which they are asked for a letter. */
const FAMILIES: readonly (readonly [string, RegExp])[] = [
  ["Coilbook Text", /^noto-sans-(regular|bold)\.woff2$/],
  ["Coilbook Hebrew", /^noto-sans-hebrew-(regular|bold)\.woff2$/],
  ["Coilbook Arabic", /^noto-sans-arabic-(regular|bold)\.woff2$/],
  ["Coilbook Symbols", /^noto-sans-(symbols)\.woff2$/],
  ["Coilbook Shapes", /^noto-sans-(shapes)\.woff2$/],
];
const WEIGHTS: Readonly<Record<string, string>> = { regular: "400", bold: "700" };

let loaded: Templates | undefined;
function templates(): Templates {
  if (loaded !== undefined) return loaded;
  const engine = Handlebars.create();
  const { escapeExpression } = engine.Utils;
  let language = "";
  engine.registerHelper("speak", (second: string) => {
    language = second;
    return "";
  });
  // A text in two languages; the second says which one it is, for those who have it read aloud. Without a role the printer drops that.
  engine.registerHelper("t", (value: unknown) => {
    const [first = "", second] = textsOf(String(value ?? ""));
    const other = second === undefined ? "" : `<span class="other" role="group" lang="${language}">${escapeExpression(second)}</span>`;
    return new engine.SafeString(escapeExpression(first) + other);
  });
  for (const part of ["head", "fields", "end"]) engine.registerPartial(part, text(`parts/${part}.hbs`).trim());
  const compile = (source: string, noEscape = false): HandlebarsTemplateDelegate =>
    engine.compile(source, { noEscape, strict: false, knownHelpers: { t: true, speak: true }, knownHelpersOnly: true });
  const files = readdirSync(new URL("fonts/", folder));
  loaded = {
    pages: Object.fromEntries(PAGES.map((name) => [name, compile(`{{speak second}}${text(`${name}/page.hbs`)}`)])) as Templates["pages"],
    css: compile(text("page.css"), true),
    fonts: FAMILIES.flatMap(([family, pattern]) =>
      files
        .filter((file) => pattern.test(file))
        .sort()
        .map((file) => ({
          family,
          // Signs have one weight; drawn bolder they would become pictures.
          weight: WEIGHTS[pattern.exec(file)?.[1] ?? ""] ?? "400 700",
          url: `data:font/woff2;base64,${readFileSync(new URL(`fonts/${file}`, folder)).toString("base64")}`,
        })),
    ),
  };
  return loaded;
}

const INK = "#161616";
/** Shapes that read in black and white: filled square, open square, cross, hatch. */
const SHAPES: Readonly<Record<Shape, string>> = {
  conforms: `<svg class="shape" viewBox="0 0 10 10" aria-hidden="true"><rect x="1" y="1" width="8" height="8" fill="${INK}"/></svg>`,
  open: `<svg class="shape" viewBox="0 0 10 10" aria-hidden="true"><rect x="1.6" y="1.6" width="6.8" height="6.8" fill="none" stroke="${INK}" stroke-width="1.2"/></svg>`,
  "does-not-conform": `<svg class="shape" viewBox="0 0 10 10" aria-hidden="true"><path d="M1.5 1.5 8.5 8.5M8.5 1.5 1.5 8.5" stroke="${INK}" stroke-width="1.8"/></svg>`,
  held: `<svg class="shape" viewBox="0 0 10 10" aria-hidden="true"><path d="M1 9 9 1M1 5 5 1M5 9 9 5" stroke="${INK}" stroke-width="1"/></svg>`,
  none: "",
};
const BAR = `<svg class="shape" viewBox="0 0 10 10" aria-hidden="true"><rect x="0" y="3.5" width="10" height="3" fill="${INK}"/></svg>`;

/** A running foot is one line; a longer name is cut. */
const FOOT_LENGTH = 90;
/** Text inside a CSS string: quotes, backslashes and line ends would end it. */
function cssText(value: string): string {
  const line = onOneLine(value).replaceAll(/["\\\n\r<>\p{Cc}]/gu, " ");
  return line.length > FOOT_LENGTH ? `${[...line].slice(0, FOOT_LENGTH - 1).join("")}…` : line;
}

const styles = new Map<string, string>();
function styleOf({ paper, look }: Paper): string {
  const key = `${paper}|${look.colour ?? INK}`;
  const known = styles.get(key);
  if (known !== undefined) return known;
  const { css, fonts } = templates();
  const made = css({ fonts, paper, colour: look.colour ?? INK, families: FAMILIES.map(([family]) => `"${family}"`).join(", ") }, runtime);
  styles.set(key, made);
  return made;
}

/** What differs from document to document in the margins travels with the body. */
function feet(left: string, labels: Readonly<Record<string, string>>): string {
  const [page, of] = [cssText(labels["page"] ?? ""), cssText(labels["of"] ?? "")];
  return `<style>@page { @bottom-left { content: "${cssText(left)}"; } @bottom-right { content: "${page} " counter(page) " ${of} " counter(pages); } }</style>`;
}

/** The first 22 characters of the record's SHA-256 in base64url: enough to tell any two records apart. */
export const checkOf = (record: Uint8Array): string => createHash("sha256").update(record).digest("base64url").slice(0, 22);

interface AnyView {
  readonly language: string;
  readonly number: string;
  readonly title: string;
  readonly labName: string;
  readonly labels: Readonly<Record<string, string>>;
}

/** @param bytes the record as it is attached */
export function pageOf(record: PrintedRecord, issue: Issue, bytes: Uint8Array, paper: Paper): Page {
  const second = secondWords(record.language)?.language ?? "";
  const make = (name: PageName, view: AnyView, more: object): Page => {
    const check = checkOf(bytes);
    const code = name === "label" ? "" : codeSvg(`${paper.codeAddress}${view.number} ${check}`, onOneLine(view.labels["code"] ?? ""));
    const body = templates().pages[name]({ ...view, second, logo: paper.look.logo, check, codeSvg: code, ...more }, runtime);
    return {
      body: `${name === "label" ? LABEL_PAPER : feet(`${view.number} · ${view.labName}`, view.labels)}${body}`,
      style: styleOf(paper),
      title: onOneLine(view.title),
      language: view.language,
    };
  };
  switch (record.schema) {
    case "notice-record/1":
      return noticePage(record, issue, make);
    case "retest-order-record/1":
      return retestPage(record, issue, make);
    case "coil-labels-record/1":
      return labelsPage(record, issue, make);
    case "certificate-record/1":
      return certificatePage(record, issue, make);
  }
}

type Make = (name: PageName, view: AnyView, more: object) => Page;

/** A tag to hang on a coil. */
const LABEL_PAPER = "<style>@page { size: 105mm 74mm; margin: 4mm; }</style>";

function certificatePage(record: CertificateRecord, issue: Issue, make: Make): Page {
  const view = toCertificateView(record, issue);
  return make("certificate", view, {
    hasMass: view.rows.some((row) => row.mass !== ""),
    shapes: { conforms: SHAPES.conforms, open: SHAPES.open, fails: SHAPES["does-not-conform"], bar: BAR },
    rows: view.rows.map((row) => ({
      ...row,
      svg: SHAPES[row.shape],
      cells: row.cells.map((cell) => ({ ...cell, hasBar: cell.bar !== undefined })),
    })),
  });
}

function noticePage(record: NoticeRecord, issue: Issue, make: Make): Page {
  const view = toNoticeView(record, issue);
  return make("notice", view, { findings: view.findings.map((finding) => ({ ...finding, svg: SHAPES["does-not-conform"] })) });
}

const retestPage = (record: RetestRecord, issue: Issue, make: Make): Page => make("retest", toRetestView(record, issue), {});

function labelsPage(record: LabelsRecord, issue: Issue, make: Make): Page {
  const view = toLabelsView(record, issue);
  return make("label", view, { coils: view.coils.map((coil) => ({ ...coil, svg: codeSvg(coil.code, onOneLine(coil.codeLabel)) })) });
}
