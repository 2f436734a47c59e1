export { type Column, ENTRY_SHEETS, type EntrySheet, entrySheet, isTestSheet, unitOf } from "./columns.ts";
export { ENTRY_FINDING_CODES, type EntryFindingCode } from "./finding-codes.ts";
export { headerOf, LABEL_LANGUAGES, sheetNameOf } from "./labels.ts";
export { HEADER_ROW, layoutJson } from "./layout.ts";
export { NOTHING_REGISTERED, type Registered } from "./near-match.ts";
export { type OrdersJson, parseOrdersJson } from "./orders-json.ts";
export { type EntryOptions, type ParsedEntry, parseEntry } from "./parse.ts";
export { EMPTY_REGISTERS, type MergedRegisters, mergeRegisters, type Registers } from "./registers.ts";
export { toUnread } from "./unread.ts";
