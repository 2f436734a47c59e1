export { ENTRY_SHEETS, type EntrySheet, entrySheet, unitOf } from "./columns.ts";
export { ENTRY_FINDING_CODES } from "./finding-codes.ts";
export { headerOf, sheetNameOf } from "./labels.ts";
export { HEADER_ROW, layoutJson } from "./layout.ts";
export { NOTHING_REGISTERED } from "./near-match.ts";
export { parseOrdersJson } from "./orders-json.ts";
export { type EntryOptions, parseEntry } from "./parse.ts";
export { EMPTY_REGISTERS, type MergedRegisters, mergeRegisters, type Registers } from "./registers.ts";
export { toUnread } from "./unread.ts";
