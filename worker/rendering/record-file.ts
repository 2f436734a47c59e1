/** The record as it lies inside a document: one form of one content (RFC 8785), so that its hash is the same everywhere. */
import canonicalize from "canonicalize";
import type { Issue } from "../../templates/certificate/view.ts";
import type { PrintedRecord } from "../../templates/records.ts";

/** Its name among the attached files. */
export const RECORD_FILE = "record.json";

/** What the page prints, and under which number, day and name: UTF-8 bytes. @throws Error on a text that is no valid Unicode */
export function recordFile(record: PrintedRecord, issue: Issue): Uint8Array {
  const text = canonicalize({ ...record, issue });
  if (text === undefined) throw new Error(`document ${issue.number}: its record cannot be written as JSON`);
  return new TextEncoder().encode(text);
}
