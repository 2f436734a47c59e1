/** Views to HTML. The pages loop and choose; everything is escaped, and no template reaches a prototype. */
import { readFileSync } from "node:fs";
import Handlebars from "handlebars";
import type { CertificateRecord } from "../../templates/certificate/record.ts";
import type { Issue } from "../../templates/certificate/view.ts";
import { type CertificateView, type Shape, toCertificateView } from "../../templates/certificate/view.ts";
import type { NoticeRecord } from "../../templates/notice/record.ts";
import { toNoticeView } from "../../templates/notice/view.ts";

const folder = new URL("../../templates/", import.meta.url);
const text = (name: string): string => readFileSync(new URL(name, folder), "utf8");
const fontUrl = (name: string): string => `data:font/woff2;base64,${readFileSync(new URL(`fonts/${name}`, folder)).toString("base64")}`;

const engine = Handlebars.create();
const compile = (source: string, noEscape = false): HandlebarsTemplateDelegate =>
  engine.compile(source, { noEscape, strict: false, knownHelpersOnly: true });
const runtime = { allowProtoMethodsByDefault: false, allowProtoPropertiesByDefault: false } as const;

let parts:
  | {
      certificate: HandlebarsTemplateDelegate;
      notice: HandlebarsTemplateDelegate;
      css: HandlebarsTemplateDelegate;
      regular: string;
      bold: string;
    }
  | undefined;
function templates(): NonNullable<typeof parts> {
  parts ??= {
    certificate: compile(text("certificate/page.hbs")),
    notice: compile(text("notice/page.hbs")),
    css: compile(text("page.css"), true),
    regular: fontUrl("noto-sans-regular.woff2"),
    bold: fontUrl("noto-sans-bold.woff2"),
  };
  return parts;
}

export interface Page {
  readonly body: string;
  readonly style: string;
  readonly title: string;
  readonly language: string;
}

/** Shapes that read in black and white: filled square, open square, cross, hatch. */
const SHAPES: Readonly<Record<Shape, string>> = {
  conforms: '<svg class="shape" viewBox="0 0 10 10" aria-hidden="true"><rect x="1" y="1" width="8" height="8" fill="#161616"/></svg>',
  open: '<svg class="shape" viewBox="0 0 10 10" aria-hidden="true"><rect x="1.6" y="1.6" width="6.8" height="6.8" fill="none" stroke="#161616" stroke-width="1.2"/></svg>',
  "does-not-conform":
    '<svg class="shape" viewBox="0 0 10 10" aria-hidden="true"><path d="M1.5 1.5 8.5 8.5M8.5 1.5 1.5 8.5" stroke="#161616" stroke-width="1.8"/></svg>',
  held: '<svg class="shape" viewBox="0 0 10 10" aria-hidden="true"><path d="M1 9 9 1M1 5 5 1M5 9 9 5" stroke="#161616" stroke-width="1"/></svg>',
  none: "",
};

/** Text inside a CSS string: quotes, backslashes and line ends would end it. */
const cssText = (value: string): string => value.replaceAll(/["\\\n\r<>]/g, " ");

function style(paper: "A4" | "Letter", footerLeft: string, page: string, of: string): string {
  const { css, regular, bold } = templates();
  return css({ regular, bold, paper, footerLeft: cssText(footerLeft), page: cssText(page), of: cssText(of) }, runtime);
}

export function certificatePage(record: CertificateRecord, issue: Issue, paper: "A4" | "Letter"): Page {
  const view = toCertificateView(record, issue);
  const body = templates().certificate(context(view), runtime);
  return {
    body,
    style: style(paper, `${view.number} · ${view.labName}`, view.labels["page"] ?? "", view.labels["of"] ?? ""),
    title: view.title,
    language: view.language,
  };
}

function context(view: CertificateView): object {
  return {
    ...view,
    typeTitle: view.title.replace(` ${view.number}`, ""),
    hasMass: view.rows.some((row) => row.mass !== ""),
    rows: view.rows.map((row) => ({
      ...row,
      svg: SHAPES[row.shape],
      cells: row.cells.map((cell) => ({ ...cell, hasBar: cell.bar !== undefined })),
    })),
  };
}

export function noticePage(record: NoticeRecord, issue: Issue, paper: "A4" | "Letter"): Page {
  const view = toNoticeView(record, issue);
  const body = templates().notice(
    {
      ...view,
      typeTitle: view.title.replace(` ${view.number}`, ""),
      findings: view.findings.map((finding) => ({ ...finding, svg: SHAPES["does-not-conform"] })),
    },
    runtime,
  );
  return {
    body,
    style: style(paper, `${view.number} · ${view.labName}`, view.labels["page"] ?? "", view.labels["of"] ?? ""),
    title: view.title,
    language: view.language,
  };
}
