/** Everything that can be printed, as data. */
import type { CertificateRecord } from "./certificate/record.ts";
import type { NoticeRecord } from "./notice/record.ts";

export type PrintedRecord = CertificateRecord | NoticeRecord;
