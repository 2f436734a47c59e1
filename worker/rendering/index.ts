/** Documents out of their records: PDF by a browser without network, XLSX by the workbook library. */
import type { Issue } from "../../templates/certificate/view.ts";
import type { PrintedRecord } from "../../templates/records.ts";
import { findBrowserPath, PrintingBrowser } from "./browser.ts";
import { type Attachment, toConforming } from "./conformance.ts";
import { strangeLetters } from "./letters.ts";
import type { Look } from "./look.ts";
import { RECORD_FILE, recordFile } from "./record-file.ts";
import { repeatable } from "./repeatable.ts";

export { findBrowser } from "./browser.ts";
export type { Attachment } from "./conformance.ts";
export { type Look, lookOf } from "./look.ts";
export { recordFile } from "./record-file.ts";

export interface RendererOptions {
  /** The setting browser.path, or "". */
  readonly browserPath: string;
  readonly browsers: number;
  readonly paper: "A4" | "Letter";
  readonly look?: Look;
  /** Printed before the number in the code of a document: an address of the lab, or nothing. */
  readonly codeAddress?: string;
  /** Further files inside the PDF, made from the bytes of the record that it carries. */
  readonly attachments?: (record: Uint8Array) => readonly Attachment[] | Promise<readonly Attachment[]>;
}

export interface DocumentRenderer {
  /** @throws Error where a record has no page of that format, or no font here draws one of its letters */
  render(record: PrintedRecord, issue: Issue, format: "pdf" | "xlsx"): Promise<Uint8Array>;
  close(): Promise<void>;
}

/** Browsers start with the first page and stay warm. */
export function createRenderer(options: RendererOptions): DocumentRenderer {
  let path: Promise<string | undefined> | undefined;
  const idle: PrintingBrowser[] = [];
  const all: PrintingBrowser[] = [];
  const queue: ((browser: PrintingBrowser) => void)[] = [];
  const take = (): Promise<PrintingBrowser> => {
    const free = idle.pop();
    if (free !== undefined) return Promise.resolve(free);
    if (all.length < options.browsers) {
      const made = new PrintingBrowser(() => {
        path ??= findBrowserPath(options.browserPath, process.env);
        return path;
      });
      all.push(made);
      return Promise.resolve(made);
    }
    return new Promise((resolve) => queue.push(resolve));
  };
  const give = (browser: PrintingBrowser): void => {
    const next = queue.shift();
    if (next === undefined) idle.push(browser);
    else next(browser);
  };
  return {
    async render(record, issue, format) {
      const bytes = recordFile(record, issue);
      if (format === "xlsx") {
        const { workbookOf } = await import("./xlsx.ts");
        return workbookOf(record, issue, bytes, options.paper);
      }
      const { pageOf } = await import("./pages.ts");
      const page = pageOf(record, issue, bytes, {
        paper: options.paper,
        look: options.look ?? {},
        codeAddress: options.codeAddress ?? "",
      });
      const others = (await options.attachments?.(bytes)) ?? [];
      const browser = await take();
      let printed: Uint8Array;
      try {
        printed = await browser.print(page);
      } finally {
        give(browser);
      }
      const own: Attachment = { name: RECORD_FILE, description: page.title, type: "application/json", bytes };
      return toConforming(repeatable(printed), {
        title: page.title,
        author: record.lab.name,
        language: page.language,
        issuedOn: issue.issuedOn,
        attachments: [own, ...others],
        strangeLetters: strangeLetters(page.body),
      });
    },
    async close() {
      await Promise.all(all.map((browser) => browser.close()));
    },
  };
}
