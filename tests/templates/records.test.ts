/** The published form of records: what is written must be what is promised, in docs/schema/ and inside documents. */
import { readdirSync, readFileSync } from "node:fs";
import { describe, expect, it } from "vitest";
import type { z } from "zod";
import type { CertificateRecord } from "../../templates/certificate/record.ts";
import type { Issue } from "../../templates/certificate/view.ts";
import type { LabelsRecord } from "../../templates/label/record.ts";
import type { NoticeRecord } from "../../templates/notice/record.ts";
import { publishedSchemas, RECORD_SCHEMAS } from "../../templates/record-schemas.ts";
import type { RetestRecord } from "../../templates/retest/record.ts";
import { recordFile } from "../../worker/rendering/index.ts";
import { projectPath } from "../helpers/cli.ts";
import { ISSUE, inventedCertificate, inventedLabels, inventedNotice, inventedRetest } from "../helpers/invented-records.ts";
import { certificateOf, noticeOf } from "../helpers/records.ts";

/** The compiler refuses this file where a record may hold what its schema does not name. */
type Issued<Record> = Record & { readonly issue: Issue };
type Holds<Schema extends z.ZodType, Given extends z.input<Schema>> = Given;
type Schemas = typeof RECORD_SCHEMAS;
type Held =
  | Holds<Schemas["certificate-record"], Issued<CertificateRecord>>
  | Holds<Schemas["notice-record"], Issued<NoticeRecord>>
  | Holds<Schemas["retest-order-record"], Issued<RetestRecord>>
  | Holds<Schemas["coil-labels-record"], Issued<LabelsRecord>>;

const nameOf = (record: { readonly schema: string }): keyof Schemas => record.schema.replace(/\/1$/, "") as keyof Schemas;
const attached = (record: Parameters<typeof recordFile>[0]): Held =>
  JSON.parse(new TextDecoder().decode(recordFile(record, ISSUE))) as Held;

describe("records", () => {
  it.each([
    ["an invented certificate", () => inventedCertificate(3)],
    ["a certificate with everything", () => inventedCertificate(2, EVERYTHING)],
    ["an invented notice", () => inventedNotice()],
    ["a notice to the purchaser", () => inventedNotice({ audience: "customer", answerBy: "2026-03-20" })],
    [
      "a decided notice",
      () => inventedNotice({ decisions: [{ decision: "scrap", coils: ["81007"], why: "too brittle", by: "Ada", on: "2026-03-04" }] }),
    ],
    ["a retest order", () => inventedRetest()],
    ["coil labels", () => inventedLabels()],
    ["a certificate of the samples", () => certificateOf("01-return-springs.xlsx")],
    ["one on test units", () => certificateOf("03-music-wire.xlsx")],
    ["a German one", () => certificateOf("04-federdraht.xlsx")],
    ["a notice of the samples", () => noticeOf("02-day-book.xlsx")],
  ] as const)("%s is as its schema says", (_, make) => {
    const record = make();
    const found = RECORD_SCHEMAS[nameOf(record)].safeParse(attached(record));
    expect(found.error?.issues ?? []).toEqual([]);
  });

  it.each([
    ["a word it does not know", { surprise: 1 }],
    ["a day that is none", { testedOn: ["2.3.2026"] }],
    ["a figure with a comma", { nominalDiameter: { text: "2,00", unit: "mm" } }],
    ["no requirements", { requirements: undefined }],
  ])("%s is refused", (_, change) => {
    expect(RECORD_SCHEMAS["certificate-record"].safeParse({ ...attached(inventedCertificate(1)), ...change }).success).toBe(false);
  });

  it("docs/schema holds what the program says", () => {
    const published = publishedSchemas();
    expect(readdirSync(projectPath("docs", "schema")).sort()).toEqual([...published.keys()].sort());
    for (const [name, content] of published) expect(readFileSync(projectPath("docs", "schema", name), "utf8")).toBe(content);
  });

  it("one content has one form, whatever the order of its keys", () => {
    const record = inventedCertificate(1);
    const turned = Object.fromEntries(Object.entries(record).reverse()) as unknown as CertificateRecord;
    expect(Buffer.from(recordFile(turned, ISSUE))).toEqual(Buffer.from(recordFile(record, ISSUE)));
  });
});

const EVERYTHING: Partial<CertificateRecord> = {
  form: "laboratory-report",
  language: "en+de",
  decimalMark: ",",
  delivery: "D-1",
  coatingClass: "EN 10244-2 A",
  nominalBeside: { text: "0.0787", unit: "in" },
  notes: [
    { kind: "deviation", coil: "81001", property: "torsion", piece: "A", deviation: "harder-grip-break" },
    { kind: "void", coil: "81001", property: "torsion", count: 1 },
    { kind: "retest", coil: "81001", property: "torsion", first: "A" },
    { kind: "indicative", property: "torsion" },
    { kind: "listed", property: "u-bend", word: "no-cracks" },
    { kind: "agreed", property: "torsion", agreedIn: "letter of 2026-01-02" },
    { kind: "concession", coil: "81002", property: "diameter", reference: "BF-C-7" },
    { kind: "conditional", coil: "81002", condition: "for springs below 100 N only" },
    { kind: "not-adopted", specification: "QW 100:2026" },
  ],
};
