/** Everything that can be printed, as data. */
import type { CertificateRecord } from "./certificate/record.ts";
import type { LabelsRecord } from "./label/record.ts";
import type { NoticeRecord } from "./notice/record.ts";
import type { RetestRecord } from "./retest/record.ts";

export type PrintedRecord = CertificateRecord | NoticeRecord | RetestRecord | LabelsRecord;
