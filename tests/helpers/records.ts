/** Certificate and notice records of the samples, made in this process. */
import { readFileSync } from "node:fs";
import { EMPTY_REGISTERS } from "../../core/entry/index.ts";
import { judge } from "../../core/judge/index.ts";
import { builtInLibrary, createSpecificationLibrary, parseSpecification } from "../../core/spec/index.ts";
import { type CertificateRecord, toCertificateRecord } from "../../templates/certificate/record.ts";
import { OWN_SPECIFICATION } from "../../templates/example/scenario.ts";
import { type NoticeRecord, toNoticeRecord } from "../../templates/notice/record.ts";
import { readFile } from "../../worker/read-file.ts";
import { samplePath } from "./sample-lab.ts";

export const LAB = { name: "Quillmark Wire (an invented mill)", address: ["Mill Lane 1", "Exampleton"] };

export function sampleLibrary() {
  const parsed = parseSpecification(OWN_SPECIFICATION, () => undefined);
  if (!parsed.ok) throw new Error(parsed.problems[0]?.text);
  return createSpecificationLibrary([
    ...builtInLibrary()
      .list()
      .map((held) => held.data),
    parsed.specification,
  ]);
}

export function judgeSample(name: string) {
  const library = sampleLibrary();
  const bytes = new Uint8Array(readFileSync(samplePath("inbox", name)));
  const reading = readFile(bytes, {
    name,
    sha256: "0".repeat(64),
    today: "2026-03-03",
    decimalMark: ".",
    registers: EMPTY_REGISTERS,
    library,
  });
  if (!reading.ok) throw new Error(reading.refusal.text);
  const { entry, merged } = reading.read;
  const judgement = judge({
    ...merged.all,
    tests: entry.tests,
    unread: entry.unread,
    settlements: [],
    specifications: library,
    isAdopted: (specification) => specification === "QW 100",
    today: "2026-03-03",
    freeLengthTolerance: "0.01",
  });
  return { judgement, registers: merged.all, entry };
}

export function certificateOf(name: string, change: { customer?: string; language?: string } = {}): CertificateRecord {
  const { judgement, registers } = judgeSample(name);
  const [verdict] = judgement.orders;
  const [order] = registers.orders;
  if (verdict === undefined || order === undefined) throw new Error("no order");
  return toCertificateRecord({
    order: { ...order, ...(change.language === undefined ? {} : { language: change.language }) },
    verdict,
    coils: registers.coils.filter((coil) => coil.order === order.order && coil.item === order.item),
    heats: registers.heats,
    lab: LAB,
    customer: { name: change.customer ?? order.customer, address: ["3 Invented Row"] },
  });
}

export function noticeOf(name: string): NoticeRecord {
  const { judgement, registers } = judgeSample(name);
  const [verdict] = judgement.orders;
  const [order] = registers.orders;
  if (verdict === undefined || order === undefined) throw new Error("no order");
  const failing = verdict.coils.flatMap((coil) =>
    coil.requirements.filter((r) => r.verdict === "does-not-conform").map((r) => ({ coil: coil.coil, property: r.property })),
  );
  return toNoticeRecord(order, verdict, failing, LAB);
}
